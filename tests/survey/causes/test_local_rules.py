"""A rule of the place: proposed by one, approved by another, ended by either, always on record."""

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError, transaction

from survey.audit.models import Entry
from survey.causes.actions.local_rules import (
    approve_local_rule,
    propose_local_rule,
    withdraw_local_rule,
)
from survey.causes.local import entries_of, rules_in_force, weights_in_force
from survey.causes.models import LocalRule
from survey.handbook.book import book
from tests.factories import NOON, AreaFactory, PersonFactory

pytestmark = pytest.mark.django_db
CAUSE = "mower_or_trimmer"


@pytest.fixture
def area():
    return AreaFactory()


@pytest.fixture
def wren():
    return PersonFactory(name="Wren Alder")


@pytest.fixture
def ash():
    return PersonFactory(name="Ash Mills")


def propose(area, by, **more):
    fields = {
        "about": "cause",
        "code": CAUSE,
        "text": "On Ferry Road the verge is cut every second Thursday.",
        "source": "Town Gardens, mowing plan 2026",
    }
    return propose_local_rule(area=area, by=by, at=NOON, **fields | more)


def test_it_is_in_force_only_once_a_second_person_approved_it(area, wren, ash):
    rule = propose(area, wren)
    assert rules_in_force(area, "cause") == {}
    approved = approve_local_rule(rule=rule, by=ash, at=NOON)
    assert rules_in_force(area, "cause") == {CAUSE: [approved]}
    acts = list(Entry.objects.order_by("pk").values_list("act", "who"))
    assert acts == [
        ("local_rule.proposed", f"person:{wren.key}"),
        ("local_rule.approved", f"person:{ash.key}"),
    ]


def test_whoever_proposed_it_cannot_approve_it(area, wren):
    rule = propose(area, wren)
    with pytest.raises(ValidationError, match="second trained person"):
        approve_local_rule(rule=rule, by=wren, at=NOON)
    with pytest.raises(IntegrityError), transaction.atomic():
        LocalRule.objects.filter(pk=rule.pk).update(approved_by=rule.proposed_by, approved_at=NOON)
    assert not LocalRule.objects.in_force().exists()


@pytest.mark.parametrize("first", [True, False])
def test_either_of_the_two_withdraws_it_and_it_counts_no_more(area, wren, ash, first):
    rule = approve_local_rule(
        rule=propose(area, wren, clue="grass_to_trunk", weight=2), by=ash, at=NOON
    )
    assert weights_in_force(area) == {CAUSE: {"grass_to_trunk": 2}}
    by = wren if first else ash
    gone = withdraw_local_rule(rule=rule, reason="The contract ended.", by=by, at=NOON)
    again = withdraw_local_rule(rule=gone, reason="Once more.", by=by, at=NOON)
    assert again.withdrawn_because == "The contract ended."
    assert weights_in_force(area) == {}
    assert Entry.objects.filter(act="local_rule.withdrawn").count() == 1


def test_what_was_withdrawn_is_not_approved(area, wren, ash):
    rule = withdraw_local_rule(rule=propose(area, wren), reason="No.", by=wren, at=NOON)
    with pytest.raises(ValidationError, match="withdrawn"):
        approve_local_rule(rule=rule, by=ash, at=NOON)


def test_a_form_sent_twice_is_one_rule_and_approving_twice_is_once(area, wren, ash):
    rule = propose(area, wren)
    assert propose(area, wren) == rule
    assert propose(area, ash) != rule
    approve_local_rule(rule=rule, by=ash, at=NOON)
    approve_local_rule(rule=rule, by=PersonFactory(), at=NOON)
    assert Entry.objects.filter(act="local_rule.approved").count() == 1


@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_only_staff_do_any_of_it(area, wren, role):
    rule, other = propose(area, wren), PersonFactory(role=role)
    for act in (
        lambda: propose(area, other),
        lambda: approve_local_rule(rule=rule, by=other, at=NOON),
        lambda: withdraw_local_rule(rule=rule, reason="x", by=other, at=NOON),
    ):
        with pytest.raises(PermissionDenied):
            act()


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("code", "no_such_cause"),
        ("code", ""),
        ("code", "a\x00b"),
        ("text", ""),
        ("text", " \n\t\u200b\x00 "),
        ("text", "é" * 501),
        ("text_es", "ñ" * 501),
        ("source", "  "),
        ("source", "x" * 301),
        ("clue", "no_such_clue"),
        ("clue", "'; drop table"),
    ],
)
def test_what_cannot_be_kept_is_refused_at_its_field(area, wren, field, value):
    more = {"weight": 1} if field == "clue" else {}
    with pytest.raises(ValidationError) as refused:
        propose(area, wren, **{field: value} | more)
    assert set(refused.value.error_dict) == {field}
    assert not LocalRule.objects.exists()


@pytest.mark.parametrize("weight", [0, 4, -4, 10**9, 1.5, True, "2"])
def test_a_weight_that_is_none_is_refused(area, wren, weight):
    with pytest.raises(ValidationError) as refused:
        propose(area, wren, clue="grass_to_trunk", weight=weight)
    assert set(refused.value.error_dict) == {"weight"}


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"clue": "grass_to_trunk"}, "weight"),
        ({"weight": 2}, "clue"),
        ({"about": "sign", "code": "bark_wound", "clue": "bark_wound", "weight": 1}, "clue"),
        ({"about": "moon"}, "code"),
        ({"about": "sources", "code": "nmsu_2007"}, "code"),
    ],
)
def test_half_a_weight_or_one_out_of_place_is_refused(area, wren, more, field):
    with pytest.raises(ValidationError) as refused:
        propose(area, wren, **more)
    assert set(refused.value.error_dict) == {field}


def test_letters_nobody_sees_are_left_out_and_markup_is_kept_as_typed(area, wren):
    rule = propose(area, wren, text="A\x00 <b>rule</b>\r\n of \u202e this\tplace")
    assert rule.text == "A <b>rule</b> of this place"


def test_rules_about_one_clue_add_up_and_never_beyond_three(area, wren, ash):
    for text, weight in (("one", 2), ("two", 3)):
        rule = propose(area, wren, text=text, clue="grass_to_trunk", weight=weight)
        approve_local_rule(rule=rule, by=ash, at=NOON)
    assert weights_in_force(area) == {CAUSE: {"grass_to_trunk": 3}}


def test_a_rule_of_another_place_does_not_count_here(area, wren, ash):
    other = AreaFactory(ref="elsewhere", is_home=False)
    rule = propose(other, wren, clue="grass_to_trunk", weight=2)
    approve_local_rule(rule=rule, by=ash, at=NOON)
    assert weights_in_force(area) == {}
    assert weights_in_force(None) == {}
    assert set(weights_in_force(other)) == {CAUSE}


def test_a_rule_about_an_entry_that_left_the_handbook_weighs_nothing(area, wren, ash):
    rule = approve_local_rule(
        rule=propose(area, wren, clue="grass_to_trunk", weight=2), by=ash, at=NOON
    )
    LocalRule.objects.filter(pk=rule.pk).update(code="left_long_ago")
    assert weights_in_force(area) == {}


def test_every_kind_of_rule_has_its_shelf():
    assert entries_of("cause") == book().causes
    assert entries_of("care") == book().care
    assert entries_of("species") == book().species
    assert entries_of("sign") == book().signs
    assert not entries_of("sources")
    assert {kind.value for kind in LocalRule.About} == {"cause", "care", "species", "sign"}


@pytest.mark.parametrize("about", ["cause", "care", "species", "sign"])
def test_all_rules_of_a_kind_cost_one_question(area, wren, ash, about, django_assert_num_queries):
    for code in list(entries_of(about))[:6]:
        rule = propose(area, wren, about=about, code=code)
        approve_local_rule(rule=rule, by=ash, at=NOON)
    with django_assert_num_queries(1):
        rules_in_force(area, about)
