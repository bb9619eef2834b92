"""Looks, happenings and care are written down."""

from datetime import date

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.chores.models import Chore
from survey.people.actions import neighbor_observer, observer_of
from survey.trees.actions.look import (
    SeenSign,
    record_acceptance,
    record_care,
    record_happening,
    record_look,
)
from survey.trees.models import CareGiven, Happening, Look
from tests.factories import (
    NOON,
    TODAY,
    LookFactory,
    ObserverFactory,
    PersonFactory,
    PhotoFactory,
    PlantingFactory,
    SiteFactory,
    TreeFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def volunteer():
    return PersonFactory(role="volunteer")


def see(tree, by, **more):
    fields = {"day": TODAY, "channel": "walk", "presence": "standing", "trained": by is not None}
    fields["observer"] = observer_of(by) if by else neighbor_observer(None)
    return record_look(tree=tree, by=by, at=NOON, **fields | more)


def refused(error) -> set[str]:
    return set(error.value.error_dict)


def test_a_look_keeps_signs_girths_photos_and_words(volunteer):
    photo = PhotoFactory()
    look = see(
        TreeFactory(stems=2),
        volunteer,
        condition="slipping",
        signs=[SeenSign("bark_wound", extent="half_or_more", side="street", stem=1)],
        girths_m=[0.19, 0.12],
        photos=[photo],
        note=" cut low ",
    )
    assert look.note == "cut low"
    assert look.signs.get().extent == "half_or_more"
    assert [measure.girth_m for measure in look.measures.order_by("stem")] == [0.19, 0.12]
    assert list(look.photos.all()) == [photo]


def test_a_trained_look_sets_going_what_rests_on_it(volunteer):
    tree = TreeFactory()
    see(tree, volunteer, condition="holding")
    kinds = set(Chore.objects.waiting().values_list("kind", flat=True))
    assert kinds == {
        "believe_tree",
        "roll_up_outlook",
        "count_planting",
        "roll_up_trend",
        "confirm_orders",
    }


def test_a_neighbors_look_judges_no_work():
    see(TreeFactory(), None, channel="complaint")
    assert not Chore.objects.filter(kind="confirm_orders").exists()


def test_a_look_sent_twice_is_one_look(volunteer):
    tree = TreeFactory()
    first = see(tree, volunteer, repeat_key="k1", condition="holding")
    assert see(tree, volunteer, repeat_key="k1", condition="dead") == first
    assert Look.objects.get().condition == "holding"


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"day": date(2026, 6, 17)}, "day"),
        ({"day": date(2023, 11, 13)}, "day"),
        ({"presence": "flying"}, "presence"),
        ({"presence": ""}, "presence"),
        ({"channel": "rumor"}, "channel"),
        ({"condition": "fine"}, "condition"),
        ({"leaf": "green"}, "leaf"),
        ({"scratch": "red"}, "scratch"),
        ({"presence": "gone", "condition": "holding"}, "condition"),
        ({"presence": "gone", "leaf": "full"}, "presence"),
        ({"presence": "gone", "signs": [SeenSign("bark_wound")]}, "presence"),
        ({"presence": "gone", "girths_m": [0.2]}, "girths"),
        ({"signs": [SeenSign("haunted")]}, "signs"),
        ({"signs": [SeenSign("bark_wound", extent="a bit")]}, "signs"),
        ({"signs": [SeenSign("bark_wound", side="upside")]}, "signs"),
        ({"signs": [SeenSign("bark_wound", stem=2)]}, "signs"),
        ({"signs": [SeenSign("bark_wound"), SeenSign("bark_wound")]}, "signs"),
        ({"girths_m": [0.2, 0.3]}, "girths"),
        ({"girths_m": [-0.2]}, "girths"),
        ({"girths_m": [0.0]}, "girths"),
        ({"girths_m": [20.5]}, "girths"),
        ({"girths_m": [float("nan")]}, "girths"),
        ({"girths_m": [float("inf")]}, "girths"),
    ],
)
def test_a_look_that_makes_no_sense_is_refused_at_its_field(volunteer, bad, field):
    with pytest.raises(ValidationError) as error:
        see(TreeFactory(), volunteer, **bad)
    assert refused(error) == {field}
    assert not Look.objects.exists()


def test_a_stump_still_has_bark_to_scratch(volunteer):
    assert see(TreeFactory(), volunteer, presence="stump", scratch="brown").scratch == "brown"


def test_nobody_is_trained_without_an_account():
    with pytest.raises(PermissionDenied):
        see(TreeFactory(), None, trained=True)


def test_a_liaison_writes_down_no_look():
    with pytest.raises(PermissionDenied):
        see(TreeFactory(), PersonFactory(role="liaison"))


def test_a_volunteer_writes_only_for_themselves(volunteer):
    with pytest.raises(PermissionDenied):
        see(TreeFactory(), volunteer, observer=ObserverFactory())


def test_staff_may_write_down_what_a_volunteer_saw(volunteer):
    look = see(TreeFactory(), PersonFactory(), observer=observer_of(volunteer))
    assert look.observer.person == volunteer


def test_a_volunteer_was_not_trained_before_the_training():
    late = PersonFactory(role="volunteer", trained_on=date(2026, 6, 1))
    with pytest.raises(ValidationError) as error:
        see(TreeFactory(), late, day=date(2026, 5, 31))
    assert refused(error) == {"day"}


def test_a_slip_is_corrected_by_a_look_that_supersedes(volunteer):
    tree = TreeFactory()
    old = see(tree, volunteer, condition="dead")
    new = see(tree, volunteer, condition="failing", supersedes=old)
    assert list(Look.objects.standing_record()) == [new]
    with pytest.raises(ValidationError) as error:
        see(tree, volunteer, condition="holding", supersedes=old)
    assert refused(error) == {"supersedes"}


def test_a_look_at_one_tree_corrects_none_at_another(volunteer):
    old = see(TreeFactory(), volunteer, condition="dead")
    with pytest.raises(ValidationError) as error:
        see(TreeFactory(), volunteer, supersedes=old)
    assert refused(error) == {"supersedes"}


def test_a_volunteer_corrects_only_their_own_looks(volunteer):
    old = LookFactory()
    with pytest.raises(PermissionDenied):
        see(old.tree, volunteer, supersedes=old)
    assert see(old.tree, PersonFactory(), supersedes=old).supersedes == old


SIDES = dict.fromkeys(("street", "path", "left", "right"), "whole")


def accept(by, **more):
    fields = {"bases": SIDES, "flare": "visible", "ties": "loose", "accepted": True, "reason": ""}
    fields |= {"day": TODAY, "condition": "holding", "trained": True}
    return record_acceptance(
        tree=TreeFactory(), observer=observer_of(by), by=by, at=NOON, **fields | more
    )


def test_an_acceptance_is_a_look_with_a_decision(volunteer):
    look = accept(volunteer, bases=SIDES | {"left": "marked"})
    assert (look.channel, look.acceptance.base_left) == ("acceptance", "marked")
    assert look.acceptance.accepted


def test_a_refusal_says_why(volunteer):
    with pytest.raises(ValidationError) as error:
        accept(volunteer, accepted=False, reason="  ")
    assert refused(error) == {"reason"}
    assert not Look.objects.exists()
    assert accept(volunteer, accepted=False, reason="bark cut").acceptance.reason == "bark cut"


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"bases": {"street": "whole"}}, "base_left"),
        ({"bases": SIDES | {"path": "odd"}}, "base_path"),
        ({"flare": "odd"}, "flare"),
        ({"ties": "odd"}, "ties"),
    ],
)
def test_an_acceptance_looks_at_everything(volunteer, bad, field):
    with pytest.raises(ValidationError) as error:
        accept(volunteer, **bad)
    assert refused(error) == {field}
    assert not Look.objects.exists()


def happen(place, by, **more):
    fields = {"kind": "mowing", "from_day": TODAY, "to_day": TODAY}
    return record_happening(place=place, by=by, at=NOON, **fields | more)


@pytest.mark.parametrize("factory", [TreeFactory, SiteFactory, PlantingFactory])
def test_something_happens_at_a_tree_a_site_or_a_planting(volunteer, factory):
    place = factory()
    happening = happen(place, volunteer)
    assert list(place.happenings.all()) == [happening]


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"kind": " "}, "kind"),
        ({"to_day": date(2026, 6, 15)}, "to_day"),
        ({"to_day": date(2026, 6, 17)}, "to_day"),
        ({"note": "x" * 301}, "note"),
    ],
)
def test_a_happening_that_makes_no_sense_is_refused(volunteer, bad, field):
    with pytest.raises(ValidationError) as error:
        happen(SiteFactory(), volunteer, **bad)
    assert refused(error) == {field}
    assert not Happening.objects.exists()


def test_a_liaison_makes_nothing_happen():
    with pytest.raises(PermissionDenied):
        happen(SiteFactory(), PersonFactory(role="liaison"))


def care(by, **more):
    fields = {"care": "water", "given_from": TODAY, "given_to": TODAY, "given_precision": "day"}
    return record_care(tree=TreeFactory(), by=by, at=NOON, **fields | more)


def test_old_care_is_written_down_with_its_own_date():
    given = care(
        PersonFactory(role="crew"),
        given_from=date(2024, 3, 1),
        given_to=date(2024, 3, 31),
        given_precision="month",
    )
    assert given.given_to == date(2024, 3, 31)


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"care": "singing"}, "care"),
        ({"given_from": date(2026, 6, 17), "given_to": date(2026, 6, 17)}, "given_from"),
        ({"given_to": date(2026, 6, 15)}, "given_to"),
        ({"given_from": date(2026, 6, 1)}, "given_to"),
        ({"given_precision": "about"}, "given_precision"),
        ({"given_from": date(2023, 11, 1), "given_to": date(2023, 11, 1)}, "given_to"),
    ],
)
def test_care_that_makes_no_sense_is_refused(bad, field):
    with pytest.raises(ValidationError) as error:
        care(PersonFactory(), **bad)
    assert refused(error) == {field}
    assert not CareGiven.objects.exists()


def test_a_liaison_gives_no_care():
    with pytest.raises(PermissionDenied):
        care(PersonFactory(role="liaison"))
