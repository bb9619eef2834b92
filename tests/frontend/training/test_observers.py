"""What looks count, in words, for the desk alone and never in order of weight."""

import re
from datetime import timedelta

import pytest
from django.urls import get_resolver

from frontend.training.telling import weights_said
from survey.condition.models import Weight
from survey.exports.kinds import EXPORTS
from tests.factories import TODAY, AreaFactory, LookFactory, ObserverFactory, PersonFactory

pytestmark = pytest.mark.django_db


def weight(value, usual=0.6, looks=12, kind="resident"):
    return Weight(weight=value, usual=usual, looks=looks, kind=kind)


@pytest.mark.parametrize(
    ("rows", "looks", "said"),
    [
        ([weight(0.65)], 12, ["counts about as much as most neighbors' looks"]),
        ([weight(0.75, kind="volunteer")], 12, ["counts for more than most volunteers' looks"]),
        ([weight(0.45, kind="staff")], 12, ["counts for less than most staff looks"]),
        ([weight(0.01, looks=4)], 4, ["not enough looks to say (4)"]),
        ([weight(0.99, looks=3)], 9, ["not enough looks to say (3)"]),
        ([], 9, ["not weighed on its own"]),
        ([], 0, ["not enough looks to say (0)"]),
        (
            [weight(0.2), weight(0.62, kind="volunteer", looks=7)],
            19,
            [
                "since the training: counts about as much as most volunteers' looks",
                "before the training: counts for less than most neighbors' looks",
            ],
        ),
    ],
)
def test_a_weight_is_said_in_words_and_not_at_all_on_a_few_looks(rows, looks, said):
    assert weights_said(rows, looks, {}) == said


def test_beside_what_is_usual_in_the_town_not_where_the_kind_begins():
    mine = [weight(0.7, usual=0.9, kind="volunteer")]
    assert weights_said(mine, 12, {}) == ["counts for less than most volunteers' looks"]
    usual = {"volunteer": 0.75, "resident": 0.1}
    assert weights_said(mine, 12, usual) == ["counts about as much as most volunteers' looks"]


@pytest.fixture
def town(client):
    area = AreaFactory()
    client.force_login(PersonFactory(sign_in="desk", name="Zed"))
    return area


def observer(name, looks, value=0.9, last=TODAY, kind="volunteer", **more):
    area = AreaFactory()
    person = PersonFactory(name=name, role="volunteer", **more)
    made = ObserverFactory(person=person, kind=kind)
    for back in range(looks):
        LookFactory(tree__area=area, observer=made, day=last - timedelta(days=back))
    Weight.objects.create(
        area=area,
        observer=made,
        kind="staff" if kind == "crew" else kind,
        weight=value,
        usual=0.5,
        looks=looks,
        noise=[],
        learning=1,
    )
    return made


def names(page):
    return re.findall(r'<th scope="row">(?:<a [^>]*>)?([^<]+)', page)


def test_observers_stand_by_name_or_by_last_look_and_never_by_weight(client, town):
    observer("Ana", 6, value=0.2, last=TODAY - timedelta(days=9))
    observer("Bo", 6, value=0.9, last=TODAY - timedelta(days=3))
    observer("Cy", 6, value=0.5, last=TODAY)
    for order, wanted in {
        "": ["Ana", "Bo", "Cy"],
        "name": ["Ana", "Bo", "Cy"],
        "last": ["Cy", "Bo", "Ana"],
        "weight": ["Ana", "Bo", "Cy"],
        "-weights__weight": ["Ana", "Bo", "Cy"],
        "a\0b": ["Ana", "Bo", "Cy"],
    }.items():
        page = client.get("/people/observers/", {"order": order}).content.decode()
        assert names(page) == wanted
    assert "judges nobody" in page


def test_no_number_of_a_weight_is_on_the_page(client, town):
    observer("Ana", 6, value=0.2371)
    page = client.get("/people/observers/").content.decode()
    assert "counts for less than most volunteers' looks" in " ".join(page.split()).replace(
        "&#x27;", "'"
    )
    assert "0.2" not in page
    assert "0.5" not in page


def test_under_five_looks_nothing_is_said(client, town):
    observer("Ana", 3, value=0.05)
    page = client.get("/people/observers/").content.decode()
    assert "not enough looks to say (3)" in page
    assert "counts for less" not in page


def test_neighbors_have_a_number_and_no_contact(client, town):
    for key in ("neighbor:17", "neighbor:unsigned", "import:walk-7"):
        LookFactory(tree__area=town, observer=ObserverFactory(key=key, kind="resident"))
    page = client.get("/people/observers/").content.decode()
    assert names(page) == ["neighbor 17", "neighbors who left no name", "import:walk-7"]
    assert "@" not in page


def test_only_looks_of_this_town_count_and_corrected_ones_do_not(client, town):
    made = observer("Ana", 2)
    wrong = made.looks.first()
    LookFactory(tree=wrong.tree, observer=made, supersedes=wrong)
    other = AreaFactory(ref="southmere", name="Southmere", is_home=False)
    LookFactory(tree__area=other, observer=made)
    LookFactory(tree__area=other, observer=ObserverFactory(key="import:far"))
    page = client.get("/people/observers/").content.decode()
    assert names(page) == ["Ana"]
    assert "not enough looks to say (2)" in page


def test_one_kind_is_shown_when_asked_and_who_still_learns_is_said(client, town):
    observer("Ana", 5, trained_on=None)
    observer("Bo", 5, kind="crew")
    page = client.get("/people/observers/", {"kind": "volunteer"}).content.decode()
    assert names(page) == ["Ana"]
    assert "volunteer, not signed off" in page
    page = client.get("/people/observers/", {"kind": "owl"}).content.decode()
    assert names(page) == ["Ana", "Bo"]


def test_before_the_first_night_nothing_is_weighed(client, town):
    LookFactory(tree__area=town)
    page = client.get("/people/observers/").content.decode()
    assert "Nothing is weighed yet" in page
    observer("Ana", 6)
    assert "Nothing is weighed yet" not in client.get("/people/observers/").content.decode()


def test_a_town_without_looks_says_so(client, town):
    assert b"Nobody has looked at a tree yet." in client.get("/people/observers/").content


def test_many_observers_come_in_pages_with_few_questions(
    client, town, django_assert_max_num_queries
):
    tree = LookFactory(tree__area=town).tree
    for number in range(60):
        LookFactory(tree=tree, observer=ObserverFactory(key=f"neighbor:{number}", kind="resident"))
    with django_assert_max_num_queries(12):
        page = client.get("/people/observers/").content.decode()
    assert len(names(page)) == 50
    assert "1 to 50 of 61" in page
    assert len(names(client.get("/people/observers/?page=2").content.decode())) == 11
    assert len(names(client.get("/people/observers/?page=x").content.decode())) == 50


@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_weights_are_on_no_page_and_in_no_table_for_others(client, town, role):
    made = observer("Ana", 6, value=0.2371)
    client.force_login(made.person if role == "volunteer" else PersonFactory(role=role))
    assert client.get("/people/observers/").status_code == 403
    for address in ("/training/", "/account/"):
        answer = client.get(address)
        assert b"most volunteers' looks" not in answer.content
        assert b"0.2371" not in answer.content


def test_no_file_to_take_away_and_no_observer_in_the_api_has_a_weight():
    for table in EXPORTS.values():
        named = {column.name for column in table.columns}
        assert not {name for name in named if "weight" in name or "observer" in name}
    addresses = {str(each.pattern) for each in get_resolver("api.urls").url_patterns}
    assert not {each for each in addresses if "observer" in each or "weight" in each}
