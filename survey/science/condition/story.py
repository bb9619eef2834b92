"""Why one tree is believed to be what it is: how far each look, and the time between, moved it.

Any claim that is a set of states ("lost" is dead or gone) has odds at every moment of the filter.
They are told in points, ten times their decimal logarithm: ten points are ten times likelier. The
story of a claim is the change of its points at every step, in order of time:

- the **start**: the points of the month the tree came on the list, before anything was seen;
- a **stretch** from one look to the next, in three parts: `time` (trees get worse, recover, die,
  are taken away), `removals` (that no removal was put on record), `quiet` (nobody complained, where
  somebody might have);
- a **removal** put on record, which ends a stretch and begins another;
- a **look**, in up to five parts: `worry` (somebody was worried enough to come), then `label`,
  `scratch`, `leaf` and `signs`, each part added to those before it, in this order.

Every step is the difference of two numbers, so they add up to the last points minus the first,
whatever the order of the looks of one month. Which of two looks of one month gets how much does
depend on their order, because each is told after those before it: the order is that of the course.

Vectors over states are kept as logarithms, so that a thousand looks in a month do not underflow.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from survey.science.condition.course import WORRY, Course, course_of
from survey.science.condition.laws import USUAL, Law
from survey.science.condition.learnt import Learnt
from survey.science.condition.records import LOST, NOT_SAID, STATES, Evidence, Truths
from survey.science.records import Floats

TIME, REMOVALS, QUIET = "time", "removals", "quiet"
STRETCH_PARTS = (TIME, REMOVALS, QUIET)
STRETCH, REMOVAL, LOOK = "stretch", "removal", "look"
"""Kinds of steps."""

POINTS_A_NAT = 10 / math.log(10)
MOST_POINTS = 300.0
"""Points beyond which a claim is called settled: one in 10^30. Keeps differences finite where a
state is impossible."""


class CannotBe(ValueError):
    """No state of the tree is possible under what was given, or the claim holds no state or all."""


@dataclass(frozen=True, slots=True)
class Part:
    """So many points from one part of a step."""

    name: str
    points: float


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the story, from `before` to `after` points; `kind` is one of those above.

    A stretch goes from the month `since` to `month`; looks and removals have `since` = `month`.
    `look` is the look's place, NOT_SAID for other steps. `quiet` counts the months of a stretch in
    which somebody might have complained and nobody did. `share` is the probability of the claim
    after the step, `shares` those of all six states. `without` is the claim's probability in the
    last month had this look not been made, everything else being the same; `None` if no look.
    """

    kind: str
    look: int
    since: int
    month: int
    before: float
    after: float
    parts: tuple[Part, ...]
    share: float
    shares: tuple[float, ...]
    quiet: int = 0
    without: float | None = None

    @property
    def points(self) -> float:
        return self.after - self.before

    @property
    def is_look(self) -> bool:
        return self.kind == LOOK

    def part(self, name: str) -> float:
        """The points of one part; 0 when the step has none of that name."""
        return sum(part.points for part in self.parts if part.name == name)


@dataclass(frozen=True, slots=True, eq=False)
class Story:
    """A claim about one tree: where it started, every step, and where it stands.

    `filtered[months, 6]` is what was believed at the end of each month, `smoothed[months, 6]` what
    is believed of each month now; they agree in the last. `shares` are those of the last month.
    """

    claim: tuple[int, ...]
    first: int
    start: float
    start_share: float
    steps: tuple[Step, ...]
    filtered: Floats
    smoothed: Floats

    @property
    def points(self) -> float:
        """Where the claim stands in the last month."""
        return self.steps[-1].after if self.steps else self.start

    @property
    def share(self) -> float:
        """The probability of the claim in the last month."""
        return float(self.filtered[-1, list(self.claim)].sum())

    @property
    def shares(self) -> tuple[float, ...]:
        return tuple(float(share) for share in self.filtered[-1])

    @property
    def last(self) -> int:
        return self.first + len(self.filtered) - 1

    @property
    def looks(self) -> tuple[Step, ...]:
        return tuple(step for step in self.steps if step.is_look)

    @property
    def without_one(self) -> tuple[float, float]:
        """The lowest and the highest probability of the claim with any one look left out, or none.

        How far the belief hangs on a single look.
        """
        told = [self.share, *(step.without for step in self.looks if step.without is not None)]
        return min(told), max(told)


def points_of(shares: Floats, claim: Sequence[int]) -> float:
    """10·log10 of the odds of a set of states; at most MOST_POINTS either way.

    Both sides are summed from the shares: one minus a share near one would lose its digits.
    """
    with np.errstate(divide="ignore"):
        return _Belief(np.log(shares), _states_of(claim)).points


def waterfall(
    evidence: Evidence,
    learnt: Learnt,
    tree: int = 0,
    claim: Sequence[int] = LOST,
    law: Law = USUAL,
) -> Story:
    """The story of a claim about one tree (its place in the evidence), as `tell` tells it.

    `Step.look` is a place in `evidence.looks`; the last month agrees with `chain.posterior`.
    """
    return tell(course_of(evidence, learnt, tree, law), claim)


def tell(course: Course, claim: Sequence[int]) -> Story:
    """The story of a claim (places in STATES) through one tree's course.

    Raises `CannotBe` for an empty or all-embracing claim, and when the factors leave no state
    possible.
    """
    yes = _states_of(claim)
    logs = _Logs(course)
    belief = _Belief(logs.start, yes)
    start, start_share = belief.points, belief.share
    told = _Telling(belief, course.first)
    before, after = np.empty((course.months, 6)), np.empty((course.months, 6))
    for t in range(course.months):
        if t:
            told.gather(TIME, belief.move(logs.moves[t - 1]))
        logged = t in course.logged
        if logged:
            told.stretch(t)
        removals = belief.hold(logs.removals[t - 1]) if t else belief.weigh(logs.start_removals)
        if logged:
            told.removal(t, removals)
        else:
            told.gather(REMOVALS, removals)
        before[t] = belief.logs
        worried = logs.worried[t]
        if worried is None:
            told.gather(QUIET, belief.weigh(logs.quiet[t]))
        if logs.places[t] or t == course.months - 1:
            told.stretch(t)
        for place in logs.places[t]:
            # that nobody else complained in this month belongs to the first complaint
            also = logs.quiet[t] if place == worried else 0.0
            parts = tuple(
                Part(name, belief.weigh(factor + (also if name == WORRY else 0.0)))
                for name, factor in logs.parts[place]
            )
            told.look(t, course.looks[place].look, parts)
        after[t] = belief.logs
    steps = told.steps
    onward = logs.onward()
    without = _without(logs, before, onward, yes)
    smoothed = after + np.logaddexp.reduce(onward, axis=2)
    looks = iter(without)
    return Story(
        claim=tuple(sorted(yes.nonzero()[0].tolist())),
        first=course.first,
        start=start,
        start_share=start_share,
        steps=tuple(replace(s, without=next(looks)) if s.is_look else s for s in steps),
        filtered=np.exp(after),
        smoothed=np.exp(smoothed - np.logaddexp.reduce(smoothed, axis=1, keepdims=True)),
    )


def share_without(course: Course, looks: Collection[int], claim: Sequence[int]) -> float:
    """The last probability of the claim had these looks (`Factors.look`) not been made."""
    kept = tuple(look for look in course.looks if look.look not in looks)
    return tell(replace(course, looks=kept), claim).share


def _states_of(claim: Sequence[int]) -> Truths:
    yes = np.zeros(len(STATES), dtype=np.bool_)
    yes[list(claim)] = True
    if not yes.any() or yes.all():
        raise CannotBe("A claim holds at least one state and leaves at least one out.")
    return yes


class _Belief:
    """The logarithms of six shares on their way through the months, and the points of a claim."""

    def __init__(self, logs: Floats, yes: Truths) -> None:
        self._yes = yes
        self._settle(logs)

    def _settle(self, logs: Floats) -> None:
        whole = np.logaddexp.reduce(logs)
        if not np.isfinite(whole):
            raise CannotBe("What was seen leaves no state of this tree possible.")
        self.logs = logs - whole
        self.points = self._points()

    def _points(self) -> float:
        ups, downs = (np.logaddexp.reduce(self.logs[s]) for s in (self._yes, ~self._yes))
        return float(np.clip((ups - downs) * POINTS_A_NAT, -MOST_POINTS, MOST_POINTS))

    @property
    def share(self) -> float:
        return float(np.exp(self.logs[self._yes]).sum())

    def weigh(self, factor: Floats) -> float:
        """Multiply in six factors; the points gained."""
        before = self.points
        self._settle(self.logs + factor)
        return self.points - before

    def move(self, moves: Floats) -> float:
        """Go on by a month; the points gained by time."""
        before, self._moved = self.points, self.logs[:, None] + moves
        self._settle(np.logaddexp.reduce(self._moved, axis=0))
        return self.points - before

    def hold(self, removals: Floats) -> float:
        """Hold the last month's moves against the record of removals; the points gained."""
        before = self.points
        self._settle(np.logaddexp.reduce(self._moved + removals, axis=0))
        return self.points - before


class _Telling:
    """Cuts the way of a belief into steps. What was gathered since the last step is a stretch."""

    def __init__(self, belief: _Belief, first: int) -> None:
        self._belief, self._first = belief, first
        self._begun, self._since = belief.points, 0
        self.steps: list[Step] = []
        self._empty()

    def _empty(self) -> None:
        self._parts, self._quiet = dict.fromkeys(STRETCH_PARTS, 0.0), 0

    def gather(self, part: str, points: float) -> None:
        self._parts[part] += points
        self._quiet += part == QUIET

    def stretch(self, t: int) -> None:
        """What was gathered ends in month t."""
        if t > self._since or any(self._parts.values()):
            parts = tuple(Part(name, self._parts[name]) for name in STRETCH_PARTS)
            self._add(STRETCH, NOT_SAID, t, parts)
        self._empty()

    def removal(self, t: int, points: float) -> None:
        self._add(REMOVAL, NOT_SAID, t, (Part(REMOVALS, points),))

    def look(self, t: int, look: int, parts: tuple[Part, ...]) -> None:
        self._add(LOOK, look, t, parts)

    def _add(self, kind: str, look: int, t: int, parts: tuple[Part, ...]) -> None:
        belief, month = self._belief, self._first + t
        self.steps.append(
            Step(
                kind=kind,
                look=look,
                since=self._first + self._since if kind == STRETCH else month,
                month=month,
                before=self._begun,
                after=belief.points,
                parts=parts,
                share=belief.share,
                shares=tuple(float(share) for share in np.exp(belief.logs)),
                quiet=self._quiet if kind == STRETCH else 0,
            )
        )
        self._begun, self._since = belief.points, t


class _Logs:
    """A course as logarithms, with the looks of each month."""

    def __init__(self, course: Course) -> None:
        with np.errstate(divide="ignore"):
            self.start = np.log(course.start)
            self.moves, self.removals = np.log(course.moves), np.log(course.removals)
            self.start_removals = np.log(course.start_removals)
            self.quiet = np.log(course.quiet)
            self.parts = [[(name, np.log(f)) for name, f in look.parts] for look in course.looks]
        self.whole = np.array([sum(f for _, f in parts) for parts in self.parts]).reshape(-1, 6)
        self.places: list[list[int]] = [[] for _ in range(course.months)]
        for place, look in enumerate(course.looks):
            self.places[look.month].append(place)
        self.worried: list[int | None] = [
            next((p for p in places if any(name == WORRY for name, _ in self.parts[p])), None)
            for places in self.places
        ]

    def weight(self, t: int) -> Floats:
        """All that was seen in a month, for each state."""
        return np.asarray(self.quiet[t] + self.whole[self.places[t]].sum(axis=0))

    def onward(self) -> Floats:
        """[months, 6, 6]: from a state at the end of each month to a state at the end of all."""
        months = len(self.quiet)
        onward = np.full((months, 6, 6), -np.inf)
        np.fill_diagonal(onward[-1], 0.0)
        for t in range(months - 2, -1, -1):
            step = self.moves[t] + self.removals[t] + self.weight(t + 1)
            onward[t] = np.logaddexp.reduce(step[:, :, None] + onward[t + 1][None], axis=1)
            onward[t] -= onward[t].max()
        return onward


def _without(logs: _Logs, before: Floats, onward: Floats, yes: Truths) -> list[float]:
    """The last probability of the claim with each look left out in turn, in order of the looks."""
    found: list[float] = []
    for t, places in enumerate(logs.places):
        if not places:
            continue
        each = logs.whole[places]
        none = np.zeros((1, 6))
        up_to = np.concatenate([none, np.cumsum(each, axis=0)[:-1]])
        after = np.concatenate([np.cumsum(each[::-1], axis=0)[::-1][1:], none])
        rest = before[t] + logs.quiet[t] + up_to + after
        last = np.logaddexp.reduce(rest[:, :, None] + onward[t][None], axis=1)
        last -= np.logaddexp.reduce(last, axis=1, keepdims=True)
        found += np.exp(last[:, yes]).sum(axis=1).tolist()
    return found
