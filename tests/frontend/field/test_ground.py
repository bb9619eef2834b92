"""The page on which the owner of a site's ground, and their leave, are written down."""

from datetime import date

import pytest
from django.urls import reverse

from survey.trees.models import LandManager, Permission
from tests.factories import LandManagerFactory, PersonFactory, SiteFactory

pytestmark = pytest.mark.django_db
LEAVE = {
    "form": "leave",
    "cares": ["water", "mulch_ring"],
    "who": "anybody",
    "from_day": "2026-03-01",
    "to_day": "2026-10-31",
    "letter": "letter of March 3",
}


@pytest.fixture
def desk(client):
    client.force_login(PersonFactory(role="staff"))
    return client


def page_of(site):
    return reverse("frontend:ground", args=[site.ref])


def test_the_site_page_leads_to_it_and_says_that_the_owner_is_not_known(desk):
    site = SiteFactory(land_manager=None)
    said = desk.get(reverse("frontend:site", args=[site.ref])).content.decode()
    assert page_of(site) in said
    assert "Nobody has written down who owns this ground." in said


def test_a_new_owner_is_named_then_a_leave_written_down(desk):
    site = SiteFactory(land_manager=None)
    named = {"form": "owner", "name": "Parks department", "kind": "city", "phone": "555 0100"}
    desk.post(page_of(site), named)
    said = desk.get(page_of(site)).content.decode()
    assert "Parks department owns this ground" in said
    desk.post(page_of(site), LEAVE)
    assert set(Permission.objects.values_list("care", "who", "to_day")) == {
        ("water", "anybody", date(2026, 10, 31)),
        ("mulch_ring", "anybody", date(2026, 10, 31)),
    }


def test_somebody_on_the_list_needs_no_kind(desk):
    site, owner = SiteFactory(land_manager=None), LandManagerFactory()
    desk.post(page_of(site), {"form": "owner", "owner": owner.pk})
    site.refresh_from_db()
    assert site.land_manager == owner


@pytest.mark.parametrize(
    ("typed", "error"),
    [
        ({"form": "owner", "name": "", "kind": "city"}, "or name a new one"),
        ({"form": "owner", "name": "P" * 90, "kind": "city"}, "at most 80"),
        ({"form": "owner", "name": "Parks", "kind": "king"}, "king is not one of"),
        ({"form": "owner", "owner": "999999"}, "not one of the available choices"),
        (LEAVE | {"cares": []}, "Choose what is allowed."),
        (LEAVE | {"cares": ["paint_it"]}, "paint_it is not one of"),
        (LEAVE | {"to_day": "2026-02-01"}, "The last day lies before the first."),
        (LEAVE | {"to_day": "soon"}, "Enter a valid date."),
    ],
)
def test_bad_input_is_named_and_what_was_typed_stays(desk, typed, error):
    site = SiteFactory(land_manager=LandManagerFactory(name="The school"))
    said = desk.post(page_of(site), typed).content.decode()
    assert error in said
    assert "<title>Error:" in said
    assert not Permission.objects.exists()
    assert not LandManager.objects.filter(name__startswith="P").exists()
    if typed.get("letter"):
        assert "letter of March 3" in said


def test_a_leave_ends_today_by_a_button(desk):
    site = SiteFactory(land_manager=LandManagerFactory())
    desk.post(page_of(site), LEAVE)
    leave = Permission.objects.get(care="water")
    desk.post(reverse("frontend:leave-end", args=[site.ref, leave.pk]))
    leave.refresh_from_db()
    assert leave.to_day == site.area.today()


def test_a_leave_of_another_owner_cannot_be_ended_from_here(desk):
    site, other = SiteFactory(), SiteFactory(land_manager=LandManagerFactory())
    desk.post(page_of(other), LEAVE)
    leave = Permission.objects.get(care="water")
    assert desk.post(reverse("frontend:leave-end", args=[site.ref, leave.pk])).status_code == 404
    leave.refresh_from_db()
    assert leave.to_day == date(2026, 10, 31)
