"""The page of a group in every state, and that its table and its chart are the same numbers."""

import re

import pytest
from django.conf import settings
from django.test import Client

from frontend.liaison.pictures import accounted, survival_chart
from frontend.liaison.reading import read
from survey.survival.models import Group
from tests.factories import AreaFactory, PersonFactory
from tests.frontend.liaison.made import (
    FORECAST,
    LOSS,
    POOLED,
    STATES,
    WEIGHED,
    group,
    weighed,
    with_weighed,
    year,
)
from tests.frontend.test_survival_chart import Scale, paths, said

pytestmark = pytest.mark.django_db


@pytest.fixture
def liaison():
    AreaFactory()
    client = Client()
    client.force_login(PersonFactory(role="liaison"))
    return client


def page_of(client, made):
    response = client.get(f"/survival/{made.by}/{made.key}/")
    assert response.status_code == 200
    return response.content.decode()


def drawing(page, size):
    chart = page.partition('<div class="chart has-paper">')[2]
    found = re.search(rf'<div class="chart-{size}">(<svg.*?</svg>)', chart, re.DOTALL)
    return found and found[1]


def cells(page):
    """The rows of the survival table: the first word of each, then the text of its cells."""
    table = page.split('class="survival-table"')[1].split("</table>")[0].split("<tbody>")[1]
    rows = [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL) for row in table.split("<tr")]
    plain = [[" ".join(re.sub("<[^>]+>", " ", cell).split()) for cell in row] for row in rows]
    return {row[0].split(" 22")[0].strip(): row[1:] for row in plain if row}


@pytest.mark.parametrize("state", STATES)
def test_every_state_has_a_page_that_stands(liaison, state):
    page = page_of(liaison, STATES[state]())
    assert "Read this before you quote it" in page
    assert "The rate and the count are two answers" in page
    assert "Every tree accounted for" in page
    assert "None" not in re.sub("None of the", "", page)
    assert not re.search(r"\b1 (trees|months|days|years)\b", page)


@pytest.mark.parametrize("size", ["wide", "narrow", "paper"])
def test_the_chart_and_the_table_say_the_same_at_every_milestone(liaison, size):
    page = page_of(liaison, STATES["everything"]())
    svg = drawing(page, size)
    # The page's scale has words; the shares of its lowest and highest line are known by them.
    numbers = {"none": 0, "2 in 10": 20, "4 in 10": 40, "6 in 10": 60, "8 in 10": 80, "all": 100}
    for words, number in numbers.items():
        svg = svg.replace(f'c-soft c-end">{words}<', f'c-soft c-end">{number}<')
    scale = Scale(svg)
    line = [scale.read(point) for part in paths(svg, "c-find") for point in part]
    rows = cells(page)
    for name, age in (("1 year", 12), ("second summer", 22), ("2 years", 24)):
        before = [share for at, share in line if at <= age + 0.05]
        assert int(rows[name][0]) == pytest.approx(100 * before[-1], abs=0.2)
    x, y = re.search(r'<circle class="c-point" cx="([\d.]+)" cy="([\d.]+)"', svg).groups()
    age, share = scale.read((float(x), float(y)))
    assert (round(age), round(100 * share)) == (22, int(rows["second summer"][0]))
    assert f"second summer: {rows['second summer'][0]}" in said(svg)


def test_every_number_of_the_curve_goes_into_the_drawing_unchanged(liaison):
    reading = read(STATES["everything"]())
    given = survival_chart(reading, "")
    assert [tuple(row[:3]) for row in LOSS] == list(given["curve"])
    assert [(row[0], row[3], row[4]) for row in LOSS][1:] == list(given["band"])[1:]
    assert given["band"][0] == (0.0, 1.0, 1.0)
    second = reading.second
    assert given["mark"] == (second.age, second.at_least, second.from_age, second.at_most)
    assert given["forecast"] == tuple(map(tuple, FORECAST["path"]))


def test_a_group_too_small_for_a_rate_has_counts_and_no_chart(liaison):
    page = page_of(liaison, STATES["too few"]())
    assert "2 of 3 trees of the planting Ferry Road were alive" in page
    assert "(a count; there is no rate yet)" in page
    assert "too few trees under watch to draw a curve" in page
    assert drawing(page, "wide") is None


def test_of_fewer_than_ten_trees_the_count_comes_first_and_then_the_range(liaison):
    page = page_of(liaison, STATES["count first"]())
    assert "<h1>3 of 5 watched trees of the planting Ferry Road are known to have stood" in page
    assert "(of such trees, somewhere between 6 and 9 in 10 would)" in page
    row = liaison.get("/survival/").content.decode().split("Ferry Road")[1].split("</tr>")[0]
    assert "<b>3 of 5</b>" in row


def test_all_alive_and_all_lost_are_said_without_a_riddle(liaison):
    alive = page_of(liaison, STATES["all alive"]())
    assert "All the watched trees of the planting Ferry Road stood through" in alive
    Group.objects.all().delete()
    lost = page_of(liaison, STATES["all lost"]())
    assert "None of the watched trees of the planting Ferry Road stood through" in lost
    for page in (alive, lost):
        assert "At least 10 in 10" not in page
        assert "At least 0 in" not in page


def test_a_rate_is_never_rounded_down_to_none(liaison):
    assert "At least 4 in 100 of the trees" in page_of(liaison, STATES["nearly all lost"]())


def test_where_perhaps_none_stood_the_other_end_is_told(liaison):
    assert "At most 3 in 10 of the trees" in page_of(liaison, STATES["perhaps none"]())


def test_a_group_watched_late_says_from_which_age_in_sentence_and_chart(liaison):
    page = page_of(liaison, STATES["starts late"]())
    assert "(of those alive at 7 months; somewhere between 6 and 9 in 10, from 20 trees)" in page
    assert "watched from here on" in said(drawing(page, "wide"))
    assert "before the age of 7 months" in page


def test_the_stale_are_drawn_apart_from_those_seen_alive(liaison):
    page = page_of(liaison, STATES["stale"]())
    assert "8 alive, seen within a year" in page
    assert "12 alive, seen over a year ago" in page
    assert "trained eyes have not seen 12 out of 20 for over a year" in page


def test_trees_lost_from_sight_are_not_counted_as_dead(liaison):
    page = page_of(liaison, STATES["lost from sight"]())
    assert "3 not found, or not looked at yet" in page
    assert "Counted as lost, at least 77 of 100" in page
    assert "Lost, by outcome" not in page


def test_trees_removed_for_other_reasons_have_a_curve_and_an_outcome_of_their_own(liaison):
    page = page_of(liaison, STATES["removed for other reasons"]())
    assert "Lost, by outcome" in page
    for words in ("Died, or gone", "Removed alive for health", "Removed alive for another"):
        assert words in page
    assert "10 to 14 of 100 such trees by 30 months" in page
    assert "6 of 100 such trees by 30 months" in page
    assert {"still standing", "not dead"} <= set(said(drawing(page, "wide")))
    assert page.count('class="c-dot-open"') == 4


def test_a_forecast_is_told_drawn_and_cautioned_and_without_it_nothing_is_said(liaison):
    page = page_of(liaison, STATES["everything"]())
    told = "Of the 33 trees alive when last seen, about 27 still stand at the age of 5 years"
    assert f"{told}, on November 30, 2028" in page
    assert "Trees to replace: 0 to 12." in page
    assert "A dry summer would change it." in page
    assert {"Nov 2028", "27 of 33", "21 to 33"} <= set(said(drawing(page, "wide")))
    Group.objects.all().delete()
    plain = page_of(liaison, group(key="plain"))
    for words in ("If nothing changes", "forecast", "Leaning on", "leaning on"):
        assert words not in plain


def test_what_leans_on_the_town_stands_beside_the_raw_figure(liaison):
    page = page_of(liaison, STATES["leaning"]())
    assert "About 83 of 100 such trees stand through their second summer" in page
    assert "4 tenths of it come from these trees themselves" in page
    row = cells(page)["second summer"]
    assert row[0] == "80"
    assert row[4] == f"{round(100 * POOLED['figures']['second_summer']['share'])} (74–91)"


def test_all_trees_of_the_same_year_are_the_other_line_and_a_column(liaison):
    year()
    page = page_of(liaison, group())
    assert "all planted in 2023: 92 trees" in said(drawing(page, "wide"))
    assert cells(page)["second summer"][4] == "86"
    assert "are no ranking" in page


def test_a_planting_that_is_all_of_its_year_has_no_second_line(liaison):
    group(by="year", key="2023", label="2023")
    assert "all planted in" not in page_of(liaison, group())


@pytest.mark.parametrize("state", STATES)
def test_every_tree_on_the_list_has_its_mark(state):
    made = STATES[state]()
    assert sum(accounted(made)["counts"].values()) == made.counts["registered"]


def test_a_large_town_says_for_how_many_trees_a_mark_stands(liaison):
    page = page_of(liaison, STATES["a large town"]())
    assert "One mark stands for up to 10 trees of a kind" in page
    assert "3 removed alive" in page


def readings(page):
    """What stands under "Two readings", as words."""
    part = page.split('id="readings"')[1].split("</section>")[0]
    return " ".join(re.sub("<[^>]+>", " ", part).split())


@pytest.mark.parametrize("state", STATES)
def test_every_state_has_a_page_that_stands_with_both_readings(liaison, state):
    page = page_of(liaison, with_weighed(state))
    assert "Two readings of the same trees" in page
    assert "None" not in re.sub("None of the", "", page)
    assert "nan" not in page
    assert not re.search(r"\b1 (trees|months|days|years)\b", page)


def test_both_readings_stand_side_by_side_and_the_sentence_quotes_the_verified_one(liaison):
    page = page_of(liaison, with_weighed("everything"))
    said_of_both = readings(page)
    assert "Verified looks only 80 of 100 (somewhere between 66 and 90)." in said_of_both
    assert "All evidence weighed About 62 of 100 (somewhere between 52 and 72)." in said_of_both
    assert "112 looks by anybody, 31 of them by neighbors" in said_of_both
    assert "Of these 21 trees, 10 to 14 are believed to stand now." in said_of_both
    assert "<h1>At least 8 in 10 of the trees of the planting Ferry Road stood through" in page
    assert "Its limits allow for what the looks leave open" in page
    assert "made up too." in page  # the method of the other row, with its version
    assert "1" * 16 in page


def test_where_the_readings_differ_beyond_their_limits_the_page_says_so_and_why(liaison):
    page = page_of(liaison, with_weighed("everything"))
    told = readings(page)
    assert (
        "The two readings differ by more than their ranges allow (second summer, 2 years). With all"
        " evidence weighed, fewer trees stand. It also hears 31 looks by neighbors, who look when"
        " something is wrong. 12 looks were complaints, and it allows for that. It takes 9 looks in"
        " months in which such trees stand bare for little."
    ) in told
    assert page.count("The two readings differ by more than their ranges allow") == 2  # and paper


def test_where_they_agree_or_begin_at_different_ages_nothing_is_said_to_differ(liaison):
    alike = {"12": (0.86, 0.78, 0.93), "second_summer": (0.77, 0.68, 0.86)}
    assert "differ by more" not in page_of(liaison, with_weighed("everything", told=alike))
    Group.objects.all().delete()
    later = page_of(liaison, with_weighed("everything", from_age=7.0))
    assert "differ by more" not in later
    assert "c-weighed" not in later


def test_more_trees_than_were_seen_can_be_believed_to_stand(liaison):
    more = with_weighed(
        "everything", told={"second_summer": (0.95, 0.91, 0.99)}, neighbor_looks=0, bare_looks=1,
        worried_looks=0,
    )  # fmt: skip
    told = readings(page_of(liaison, more))
    assert "With all evidence weighed, more trees stand. It takes 1 look in a month" in told
    assert "hears" not in told
    assert "complaint," not in told


def test_a_group_with_one_reading_says_nothing_of_two(liaison):
    page = page_of(liaison, STATES["everything"]())
    assert "Two readings" not in page
    assert "evidence weighed" not in page
    assert "c-weighed" not in page


def test_the_weighed_figures_stand_in_the_table_and_the_same_numbers_in_the_chart(liaison):
    page = page_of(liaison, with_weighed("everything"))
    rows = cells(page)
    assert rows["1 year"][4] == "86 (78–93)"
    assert rows["second summer"][4] == "62 (52–72)"
    assert "all evidence weighed" in said(drawing(page, "wide"))
    given = survival_chart(read(Group.objects.verified().get()), "")
    assert given["weighed_at"] == tuple(
        (age, *WEIGHED[name]) for name, age in (("12", 12), ("second_summer", 22), ("24", 24))
    )
    assert given["weighed"][-1][0] == given["curve"][-1][0] == 30  # it ends with the verified one


def test_a_weighed_figure_that_is_withheld_says_why(liaison):
    verified = STATES["everything"]()
    other = weighed(verified, told={}, cautions=[{"code": "usual_in_town", "months": 0}])
    other.figures.update(withheld="no_looks")
    told = readings(page_of(liaison, verified))
    assert "Withheld: fewer than five trees have been looked at." in told
    assert "Nobody has looked at these trees since they came on the list." in told
    assert cells(page_of(liaison, verified))["1 year"][4] == "–"


def test_a_group_that_is_weighed_but_not_verified_yet_has_no_page(liaison):
    verified = with_weighed("everything")
    Group.objects.verified().delete()
    assert liaison.get(f"/survival/planting/{verified.key}/").status_code == 404
    assert "No group has been worked out yet." in liaison.get("/survival/").content.decode()


def test_the_list_shows_both_readings_of_every_group_once(liaison):
    differing, agreeing = group(key="a", label="A Street"), group(key="b", label="B Street")
    group(key="c", label="C Street")
    weighed(differing)
    weighed(agreeing, told={"second_summer": (0.77, 0.68, 0.86)})
    page = liaison.get("/survival/").content.decode()
    assert "How 3 groups of trees came through" in page
    assert "In one group, verified looks and all evidence weighed differ" in page
    names = ("A Street", "B Street", "C Street")
    rows = {name: page.split(f">{name}<")[1].split("</tr>")[0] for name in names}
    words = {name: " ".join(re.sub("<[^>]+>", " ", row).split()) for name, row in rows.items()}
    assert "66 to 90 62 52 to 72 The two readings differ by more" in words["A Street"]
    assert words["B Street"].endswith("66 to 90 77 68 to 86")
    assert words["C Street"].endswith("66 to 90 not worked out yet")
    assert "all evidence weighed: about 62, between 52 and 72" in rows["A Street"]


def test_the_list_without_the_other_reading_has_no_columns_for_it(liaison):
    group()
    page = liaison.get("/survival/").content.decode()
    assert "evidence weighed" not in page


def test_all_trees_of_the_same_year_are_of_the_same_reading(liaison):
    weighed(year(), told={"second_summer": (0.1, 0.05, 0.2)})
    page = page_of(liaison, group())
    assert cells(page)["second summer"][4] == "86"


def test_the_list_is_in_order_of_name_whatever_the_figures(liaison):
    for n, name in enumerate(["b lane", "A Street", "C Road", *(f"D {n:03d}" for n in range(60))]):
        group(key=f"g{n}", label=name)
    page = liaison.get("/survival/").content.decode()
    names = re.findall(r'<th scope="row"><a [^>]*>([^<]*)</a>', page)
    assert names == sorted(names, key=str.casefold)
    assert len(names) == 63
    assert "In order of name: this is no ranking" in page


def test_a_species_goes_by_its_name_in_the_readers_language(liaison):
    made = group(by="species", key="linden", label="Linden")
    assert "of the kind Linden" in page_of(liaison, made)
    liaison.cookies[settings.LANGUAGE_COOKIE_NAME] = "es"
    assert "de la especie Tilo" in page_of(liaison, made)
