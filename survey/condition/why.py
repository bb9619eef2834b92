"""Why a tree is believed to be what it is: every look and every silence, weighed, in words.

The figures are those of `survey.science.condition.story`, worked out when asked. Nobody is named.
A neighbor's looks, a volunteer's and those of staff are told by their kind; looks alike of one
month are told together. What only some may read (the reason of an overruling, that an observer's
looks count less) depends on the view: "public", "account" for anybody with an account, "staff".
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from survey.condition.evidence import Loaded, first_day, load, month_of
from survey.condition.learning import numbered_as
from survey.condition.models import STATES, Learning
from survey.condition.rows import Part, Row, Teller
from survey.condition.telling import (
    basis_said,
    dead_then_alive_sentence,
    gone_then_there_sentence,
    hinge_said,
    no_basis_said,
    no_looks_sentence,
    start_sentence,
    start_title,
)
from survey.condition.wording import (
    SURE,
    claim_said,
    died_said,
    opening_said,
    share_sentence,
)
from survey.people.policy import may_read_survival, may_triage
from survey.science.condition.chain import Posterior
from survey.science.condition.course import course_of
from survey.science.condition.dates import TOO_UNLIKELY, when_died
from survey.science.condition.learnt import Learnt
from survey.science.condition.records import (
    DEAD,
    FAILING,
    GONE,
    LOST,
    SLIPPING,
    Evidence,
    Looks,
)
from survey.science.condition.story import (
    REMOVAL,
    Story,
    tell,
)
from survey.trees.models import Look, Tree

CLAIMS = {"lost": LOST, "worse": (SLIPPING, FAILING, DEAD, GONE)}
"""What can be asked: is it dead or gone; is it slipping, or worse than that."""

SLACK = 10 * math.log10(2)
"""How far the figures themselves may be off: odds up to twice as high, or half. In 16 invented
towns of which the truth is known, of trees told alike (by tenths) no more and no fewer were lost
than that; the worst tenth was off by 2.6 points (`tests/simulate/simulate_why.py`)."""

HINGE, SEEN = 10.0, 0.1
"""A row without which the odds would be ten times others carries the belief, if the share would be
another tenth too: between one in a thousand and one in a million nobody needs to choose."""

CLEARLY = 0.5


class NotOnTheList(ValueError):
    """The tree was not on the list yet in the month that was asked for."""


@dataclass(frozen=True, slots=True)
class Month:
    """What is believed now of one month of the tree: the six shares, in the order of STATES."""

    month: date
    shares: tuple[float, ...]
    claim: float


@dataclass(frozen=True, slots=True)
class Died:
    """The first days of months between which the tree died with 9 in 10, and the likeliest."""

    first: date
    about: date
    last: date


@dataclass(frozen=True, slots=True)
class Why:
    """A claim about one tree in one month, and everything that moved it.

    `opening`, `said` and `died_words` are the finding: the likeliest condition, how many trees
    like this are what is claimed, within `low` and `high` (see `SLACK`), and when it died. `hinge`
    says what most of it rests on, "" if on nothing alone. `told_from` is the first row worth
    telling when there is no room for all: the last that spoke clearly for the opposite. `notes` are
    whole sentences about what does not fit. `learning` is the number of what was learnt, None
    before anything was.
    """

    tree: Tree
    claim: str
    claim_words: str
    month: date
    opening: str
    said: str
    died_words: str
    hinge: str
    share: float
    low: float
    high: float
    shares: tuple[float, ...]
    died: Died | None
    start: float
    start_share: float
    start_month: date
    start_title: str
    start_words: str
    points: float
    rows: tuple[Row, ...]
    told_from: int
    notes: tuple[str, ...]
    strip: tuple[Month, ...]
    basis: str
    learning: int | None

    @property
    def finding(self) -> str:
        """The opening as one text."""
        return " ".join(part for part in (f"{self.opening}: {self.said}.", self.died_words) if part)


def view_of(person) -> str:
    """Which view a person may have."""
    if may_triage(person):
        return "staff"
    return "account" if may_read_survival(person) else "public"


def why(tree: Tree, claim: str = "lost", *, at: date | None = None, view: str = "public") -> Why:
    """Why a tree is believed to be lost, or worse, or not; `at` looks back to the end of a month.

    What was learnt since counts, looks made since do not. Raises `NotOnTheList` for an earlier
    month, KeyError for a claim that nobody knows.
    """
    states = CLAIMS[claim]
    loaded = load(tree.area, [tree.pk])
    learning = Learning.objects.newest_of(tree.area)
    evidence, look_ids = loaded.evidence, loaded.look_ids
    learnt = _learnt(learning, loaded)
    if at is not None:
        evidence, look_ids = _until(evidence, look_ids, month_of(at))
    course = course_of(evidence, learnt)
    story = tell(course, states)
    teller = Teller(tree, claim, view, evidence, learnt, look_ids, course, story)
    rows = tuple(teller.rows())
    low, high = (_moved(story.share, by) for by in (-SLACK, SLACK))
    died = _died(story, evidence)
    shares = dict(zip(STATES, story.shares, strict=True))
    return Why(
        tree=tree,
        claim=claim,
        claim_words=claim_said(claim),
        month=first_day(story.last),
        opening=opening_said(shares),
        said=share_sentence(claim, story.share, low, high),
        died_words=_died_words(died, shares, story),
        hinge=_hinge(rows, story.share, claim),
        share=story.share,
        low=low,
        high=high,
        shares=story.shares,
        died=died,
        start=story.start,
        start_share=story.start_share,
        start_month=first_day(story.first),
        start_title=start_title(),
        start_words=start_sentence(
            first_day(story.first),
            story.start_share,
            claim,
            planted=bool(evidence.trees.is_from_planting[0]),
        ),
        points=story.points,
        rows=rows,
        told_from=_told_from(rows),
        notes=tuple(_notes(evidence, story, look_ids, teller.seen)),
        strip=tuple(
            Month(first_day(story.first + n), tuple(shares), float(sum(shares[list(states)])))
            for n, shares in enumerate(story.smoothed)
        ),
        basis=no_basis_said()
        if learning is None
        else basis_said(learning.method, learning.as_of, learning.number),
        learning=learning and learning.number,
    )


def _learnt(learning: Learning | None, loaded: Loaded) -> Learnt:
    """What was learnt in the area; before anything was, what is usual, with silence unheard."""
    if learning is not None:
        return numbered_as(learning, loaded)
    usual = Learnt.usual(loaded.evidence)
    return replace(usual, exposure=np.zeros_like(usual.exposure), town_exposure=0.0)


def _until(
    evidence: Evidence, look_ids: Sequence[tuple[int, ...]], month: int
) -> tuple[Evidence, list[tuple[int, ...]]]:
    """The evidence of one tree as it was at the end of a month."""
    trees, looks = evidence.trees, evidence.looks
    if month < trees.first[0]:
        raise NotOnTheList("The tree was not on the list yet.")
    kept = looks.month <= month
    columns = {name: getattr(looks, name)[kept] for name in Looks.__dataclass_fields__}
    told = replace(
        evidence,
        trees=replace(trees, last=np.minimum(trees.last, month)),
        looks=Looks(**columns),
        care=evidence.care[evidence.care[:, 1] <= month],
        removals=evidence.removals[evidence.removals[:, 1] <= month],
    )
    return told, [pks for pks, keep in zip(look_ids, kept, strict=True) if keep]


def _hinge(rows: Sequence[Row], share: float, claim: str) -> str:
    """The row whose absence would change the odds most, if they would be ten times others."""

    def shift(row: Row) -> float:
        assert row.without is not None
        return abs(_odds(share) - _odds(row.without))

    told = [row for row in rows if row.without is not None and abs(row.without - share) >= SEEN]
    most = max(told, key=shift, default=None)
    if most is None or most.without is None or shift(most) < HINGE:
        return ""
    return hinge_said(most.title, most.day, most.without, claim)


def _odds(share: float) -> float:
    """Points, within what a float can tell."""
    near = min(max(share, 1e-12), 1 - 1e-12)
    return 10 * math.log10(near / (1 - near))


def _moved(share: float, points: float) -> float:
    """A share whose odds are moved by so many points."""
    factor = 10 ** (points / 10)
    return share * factor / (share * factor + 1 - share) if 0 < share < 1 else share


def _died(story: Story, evidence: Evidence) -> Died | None:
    offsets = np.array([0, len(story.smoothed)])
    found = when_died(
        Posterior(offsets, story.filtered, story.smoothed, np.zeros(1)), evidence, level=0.9
    )
    if found.p_lost[0] < TOO_UNLIKELY:
        return None
    return Died(*(first_day(months[0]) for months in (found.low, found.median, found.high)))


def _died_words(died: Died | None, shares: dict[str, float], story: Story) -> str:
    lost = shares["dead"] + shares["gone"]
    if died is None or lost < CLEARLY:
        return ""
    return died_said(
        died.first,
        died.about,
        died.last,
        sure=lost >= SURE,
        gone=shares["gone"] > shares["dead"],
        listed=first_day(story.first),
    )


def _told_from(rows: Sequence[Row]) -> int:
    """The last row of looks that spoke clearly against the claim, and made it unlikely."""
    clear = [
        place
        for place, row in enumerate(rows)
        if row.looks and row.strength in ("much", "settles") and row.points < 0
    ]
    return next((place for place in reversed(clear) if rows[place].share <= 0.1), 0)


def _notes(
    evidence: Evidence,
    story: Story,
    look_ids: Sequence[tuple[int, ...]],
    seen: dict[int, Look],
) -> Iterable[str]:
    """What does not fit together, and that nobody has looked."""
    looks = evidence.looks
    if not story.looks:
        yield no_looks_sentence(first_day(story.first))
    gone = [
        (int(looks.month[p]), any(seen[pk].presence == "stump" for pk in look_ids[p] if pk in seen))
        for p in np.flatnonzero(looks.label == GONE)
    ]
    gone += [(step.month, False) for step in story.steps if step.kind == REMOVAL]
    standing = looks.month[(looks.label >= 0) & (looks.label <= DEAD)]
    for month, stump in sorted(gone):
        later = standing[standing > month]
        if len(later):
            yield gone_then_there_sentence(first_day(month), first_day(later[0]), stump=stump)
            return
    alive = looks.month[(looks.label >= 0) & (looks.label <= FAILING)]
    for month in looks.month[(looks.label == DEAD) & ~looks.leaf_off]:
        later = alive[alive > month]
        if len(later):
            yield dead_then_alive_sentence(first_day(month), first_day(later[0]))
            return


__all__ = [
    "CLAIMS",
    "Died",
    "Month",
    "NotOnTheList",
    "Part",
    "Row",
    "Why",
    "view_of",
    "why",
]
