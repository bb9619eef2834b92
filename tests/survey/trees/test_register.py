"""Sites, plantings and trees enter the registry, are put right, and leave."""

from datetime import date

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.chores.models import Chore
from survey.trees.actions.on_foot import free_tag_after, next_tag, register_on_foot
from survey.trees.actions.register import (
    correct_tree,
    record_departure,
    register_planting,
    register_site,
    register_tree,
    withdraw_departure,
)
from survey.trees.models import Look, Planting, Site, Tree
from tests.factories import (
    NOON,
    TODAY,
    AreaFactory,
    LookFactory,
    PersonFactory,
    PlantingFactory,
    SiteFactory,
    TreeFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def staff():
    return PersonFactory()


def planting_of(by, **more):
    fields = {"name": "Ferry Road 2025", "planted_from": date(2025, 11, 3)}
    fields |= {"planted_to": date(2025, 11, 3), "planted_precision": "day"}
    return register_planting(area=AreaFactory(), by=by, at=NOON, **fields | more)


def refused(error) -> set[str]:
    return set(error.value.error_dict)


def test_a_site_is_put_on_the_list_under_a_readable_reference(staff):
    site = register_site(area=AreaFactory(), name="  Ferry Road ", kind="street", by=staff, at=NOON)
    assert (site.name, site.ref) == ("Ferry Road", "ferry-road")
    assert Entry.objects.get(act="site.registered").subject == "site:ferry-road"


def test_a_site_whose_name_gives_no_letters_still_gets_a_reference(staff):
    site = register_site(area=AreaFactory(), name="公園", kind="park", by=staff, at=NOON)
    assert len(site.ref) == 8


def test_a_reference_is_never_given_twice(staff):
    area = AreaFactory()
    first = register_site(area=area, name="Mill Steps", kind="street", by=staff, at=NOON)
    second = register_site(area=area, name="Mill-Steps", kind="street", by=staff, at=NOON)
    assert first.ref != second.ref
    assert second.ref.startswith("mill-steps-")


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"name": "   "}, "name"),
        ({"kind": "moon"}, "kind"),
        ({"latitude": 36.6}, "latitude"),
        ({"latitude": 95.0, "longitude": 0.0}, "latitude"),
        ({"latitude": float("nan"), "longitude": 0.0}, "latitude"),
        ({"latitude": 48.2, "longitude": 16.4}, "latitude"),
    ],
)
def test_a_site_that_makes_no_sense_is_refused_at_its_field(staff, bad, field):
    fields = {"name": "Ferry Road", "kind": "street"} | bad
    with pytest.raises(ValidationError) as error:
        register_site(area=AreaFactory(), by=staff, at=NOON, **fields)
    assert refused(error) == {field}
    assert not Site.objects.exists()


def test_a_site_is_not_entered_twice_under_one_name(staff):
    SiteFactory(name="Ferry Road")
    with pytest.raises(ValidationError) as error:
        register_site(area=AreaFactory(), name="ferry road", kind="street", by=staff, at=NOON)
    assert refused(error) == {"name"}


def test_a_planting_is_opened(staff):
    planting = planting_of(staff, planted_count=12, supplier=" North Quay ")
    assert (planting.planted_count, planting.supplier) == (12, "North Quay")


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"name": ""}, "name"),
        ({"planted_from": date(2026, 6, 17), "planted_to": date(2026, 6, 17)}, "planted_from"),
        ({"planted_to": date(2025, 11, 2), "planted_precision": "month"}, "planted_to"),
        ({"planted_to": date(2025, 11, 9)}, "planted_to"),
        ({"planted_precision": "about"}, "planted_precision"),
        ({"warranty_until": date(2025, 11, 2)}, "warranty_until"),
        ({"planted_count": -4}, "planted_count"),
    ],
)
def test_a_planting_that_makes_no_sense_is_refused_at_its_field(staff, bad, field):
    with pytest.raises(ValidationError) as error:
        planting_of(staff, **bad)
    assert refused(error) == {field}
    assert not Planting.objects.exists()


def test_trees_follow_each_other_in_walking_order_and_take_the_plantings_day(staff):
    site, planting = SiteFactory(), planting_of(staff)
    first, second = (
        register_tree(site=site, planting=planting, species="linden", tag=tag, by=staff, at=NOON)
        for tag in ("0401", "0402")
    )
    assert (first.walk_order, second.walk_order) == (1, 2)
    assert first.planted_from == planting.planted_from
    assert first.registered_on == TODAY
    assert (
        Chore.objects.waiting().filter(kind="count_planting", key=str(first.planting_id)).exists()
    )


def test_a_tree_may_have_a_planting_day_of_its_own(staff):
    tree = register_tree(
        site=SiteFactory(),
        planting=planting_of(staff),
        species="linden",
        planted_from=date(2025, 12, 1),
        planted_to=date(2025, 12, 31),
        planted_precision="month",
        by=staff,
        at=NOON,
    )
    assert tree.planted_to == date(2025, 12, 31)


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"species": "triffid"}, "species"),
        ({"tag": "0001"}, "tag"),
        ({"registered_on": date(2026, 6, 17)}, "registered_on"),
        ({"registered_on": date(2025, 11, 2)}, "registered_on"),
        ({"planted_from": date(2025, 12, 1)}, "planted_from"),
        ({"stems": 0}, "stems"),
        ({"stems": 41}, "stems"),
        ({"street_bearing": 360}, "street_bearing"),
        ({"registered_because": "whim"}, "registered_because"),
        ({"latitude": 0.0, "longitude": 0.0}, "latitude"),
    ],
)
def test_a_tree_that_makes_no_sense_is_refused_at_its_field(staff, bad, field):
    TreeFactory(tag="0001")
    fields = {"species": "linden", "site": SiteFactory(), "planting": planting_of(staff)}
    with pytest.raises(ValidationError) as error:
        register_tree(by=staff, at=NOON, **fields | bad)
    assert refused(error) == {field}
    assert Tree.objects.count() == 1


def test_a_tree_never_belongs_to_the_planting_of_another_town(staff):
    other = AreaFactory(ref="elsewhere", is_home=False)
    with pytest.raises(ValidationError) as error:
        register_tree(
            site=SiteFactory(),
            planting=PlantingFactory(area=other),
            species="linden",
            by=staff,
            at=NOON,
        )
    assert refused(error) == {"planting"}


@pytest.mark.parametrize("role", ["crew", "liaison"])
def test_crews_and_liaisons_register_nothing(role):
    person = PersonFactory(role=role)
    with pytest.raises(PermissionDenied):
        register_site(area=AreaFactory(), name="A", kind="street", by=person, at=NOON)
    with pytest.raises(PermissionDenied):
        planting_of(person)
    with pytest.raises(PermissionDenied):
        register_tree(
            site=SiteFactory(), planting=PlantingFactory(), species="linden", by=person, at=NOON
        )
    with pytest.raises(PermissionDenied):
        corrected(TreeFactory(), person)


def replacement(old, by, **more):
    fields = {"site": old.site, "species": "hornbeam"} | more
    fields.setdefault("planting", None)
    planting = fields.pop("planting") or planting_of(by, name="Again")
    return register_tree(replaces=old, planting=planting, by=by, at=NOON, **fields)


def test_a_replacement_is_a_tree_of_its_own_in_a_planting_of_its_own(staff):
    old = TreeFactory(left="died", left_from=date(2025, 8, 1), left_to=date(2025, 9, 1))
    new = replacement(old, staff)
    assert new.replaces == old
    assert new.planting != old.planting
    assert new.planted_from == date(2025, 11, 3)


@pytest.mark.parametrize(
    ("trouble", "field"),
    [
        (lambda old: {"planting": old.planting}, "planting"),
        (lambda old: {"site": SiteFactory()}, "replaces"),
        (
            lambda old: {
                "planted_from": date(2025, 7, 1),
                "planted_to": date(2025, 7, 1),
                "planted_precision": "day",
            },
            "replaces",
        ),
    ],
)
def test_a_replacement_that_cannot_be_is_refused(staff, trouble, field):
    old = TreeFactory(left="died", left_from=date(2025, 8, 1), left_to=date(2025, 9, 1))
    with pytest.raises(ValidationError) as error:
        replacement(old, staff, **trouble(old))
    assert refused(error) == {field}


def test_a_tree_that_still_stands_is_not_replaced(staff):
    with pytest.raises(ValidationError) as error:
        replacement(TreeFactory(), staff)
    assert refused(error) == {"replaces"}


def test_a_tree_is_replaced_once(staff):
    old = TreeFactory(left="died", left_from=date(2025, 8, 1), left_to=date(2025, 9, 1))
    new = replacement(old, staff)
    with pytest.raises(ValidationError) as error:
        replacement(old, staff, planting=new.planting)
    assert refused(error) == {"replaces"}


def leave(tree, by, **more):
    fields = {"left": "died", "left_from": date(2026, 5, 1), "left_to": date(2026, 6, 1)}
    return record_departure(tree=tree, by=by, at=NOON, **fields | more)


def test_a_tree_leaves_between_two_days_and_no_second_time(staff):
    tree = leave(TreeFactory(), PersonFactory(role="crew"))
    assert (tree.left, tree.left_to) == ("died", date(2026, 6, 1))
    with pytest.raises(ValidationError) as error:
        leave(tree, staff)
    assert refused(error) == {"left"}


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"left": "sold"}, "left"),
        ({"left": ""}, "left"),
        ({"left_to": date(2026, 6, 17)}, "left_to"),
        ({"left_to": date(2026, 4, 30)}, "left_to"),
        ({"left_from": date(2023, 11, 13)}, "left_from"),
    ],
)
def test_a_departure_that_makes_no_sense_is_refused(staff, bad, field):
    with pytest.raises(ValidationError) as error:
        leave(TreeFactory(), staff, **bad)
    assert refused(error) == {field}


def test_a_liaison_sends_no_tree_away():
    with pytest.raises(PermissionDenied):
        leave(TreeFactory(), PersonFactory(role="liaison"))


def test_a_departure_is_taken_back_with_a_reason_by_staff_alone(staff):
    tree = leave(TreeFactory(), staff)
    with pytest.raises(PermissionDenied):
        withdraw_departure(tree=tree, why="found", by=PersonFactory(role="volunteer"), at=NOON)
    with pytest.raises(ValidationError):
        withdraw_departure(tree=tree, why=" ", by=staff, at=NOON)
    back = withdraw_departure(tree=tree, why="found it", by=staff, at=NOON)
    assert (back.left, back.left_from, back.left_to) == ("", None, None)
    assert Entry.objects.get(act="tree.back").detail["before"]["left"] == "died"
    with pytest.raises(ValidationError):
        withdraw_departure(tree=back, why="again", by=staff, at=NOON)


def test_a_replaced_tree_does_not_come_back(staff):
    tree = leave(TreeFactory(), staff, left_from=date(2025, 8, 1))
    replacement(tree, staff)
    with pytest.raises(ValidationError) as error:
        withdraw_departure(tree=tree, why="found", by=staff, at=NOON)
    assert refused(error) == {"left"}


def corrected(tree, by, **more):
    names = ("species", "tag", "latitude", "longitude", "landmark")
    names += ("stems", "street_bearing", "walk_order")
    fields = {name: getattr(tree, name) for name in names}
    return correct_tree(tree=tree, by=by, at=NOON, **fields | more)


def test_a_slip_is_put_right_and_the_audit_keeps_what_stood_there(staff):
    tree = corrected(TreeFactory(tag="0401"), staff, tag="0410", stems=3)
    assert (tree.tag, tree.stems) == ("0410", 3)
    assert Entry.objects.get(act="tree.corrected").detail["before"] == {"tag": "0401", "stems": 1}


def test_a_tree_of_another_species_is_taken_out_of_the_old_group_too(staff):
    tree = corrected(TreeFactory(species="linden"), staff, species="hornbeam")
    wished = set(Chore.objects.waiting().values_list("kind", "key"))
    assert ("count_planting", str(tree.planting_id)) in wished


def test_a_correction_that_changes_nothing_leaves_no_trace(staff):
    corrected(TreeFactory(), staff)
    assert not Entry.objects.exists()


@pytest.mark.parametrize(
    ("bad", "field"),
    [({"tag": "0001"}, "tag"), ({"species": "triffid"}, "species"), ({"stems": 0}, "stems")],
)
def test_a_correction_is_checked_like_a_registration(staff, bad, field):
    TreeFactory(tag="0001")
    with pytest.raises(ValidationError) as error:
        corrected(TreeFactory(), staff, **bad)
    assert refused(error) == {field}


def on_foot(by, **more):
    fields = {"site": SiteFactory(), "planting": PlantingFactory(), "species": "linden"}
    return register_on_foot(by=by, at=NOON, **{"repeat_key": "foot:1"} | fields | more)


def test_a_tree_entered_on_foot_has_its_first_look():
    volunteer = PersonFactory(role="volunteer")
    tree = on_foot(volunteer, condition="holding", girths_m=[0.2, None, 0.1], stems=3)
    look = tree.looks.get()
    assert (look.channel, look.trained, look.condition) == ("registration", True, "holding")
    assert list(look.measures.values_list("stem", "girth_m")) == [(1, 0.2), (3, 0.1)]


def test_a_volunteer_who_was_not_trained_yet_leaves_an_untrained_look():
    tree = on_foot(PersonFactory(role="volunteer", trained_on=None))
    assert tree.looks.get().trained is False


def test_the_same_form_sent_twice_is_one_tree(staff):
    first = on_foot(staff, tag="0401")
    assert on_foot(staff, tag="0401") == first
    assert Tree.objects.count() == 1
    assert Look.objects.count() == 1


def test_nothing_is_left_of_a_tree_whose_look_is_refused(staff):
    with pytest.raises(ValidationError):
        on_foot(staff, condition="dreadful")
    assert not Tree.objects.exists()


@pytest.mark.parametrize(
    ("tag", "following"),
    [
        ("0411", "0412"),
        ("B-9", "B-10"),
        ("099", "100"),
        ("7", "8"),
        ("north", ""),
        ("", ""),
        ("12b", ""),
    ],
)
def test_the_next_tag_counts_on(tag, following):
    assert next_tag(tag) == following


def test_a_tag_that_another_tree_bears_is_passed_over():
    area = AreaFactory()
    for tag in ("0411", "0412", "0413", "B-0412", ""):
        TreeFactory(area=area, tag=tag)
    TreeFactory(
        area=AreaFactory(ref="southmere", is_home=False), tag="0414"
    )  # another town counts for itself
    assert free_tag_after(area, "0411") == "0414"
    assert free_tag_after(area, "B-0411") == "B-0413"
    assert free_tag_after(area, "north") == ""
    assert free_tag_after(area, "") == ""


def test_the_gauge_shows_the_last_trained_look_that_saw_the_tree():
    tree = TreeFactory()
    LookFactory(tree=tree, day=date(2025, 6, 1), condition="holding")
    LookFactory(tree=tree, day=date(2025, 7, 1), condition="failing", trained=False)
    LookFactory(tree=tree, day=date(2025, 8, 1), condition="", presence="not_seen")
    wrong = LookFactory(tree=tree, day=date(2025, 9, 1), condition="dead")
    LookFactory(tree=tree, day=date(2025, 5, 1), condition="thriving", supersedes=wrong)
    found = Tree.objects.with_last_trained_look().get(pk=tree.pk)
    assert (found.gauge_condition, found.gauge_day) == ("holding", date(2025, 6, 1))
