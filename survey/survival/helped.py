"""Whether a kind of care helped the trees of an area, by matched trees and later looks alone."""

import math
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from hashlib import sha256
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from survey.condition.evidence import ENDS
from survey.condition.trained import Record, Seen, believable, trained_records
from survey.science.survival.care_effect import Comparison, care_effect
from survey.science.survival.care_sets import FAILING, LOST, Before, Watched
from survey.survival.believed_before import DAYS_A_MONTH, START, beliefs_of
from survey.survival.keys import trees_in
from survey.survival.models import CareCompared
from survey.survival.spells import BATCH, NO_CALENDAR
from survey.trees.models import Area, CareGiven, Tree
from survey.trees.species import Kind, kinds_in

GRADES = {"thriving": 0, "holding": 1, "slipping": 2, "failing": FAILING}
ALIKE_IN_LOOKS, ALIKE_IN_BELIEF = "alike_but_for_care", "alike_in_belief"
ASSUMPTIONS = [ALIKE_IN_LOOKS, "later_care_by_chance", "looks_by_chance"]


@dataclass(frozen=True, slots=True)
class Compared:
    """Every kind of care given in an area, with what can be said of it."""

    area: Area
    as_of: date
    told: dict[str, dict[str, Any]]


def care_helped(
    area: Area,
    care: str,
    *,
    group: tuple[str, str] = ("town", "all"),
    before: Callable[[Sequence[int], Sequence[Watched]], Before] | None = None,
) -> Comparison:
    """Trees after their first care of one kind against matched trees without it by then.

    Only trees that count as being on the list by plan, not because of a report. Three queries, and
    one more for every two thousand trees. `before` is given the trees and says how they stood
    the day before; without it their last trained look does.
    """
    seed = int.from_bytes(sha256(f"{area.ref}|{care}".encode()).digest()[:8], "big")
    trees = watched_trees(area, care, group)
    if before is None:
        return care_effect(trees, seed=seed)
    members = list(_members(area, group).values_list("pk", flat=True))
    return care_effect(trees, seed=seed, before=before(members, trees))


def watched_trees(area: Area, care: str, group: tuple[str, str]) -> list[Watched]:
    """The trees of a group as the comparison reads them, in order of their short names."""
    kinds = kinds_in(area)
    trees = list(_members(area, group))
    first: dict[int, tuple[date, date]] = {}
    given = CareGiven.objects.filter(care=care, tree__area=area).order_by("given_from", "given_to")
    for tree_id, start, end in given.values_list("tree_id", "given_from", "given_to"):
        first.setdefault(tree_id, (start, end))
    records: dict[int, Record] = defaultdict(Record)
    for start in range(0, len(trees), BATCH):
        records |= trained_records([tree.pk for tree in trees[start : start + BATCH]])
    return [
        _watched(
            tree,
            records.get(tree.pk, Record()),
            kinds.get(tree.species, NO_CALENDAR),
            first.get(tree.pk),
        )
        for tree in trees
    ]


def _members(area: Area, group: tuple[str, str]) -> QuerySet[Tree]:
    """The trees that are compared, in order of their short names."""
    members = trees_in(area, *group).exclude(registered_because=Tree.Because.REPORT)
    return members.order_by("ref")


def work_out(key: str) -> Compared | None:
    """Compare every kind of care given in an area, outside any transaction.

    Trees are matched by what all evidence up to the day before said of them, where anything was
    learnt of the area; until then by their last trained look.
    """
    area = Area.objects.filter(pk=int(key)).first()
    if area is None:
        return None
    cares = _care_of_living_trees(area).order_by("care").values_list("care", flat=True).distinct()
    given = list(cares)
    beliefs = beliefs_of(area) if given else None
    before = beliefs.of if beliefs else None
    told = {
        care: told_of(care_helped(area, care, before=before), believed=beliefs is not None)
        for care in given
    }
    return Compared(area, area.today(), told)


@transaction.atomic
def keep(found: Compared | None) -> None:
    """Put what was found in place of what an earlier day found."""
    if found is None:
        return
    CareCompared.objects.filter(area=found.area).delete()
    CareCompared.objects.bulk_create(
        CareCompared(
            area=found.area, care=care, as_of=found.as_of, told=told, computed_at=timezone.now()
        )
        for care, told in found.told.items()
    )


def is_behind(area: Area) -> bool:
    """Whether care was given in the area and has not been compared on this day."""
    if CareCompared.objects.filter(area=area, as_of=area.today()).exists():
        return False
    return _care_of_living_trees(area).exists()


def _care_of_living_trees(area: Area) -> QuerySet[CareGiven]:
    return CareGiven.objects.filter(tree__area=area).exclude(care__in=ENDS)


def told_of(found: Comparison, *, believed: bool = False) -> dict[str, Any]:
    """A comparison as it is stored: numbers that are not known are null.

    `believed`: trees were matched by belief, and not by their last looks.
    """
    return {
        "treated": found.matching.treated,
        "known_before": found.matching.known_before,
        "matched": len(found.matching.sets),
        "controls": found.controls,
        "losses_with_care": found.losses_with_care,
        "losses_without": found.losses_without,
        "cared_for_later": found.cared_for_later,
        "missing": [_known(one) for one in found.missing],
        "effect": found.effect and _known(found.effect),
        "followed": found.followed and _known(found.followed),
        "plain": found.plain and _known(found.plain),
        "p": found.p,
        "change": found.change and _known(found.change),
        "before": [_known(row) for row in found.matching.before],
        "after": [_known(row) for row in found.matching.after],
        "assumptions": [ALIKE_IN_BELIEF, *ASSUMPTIONS[1:]] if believed else ASSUMPTIONS,
    }


def _known(part: Any) -> dict[str, Any]:
    return {
        name: None if isinstance(value, float) and not math.isfinite(value) else value
        for name, value in asdict(part).items()
    }


def _watched(tree: Tree, record: Record, kind: Kind, cared: tuple[date, date] | None) -> Watched:
    died = tree.left in (Tree.Left.DIED, Tree.Left.REMOVED_HEALTH)
    looks = [look for look in record.seen if look.day >= tree.planted_from]
    story = list(believable(looks, kind, removed_by=tree.left_to if died else None))
    end = len(story)
    while end and story[end - 1].is_loss:
        end -= 1
    lost = story[end].day if end < len(story) else tree.left_to if died else None
    told: list[tuple[float, int]] = []
    for look in story[:end]:
        grade = _grade(look, told[-1][1] if told else None)
        if grade is not None and (lost is None or look.day <= lost):
            told.append((_month(look.day), grade))
    if lost is not None:
        told.append((_month(lost), LOST))
    return Watched(
        site=str(tree.site_id),
        kind=tree.species,
        planted=_month(tree.planted_from),
        since=_month(tree.registered_on),
        looks=tuple(told),
        **({} if cared is None else {"care_from": _month(cared[0]), "care_to": _month(cared[1])}),
    )


def _grade(look: Seen, known: int | None) -> int | None:
    """The grade of a look that found the tree alive; one without a condition repeats the last.

    A "dead" that a later look belied was not believed, and tells no grade.
    """
    if look.is_loss:
        return None
    if look.presence == "sprouting":
        return FAILING
    return GRADES.get(look.condition, known)


def _month(day: date) -> float:
    return (day - START).days / DAYS_A_MONTH
