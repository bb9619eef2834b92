"""Does a site turn down: one decision from a trend test and a step test, asked again each month.

The two tests share one calibration. Under "nothing changes here" rounds are drawn many times, with
the errors they have; both statistics are computed on each; and the smaller of the two p values is
judged against the smaller of the two there. Because the question is asked anew after each round,
each round may spend only its share of the false alarms allowed in a year: a round that follows the
one before by three months a quarter of them. Over any stretch of years that makes at most the
level a year, however often anybody asks.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from survey.science.records import Floats, Whole
from survey.science.trend.kendall import BadSeries, theil_sen
from survey.science.trend.rounds import Rounds, Usual

LEVEL = 0.05
LEAST_ROUNDS = 3
STANDS = 0.2
"""A turn that rang stands until luck would do as much in one site of five: the round after next may
follow soon, with hardly any level to spend, and finds the same place no better."""
_YEAR = 12


@dataclass(frozen=True, slots=True)
class Turn:
    """A site that turns down, by the rounds so far.

    `since`: the month of the first round that found it lower (a step) or from which on it falls (a
    trend); `before` the month of the round before that. `fall` is what it lost since, in points,
    with its standard `error`; `slope` with limits in points a year over all rounds. `p`: how
    seldom a site that does not turn looks like this; it rings when that is at most `spent`, the
    share of the yearly level that this round may use.
    """

    shape: Literal["step", "trend"]
    since: int
    before: int
    fall: float
    error: float
    slope: float
    slope_low: float
    slope_high: float
    p: float
    p_step: float
    p_trend: float
    spent: float
    rounds: int


def turn_of(
    months: ArrayLike,
    estimates: ArrayLike,
    errors: ArrayLike,
    seasons: ArrayLike,
    *,
    tau: float | None = None,
    drift: float = 0.0,
    luck: float = 0.0,
    covariance: ArrayLike | None = None,
    observers: ArrayLike | None = None,
    level: float = LEVEL,
    standing: bool = False,
    seed: int = 0,
) -> Turn | None:
    """The turn of one site, or None: not enough rounds, or nothing that luck would not do.

    Rounds come in order of month. `errors` are their standard errors (or give `covariance`);
    `tau` is how far a whole round may be off because of who walked it and when; half of its
    variance goes with the observer where `observers` names one (0 or above). Without `tau` nothing
    is taken as known of the errors: rounds of one season are shuffled instead, which needs more
    rounds to see a turn. `drift`, in points a month, is what such sites usually do, and `luck` the
    variance a month by which they wander from it because now and then a tree dies. `seasons`
    numbers the seasons; only rounds of one season are compared. `standing` says that a turn of this
    site rang before: it stands while `p` is at most `STANDS`.
    """
    watch = Watch.over(
        months,
        errors,
        seasons,
        tau=tau,
        luck=luck,
        covariance=covariance,
        observers=observers,
        seed=seed,
    )
    told = np.asarray(estimates, dtype=np.float64)
    if told.shape != watch.months.shape or not np.isfinite(told).all():
        raise BadSeries("Each round needs an estimate.")
    if not 0 < level < 1:
        raise BadSeries(f"A level lies between 0 and 1, and {level} does not.")
    if len(told) < LEAST_ROUNDS or not len(watch.splits):
        return None
    level_by_round = told - drift * (watch.months - watch.months[0])
    step, trend = watch.statistics(level_by_round[None, :])
    if step[0] <= 0 or trend[0] < 0 or (tau is not None and step[0] < 1 and trend[0] < 1):
        return None  # far from any level, and the usual case
    p, p_step, p_trend = (float(one[0]) for one in watch.chances(level_by_round))
    spent = watch.spends(level)
    if p > (max(spent, STANDS) if standing else spent):
        return None
    slope = theil_sen(watch.months, told, seasons=watch.seasons)
    if slope is None:
        return None
    shape, at, fall, error = watch.shape(level_by_round)
    since = int(watch.months[at])
    return Turn(
        shape,
        since,
        int(watch.months[at - 1]) if at else since,
        fall,
        error,
        slope.value * _YEAR,
        slope.low * _YEAR,
        slope.high * _YEAR,
        p,
        p_step,
        p_trend,
        spent,
        len(told),
    )


def turn_of_rounds(
    rounds: Rounds,
    seasons: Sequence[int] | Whole,
    usual: Usual,
    *,
    level: float = LEVEL,
    standing: bool = False,
) -> Turn | None:
    """The turn of a site against what is usual in its town."""
    return turn_of(
        rounds.months,
        rounds.estimates,
        rounds.errors,
        seasons,
        tau=usual.tau,
        drift=usual.drift,
        luck=usual.luck(float(np.median(rounds.trees))) if rounds.number else 0.0,
        covariance=rounds.covariance,
        observers=rounds.observers,
        level=level,
        standing=standing,
    )


@dataclass(frozen=True, eq=False)
class Watch:
    """The rounds of one site but for what they found: everything two tests need beforehand.

    `steps` and `hinges` are rows that turn estimates into z values, one for each place of a turn
    (`splits`, `bends`: the first round after it); `sizes` are their standard errors.
    """

    months: Whole
    seasons: Whole
    root: Floats | None  # of the covariance; None where rounds are shuffled instead
    splits: Whole
    steps: Floats
    step_errors: Floats
    bends: Whole
    hinges: Floats
    hinge_errors: Floats
    seed: int
    draws: int

    @classmethod
    def over(
        cls,
        months: ArrayLike,
        errors: ArrayLike,
        seasons: ArrayLike,
        *,
        tau: float | None,
        luck: float = 0.0,
        covariance: ArrayLike | None = None,
        observers: ArrayLike | None = None,
        seed: int = 0,
        draws: int = 4999,
    ) -> "Watch":
        when = np.asarray(months, dtype=np.int64)
        which = np.asarray(seasons, dtype=np.int64)
        off = np.asarray(errors, dtype=np.float64)
        if when.ndim != 1 or which.shape != when.shape or off.shape != when.shape:
            raise BadSeries("Months, errors and seasons must be columns of one length.")
        if (np.diff(when) <= 0).any():
            raise BadSeries("Rounds come in order of month, one a month.")
        if not (np.isfinite(off).all() and (off >= 0).all()):
            raise BadSeries("A standard error is a number of at least 0.")
        if tau is not None and not (np.isfinite(tau) and tau > 0):
            raise BadSeries("The spread between rounds is a number above 0.")
        if not (np.isfinite(luck) and luck >= 0):
            raise BadSeries("The variance a month is a number of at least 0.")
        number = len(when)
        if tau is None:
            whole = np.diag(np.ones(number))
        else:
            whole = np.diag(off**2) if covariance is None else np.array(covariance, dtype=float)
            if whole.shape != (number, number):
                raise BadSeries("The covariance needs a row and a column for each round.")
            whole = whole + np.eye(number) * tau**2 / 2
            who = np.full(number, -1) if observers is None else np.asarray(observers)
            known = who >= 0
            same = (who[:, None] == who[None, :]) & known[:, None] & known[None, :]
            since = when - when[:1]
            whole += luck * np.minimum(since[:, None], since[None, :])
            whole += (same | np.eye(number, dtype=bool)) * tau**2 / 2
        root = np.asarray(np.linalg.cholesky(whole)) if number else whole
        places = np.arange(number)
        steps = (places[None, :] >= np.arange(1, number)[:, None]).astype(np.float64)
        bends = np.maximum(when[None, :] - when[: max(number - 1, 0), None], 0).astype(np.float64)
        step_rows, step_errors, kept = _contrasts(steps, which, root)
        bend_rows, bend_errors, bent = _contrasts(bends, which, root)
        return cls(
            when,
            which,
            None if tau is None else root,
            (np.arange(1, number))[kept],
            step_rows,
            step_errors,
            np.arange(number - 1 if number else 0)[bent],
            bend_rows,
            bend_errors,
            seed,
            draws,
        )

    def statistics(self, estimates: Floats) -> tuple[Floats, Floats]:
        """Of series (rows): the largest z of a step down, and falls less rises within seasons."""
        step = (-(estimates @ self.steps.T)).max(axis=1)
        trend = np.zeros(len(estimates))
        for one in np.unique(self.seasons):
            columns = estimates[:, self.seasons == one]
            for place in range(columns.shape[1] - 1):
                trend -= np.sign(columns[:, place + 1 :] - columns[:, place : place + 1]).sum(
                    axis=1
                )
        return step, trend

    def chances(self, estimates: Floats) -> tuple[Floats, Floats, Floats]:
        """p of both tests together, of the step and of the trend, for one series or for many.

        Many series need `tau`: shuffling asks for the values of each.
        """
        asked = np.atleast_2d(estimates)
        step, trend = self.statistics(asked)
        flat_step, flat_trend = self._flat(asked)
        p_step, p_trend = _at_least(flat_step, step), _at_least(flat_trend, trend)
        flat = np.minimum(_at_least(flat_step, flat_step), _at_least(flat_trend, flat_trend))
        smaller = np.minimum(p_step, p_trend)
        # as often as a flat site has a p as small as that; itself counts as one of them
        p = (1 + np.searchsorted(np.sort(flat), smaller + 1e-12, side="right")) / (len(flat) + 1)
        return p, p_step, p_trend

    def _flat(self, estimates: Floats) -> tuple[Floats, Floats]:
        dice = np.random.default_rng(self.seed)
        if self.root is not None:
            drawn = dice.standard_normal((self.draws, len(self.months))) @ self.root.T
        else:
            if len(estimates) > 1:
                raise BadSeries("Without a known spread between rounds, ask of one series.")
            drawn = np.tile(estimates[0], (self.draws, 1))
            for one in np.unique(self.seasons):
                columns = np.flatnonzero(self.seasons == one)
                drawn[:, columns] = dice.permuted(drawn[:, columns], axis=1)
        return self.statistics(drawn)

    def spends(self, level: float) -> float:
        """The share of a yearly level that the last round may use."""
        gap = int(self.months[-1] - self.months[-2]) if len(self.months) > 1 else _YEAR
        return level * min(gap, _YEAR) / _YEAR

    def shape(self, estimates: Floats) -> tuple[Literal["step", "trend"], int, float, float]:
        """What fits best: its shape, the round where it begins, what was lost, and the error."""
        step, hinge = -(self.steps @ estimates), -(self.hinges @ estimates)
        at, bend = int(np.argmax(step)), int(np.argmax(hinge)) if len(hinge) else 0
        if not len(hinge) or step[at] >= hinge[bend] - 1e-9:
            error = float(self.step_errors[at])
            return "step", int(self.splits[at]), float(step[at]) * error, error
        place = int(self.bends[bend])
        ran = float(self.months[-1] - self.months[place])
        error = float(self.hinge_errors[bend]) * ran
        return "trend", place, float(hinge[bend]) * error, error


def _contrasts(shapes: Floats, seasons: Whole, root: Floats) -> tuple[Floats, Floats, Whole]:
    """For each shape the row that turns estimates into the z of its size, each season with a level
    of its own; the standard errors of the sizes; and which shapes the rounds can tell at all."""
    number = shapes.shape[1]
    if not len(shapes):
        return np.zeros((0, number)), np.zeros(0), np.zeros(0, dtype=np.int64)
    levels = (seasons[:, None] == np.unique(seasons)[None, :]).astype(np.float64)
    level = np.linalg.solve(root, levels)
    shape = np.linalg.solve(root, shapes.T)
    basis, _ = np.linalg.qr(level)
    free = shape - basis @ (basis.T @ shape)
    length = np.sqrt((free**2).sum(axis=0))
    kept = np.flatnonzero(length > 1e-6 * np.sqrt((shape**2).sum(axis=0)))
    rows = np.linalg.solve(root.T, free[:, kept] / length[kept]).T
    return rows, 1 / length[kept], kept


def _at_least(flat: Floats, found: Floats) -> Floats:
    """The share of flat sites whose statistic is at least that, itself counted as one."""
    ordered = np.sort(flat)
    beyond = len(ordered) - np.searchsorted(ordered, found - 1e-9, side="left")
    return np.asarray((1 + beyond) / (len(ordered) + 1))
