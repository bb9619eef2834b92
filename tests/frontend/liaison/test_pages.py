"""The liaison's pages: what they say, to whom, and that they take away what they show."""

import csv
import io
import re
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from survey.condition import trend
from survey.exports.kinds import EXPORTS, IMPORTS
from survey.people.models import Person
from survey.survival import roll_up
from survey.survival.models import Group
from survey.trees.models import Site
from tests.factories import (
    AreaFactory,
    LookFactory,
    PersonFactory,
    PlantingFactory,
    SiteFactory,
    TreeFactory,
)
from tests.frontend.liaison.outlook_made import outlook_of

pytestmark = pytest.mark.django_db
ADDRESSES = ["/survival/", "/trends/", "/dictionary/", "/downloads/"]


def client_of(role):
    client = Client()
    client.force_login(PersonFactory(role=role))
    return client


@pytest.fixture
def liaison():
    AreaFactory()
    return client_of("liaison")


@pytest.fixture
def planting():
    """Twenty trees, of which four were found dead before their second summer ended."""
    planting, site = PlantingFactory(name="Ferry <Road>", planted_count=22), SiteFactory()
    for n, tree in enumerate(TreeFactory.create_batch(20, planting=planting, site=site)):
        LookFactory(tree=tree, day=date(2024, 6, 3))
        LookFactory(tree=tree, day=date(2025, 6, 3) if n < 4 else date(2026, 6, 3), dead=n < 4)
    roll_up.catch_up(planting.area)
    trend.keep(trend.work_out(str(site.pk)))
    outlook_of(site)
    return planting


def text_of(response):
    assert response.status_code == 200
    return response.content.decode()


def body_of(response):
    return b"".join(response.streaming_content).decode("utf-8")


@pytest.mark.parametrize("address", ADDRESSES)
@pytest.mark.parametrize("role", Person.Role.values)
def test_everybody_signed_in_may_read(address, role):
    AreaFactory()
    assert client_of(role).get(address).status_code == 200


@pytest.mark.parametrize("address", [*ADDRESSES, "/downloads/survival.csv", "/desk/imports/"])
def test_whoever_is_not_signed_in_is_asked_to(address):
    AreaFactory()
    response = Client().get(address)
    assert response.status_code == 302
    assert response["Location"].startswith("/sign-in/")


def test_a_group_opens_with_the_finding_its_range_and_its_trees(liaison, planting):
    page = text_of(liaison.get(f"/survival/planting/{planting.ref}/"))
    assert "At least 8 in 10 of the trees of the planting Ferry &lt;Road&gt;" in page
    assert "stood through their second summer" in page
    assert "in 10, from 20 trees)" in page
    assert "16 were seen alive within a year; 4 died or are gone" in page
    assert "22 planted, 20 on the list" in page
    assert "2 of the 22 trees planted never came on the list" in page
    assert "<Road>" not in page


def test_the_table_says_the_same_as_the_chart_and_the_csv(liaison, planting):
    page = text_of(liaison.get(f"/survival/planting/{planting.ref}/"))
    csv_text = body_of(
        liaison.get(f"/downloads/survival.csv?area=pellworth&by=planting&key={planting.ref}")
    )
    rows = list(csv.DictReader(io.StringIO(csv_text)))
    second = next(r for r in rows if (r["curve"], r["milestone"]) == ("loss", "second_summer"))
    assert second["survival_at_least"] == "0.8"
    assert '<td class="num"><b>80</b></td><td class="num">80</td>' in page
    assert "second summer: 80" in page  # the label in the drawing


def test_a_group_that_lost_nobody_is_not_told_as_at_least_all(liaison):
    planting = PlantingFactory(name="Kiln Bank")
    for tree in TreeFactory.create_batch(20, planting=planting):
        LookFactory(tree=tree, day=date(2024, 6, 3))
        LookFactory(tree=tree, day=date(2026, 6, 3))
    roll_up.catch_up(planting.area)
    page = text_of(liaison.get(f"/survival/planting/{planting.ref}/"))
    assert "All the watched trees of the planting Kiln Bank stood" in page
    assert "and 10 in 10, from 20 trees)" in page
    assert "At least 10 in 10" not in page


def test_the_list_gives_no_caution_about_a_figure_that_is_not_there(liaison):
    day = date(2025, 11, 3)
    planting = PlantingFactory(name="Just planted", planted_from=day, planted_to=day)
    for tree in TreeFactory.create_batch(9, planting=planting):
        LookFactory(tree=tree, day=date(2025, 12, 1))
        LookFactory(tree=tree, day=date(2026, 6, 3))
    roll_up.catch_up(planting.area)
    row = text_of(liaison.get("/survival/")).split("Just planted")[1].split("</tr>")[0]
    assert "no tree is old enough yet" in row
    assert "Only 9 trees" not in row
    assert "Only 9 trees" in text_of(liaison.get(f"/survival/planting/{planting.ref}/"))


def test_a_month_gives_count_share_and_range_that_belong_together(liaison, planting):
    page = text_of(liaison.get(f"/trends/{Site.objects.get().ref}/"))
    share = re.search(r"<b>(\d+)</b> <span class=\"soft\">(\d+) \((\d+)–(\d+)\)", page)
    trees, of_100, low, high = map(int, share.groups())
    assert of_100 == round(100 * trees / 16)
    assert low <= of_100 <= high


def test_a_group_too_small_for_a_rate_has_counts_only(liaison):
    tree = TreeFactory()
    LookFactory(tree=tree, day=date(2026, 6, 3))
    roll_up.catch_up(tree.area)
    page = text_of(liaison.get(f"/survival/planting/{tree.planting.ref}/"))
    assert "there is no rate yet" in page
    assert "too few for a rate, so there are counts only" in page
    assert "too few trees under watch to draw a curve" in page


def test_the_list_says_it_is_no_ranking_and_keeps_the_order_of_names(liaison, planting):
    page = text_of(liaison.get("/survival/?by=planting"))
    assert "this is no ranking" in page
    assert "80" in page
    assert text_of(liaison.get("/survival/?by=town"))


def test_an_empty_house_says_what_will_fill_it(liaison):
    assert "No group has been worked out yet" in text_of(liaison.get("/survival/"))
    assert "There is no site yet" in text_of(liaison.get("/trends/"))


@pytest.mark.parametrize(
    "address",
    [
        "/survival/?by=color",
        "/survival/?area=atlantis",
        "/survival/planting/nothing/",
        "/survival/color/red/",
        "/trends/nowhere/",
        "/downloads/people.csv",
        "/downloads/survival.csv?by=color",
        "/downloads/survival.csv?key=x",
    ],
)
def test_what_does_not_exist_is_not_found(liaison, address):
    assert liaison.get(address).status_code == 404


def test_a_trend_opens_with_counts_and_shows_every_month(liaison, planting):
    site = Site.objects.get()
    page = text_of(liaison.get(f"/trends/{site.ref}/"))
    assert "16 of the 16 trees seen at" in page
    assert "June 2026" in page
    assert "Earlier months" in page
    assert text_of(liaison.get("/trends/"))


def test_a_site_nobody_looked_at_says_so(liaison):
    site = SiteFactory()
    page = text_of(liaison.get(f"/trends/{site.ref}/"))
    assert f"No trained eye has looked at {site.name} within a year" in page


@pytest.mark.parametrize("table", sorted(EXPORTS))
def test_every_table_can_be_taken_away(liaison, planting, table):
    response = liaison.get(f"/downloads/{table}.csv")
    assert response["Content-Type"] == "text/csv; charset=utf-8; header=present"
    assert f"pellworth-{table}.csv" in response["Content-Disposition"]
    lines = body_of(response).splitlines()
    assert lines[0] == ",".join(EXPORTS[table].names)
    assert len(lines) > 1
    marked = body_of(liaison.get(f"/downloads/{table}.csv?for=spreadsheets"))
    assert marked.startswith("\ufeff")


def test_an_unchanged_survival_table_is_not_sent_again(liaison, planting):
    first = liaison.get("/downloads/survival.csv?by=planting")
    body = body_of(first)
    again = liaison.get(
        "/downloads/survival.csv?by=planting", headers={"if-none-match": first["ETag"]}
    )
    assert again.status_code == 304
    Group.objects.filter(by="planting").update(pooled={"fit": "another"})
    fitted = liaison.get(
        "/downloads/survival.csv?by=planting", headers={"if-none-match": first["ETag"]}
    )
    assert fitted.status_code == 200
    LookFactory(tree=planting.trees.last(), day=date(2026, 6, 10), gone=True)
    roll_up.catch_up(planting.area)
    changed = liaison.get(
        "/downloads/survival.csv?by=planting", headers={"if-none-match": first["ETag"]}
    )
    assert body_of(changed) != body


def test_the_dictionary_explains_every_column(liaison):
    page = text_of(liaison.get("/dictionary/"))
    for table in [*EXPORTS.values(), *(kind.table for kind in IMPORTS.values())]:
        for name in table.names:
            assert f"<code>{name}</code>" in page


@pytest.mark.parametrize("by", Group.By.values)
def test_every_kind_of_group_has_a_page(liaison, planting, by):
    for group in Group.objects.filter(by=by):
        page = text_of(liaison.get(f"/survival/{by}/{group.key}/"))
        assert "Read this before you quote it" in page


def test_another_town_is_chosen_by_its_name_and_its_links_stay_there(liaison):
    other = AreaFactory(ref="alder", name="Alder", is_home=False)
    planting = PlantingFactory(area=other)
    TreeFactory(planting=planting, site=SiteFactory(area=other))
    roll_up.catch_up(other)
    assert liaison.get(f"/survival/planting/{planting.ref}/").status_code == 404
    page = text_of(liaison.get("/survival/?area=alder"))
    assert f"/survival/planting/{planting.ref}/?area=alder" in page
    assert text_of(liaison.get(f"/survival/planting/{planting.ref}/?area=alder"))


def send(client, text, *, name="sites.csv", kind="sites", **more):
    file = SimpleUploadedFile(name, text if isinstance(text, bytes) else text.encode())
    return client.post("/desk/imports/", {"kind": kind, "file": file, **more})


@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_only_staff_bring_files_in(role):
    AreaFactory()
    assert client_of(role).get("/desk/imports/").status_code == 403
    assert send(client_of(role), "name,kind\nA,park\n", keep="").status_code == 403
    assert not Site.objects.exists()


def test_a_file_is_tried_and_then_brought_in():
    AreaFactory()
    staff = client_of("staff")
    assert "What the columns are" in text_of(staff.get("/desk/imports/"))
    tried = send(staff, "name,kind\nMill Steps,square\n", **{"try": ""})
    assert "The file is good; nothing was kept yet" in text_of(tried)
    assert not Site.objects.exists()
    assert "One row came in" in text_of(send(staff, "name,kind\nMill Steps,square\n", keep=""))
    assert Site.objects.count() == 1
    again = send(staff, "name,kind\nMill Steps,square\n", keep="")
    assert "Everything in the file is here already" in text_of(again)


def test_bad_rows_are_listed_and_nothing_is_kept():
    AreaFactory()
    text = "name,kind\nMill Steps,square\n<b>x</b>,castle\n"
    response = send(client_of("staff"), text, keep="")
    page = response.content.decode()
    assert response.status_code == 422
    assert "One row cannot come in; nothing was kept" in page
    assert "castle" in page
    assert not Site.objects.exists()
    kept = send(client_of("staff"), text, keep="", keep_good="on")
    assert "One row came in" in text_of(kept)
    assert Site.objects.count() == 1


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"PK\x03\x04", "This is a spreadsheet"),
        (b"color\nred\n", "Missing columns: name, kind"),
        (b"", "empty"),
    ],
)
def test_a_file_that_is_no_table_is_refused_in_words(data, said):
    AreaFactory()
    response = send(client_of("staff"), data, keep="")
    assert response.status_code == 422
    assert said in response.content.decode()


def test_a_form_without_a_file_or_kind_says_what_is_missing():
    AreaFactory()
    response = client_of("staff").post("/desk/imports/", {"kind": "spells", "keep": ""})
    assert response.status_code == 422
    assert "This field is required" in response.content.decode()


def test_a_file_too_large_for_the_page_is_refused(monkeypatch):
    AreaFactory()
    monkeypatch.setattr("frontend.liaison.imports.LARGEST", 20)
    response = send(client_of("staff"), "name,kind\nMill Steps,square\n", keep="")
    assert response.status_code == 422
    assert "larger than 20 MB" in response.content.decode()
