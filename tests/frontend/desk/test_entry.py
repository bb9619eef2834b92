"""A call is written down on one page, once, and nothing typed is lost."""

import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from survey.reports.models import Draft, Report
from tests.factories import AreaFactory, PersonFactory, SiteFactory, TreeFactory
from tests.pictures import SVG, picture

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _own_media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def desk(client):
    AreaFactory()
    client.force_login(PersonFactory())
    return client


def form(**fields):
    return {"client_ref": str(uuid.uuid4()), "came": "call", "seen_on": "2026-06-16", **fields}


def test_a_call_about_a_tagged_tree_becomes_a_report(desk):
    tree = TreeFactory(tag="0214")
    page = desk.post(
        "/desk/new/",
        form(
            tag="0214",
            signs=["bark_wound"],
            extent="all_round",
            words="A caller",
            contact="555 01423",
        ),
    )
    report = Report.objects.get()
    assert page.headers["Location"] == f"/desk/{report.pk}/"
    assert (report.tree, report.came, report.weight) == (tree, "call", 8)
    assert report.contact.phone == "555 01423"
    assert report.entered_by.startswith("person:")


def test_sending_the_same_call_twice_is_one_report(desk):
    entry = form(landmark="by the well")
    desk.post("/desk/new/", entry)
    desk.post("/desk/new/", entry)
    assert Report.objects.count() == 1


def test_a_street_alone_is_a_place(desk):
    desk.post("/desk/new/", form(site=SiteFactory(ref="ferry-road").ref))
    assert Report.objects.get().site.ref == "ferry-road"


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({}, "Say where"),
        ({"tag": "nobody"}, "No tree here has that tag"),
        ({"landmark": "x", "seen_on": "2031-01-01"}, "not come yet"),
        ({"landmark": "x", "seen_on": "30 February"}, "valid date"),
        ({"landmark": "x", "words": "a" * 4001}, "4,001"),
        ({"landmark": "x", "contact": "call me"}, "neither"),
        ({"landmark": "x", "danger": "<b>"}, "valid choice"),
        ({"landmark": "x", "came": "page"}, "valid choice"),
    ],
)
def test_what_is_wrong_is_said_and_all_that_was_typed_stays(desk, fields, said):
    page = desk.post("/desk/new/", form(**{"words": "Leaves hang", **fields}))
    html = page.content.decode()
    assert page.status_code == 400
    assert said in html
    assert "<title>Error:" in html.replace("\n", "")
    assert fields.get("words", "Leaves hang") in html
    assert not Report.objects.exists()


def test_a_refused_photo_keeps_the_words_and_the_good_photo(desk):
    entry = form(landmark="by the well", words="Leaves hang")
    good = SimpleUploadedFile("a.jpg", picture(), "image/jpeg")
    bad = SimpleUploadedFile("b.jpg", SVG, "image/jpeg")
    page = desk.post("/desk/new/", {**entry, "photos": [good, bad]})
    html = page.content.decode()
    assert "Leaves hang" in html
    assert "One photo is kept already." in html
    key = page.context["form"]["photos_kept"].value()
    desk.post("/desk/new/", {**entry, "photos_kept": key})
    assert Report.objects.get().photos.count() == 1
    assert not Draft.objects.exists()


@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_only_the_desk_writes_calls_down(client, role):
    client.force_login(PersonFactory(role=role))
    assert client.get("/desk/new/").status_code == 403
    assert client.post("/desk/new/", form(landmark="x")).status_code == 403
    assert not Report.objects.exists()


def test_a_stranger_is_asked_to_sign_in(client):
    assert client.get("/desk/new/").headers["Location"].startswith("/sign-in/")
