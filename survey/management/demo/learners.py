"""Who learns to look: walks with a trained partner, and what the learner saw beside them."""

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date, timedelta

from survey.management.demo.looks import ORDER, Eye, LookPlan
from survey.management.demo.plan import Plan, Table

TREES = 8  # that both look at on a paired walk
BARE = {False: 1, True: 7}  # the leaf-off walk, by "in the south": nobody learns on bare trees


@dataclass(frozen=True, slots=True)
class WalkPlan:
    """A learner's walk with a trained partner at one site."""

    learner: str
    partner: str
    day: date
    site: str


def learner_walks(
    plan: Plan, looks: list[LookPlan], eye: Eye
) -> tuple[list[WalkPlan], list[LookPlan]]:
    """The walks that the plan promises each learner, and the learner's own looks on them.

    A learner joins walks that somebody trained made anyway, the last ones in leaf before the
    sign-off or before today.
    """
    made: dict[tuple[date, str, str], list[LookPlan]] = defaultdict(list)
    for look in looks:
        if look.channel == "walk" and look.trained and look.condition:
            made[look.day, look.life.site, look.observer].append(look)
    walks, seen = [], []
    for person in plan.people:
        for key in _joined(plan, person, made):
            day, site, partner = key
            walks.append(WalkPlan(person["sign_in"], partner, day, site))
            seen += [_beside(look, person["sign_in"], eye) for look in made[key][:TREES]]
    return walks, seen


def _joined(
    plan: Plan, person: Table, made: dict[tuple[date, str, str], list[LookPlan]]
) -> list[tuple[date, str, str]]:
    """The walks to join: the latest that are long enough, each on a day of its own."""
    until = person.get("trained_on") or plan.today
    fit = [
        key
        for key, looks in made.items()
        if key[0] < until
        and key[0].month != BARE[plan.south]
        and key[2] != person["sign_in"]
        and len(looks) >= TREES
    ]
    newest: dict[date, tuple[date, str, str]] = {}
    for key in sorted(fit, reverse=True):
        newest.setdefault(key[0], key)
    return sorted(newest.values())[-person["walks"] :] if person.get("walks") else []


def _beside(look: LookPlan, learner: str, eye: Eye) -> LookPlan:
    """The same tree as a learner sees it: mostly the same word, sometimes the next one."""
    condition = look.condition
    if condition in ORDER and eye.chance(0.25):
        place = ORDER.index(condition) + (1 if eye.chance(0.6) else -1)
        condition = ORDER[min(3, max(0, place))]
    return replace(
        look,
        observer=learner,
        trained=False,
        at=look.at + timedelta(minutes=2),
        condition=condition,
        signs=tuple(sign for sign in look.signs if not eye.chance(0.2)),
        girths=(),
        note="",
        photos=[],
        repeat_key=None,
    )
