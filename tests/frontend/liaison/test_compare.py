"""Groups compared: chosen in the address, told in words, refused when they are too few."""

import re
from datetime import date
from urllib.parse import urlencode

import pytest
from django.conf import settings
from django.test import Client
from django.utils import translation

from frontend.liaison.compare_said import chance_said, pair_said, times_said
from survey.science.survival.comparison import Comparison
from survey.survival import roll_up
from survey.survival.models import Group
from tests.factories import (
    AreaFactory,
    LookFactory,
    ObserverFactory,
    PersonFactory,
    PlantingFactory,
    SiteFactory,
    TreeFactory,
)
from tests.frontend.liaison.made import group
from tests.frontend.liaison.test_survival_spanish import ENGLISH, missed, words_of  # noqa: F401

INF = float("inf")
LOST = (12, 1, 6)
NURSERIES = ["Heron Nursery", "Otter Growers", "Plover & Sons"]


@pytest.fixture(autouse=True)
def english():
    """A page in another language leaves it behind for what is said without a request."""
    with translation.override("en-us"):
        yield


@pytest.fixture
def liaison(db):
    AreaFactory()
    client = Client()
    client.force_login(PersonFactory(role="liaison", name="Inés"))
    return client


@pytest.fixture
def town(liaison):
    """Three nurseries with twenty trees each: lost by June 2025 were twelve, one and six.

    The first nursery's trees are red maples, the others' lindens.
    """
    area, observer = AreaFactory(), ObserverFactory()
    site = SiteFactory(area=area)
    for place, (name, lost) in enumerate(zip(NURSERIES, LOST, strict=True)):
        planting = PlantingFactory(area=area, supplier=name, stock_form="bare root")
        species = "linden" if place else "red_maple"
        trees = TreeFactory.create_batch(20, planting=planting, site=site, species=species)
        for n, tree in enumerate(trees):
            LookFactory(tree=tree, observer=observer, day=date(2024, 6, 3))
            day = date(2025, 6, 3) if n < lost else date(2026, 6, 3)
            LookFactory(tree=tree, observer=observer, day=day, dead=n < lost)
    roll_up.catch_up(area)
    return area


def keys():
    found = Group.objects.filter(by="supplier").order_by("label")
    return [one.key for one in found]


def get(client, **asked):
    response = client.get(f"/survival/compare/?{urlencode(asked, doseq=True)}")
    return response, " ".join(re.sub("<[^>]+>", " ", response.content.decode()).split())


def test_the_form_offers_every_group_in_order_of_name(liaison, town):
    response, said = get(liaison, by="supplier")
    assert response.status_code == 200
    assert [said.index(name.replace("&", "&amp;")) for name in NURSERIES] == sorted(
        said.index(name.replace("&", "&amp;")) for name in NURSERIES
    )
    assert response.content.decode().count('name="group"') == 3
    assert "checked" not in response.content.decode()


def test_two_groups_are_told_by_a_ratio_its_range_chance_and_what_else_differs(liaison, town):
    response, said = get(liaison, by="supplier", group=keys()[:2], within="")
    assert response.status_code == 200
    heading = re.search(r"<h1>(.*?)</h1>", response.content.decode(), re.DOTALL)[1]
    assert "The trees from Heron Nursery were lost about " in heading
    assert "times as fast as the trees from Otter Growers" in heading
    assert "somewhere between " in heading
    assert "Chance alone would seldom do that" in said
    assert "This is no ranking and accuses nobody." in said
    assert "These differ most in: kind of tree." in said
    assert "kind of tree 100 of 100 apart" in said
    assert "no: this is the only one" in said
    assert "hazard ratio, Otter Growers to Heron Nursery" in said
    assert response.content.decode().count('class="chart-drawing"') >= 3
    assert "None" not in said.replace("None of them is proved to.", "")


def test_the_table_has_the_figures_of_the_groups_own_pages(liaison, town):
    _, said = get(liaison, by="supplier", group=keys()[:2], within="")
    for key, lost in zip(keys()[:2], LOST[:2], strict=True):
        one = Group.objects.get(by="supplier", key=key)
        second = one.figures.get(curve="loss", milestone="second_summer")
        row = said.split("Each group by itself")[1].split(one.label)[1]
        assert re.match(rf" 20 {lost} [\d.]+ {int(second.at_least * 100 + 1e-9)} ", row)


def test_the_order_of_the_address_changes_nothing(liaison, town):
    there = get(liaison, by="supplier", group=keys()[:2], within="")[1]
    back = get(liaison, by="supplier", group=keys()[1::-1], within="")[1]
    assert there == back


def test_three_groups_are_tested_together_and_by_corrected_pairs(liaison, town):
    _, said = get(liaison, by="supplier", group=keys(), within="")
    assert "These 3 groups differ by more than chance would easily bring about" in said
    assert "p is raised because 2 pairs were compared (Holm)" in said
    pairs = said.split("Two at a time")[1].split("What else differs")[0]
    assert re.search(r"Heron Nursery and Otter Growers .* hardly Heron Nursery and Plover", pairs)
    assert re.search(r"Heron Nursery and Plover &amp; Sons .* could be Otter Growers", pairs)
    assert "Otter Growers and Plover &amp; Sons it takes 8 losses" in pairs


def test_groups_of_unlike_kinds_cannot_be_compared_kind_by_kind(liaison, town):
    response, said = get(liaison, by="supplier", group=keys()[:2], within="species")
    assert response.status_code == 200
    assert "These groups cannot be compared yet" in said
    assert "hardly any were under watch at the same ages" in said
    assert "Each tree was compared only with trees that are alike" in said


def test_too_few_losses_are_refused_with_the_number(liaison, town):
    _, said = get(liaison, by="supplier", group=keys()[1:], within="")
    assert "(it takes 8 losses among them all; there were 7)" in said
    assert "hazard ratio" not in said


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"by": "supplier", "within": ""}, "Choose two groups or more."),
        ({"by": "supplier", "group": ["heron-nursery"]}, "Choose two groups or more."),
        ({"by": "supplier", "group": ["heron-nursery"] * 2}, "Choose two groups or more."),
        ({"by": "supplier", "group": ["heron-nursery", "no-such"]}, "not there, or no longer"),
        ({"by": "supplier", "group": ["heron-nursery", "\0"]}, "not there, or no longer"),
        ({"by": "supplier", "group": ["heron-nursery", "x" * 5000]}, "not there, or no longer"),
        ({"by": "year", "group": ["²", "-1"]}, "not there, or no longer"),
        ({"by": "supplier", "within": "supplier"}, "cannot be asked to have that in common"),
        ({"by": "supplier", "within": "'; DROP TABLE"}, "cannot be asked to have that in common"),
    ],
)
def test_a_wrong_choice_is_said_and_what_was_chosen_is_kept(liaison, town, asked, said):
    response, page = get(liaison, **asked)
    assert response.status_code == 422
    assert said in page
    assert "<title>Error:" in response.content.decode()
    assert response.content.decode().count(" checked") == (
        "heron-nursery" in asked.get("group", ())
    )


def test_more_than_twelve_groups_are_too_many(liaison):
    made = [group(by="supplier", key=f"n{n}", label=f"Nursery {n}").key for n in range(13)]
    response, said = get(liaison, by="supplier", group=made)
    assert response.status_code == 422
    assert "Choose at most 12 groups." in said


@pytest.mark.parametrize("by", ["town", "mood", "by__in", "<script>"])
def test_a_grouping_that_is_none_is_no_page(liaison, by):
    assert get(liaison, by=by)[0].status_code == 404


def test_an_empty_town_says_that_there_is_nothing_to_compare_yet(liaison):
    response, said = get(liaison)
    assert response.status_code == 200
    assert "There are not two of this kind yet." in said


def test_groups_whose_trees_are_gone_are_refused_and_not_broken(liaison):
    made = [group(by="supplier", key=key, label=key).key for key in ("a", "b")]
    response, said = get(liaison, by="supplier", group=made)
    assert response.status_code == 200
    assert "(each needs 10 trees in the rates; the smallest has 0)" in said


def test_the_list_leads_here(liaison):
    assert b'href="/survival/compare/?by=species"' in liaison.get("/survival/?by=species").content
    assert b'href="/survival/compare/?by=planting"' in liaison.get("/survival/?by=town").content


@pytest.mark.parametrize("groups", [0, 1, 2, 3])
def test_no_english_remains_on_the_page(liaison, town, missed, groups):  # noqa: F811
    liaison.cookies[settings.LANGUAGE_COOKIE_NAME] = "es"
    for within in ("", "species"):
        response, _ = get(liaison, by="supplier", group=keys()[:groups], within=within)
        assert not missed.asked
        words = words_of(response.content.decode())
        for name in [*NURSERIES, "Second Summer", "bare root"]:
            words = words.replace(name, "")
        assert not ENGLISH.findall(words)


def told(ratio, low, high, p=0.04):
    return Comparison((20, 20), (8, 8), (8.0, 8.0), "", p, None, ratio, low, high)


@pytest.mark.parametrize(
    ("one", "said", "sure"),
    [
        (told(1.62, 0.94, 2.78), "from Bee were lost about 1.6 times as fast", "0.9 and 2.8 times"),
        (told(0.5, 0.21, 1.2), "from Ant were lost about 2.0 times as fast", "0.8 and 4.8 times"),
        (told(1.02, 0.4, 2.5), "about as fast as the trees from Ant", "0.4 and 2.5 times"),
        (told(1.6, 1.03, 2.5), "1.6 times", "between 1.03 and 2.5"),
        (told(12.3, 2.0, INF), "12 times as fast", "(at least 2.0 times)"),
        (told(INF, 1.4, INF), "from Ant none was lost", "from Bee were lost at least 1.4 times"),
        (told(0.0, 0.0, 0.5), "from Bee none was lost", "from Ant were lost at least 2.0 times"),
    ],
)
def test_a_ratio_is_told_from_the_side_that_lost_more(db, one, said, sure):
    first, second = (group(by="supplier", key=name, label=name) for name in ("Ant", "Bee"))
    finding = pair_said(one, first, second)
    assert said in finding.said
    assert sure in finding.sure


@pytest.mark.parametrize(
    ("p", "words"),
    [
        (0.00001, "fewer than 1 of 10,000 such comparisons (p is less than 0.001)"),
        (0.0072, "about 1 of 139 such comparisons (p = 0.007)"),
        (0.12, "could be chance"),
        (0.41, "easily be chance"),
        (0.41, "about 4 of 10 such comparisons (p = 0.410)"),
        (0.99, "nearly all such comparisons"),
    ],
)
def test_chance_is_a_natural_frequency_and_a_number(p, words):
    assert words in chance_said(told(2.0, 1.0, 4.0, p))


def test_an_end_of_a_range_is_rounded_outward():
    assert [times_said(0.068), times_said(1.19), times_said(3.31, up=True)] == [
        "0.06",
        "1.1",
        "3.4",
    ]
    assert times_said(1357.2, up=True) == "over 100"
    assert [times_said(0.97, up=True), times_said(1.04)] == ["0.97", "1.04"]
