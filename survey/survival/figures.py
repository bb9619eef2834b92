"""The figures of one group, from the fates of its trees: counts, curves, rates and their limits."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from survey.science.rates import annual_rate, constant_hazard, two_count_mortality
from survey.science.records import Spells
from survey.science.survival.competing import METHOD as SPLIT_METHOD
from survey.science.survival.competing import Competing, competing_of_columns, free_of_cause_at
from survey.science.survival.limits import METHOD as LOSS_METHOD
from survey.science.survival.limits import SurvivalAt, survival_between
from survey.science.survival.turnbull import turnbull
from survey.survival.fates import OUTCOMES, Columns, Fates
from survey.survival.spells import EXCLUSIONS, REMOVED_OTHER, STATUSES

METHOD = "verified reading, interval-censored maximum likelihood, profile limits (2)"
METHOD_IN_FULL = f"{LOSS_METHOD}. Death: {SPLIT_METHOD}."
SECOND_SUMMER = "second_summer"
MILESTONES = {SECOND_SUMMER: None, "12": 12.0, "24": 24.0, "36": 36.0, "60": 60.0}
CURVES = ["loss", "death"]
FEW = 5
START_WITH = 10
GRACE = 12  # months: a tree seen alive so shortly before an age is still under watch at it
BANDS = [(0.0, 12.0), (12.0, 24.0), (24.0, 36.0), (36.0, 60.0)]

TOO_FEW = "too_few"
NOT_OLD_ENOUGH = "not_old_enough"
NOT_SEEN = "not_seen"
NOT_WATCHED = "not_watched"

_OTHER = 1 + OUTCOMES.index(REMOVED_OTHER)


@dataclass(frozen=True, slots=True)
class Told:
    """One figure: of those alive at the start, the share standing (or not dead) at an age."""

    curve: str
    milestone: str
    age: float
    at_risk: int
    events: int
    at_least: float | None
    at_most: float | None
    low: float | None
    high: float | None
    alive: int
    lost: int
    unknown: int
    withheld: str


@dataclass(frozen=True, slots=True)
class Worked:
    """Everything that is told of a group."""

    counts: dict
    curves: dict
    mortality: dict
    figures: tuple[Told, ...]


def work_out(fates: Fates) -> Worked:
    """All that can be told of these trees. The same trees give the same numbers.

    Survival starts at planting if at least ten trees of the group were watched from then (five,
    where there are not ten); otherwise at the first age from which that many were, and `from_age`
    says which. A figure is withheld where fewer than five trees are under watch, where no tree is
    old enough, where nobody watched so early, and where no tree has been seen at that age although
    some may be alive.
    """
    trees = fates.in_rates
    counts = _counts(fates)
    spells = trees.spells()
    fit = turnbull(spells) if trees.trees >= FEW else None
    start = fit and (fit.support(START_WITH) or fit.support(FEW))
    if fit is None or start is None:
        return Worked(
            counts | {"from_age": None},
            {},
            {},
            tuple(_withheld(trees, curve, name) for curve in CURVES for name in MILESTONES),
        )
    given = start.given
    until = _until(trees, given)
    counts |= {"from_age": given or 0.0, "until_age": until, "is_unique": fit.is_unique}
    counts |= _if_lost_were_gone(trees, given)
    ages = _asked(trees, until, given or 0.0)
    bands = [
        (since, age)
        for since, age in BANDS
        if age <= until and since >= (given or 0.0) and not _why_withheld(trees, (age, age), given)
    ]
    windows = [*((given, age) for age in ages), *((since or given, age) for since, age in bands)]
    found = survival_between(fit, windows)
    bounds: dict[str, dict] = {
        "loss": {at.age: (at.at_least, at.at_most, at.low, at.high) for at in found[: len(ages)]}
    }
    split = _split(trees)
    apart = bool(counts["other_losses"])
    bounds["death"] = _free_of_death(split, ages, given) if split and apart else bounds["loss"]
    return Worked(
        counts=counts,
        curves=_curves(trees, bounds, until, given, split),
        mortality=_mortality(spells, trees, bands, found[len(ages) :]),
        figures=tuple(
            _figure(trees, curve, name, bounds[curve], given)
            for curve in CURVES
            for name in MILESTONES
        ),
    )


def under_watch(trees: Columns, age: float) -> int:
    """How many trees the curve rests on at an age.

    They came under watch before it, are old enough today, were not known to be lost by then, and
    were seen alive at that age, later, or within the twelve months before it.
    """
    return trees.of(
        (trees.entry < age)
        & (trees.age_now >= age)
        & (trees.right > age)
        & (trees.left >= age - GRACE)
    )


def _until(trees: Columns, given: float | None) -> float:
    """The last whole month of age that the sample carries."""
    age = given or 0.0
    while _why_withheld(trees, (age + 1, age + 1), given) == "":
        age += 1
    return age


def _why_withheld(trees: Columns, ages: tuple[float, float], given: float | None) -> str:
    least, most = ages
    if trees.trees < FEW:
        return TOO_FEW
    if not (trees.age_now >= most).any():
        return NOT_OLD_ENOUGH
    if least <= (given or 0.0):
        return NOT_WATCHED
    if trees.stands.any():
        if not (trees.left >= most).any():
            return NOT_SEEN
        if under_watch(trees, most) < FEW:
            return TOO_FEW
    return ""


def _second(trees: Columns) -> tuple[float, float]:
    if not len(trees.count):
        return 0.0, 0.0
    return float(trees.second_least.min()), float(trees.second_most.max())


def _ages_of(trees: Columns, milestone: str) -> tuple[float, float]:
    age = MILESTONES[milestone]
    return _second(trees) if age is None else (age, age)


def _asked(trees: Columns, until: float, start: float) -> list[float]:
    step = 1.0 if until - start <= 60 else 3.0
    ages = {start + step * n for n in range(int((until - start) // step) + 1)} | {until}
    for milestone in MILESTONES:
        ages |= set(_ages_of(trees, milestone))
    return sorted(ages)


def _known(trees: Columns, milestone: str) -> tuple[int, int, int]:
    """Trees old enough that are known alive, known lost, and neither, each at its own age."""
    fixed = MILESTONES[milestone]
    least = trees.second_least if fixed is None else np.full(len(trees.count), fixed)
    most = trees.second_most if fixed is None else least
    old = trees.age_now >= most
    lost = old & (trees.right <= least)
    alive = old & ~lost & (trees.left >= most)
    return trees.of(alive), trees.of(lost), trees.of(old & ~lost & ~alive)


def _figure(trees: Columns, curve: str, milestone: str, bounds: dict, given: float | None) -> Told:
    blank = _withheld(trees, curve, milestone, given)
    least, most = _ages_of(trees, milestone)
    if _why_withheld(trees, (least, most), given):
        return blank
    at_least, _, low, _ = bounds[most]
    _, at_most, _, high = bounds[least]
    return replace(
        blank,
        at_least=share_told(at_least),
        at_most=share_told(max(at_least, at_most)),
        low=share_told(min(low, at_least)),
        high=share_told(max(high, at_most, at_least)),
        withheld="",
    )


def _withheld(trees: Columns, curve: str, milestone: str, given: float | None = None) -> Told:
    ages = _ages_of(trees, milestone)
    alive, lost, unknown = _known(trees, milestone)
    ended = trees.right <= ages[1]
    if curve == "death":
        ended &= trees.outcome != _OTHER
    return Told(
        curve=curve,
        milestone=milestone,
        age=ages[1],
        at_risk=under_watch(trees, ages[1]),
        events=trees.of(ended),
        at_least=None,
        at_most=None,
        low=None,
        high=None,
        alive=alive,
        lost=lost,
        unknown=unknown,
        withheld=_why_withheld(trees, ages, given) or TOO_FEW,
    )


def share_told(value: float) -> float:
    """Six digits are more than any count of trees can tell, and are the same on every machine."""
    return round(min(1.0, max(0.0, value)), 6)


def _split(trees: Columns) -> Competing | None:
    """The curve split by outcome; None where all losses are of one kind."""
    if len(np.unique(trees.outcome[trees.outcome > 0])) < 2:
        return None
    return competing_of_columns(
        entry=trees.entry,
        left=trees.left,
        right=trees.right,
        cause=trees.outcome,
        count=trees.count,
    )


def _free_of_death(
    split: Competing, ages: Sequence[float], given: float | None
) -> dict[float, tuple[float, float, float, float]]:
    deaths = [number for number in range(1, len(OUTCOMES) + 1) if number != _OTHER]
    found = free_of_cause_at(split, ages, causes=deaths, given=given)
    return {at.age: (at.at_least, at.at_most, at.low, at.high) for at in found}


def _curves(
    trees: Columns, bounds: dict, until: float, given: float | None, split: Competing | None
) -> dict:
    """The curves by age up to where the sample carries them, and the numbers under the axis."""
    start = given or 0.0
    drawn: dict[str, object] = {
        curve: [
            [age, *(share_told(value) for value in bounds[curve][age])]
            for age in sorted(bounds[curve])
            if start <= age <= until and age == int(age)
        ]
        for curve in CURVES
        if curve == "loss" or (trees.outcome == _OTHER).any()
    }
    if split is not None:
        drawn["causes"] = _by_outcome(trees, split, [row[0] for row in drawn["loss"]], given)
    ticks = [age for age in range(0, 241, 6) if start <= age <= until]
    return drawn | {
        "under_watch": [
            [age, under_watch(trees, max(age, 0.5)), trees.of(trees.right <= age)] for age in ticks
        ],
        "second_summer": list(_second(trees)),
    }


def _by_outcome(
    trees: Columns, split: Competing, ages: Sequence[float], given: float | None
) -> dict[str, list]:
    """How many of all trees had come to each end by each age: the least and the most it can be.

    Together with those still standing they make up all trees at every age.
    """
    return {
        name: [
            [
                age,
                share_told(split.at_least(number, age=age, given=given)),
                share_told(split.at_most(number, age=age, given=given)),
            ]
            for age in ages
        ]
        for number, name in enumerate(OUTCOMES, start=1)
        if (trees.outcome == number).any()
    }


def _mortality(
    spells: Spells,
    trees: Columns,
    bands: Sequence[tuple[float, float]],
    found: Sequence[SurvivalAt],
) -> dict:
    """Annual mortality (loss from any cause): over all ages watched, and year by year of age.

    One rate over all ages means little, because most losses come in the first years. `two_count` is
    the textbook formula on those of the trees whose fate at the second summer is known.
    """
    told = []
    for (since, age), at in zip(bands, found, strict=True):
        years = (age - since) / 12
        told.append(
            {
                "from": since,
                "to": age,
                "at_least": share_told(annual_rate(at.at_most, years).annual_mortality),
                "at_most": share_told(annual_rate(at.at_least, years).annual_mortality),
                "low": share_told(annual_rate(at.high, years).annual_mortality),
                "high": share_told(annual_rate(at.low, years).annual_mortality),
                "under_watch": under_watch(trees, age),
            }
        )
    return {"overall": _overall(spells), "bands": told, "two_count": _two_count(trees)}


def _overall(spells: Spells) -> dict | None:
    """The most likely hazard, if it never changed, as a yearly share and as a half-life."""
    rate = constant_hazard(spells)
    if not math.isfinite(rate.per_month) or rate.watched_months <= 0:
        return None
    return {
        "annual": share_told(rate.annual_mortality),
        "low": share_told(rate.annual_mortality_low),
        "high": share_told(rate.annual_mortality_high),
        "half_life_years": _half_life(rate.per_month),
        "half_life_low": _half_life(rate.high),
        "half_life_high": _half_life(rate.low),
        "losses": rate.deaths,
        "tree_years": round(rate.watched_months / 12, 1),
    }


def _half_life(per_month: float) -> float | None:
    """Years until half are lost; None when nothing says that it ever happens."""
    return round(math.log(2) / (12 * per_month), 2) if per_month > 0 else None


def _two_count(trees: Columns) -> dict | None:
    alive, lost, _ = _known(trees, SECOND_SUMMER)
    years = _second(trees)[1] / 12
    if alive + lost < FEW or years <= 0:
        return None
    told = two_count_mortality(alive + lost, alive, years)
    return {
        "trees": alive + lost,
        "alive": alive,
        "years": round(years, 2),
        "annual": share_told(told.rate.annual_mortality),
        "low": share_told(told.low),
        "high": share_told(told.high),
    }


def _counts(fates: Fates) -> dict:
    trees = fates.in_rates
    statuses, excluded = fates.count_by("status"), fates.count_by("excluded")
    return {
        "registered": fates.trees,
        "in_rates": trees.trees,
        "statuses": {status: statuses[status] for status in STATUSES},
        "in_rates_statuses": dict(sorted(fates.count_by("status", in_rates=True).items())),
        "excluded": {reason: excluded[reason] for reason in EXCLUSIONS},
        "losses": trees.of(~trees.stands),
        "other_losses": trees.of(trees.outcome == _OTHER),
        "late": trees.of(trees.is_late),
        "wide_dates": trees.of(trees.is_wide),
        "not_lost": trees.of(trees.stands),
        "unseen_over_a_year": trees.of(trees.is_unseen),
        "median_gap_days": fates.median_gap(),
        "newest_look": fates.newest.isoformat() if fates.newest else None,
    }


def _if_lost_were_gone(trees: Columns, given: float | None) -> dict:
    """Second-summer survival if every tree lost from sight was lost within a month of its last
    look: the other bound."""
    ages = _second(trees)
    if not trees.is_lost_from_sight.any() or _why_withheld(trees, ages, given):
        return {}
    spells = Spells.from_columns(
        entry=trees.entry,
        left=trees.left,
        right=np.where(trees.is_lost_from_sight, trees.left + 1, trees.right),
        count=trees.count,
    )
    return {"if_lost_were_gone": share_told(turnbull(spells).at_least(ages[1], given=given))}
