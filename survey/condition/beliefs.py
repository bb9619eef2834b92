"""What is believed of each tree now: worked out for one tree at a new look, for all by night.

Only the newest month is kept. Earlier months follow from the looks and the learning and take some
milliseconds; keeping them would mean to write them all anew after every look and every night.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from survey.chores.actions import write_chore
from survey.condition.doubts import Telling, what_would_settle
from survey.condition.evidence import Loaded, first_day, load
from survey.condition.learning import numbered_as
from survey.condition.models import STATES, Belief, Learning
from survey.condition.stale import stamps
from survey.science.condition.chain import Posterior, posterior
from survey.science.condition.dates import when_died
from survey.science.condition.laws import USUAL
from survey.trees.models import Area, Tree

MOVED = 0.002
"""A share that moved by less is not written again by night: it would change no figure shown."""

DATED = 0.05
"""Below this chance of being lost a month of death means nothing."""

SHARES = [*STATES, "lost"]
FIELDS = [
    "month",
    *SHARES,
    "died_from",
    "died_about",
    "died_to",
    "settle",
    "settle_month",
    "settle_gain",
    "looks",
    "evidence",
    "learning",
    "computed_at",
]


@dataclass(frozen=True, slots=True)
class Believed:
    """Beliefs as worked out, or none where nothing was learnt in their area yet."""

    area: Area
    beliefs: tuple[Belief, ...]
    learnt: bool


def work_out(key: str) -> Believed | None:
    """What is believed of one tree by all that is on record now; None when the tree is gone."""
    tree = Tree.objects.select_related("area").filter(pk=int(key)).first()
    return believe(tree.area, [tree.pk]) if tree else None


def work_out_range(name: str) -> Believed | None:
    """The same for an area's trees from one number to another; see `stale.ranges_of`."""
    area_id, first, last = map(int, name.split("|"))
    area = Area.objects.filter(pk=area_id).first()
    if area is None:
        return None
    trees = Tree.objects.filter(area=area, pk__range=(first, last)).order_by("pk")
    return believe(area, list(trees.values_list("pk", flat=True)))


def believe(area: Area, tree_ids: Collection[int]) -> Believed:
    """Beliefs about some trees of an area, made and not kept."""
    learning = Learning.objects.newest_of(area)
    if learning is None or not tree_ids:
        return Believed(area, (), learning is not None)
    begun, marks = timezone.now(), stamps(tree_ids)
    loaded = load(area, tree_ids)
    learnt = numbered_as(learning, loaded)
    found = posterior(loaded.evidence, learnt, USUAL)
    telling = what_would_settle(loaded, found, learnt)
    return Believed(area, tuple(_beliefs(loaded, found, telling, learning, marks, begun)), True)


@transaction.atomic
def keep(believed: Believed | None) -> None:
    """Write the beliefs that moved; a newer one that somebody made meanwhile stays.

    Where nothing was learnt yet, learning is asked for: it asks for every belief in its turn.
    """
    if believed is None:
        return
    if not believed.learnt:
        write_chore(kind="learn_area", key=str(believed.area.pk))
        return
    kept = Belief.objects.in_bulk([belief.tree_id for belief in believed.beliefs])
    changed = [belief for belief in believed.beliefs if _is_news(belief, kept.get(belief.tree_id))]
    Belief.objects.bulk_create(
        changed,
        update_conflicts=True,
        unique_fields=["tree"],
        update_fields=FIELDS,
        batch_size=500,
    )


def belief_of(tree: Tree) -> Belief | None:
    """What was last believed of a tree; None when it has not been weighed yet."""
    return Belief.objects.filter(tree=tree).first()


def _is_news(belief: Belief, kept: Belief | None) -> bool:
    if kept is None:
        return True
    if kept.computed_at > belief.computed_at:
        return False
    same = (kept.month, kept.evidence) == (belief.month, belief.evidence)
    return not same or any(
        abs(getattr(kept, name) - getattr(belief, name)) > MOVED for name in SHARES
    )


def _beliefs(
    loaded: Loaded,
    found: Posterior,
    telling: Sequence[Telling],
    learning: Learning,
    marks: dict[int, str],
    begun: datetime,
) -> Sequence[Belief]:
    evidence = loaded.evidence
    died = when_died(found, evidence)
    many = [0] * evidence.trees.number
    for tree in evidence.looks.tree:
        many[tree] += 1
    beliefs = []
    for place, (pk, shares) in enumerate(zip(loaded.tree_ids, found.now, strict=True)):
        lost = float(shares[4] + shares[5])
        dated = lost > DATED
        beliefs.append(
            Belief(
                tree_id=pk,
                month=first_day(evidence.trees.last[place]),
                **{name: float(share) for name, share in zip(STATES, shares, strict=True)},
                lost=min(1.0, lost),
                died_from=first_day(died.low[place]) if dated else None,
                died_about=first_day(died.median[place]) if dated else None,
                died_to=first_day(died.high[place]) if dated else None,
                settle=telling[place].look,
                settle_month=telling[place].month and first_day(telling[place].month),
                settle_gain=telling[place].gain,
                looks=many[place],
                evidence=marks[pk],
                learning=learning.number,
                computed_at=begun,
            )
        )
    return beliefs
