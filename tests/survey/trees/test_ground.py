"""Who owns the ground, and what they allow."""

from datetime import date

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.trees.actions.ground import end_leave, give_leave, name_owner
from survey.trees.models import LandManager, Permission
from tests.factories import NOON, LandManagerFactory, PersonFactory, SiteFactory

pytestmark = pytest.mark.django_db
SPRING = {"from_day": date(2026, 3, 1), "to_day": date(2026, 10, 31)}


@pytest.fixture
def staff():
    return PersonFactory()


def leave_from(owner, staff, **more):
    given = {"cares": ["water"], "who": "volunteer", "letter": "letter of March 3", **SPRING}
    return give_leave(owner=owner, by=staff, at=NOON, **given | more)


def test_a_new_owner_is_put_on_the_list_and_owns_the_site(staff):
    site = SiteFactory(land_manager=None)
    owner = name_owner(site=site, name=" Parks  department ", kind="city", by=staff, at=NOON)
    site.refresh_from_db()
    assert site.land_manager == owner
    assert owner.name == "Parks department"
    assert Entry.objects.get(act="site.owner_named").detail == {"was": "", "now": owner.ref}


def test_an_owner_on_the_list_is_taken_from_it(staff):
    owner, site = LandManagerFactory(), SiteFactory(land_manager=None)
    name_owner(site=site, owner=owner, by=staff, at=NOON)
    assert list(owner.sites.all()) == [site]
    assert LandManager.objects.count() == 1


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"name": "  ", "kind": "city"}, "name"),
        ({"name": "Parks", "kind": "king"}, "kind"),
        ({"name": "P" * 81, "kind": "city"}, "name"),
        ({"name": "Parks", "kind": "city", "phone": "5" * 41}, "phone"),
    ],
)
def test_an_owner_without_sense_is_refused_and_nothing_is_kept(staff, given, field):
    with pytest.raises(ValidationError) as refused:
        name_owner(site=SiteFactory(land_manager=None), by=staff, at=NOON, **given)
    assert field in refused.value.message_dict
    assert not LandManager.objects.exists()


def test_the_same_name_twice_is_refused_whatever_its_capitals(staff):
    LandManagerFactory(name="Parks department")
    with pytest.raises(ValidationError) as refused:
        name_owner(site=SiteFactory(), name="parks DEPARTMENT", kind="city", by=staff, at=NOON)
    assert "name" in refused.value.message_dict


def test_one_letter_can_allow_many_kinds_of_care(staff):
    owner = LandManagerFactory()
    leave_from(owner, staff, cares=["water", "mulch_ring"])
    assert set(owner.permissions.values_list("care", flat=True)) == {"water", "mulch_ring"}


def test_the_same_leave_again_corrects_its_last_day(staff):
    owner = LandManagerFactory()
    leave_from(owner, staff)
    leave_from(owner, staff, to_day=date(2026, 12, 31))
    assert Permission.objects.get().to_day == date(2026, 12, 31)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"cares": []}, "cares"),
        ({"cares": ["paint_it"]}, "cares"),
        ({"who": "anyone at all"}, "who"),
        ({"to_day": date(2026, 2, 28)}, "to_day"),
    ],
)
def test_a_leave_without_sense_is_refused(staff, given, field):
    with pytest.raises(ValidationError) as refused:
        leave_from(LandManagerFactory(), staff, **given)
    assert field in refused.value.message_dict
    assert not Permission.objects.exists()


def test_a_leave_can_be_taken_back_and_twice_is_once(staff):
    [leave] = leave_from(LandManagerFactory(), staff)
    for day in (date(2026, 6, 16), date(2026, 6, 20)):
        end_leave(leave=leave, on=day, by=staff, at=NOON)
    leave.refresh_from_db()
    assert leave.to_day == date(2026, 6, 16)
    assert Entry.objects.filter(act="leave.ended").count() == 1


def test_a_leave_cannot_end_before_it_began(staff):
    [leave] = leave_from(LandManagerFactory(), staff)
    with pytest.raises(ValidationError):
        end_leave(leave=leave, on=date(2026, 2, 28), by=staff, at=NOON)


@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_only_who_plans_work_writes_down_owners_and_leave(staff, role):
    somebody, site = PersonFactory(role=role), SiteFactory(land_manager=None)
    owner = LandManagerFactory()
    [leave] = leave_from(owner, staff)
    with pytest.raises(PermissionDenied):
        name_owner(site=site, owner=owner, by=somebody, at=NOON)
    with pytest.raises(PermissionDenied):
        leave_from(owner, somebody)
    with pytest.raises(PermissionDenied):
        end_leave(leave=leave, on=date(2026, 6, 16), by=somebody, at=NOON)
