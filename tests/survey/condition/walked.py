"""A volunteer who learns, a trained partner, and what both saw on a walk."""

from datetime import date

from survey.people.actions import observer_of
from survey.people.models import PairedWalk, PracticeRound
from survey.trees.models import LookSign
from tests.factories import NOON, LookFactory, PersonFactory, SiteFactory, TreeFactory

DAY = date(2026, 5, 20)


def learner(**more):
    return PersonFactory(**{"role": "volunteer", "trained_on": None, "name": "Ines"} | more)


def partner(**more):
    return PersonFactory(
        **{"role": "volunteer", "trained_on": date(2025, 3, 1), "name": "Tom"} | more
    )


def look(person, tree, condition, day=DAY, signs=(), **more):
    """A look by an account; trained as `more` says, or as the account was on that day."""
    trained = person.trained_on is not None and person.trained_on <= day
    seen = LookFactory(
        **{
            "tree": tree,
            "observer": observer_of(person),
            "day": day,
            "condition": condition,
            "trained": trained,
        }
        | more
    )
    LookSign.objects.bulk_create(LookSign(look=seen, sign=sign) for sign in signs)
    return seen


def walk(person, other, pairs, day=DAY, site=None):
    """A paired walk on which both looked at as many trees as there are `pairs` of words."""
    site = site or SiteFactory()
    for mine, theirs in pairs:
        tree = TreeFactory(site=site)
        look(person, tree, mine, day)
        look(other, tree, theirs, day)
    return PairedWalk.objects.create(person=person, partner=other, day=day, where=site.ref, at=NOON)


def practiced(person, right=7, of=8, at=NOON):
    return PracticeRound.objects.create(person=person, answers=[], right=right, of=of, at=at)


AGREED = [("holding", "holding")] * 4 + [("slipping", "holding")]


def ready(person, other):
    """Everything that a sign-off asks for."""
    practiced(person)
    walk(person, other, AGREED, DAY)
    walk(person, other, AGREED, date(2026, 6, 3))
