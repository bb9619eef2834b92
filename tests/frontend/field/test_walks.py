"""Walks in order of what they tell for the time there is, away from every danger."""

import pytest

from frontend.field.telling import minutes_said, see_said, walk_said
from survey.survival.models import LooksWeighed
from tests.factories import LookFactory, ReportFactory, SiteFactory, TreeFactory


def stored(trees=12, gain=4.0, of=40, minutes=24.5, refs=()):
    return {
        "trees": trees, "of": of, "minutes": minutes, "gain": gain,
        "before": [24, 36], "after": [27.4, 33.6], "refs": list(refs),
    }  # fmt: skip


@pytest.fixture
def sites(home):
    """Two sites with a tree: in half an hour the one tells more, in an hour the other."""
    made = []
    for name, short, long in (("Ferry Road", 5.0, 5.0), ("Mill Lane", 2.0, 9.0)):
        site = SiteFactory(name=name, ref=name.split()[0].lower(), latitude=None, longitude=None)
        tree = TreeFactory(site=site)
        LooksWeighed.objects.create(
            site=site, as_of=home.today(), trees=40, see=29,
            walks={"30": stored(gain=short), "60": stored(gain=long, refs=[tree.ref])},
        )  # fmt: skip
        made.append(site)
    return made


def names_on(page):
    return sorted(("Ferry Road", "Mill Lane"), key=page.index)


def test_a_walk_is_said_in_one_sentence():
    assert walk_said(stored()) == (
        "12 looks, about 25 minutes. Of these 40 trees somewhere between 24 and 36 stand now;"
        " afterwards we expect to know it to within 27 to 34."
    )
    hardly = walk_said(stored() | {"before": [28, 29], "after": [28.1, 28.9]})
    assert hardly.endswith(
        "between 28 and 29 stand now; afterwards we expect to know it a little better."
    )
    alone = walk_said(stored(trees=1, of=1, minutes=11.5))
    assert alone.startswith("1 look, about 12 minutes. Nobody knows whether its one tree stands")
    assert see_said(40, 29, stored()) == ("To know it to within 10 of 100, see 29 of the 40 trees.")
    assert see_said(1, 1, stored(of=1)) == "To know it to within 10 of 100, see the one tree."
    assert [minutes_said(n) for n in (1, 30, 60, 120)] == [
        "1 minute", "30 minutes", "1 hour", "2 hours",
    ]  # fmt: skip


def test_nobody_is_told_to_see_trees_for_what_is_known_already():
    # 8 of 40 either way between the two ends is 10 of 100 on each side
    known = see_said(40, 29, stored() | {"before": [28, 36]})
    assert known == "It is known to within 10 of 100 already."
    assert "see 29 of the 40" in see_said(40, 29, stored() | {"before": [27.9, 36]})


@pytest.mark.parametrize(
    ("query", "first"),
    [("", "Mill Lane"), ("?minutes=60", "Mill Lane"), ("?minutes=30", "Ferry Road")],
)
def test_the_walk_that_tells_most_for_the_time_comes_first(sign_in, sites, query, first):
    page = sign_in("volunteer").get(f"/walks/{query}").content.decode()
    assert names_on(page)[0] == first
    assert "first where looks tell most" in page
    assert "somewhere between 24 and 36 stand now" in page
    assert "see 29 of the 40 trees" in page


@pytest.mark.parametrize("minutes", ["0", "61", "-30", "1e9", "sixty", "60;", "\uff16\uff10"])
def test_a_time_that_nobody_offers_is_no_page(sign_in, sites, minutes):
    client = sign_in("volunteer")
    for address in ("/walks/", "/walks/ferry/"):
        assert client.get(address, {"minutes": minutes}).status_code == 404


def test_for_a_time_in_which_nothing_is_told_the_longest_unseen_comes_first(sign_in, sites):
    page = sign_in("volunteer").get("/walks/?minutes=120").content.decode()
    assert "the longest unseen comes first" in page
    assert "stand now" not in page
    assert "Ferry Road" in page


@pytest.mark.parametrize("at", ["tree", "site", "near"])
def test_nobody_is_offered_a_site_with_an_open_danger(sign_in, sites, home, at):
    ferry, mill = sites
    mill.trees.update(latitude=41.0, longitude=-71.0)
    ferry.trees.update(latitude=44.0, longitude=-71.0)
    if at == "near":
        where = {"tree": None, "site": None, "latitude": 44.0001, "longitude": -71.0}
    else:
        where = {"tree": ferry.trees.get()} if at == "tree" else {"tree": None, "site": ferry}
    ReportFactory(area=home, danger="hanging_limb", **where)
    page = sign_in("volunteer").get("/walks/").content.decode()
    offered, other = page.split("Other sites")
    assert "Mill Lane" in offered
    assert "Ferry Road" not in offered
    assert "Ferry Road" in other
    assert "danger" in other or "Big branch hanging" in other


def test_the_trees_that_tell_most_are_marked_until_they_are_looked_at(sign_in, sites, home):
    tree = sites[1].trees.get()
    client = sign_in("volunteer")
    page = client.get("/walks/mill/").content.decode()
    assert 'class="tells-most"' in page
    assert "In 1 hour, look at the one marked: it tells most." in page
    assert "tells-most" not in client.get("/walks/mill/?minutes=30").content.decode()
    LookFactory(tree=tree, day=home.today())
    assert "tells-most" not in client.get("/walks/mill/").content.decode()


def test_before_the_first_night_the_list_goes_by_the_last_look(sign_in, home):
    LookFactory()
    page = sign_in("volunteer").get("/walks/").content.decode()
    assert "worked out by night" in page
    assert "the longest unseen comes first" in page


def test_dangers_weighed_sites_and_doubts_cost_three_questions_however_many(
    sign_in, sites, home, django_assert_num_queries
):
    client = sign_in("volunteer")
    for n in range(8):
        site = SiteFactory()
        for tree in TreeFactory.create_batch(3, site=site):
            LookFactory(tree=tree)
        LooksWeighed.objects.create(
            site=site, as_of=home.today(), trees=3, see=3, walks={"60": stored(gain=n + 1.0)}
        )
        if n % 2:
            ReportFactory(tree=tree, area=home, danger="hanging_limb")
    with django_assert_num_queries(8):
        client.get("/walks/")
