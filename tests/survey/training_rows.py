"""Rows of training that are valid as they stand, and how each of their rules is broken."""

from datetime import date

from survey.people.models import PairedWalk, PracticeRound
from tests import factories as make
from tests.factories import NOON


def practice(**more):
    """A round in which six of eight were told apart."""
    person = more.pop("person", None) or make.PersonFactory(role="volunteer")
    fields = {"answers": [], "right": 6, "of": 8, "at": NOON}
    return PracticeRound.objects.create(person=person, **fields | more)


def paired_walk(**more):
    """Somebody who learns walked with somebody trained."""
    person = more.pop("person", None) or make.PersonFactory(role="volunteer")
    partner = more.pop("partner", None) or make.PersonFactory(role="volunteer")
    fields = {"day": date(2026, 5, 20), "where": "ferry-road", "at": NOON}
    return PairedWalk.objects.create(person=person, partner=partner, **fields | more)


def two_walks():
    first = paired_walk()
    return first, paired_walk(person=first.person, where="mill-steps")


CHECKS = {
    "practice_right_of_some": [
        (practice, {"right": 0, "of": 0}),
        (practice, {"right": 9}),
        (practice, {"of": 5}),
    ],
    "paired_walk_needs_two": [(paired_walk, {"partner": lambda walk: walk.person})],
    "paired_walk_has_place": [(paired_walk, {"where": ""})],
}

UNIQUE = {"paired_walk_once_a_day": (two_walks, ["where"])}
