"""Outlooks: what the pages of trends say, mark and leave unsaid."""

import csv
import io
import re
from datetime import date
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from survey.condition import trend
from survey.trees.models import Happening
from tests.factories import (
    NOON,
    AreaFactory,
    LookFactory,
    PersonFactory,
    PlantingFactory,
    SiteFactory,
    TreeFactory,
)
from tests.frontend.liaison.outlook_made import a_year_down, month, outlook_of
from tests.survey.belief_rows import put_aside, turn

pytestmark = pytest.mark.django_db
FINDING = (
    "Of 100 trees like these, 75 should still stand two summers from now (somewhere between 69"
    " and 81)"
)


@pytest.fixture(autouse=True)
def area():
    return AreaFactory()


@pytest.fixture
def reader(client):
    client.force_login(PersonFactory(role="liaison"))
    return client


@pytest.fixture
def site():
    site = SiteFactory(name="Quarry <Green>", ref="quarry")
    TreeFactory.create_batch(14, site=site)
    return site


def words_of(response):
    assert response.status_code == 200
    page = response.content.decode().split("<main", 1)[1]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def down(site, **more):
    tree = site.trees.first()
    driven = [{"tree": tree.ref, "before": 88, "after": 48}]
    return turn(site=site, kind="trend", since=date(2026, 4, 1), driven_by=driven, **more)


def test_a_site_opens_with_its_outlook_its_range_and_what_it_was(reader, site):
    outlook_of(site)
    page = words_of(reader.get("/trends/quarry/"))
    assert f"{FINDING}; in June 2025 it was 90." in page
    assert "Trees standing" in page
    assert "13" in page


def test_a_site_that_turned_says_so_first_and_from_which_month_it_counts(reader, site):
    outlook_of(site)
    down(site)
    page = words_of(reader.get("/trends/quarry/"))
    heading = page.index(
        "Quarry <Green> has gone down since April 2026: by its walks, 84 before, 75 now."
    )
    assert heading < page.index(f"{FINDING}; in March 2026 it was 84.")
    assert "88 → 48" in page


def test_only_the_desk_may_put_it_aside_and_reads_the_reason(reader, client, site):
    outlook_of(site)
    found = down(site)
    address = f"/desk/turns/{found.pk}/"
    assert address not in reader.get("/trends/quarry/").content.decode()
    client.force_login(PersonFactory())
    assert address in client.get("/trends/quarry/").content.decode()


def test_what_was_put_aside_is_still_told_and_its_reason_is_the_desks(client, site):
    outlook_of(site)
    put_aside(site=site, kind="trend", put_aside_reason="<b>rings</b>")
    client.force_login(PersonFactory(role="liaison"))
    page = client.get("/trends/quarry/").content.decode()
    assert "Put aside on" in page
    assert "rings" not in page
    client.force_login(PersonFactory())
    page = client.get("/trends/quarry/").content.decode()
    assert "&lt;b&gt;rings" in page


def test_happenings_are_marked_by_their_day_and_nobody_is_blamed(reader, site):
    outlook_of(site)
    for kind, first, last in (
        ("new_contractor", date(2026, 3, 26), date(2026, 3, 26)),
        ("mowing", date(2026, 4, 2), date(2026, 4, 2)),
        ("heat", date(2025, 7, 1), date(2025, 8, 20)),
    ):
        Happening.objects.create(
            site=site, kind=kind, from_day=first, to_day=last, note="their fault", entered_at=NOON
        )
    page = words_of(reader.get("/trends/quarry/"))
    assert "another mowing contractor" in page
    assert "heat" in page
    assert "their fault" not in page
    assert "mowing" not in page.replace("another mowing contractor", "")
    assert "Beginning together is no proof." in page


def test_the_cautions_say_who_looked_and_how_wide_the_range_is(reader, site):
    outlook_of(site, [month(2026, 6, 75.0, low=60.0, high=84.0, surveyed=False)])
    for tree in site.trees.all()[:3]:
        LookFactory(tree=tree, day=date(2026, 5, 3), channel="complaint", trained=False)
    page = words_of(reader.get("/trends/quarry/"))
    assert "Within twelve months: 3 looks, 0 by trained people, 3 because somebody worried." in page
    assert "The range is wide, 60 to 84: few have looked. No look is not a good look." in page
    assert "this is not comparable with places that were walked" in page
    assert "Only 14 trees are behind it" in page


def test_nobody_having_looked_is_said(reader, site):
    outlook_of(site)
    assert "Nobody has looked within twelve months." in words_of(reader.get("/trends/quarry/"))


def test_the_same_numbers_stand_in_a_table(reader, site):
    outlook_of(site)
    page = reader.get("/trends/quarry/").content.decode()
    row = re.search(r"<tr><th scope=\"row\">April 2026</th>(.*?)</tr>", page).group(1)
    assert re.findall(r"<td>(.*?)</td>", row)[:5] == ["80", "74 to 86", "13", "14", "3"]


def test_below_the_outlook_stands_what_trained_eyes_found(reader, site):
    LookFactory(tree=site.trees.first(), day=date(2026, 6, 1))
    trend.keep(trend.work_out(str(site.pk)))
    outlook_of(site)
    page = words_of(reader.get("/trends/quarry/"))
    assert "as trained eyes found them" in page
    assert "1 of the 1 tree seen at Quarry <Green> within a year was thriving or holding." in page


def test_a_site_without_an_outlook_shows_what_there_is(reader, site):
    page = words_of(reader.get("/trends/quarry/"))
    assert "Its outlook is worked out by night" in page
    assert "No trained eye has looked at" in page


def test_a_planting_and_a_species_have_the_same_page(reader):
    planting = PlantingFactory(ref="ferry-2023", planted_from=date(2025, 11, 3))
    TreeFactory.create_batch(3, planting=planting)
    outlook_of(planting)
    outlook_of("linden")
    for address in ("/trends/planting/ferry-2023/", "/trends/species/linden/"):
        assert FINDING in words_of(reader.get(address))
    assert "3 trees planted" in words_of(reader.get("/trends/planting/ferry-2023/"))


@pytest.mark.parametrize(
    "address",
    [
        "/trends/planting/nowhere/",
        "/trends/species/oak-of-the-moon/",
        "/trends/supplier/north/",
        "/trends/site/quarry/",
        "/trends/species/%3Cscript%3E/",
        "/trends/?by=supplier",
        "/trends/?area=nowhere",
    ],
)
def test_what_is_not_there_is_not_found(reader, site, address):
    assert reader.get(address).status_code == 404


def test_the_list_stands_in_order_of_name_on_one_scale(reader, site):
    for name, outlook in (("Aster Way", 60.0), ("Mill Steps", 91.0)):
        outlook_of(SiteFactory(name=name, ref=name.split()[0].lower()), [month(2026, 6, outlook)])
    outlook_of(site)
    unwalked = SiteFactory(name="Kiln Bank", ref="kiln")
    outlook_of(unwalked, [month(2026, 6, 80.0, surveyed=False)])
    response = reader.get("/trends/")
    page = words_of(response)
    links = re.findall(r'href="/trends/([a-z]+)/"', response.content.decode())
    assert list(dict.fromkeys(links)) == ["aster", "kiln", "mill", "quarry"]
    assert "this is no ranking" in page
    assert "no walk survey, not comparable" in page
    assert "<Green>" not in response.content.decode()


def test_the_list_is_also_there_by_planting_and_by_species(reader):
    outlook_of(PlantingFactory(name="Ferry Road 2023", ref="ferry-2023"))
    outlook_of("linden")
    assert "/trends/planting/ferry-2023/" in reader.get("/trends/?by=planting").content.decode()
    assert "/trends/species/linden/" in reader.get("/trends/?by=species").content.decode()
    assert reader.get("/trends/?by=planting").status_code == 200


def test_a_list_without_outlooks_says_when_they_come(reader, site):
    assert "none is there yet" in words_of(reader.get("/trends/"))
    assert "none is there yet" in words_of(reader.get("/trends/?by=species"))


def test_turned_sites_stand_above_the_list(reader, site):
    outlook_of(site)
    down(site)
    page = words_of(reader.get("/trends/"))
    assert "has gone down since April 2026" in page
    assert "Put it aside" not in page


def test_the_list_asks_as_much_for_ten_sites_as_for_one(reader):
    asked = []
    for more in (1, 9):
        for _ in range(more):
            outlook_of(SiteFactory())
        with CaptureQueriesContext(connection) as questions:
            reader.get("/trends/")
        asked.append(len(questions))
    assert asked[0] == asked[1]


def read(response):
    text = b"".join(response.streaming_content).decode()
    return list(csv.DictReader(io.StringIO(text)))


def test_the_table_of_outlooks_says_what_the_page_says(reader, site):
    outlook_of(site)
    outlook_of("linden")
    rows = read(reader.get("/downloads/outlooks.csv?by=site&key=quarry"))
    assert len(rows) == len(a_year_down())
    last = rows[-1]
    assert (last["outlook"], last["outlook_low"], last["outlook_high"]) == ("75", "69", "81")
    assert (last["standing"], last["trees"], last["looks"], last["walked"]) == (
        "13", "14", "3", "yes",
    )  # fmt: skip
    assert {row["by"] for row in read(reader.get("/downloads/outlooks.csv"))} == {
        "site", "species",
    }  # fmt: skip


def test_the_table_of_trends_holds_both_readings(reader, site):
    LookFactory(tree=site.trees.first(), day=date(2026, 5, 1))
    trend.keep(trend.work_out(str(site.pk)))
    rows = read(reader.get("/downloads/trends.csv"))
    assert {(row["outlook"], row["believed_share"]) for row in rows} == {("", "")}
    outlook_of(site)
    june = [r for r in read(reader.get("/downloads/trends.csv")) if r["month"] == "2026-06-01"]
    assert {row["outlook"] for row in june} == {"75"}
    assert {row["condition"]: row["believed_share"] for row in june} == {
        "thriving": "0.4", "holding": "0.3", "slipping": "0.2", "failing": "0.05", "dead": "0.05",
    }  # fmt: skip
    assert {(r["believed_standing"], r["all_looks"], r["walked"]) for r in june} == {
        ("13", "3", "yes")
    }
