"""From looks to one life a tree: since when under watch, last known alive, first known lost.

The *verified* reading. Only trained looks and recorded departures speak. The right end is the
first look of the unbroken final run of "dead" or "gone"; the left end is the last look alive. A
tree that nobody could look at, and no other, leaves its story open.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise

from django.db.models import QuerySet

from survey.condition.trained import Record, Seen, believable, trained_records
from survey.science.records import Spell
from survey.science.seasons import age_range, months_between, second_summer_end
from survey.survival.keys import Keys, keys_of
from survey.trees.models import Area, Look, Tree
from survey.trees.species import Kind

BATCH = 2000
A_YEAR = timedelta(days=365)
NO_CALENDAR = Kind("", "", frozenset(), frozenset())

DIED, REMOVED_HEALTH, REMOVED_OTHER = "died", "removed_health", "removed_other"
"""How a tree can come to its end. A removal for another reason competes with death."""

BECAUSE_OF_REPORT = "because_of_report"
NOT_FOUND_ALIVE = "not_found_alive"
NEVER_PLANTED = "never_planted"
GONE_ON_ENTRY = "gone_on_entry"
EXCLUSIONS = [BECAUSE_OF_REPORT, NOT_FOUND_ALIVE, NEVER_PLANTED, GONE_ON_ENTRY]

STATUSES = [
    "alive",
    "stale",
    "unseen",
    "standing_dead",
    "gone",
    "removed_health",
    "removed_other",
    "lost",
    "never_planted",
]
"""Where a tree is now, by trained eyes: `alive` was seen so within a year, `stale` earlier."""


@dataclass(frozen=True, slots=True)
class Life:
    """How one tree counts. Ages are whole months since planting; `entry` None = from planting.

    `excluded` says why a tree is out of the rates. `outcome` is "died" (standing, or gone with no
    live removal written down), "removed_health" or "removed_other", or "" for a tree not known to
    be lost. `second` are the least and greatest age at which its second summer ends.
    """

    tree: int
    ref: str
    keys: Keys
    excluded: str
    entry: float | None
    left: float
    right: float
    outcome: str
    status: str
    age_now: float
    second: tuple[float, float]
    last_seen: date | None
    gaps: tuple[int, ...]
    wide_date: bool
    late: bool

    @property
    def counts(self) -> bool:
        return not self.excluded

    @property
    def spell(self) -> Spell:
        return Spell(self.entry, self.left, self.right)


def lives(trees: QuerySet[Tree], area: Area, kinds: Mapping[str, Kind]) -> Iterator[Life]:
    """The life of each of these trees of one area, in order of their short names."""
    return (life for _, life in trees_and_lives(trees, area, kinds))


def trees_and_lives(
    trees: QuerySet[Tree], area: Area, kinds: Mapping[str, Kind]
) -> Iterator[tuple[Tree, Life]]:
    """Each tree beside its life.

    Two queries for every two thousand trees, however many looks they have, and no more than that
    many trees in memory.
    """
    today = area.today()
    last = ""
    wanted = trees.filter(area=area).select_related("site", "planting").order_by("ref")
    full = True
    while full and (batch := list(wanted.filter(ref__gt=last)[:BATCH])):
        last, full = batch[-1].ref, len(batch) == BATCH
        records = trained_records([tree.pk for tree in batch])
        for tree in batch:
            tree.area = area
            kind = kinds.get(tree.species, NO_CALENDAR)
            yield tree, life_of(tree, records.get(tree.pk, Record()), kind, area, today)


def life_of(tree: Tree, record: Record, kind: Kind, area: Area, today: date) -> Life:
    """How one tree counts on a day, by the verified reading."""
    story = _story(tree, record, kind)
    run = _final_run(story)
    alive_days = [look.day for look in story[: len(story) - len(run)]]
    left = max((_ages(tree, day).least for day in alive_days), default=0.0)
    right = _ages(tree, run[0].day).most if run else math.inf
    if right <= left:
        # seen alive and found lost in one calendar month: the loss fell within that month
        left = max(0.0, right - 1)
    entry, late = _entry(tree, left)
    looked = sorted({look.day for look in record.seen})
    life = Life(
        tree=tree.pk,
        ref=tree.ref,
        keys=keys_of(tree),
        excluded="",
        entry=entry,
        left=left,
        right=right,
        outcome=_outcome(tree, run),
        status=_status(tree, record, story, run, looked, today),
        age_now=_ages(tree, max(today, tree.planted_from)).least,
        second=_second_summer(tree, area),
        last_seen=looked[-1] if looked else None,
        gaps=tuple((later - earlier).days for earlier, later in pairwise(looked)),
        wide_date=tree.planted_precision in ("season", "year"),
        late=late,
    )
    return replace(life, excluded=_excluded(tree, record, alive_days, life))


def _story(tree: Tree, record: Record, kind: Kind) -> tuple[Seen, ...]:
    """Trained looks that may be believed, and what a recorded departure adds to them, in time.

    A departure says "gone" on the last day it may have happened; a live removal also says "alive"
    on the first. A tree merely lost from sight says nothing.
    """
    departed = tree.left in (
        Tree.Left.DIED,
        Tree.Left.REMOVED_HEALTH,
        Tree.Left.REMOVED_OTHER,
    )
    removed_by = tree.left_to if departed else None
    looks = [look for look in record.seen if look.day >= tree.planted_from]
    story = list(believable(looks, kind, removed_by=removed_by))
    if departed:
        if tree.left != Tree.Left.DIED:
            story.append(Seen(tree.left_from, Look.Presence.STANDING, "", ""))
        story.append(Seen(tree.left_to, Look.Presence.GONE, "", ""))
    return tuple(sorted(story, key=lambda look: (look.day, look.is_loss)))


def _final_run(story: tuple[Seen, ...]) -> tuple[Seen, ...]:
    start = len(story)
    while start and story[start - 1].is_loss:
        start -= 1
    return story[start:]


def _ages(tree: Tree, day: date):
    return age_range(tree.planted_from, tree.planted_to, day)


def _entry(tree: Tree, left: float) -> tuple[float | None, bool]:
    """The age at which the tree came under watch, and whether that was later than planting.

    Where the planting day is not well known the latest age is taken, so that no tree is credited
    with time before anybody watched it; never later than it was last known alive.
    """
    age = _ages(tree, tree.registered_on).most
    by_record = tree.registered_because == Tree.Because.PLANTING_RECORD
    if age == 0 or (by_record and tree.registered_on <= tree.planted_to):
        return None, False
    return min(age, left), True


def _excluded(tree: Tree, record: Record, alive_days: list[date], life: Life) -> str:
    if record.never_planted and not record.seen:
        return NEVER_PLANTED
    if tree.registered_because == Tree.Because.REPORT:
        return BECAUSE_OF_REPORT
    if life.entry is None:
        return ""
    if not any(day >= tree.registered_on for day in alive_days):
        return NOT_FOUND_ALIVE
    if life.entry >= life.right:
        return GONE_ON_ENTRY
    return ""


def _outcome(tree: Tree, run: tuple[Seen, ...]) -> str:
    """How it ended. A tree that was seen dead before it was taken away died."""
    if not run:
        return ""
    removed = tree.left in (Tree.Left.REMOVED_HEALTH, Tree.Left.REMOVED_OTHER)
    return tree.left if removed and run[0].day == tree.left_to else DIED


def _status(
    tree: Tree,
    record: Record,
    story: tuple[Seen, ...],
    run: tuple[Seen, ...],
    looked: list[date],
    today: date,
) -> str:
    if record.never_planted and not record.seen:
        return "never_planted"
    if run:
        if (outcome := _outcome(tree, run)) != DIED:
            return outcome
        return "standing_dead" if story[-1].is_standing_dead else "gone"
    if tree.left == Tree.Left.LOST:
        return "lost"
    if not looked:
        return "unseen"
    return "alive" if today - looked[-1] <= A_YEAR else "stale"


def _second_summer(tree: Tree, area: Area) -> tuple[float, float]:
    """Least and greatest age at the end of the second summer, over the possible planting months."""
    ages = []
    month = tree.planted_from.replace(day=1)
    while month <= tree.planted_to:
        ages.append(months_between(month, second_summer_end(month, area.hemisphere)))
        month = (month + timedelta(days=32)).replace(day=1)
    return min(ages), max(ages)
