"""What a side by side trial has shown so far: counts until its day, one word from that day on."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from survey.handbook.book import book
from survey.handbook.records import Care
from survey.handbook.wording import said
from survey.science.care.trials import BlockOutcome, Reach, TrialResult, reach, weigh_trial
from survey.trees.models import CareGiven, Look, Tree
from survey.workorders.models import Trial, TrialTree

GOOD = ("thriving", "holding")
TIME_TO_ANSWER = timedelta(days=28)
"""Own rule of this project: a look sooner than four weeks after the lots says nothing."""
LEAST_EXPECTED, MOST_EXPECTED = 0.05, 0.95
USUAL_CARE = "usual_care"
"""What the other half gets unless it is another care: all that it would get anyhow."""
NOT_BY_LOT: dict[str, Any] = {
    "needed": gettext_lazy("It is known to help. No tree goes without it for a trial."),
    "by_tree": gettext_lazy(
        "It helps one tree and can harm the next. What a tree shows decides, not a lot."
    ),
    "looking": gettext_lazy(
        "It finds out or tells something and does nothing to a tree: there is nothing to try."
    ),
    "removal": gettext_lazy(
        "Neither removing nor planting is drawn by lot. Each tree is decided on its own."
    ),
}
"""Own rule of this project: why the lot may not decide, by `Care.by_lot`."""
EXPECTED = 0.8
"""Share of trees that do well without the care, where none of them was looked at yet: own rule."""


def may_be_tried() -> list[Care]:
    """The kinds of care whose use is disputed or unproven: only these may be drawn by lot."""
    return [care for care in book().care.values() if care.may_be_tried]


def not_by_lot(code: str) -> str:
    """Why a kind of care may not be drawn by lot, as a sentence; empty where it may be."""
    care = book().care[code]
    if care.may_be_tried:
        return ""
    return _("“%(care)s” is not tried by lot. %(why)s") % {
        "care": said(care.label),
        "why": NOT_BY_LOT[care.by_lot],
    }


def kinds_not_by_lot() -> list[tuple[str, str]]:
    """Each reason against a lot, and the names of the kinds of care that it holds for."""
    return [
        (
            str(why),
            ", ".join(str(said(c.label)) for c in book().care.values() if c.by_lot == reason),
        )
        for reason, why in NOT_BY_LOT.items()
    ]


def instead_said(trial: Trial) -> str:
    """What the other half gets, in words. Trials from before there was a list keep their own."""
    if trial.instead == USUAL_CARE:
        return _("the usual care, without it")
    care = book().care.get(trial.instead)
    return str(said(care.label)) if care else trial.instead


@dataclass(frozen=True, slots=True)
class TrialRow:
    """One tree of a trial: its lot, its newest look since, and whether it got the care at all."""

    tree: Tree
    block: str
    gets_care: bool
    look: Look | None
    good: bool | None
    got_care: bool

    @property
    def crossed(self) -> bool:
        """Given what the lot withheld. It still counts on the side of its lot."""
        return self.got_care and not self.gets_care


@dataclass(frozen=True)
class Standing:
    """A trial as it stands: its rows, what its size can tell, and its counts by side."""

    trial: Trial
    rows: tuple[TrialRow, ...]
    expected: float
    is_due: bool

    def seen(self, gets_care: bool) -> tuple[int, int, int]:
        """Trees of a side that did well, that were seen, and all of them."""
        side = [row for row in self.rows if row.gets_care is gets_care]
        return (
            sum(row.good is True for row in side),
            sum(row.good is not None for row in side),
            len(side),
        )

    @cached_property
    def reach(self) -> Reach | None:
        """What a trial of this size would notice, worked out exactly before it begins; None
        without a tree on either side."""
        first, second = self.seen(True)[2], self.seen(False)[2]
        return reach(first, second, self.expected) if first and second else None

    @cached_property
    def result(self) -> TrialResult | None:
        """The outcome, from the trial's day on and never sooner: who looks often finds luck."""
        if not self.is_due or not any(row.good is not None for row in self.rows):
            return None
        return weigh_trial(list(_blocks(self.rows)))

    @property
    def crossed(self) -> list[Tree]:
        return [row.tree for row in self.rows if row.crossed]


def _blocks(rows: Iterable[TrialRow]) -> Iterable[BlockOutcome]:
    seen: Mapping[str, list[TrialRow]] = defaultdict(list)
    for row in rows:
        if row.good is not None:
            seen[row.block].append(row)
    for block, inside in sorted(seen.items()):
        care = [row.good for row in inside if row.gets_care]
        others = [row.good for row in inside if not row.gets_care]
        yield BlockOutcome(
            block, sum(map(bool, care)), len(care), sum(map(bool, others)), len(others)
        )


def standing_of(trial: Trial) -> Standing:
    """How a trial stands. A fixed number of questions for any number of trees."""
    drawn = list(
        TrialTree.objects.filter(trial=trial)
        .select_related("tree__site", "tree__area")
        .order_by("block", "tree__site__name", "tree__walk_order", "pk")
    )
    keys = [row.tree_id for row in drawn]
    begun = trial.created_at.date()
    looks: dict[int, Look] = {}
    before: dict[int, Look] = {}
    record = Look.objects.standing_record().trained().filter(tree__in=keys)
    for look in record.exclude(presence__in=["not_seen", "never_planted"]).in_order():
        if look.day >= begun + TIME_TO_ANSWER:
            if trial.ended_at is None or look.day <= trial.ended_at.date():
                looks[look.tree_id] = look
        elif look.day <= begun:
            before[look.tree_id] = look
    given = set(
        CareGiven.objects.filter(tree__in=keys, care=trial.care, given_from__gte=begun).values_list(
            "tree_id", flat=True
        )
    )
    rows = tuple(
        TrialRow(
            tree=row.tree,
            block=row.block,
            gets_care=row.gets_care,
            look=looks.get(row.tree_id),
            good=_good(row.tree, looks.get(row.tree_id)),
            got_care=row.tree_id in given,
        )
        for row in drawn
    )
    known = [look.condition in GOOD for look in before.values()]
    share = sum(known) / len(known) if known else EXPECTED
    expected = min(MOST_EXPECTED, max(LEAST_EXPECTED, share))
    due = trial.area.today() >= trial.until or trial.ended_at is not None
    return Standing(trial, rows, expected, due)


def _good(tree: Tree, look: Look | None) -> bool | None:
    """Whether a tree does well: by its newest look, and never once it has died."""
    if tree.left in ("died", "removed_health"):
        return False
    if look is None:
        return None
    return look.presence == Look.Presence.STANDING and look.condition in GOOD


def block_of(tree: Tree) -> str:
    """Trees of one site and one species are drawn together: they are the most alike."""
    return f"{tree.site.name[:38]}, {tree.species[:40]}"
