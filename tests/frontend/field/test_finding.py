"""Trees are found by tag, street, species and reference."""

import pytest

from tests.factories import AreaFactory, LookFactory, SiteFactory, TreeFactory


def test_a_whole_tag_opens_its_tree(client):
    tree = TreeFactory(tag="0407")
    assert client.get("/trees/", {"q": "0407"}).url == f"/trees/{tree.ref}/"


def test_a_reference_opens_its_tree(client):
    tree = TreeFactory(tag="")
    assert client.get("/trees/", {"q": tree.ref}).url == f"/trees/{tree.ref}/"


@pytest.mark.parametrize("words", ["ferry", "Ferry linden", "bus shelter", "LINDEN", "04"])
def test_words_of_street_species_landmark_or_tag_find_it(client, words):
    TreeFactory(tag="0407", site=SiteFactory(name="Ferry Road"), landmark="by the bus shelter")
    TreeFactory(tag="9", species="hornbeam", site=SiteFactory(name="Mill Steps"))
    page = client.get("/trees/", {"q": words}).content.decode()
    assert "0407" in page
    assert "Mill Steps" not in page


def test_nothing_found_says_what_to_try(client):
    TreeFactory()
    page = client.get("/trees/", {"q": "nowhere"}).content.decode()
    assert "No tree has that." in page
    assert "Try fewer letters" in page


@pytest.mark.parametrize("words", ["' OR 1=1 --", "%", "\x00", "<script>", "é" * 5000, "0" * 300])
def test_hostile_words_find_nothing_and_break_nothing(client, words):
    TreeFactory(tag="0407")
    response = client.get("/trees/", {"q": words})
    assert response.status_code == 200
    assert b"<script>" not in response.content.replace(b'<script type="module"', b"")


@pytest.mark.parametrize("page", ["0", "-1", "nine", "99999999999999999999"])
def test_a_page_that_does_not_exist_is_the_nearest_that_does(client, page):
    TreeFactory()
    assert client.get("/trees/", {"page": page}).status_code == 200


def test_another_town_is_shown_when_it_is_named(client):
    other = AreaFactory(ref="alder", name="Alder", is_home=False)
    TreeFactory(tag="A1", planting__area=other, site__area=other)
    TreeFactory(tag="0407")
    page = client.get("/trees/", {"area": "alder"}).content.decode()
    assert "A1" in page
    assert "0407" not in page
    assert client.get("/trees/", {"area": "nowhere"}).status_code == 404


@pytest.mark.parametrize(
    ("address", "queries"), [("/trees/", 4), ("/sites/", 3), ("/plantings/", 3)]
)
def test_a_list_asks_the_same_number_of_questions_for_many_trees(
    client, django_assert_num_queries, address, queries
):
    for _ in range(20):
        LookFactory(tree=TreeFactory())
    with django_assert_num_queries(queries):
        client.get(address)


def test_sites_and_plantings_are_counted(client):
    tree = TreeFactory(site=SiteFactory(name="Ferry Road"))
    TreeFactory(
        site=tree.site,
        planting=tree.planting,
        left="lost",
        left_from="2026-01-01",
        left_to="2026-01-01",
    )
    for address, name in (("/sites/", "Ferry Road"), ("/plantings/", tree.planting.name)):
        page = client.get(address, {"q": name.split()[0]}).content.decode()
        assert name in page
