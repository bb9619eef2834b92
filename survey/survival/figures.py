"""The figures of one group, from the lives of its trees: counts, curves, rates and their limits."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median

from survey.science.rates import annual_rate, constant_hazard
from survey.science.records import Spell, Spells
from survey.science.survival.competing import METHOD as SPLIT_METHOD
from survey.science.survival.competing import free_of_cause_at
from survey.science.survival.limits import METHOD as LOSS_METHOD
from survey.science.survival.limits import survival_at
from survey.science.survival.turnbull import Turnbull, turnbull
from survey.survival.spells import A_YEAR, DEATH, EXCLUSIONS, OTHER, STATUSES, Life

METHOD = "verified reading, interval-censored maximum likelihood, 400 draws (1)"
METHOD_IN_FULL = f"{LOSS_METHOD}. Death: {SPLIT_METHOD}."
SECOND_SUMMER = "second_summer"
MILESTONES = {SECOND_SUMMER: None, "12": 12.0, "24": 24.0, "36": 36.0, "60": 60.0}
DRAWS = 400
FEW = 5
START_WITH = 10
GRACE = 12  # months: a tree seen alive so shortly before an age is still under watch at it
BANDS = [(0.0, 12.0), (12.0, 24.0), (24.0, 36.0), (36.0, 60.0)]

TOO_FEW = "too_few"
NOT_OLD_ENOUGH = "not_old_enough"
NOT_SEEN = "not_seen"
NOT_WATCHED = "not_watched"


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


def work_out(trees: Sequence[Life], *, seed: int, as_of: date) -> Worked:
    """All that can be told of these trees. Same trees, same seed: the same numbers.

    Survival starts at planting if at least ten trees of the group were watched from then (five,
    where there are not ten); otherwise at the first age from which that many were, and `from_age`
    says which. A figure is withheld where fewer than five trees are under watch, where no tree is
    old enough, where nobody watched so early, and where no tree has been seen at that age although
    some may be alive.
    """
    counted = [life for life in trees if life.counts]
    counts = _counts(trees, counted, as_of)
    spells = Spells.of([life.spell for life in counted])
    fit = turnbull(spells) if len(counted) >= FEW else None
    start = fit and (fit.support(START_WITH) or fit.support(FEW))
    if fit is None or start is None:
        return Worked(
            counts | {"from_age": None},
            {},
            {},
            tuple(_withheld(counted, curve, name) for curve in CURVES for name in MILESTONES),
        )
    given = start.given
    until = _until(counted, given)
    counts |= {"from_age": given or 0.0, "until_age": until, "is_unique": fit.is_unique}
    counts |= _if_lost_were_gone(counted, given)
    ages = _asked(counted, until, given or 0.0)
    bounds: dict[str, dict] = {"loss": {}}
    for at in survival_at(fit, ages, seed=seed, draws=DRAWS, given=given):
        bounds["loss"][at.age] = (at.at_least, at.at_most, at.low, at.high)
    bounds[DEATH] = (
        _free_of_death(counted, ages, seed, given) if counts["other_losses"] else bounds["loss"]
    )
    return Worked(
        counts=counts,
        curves=_curves(counted, bounds, until, given or 0.0, bool(counts["other_losses"])),
        mortality=_mortality(fit, spells, counted, seed, given, until),
        figures=tuple(
            _figure(counted, curve, name, bounds[curve], given)
            for curve in CURVES
            for name in MILESTONES
        ),
    )


CURVES = ["loss", DEATH]


def under_watch(trees: Sequence[Life], age: float) -> int:
    """How many trees the curve rests on at an age.

    They came under watch before it, are old enough today, were not known to be lost by then, and
    were seen alive at that age, later, or within the twelve months before it.
    """
    return sum(
        (life.entry is None or life.entry < age)
        and life.age_now >= age
        and life.right > age
        and life.left >= age - GRACE
        for life in trees
    )


def _until(counted: Sequence[Life], given: float | None) -> float:
    """The last whole month of age that the sample carries."""
    age = given or 0.0
    while _why_withheld(counted, (age + 1, age + 1), given) == "":
        age += 1
    return age


def _why_withheld(counted: Sequence[Life], ages: tuple[float, float], given: float | None) -> str:
    least, most = ages
    if len(counted) < FEW:
        return TOO_FEW
    if not any(life.age_now >= most for life in counted):
        return NOT_OLD_ENOUGH
    if least <= (given or 0.0):
        return NOT_WATCHED
    open_stories = [life for life in counted if life.right == math.inf]
    if open_stories and not any(life.left >= most for life in counted):
        return NOT_SEEN
    if open_stories and under_watch(counted, most) < FEW:
        return TOO_FEW
    return ""


def _second(counted: Sequence[Life]) -> tuple[float, float]:
    least = min((life.second[0] for life in counted), default=0.0)
    return least, max((life.second[1] for life in counted), default=0.0)


def _ages_of(counted: Sequence[Life], milestone: str) -> tuple[float, float]:
    age = MILESTONES[milestone]
    return _second(counted) if age is None else (age, age)


def _asked(counted: Sequence[Life], until: float, start: float) -> list[float]:
    step = 1.0 if until - start <= 60 else 3.0
    ages = {start + step * n for n in range(int((until - start) // step) + 1)} | {until}
    for milestone in MILESTONES:
        ages |= set(_ages_of(counted, milestone))
    return sorted(ages)


def _known(counted: Sequence[Life], milestone: str) -> tuple[int, int, int]:
    """Trees old enough that are known alive, known lost, and neither, each at its own age."""
    alive = lost = unknown = 0
    fixed = MILESTONES[milestone]
    for life in counted:
        least, most = life.second if fixed is None else (fixed, fixed)
        if life.age_now < most:
            continue
        if life.right <= least:
            lost += 1
        elif life.left >= most:
            alive += 1
        else:
            unknown += 1
    return alive, lost, unknown


def _figure(
    counted: Sequence[Life], curve: str, milestone: str, bounds: dict, given: float | None
) -> Told:
    least, most = _ages_of(counted, milestone)
    if _why_withheld(counted, (least, most), given):
        return _withheld(counted, curve, milestone, given)
    at_least, _, low, _ = bounds[most]
    _, at_most, _, high = bounds[least]
    blank = _withheld(counted, curve, milestone, given)
    return Told(
        curve=curve,
        milestone=milestone,
        age=most,
        at_risk=blank.at_risk,
        events=blank.events,
        at_least=_share(at_least),
        at_most=_share(max(at_least, at_most)),
        low=_share(min(low, at_least)),
        high=_share(max(high, at_most, at_least)),
        alive=blank.alive,
        lost=blank.lost,
        unknown=blank.unknown,
        withheld="",
    )


def _withheld(
    counted: Sequence[Life], curve: str, milestone: str, given: float | None = None
) -> Told:
    ages = _ages_of(counted, milestone)
    alive, lost, unknown = _known(counted, milestone)
    wanted = [life for life in counted if curve != DEATH or life.cause != OTHER]
    return Told(
        curve=curve,
        milestone=milestone,
        age=ages[1],
        at_risk=under_watch(counted, ages[1]),
        events=sum(life.right <= ages[1] for life in wanted),
        at_least=None,
        at_most=None,
        low=None,
        high=None,
        alive=alive,
        lost=lost,
        unknown=unknown,
        withheld=_why_withheld(counted, ages, given) or TOO_FEW,
    )


def _share(value: float) -> float:
    """Six digits are more than any count of trees can tell, and are the same on every machine."""
    return round(min(1.0, max(0.0, value)), 6)


def _free_of_death(
    counted: Sequence[Life], ages: Sequence[float], seed: int, given: float | None
) -> dict:
    causes = [{DEATH: 1, OTHER: 2, "": 0}[life.cause] for life in counted]
    spells = [life.spell for life in counted]
    found = free_of_cause_at(spells, causes, ages, cause=1, seed=seed, given=given)
    return {at.age: (at.at_least, at.at_most, at.low, at.high) for at in found}


def _curves(counted: Sequence[Life], bounds: dict, until: float, start: float, apart: bool) -> dict:
    """The curves by age up to where the sample carries them, and the numbers under the axis."""
    drawn = {
        curve: [
            [age, *(_share(value) for value in bounds[curve][age])]
            for age in sorted(bounds[curve])
            if start <= age <= until and age == int(age)
        ]
        for curve in CURVES
        if curve == "loss" or apart
    }
    ticks = [age for age in range(0, 241, 6) if start <= age <= until]
    return drawn | {
        "under_watch": [
            [age, under_watch(counted, max(age, 0.5)), sum(life.right <= age for life in counted)]
            for age in ticks
        ],
        "second_summer": list(_second(counted)),
    }


def _mortality(
    fit: Turnbull,
    spells: Spells,
    counted: Sequence[Life],
    seed: int,
    given: float | None,
    until: float,
) -> dict:
    """Annual mortality (loss from any cause): over all ages watched, and year by year of age.

    One rate over all ages means little, because most losses come in the first years.
    """
    rate = constant_hazard(spells)
    bands = []
    for since, age in BANDS:
        if age > until or since < (given or 0.0) or _why_withheld(counted, (age, age), given):
            continue
        [at] = survival_at(fit, [age], seed=seed, draws=DRAWS // 2, given=since or given)
        years = (age - since) / 12
        bands.append(
            {
                "from": since,
                "to": age,
                "at_least": _share(annual_rate(at.at_most, years).annual_mortality),
                "at_most": _share(annual_rate(at.at_least, years).annual_mortality),
                "low": _share(annual_rate(at.high, years).annual_mortality),
                "high": _share(annual_rate(at.low, years).annual_mortality),
                "under_watch": under_watch(counted, age),
            }
        )
    overall = None
    if len(counted) >= FEW and math.isfinite(rate.per_month) and rate.watched_months > 0:
        overall = {
            "annual": _share(rate.annual_mortality),
            "low": _share(rate.annual_mortality_low),
            "high": _share(rate.annual_mortality_high),
            "losses": rate.deaths,
            "tree_years": round(rate.watched_months / 12, 1),
        }
    return {"overall": overall, "bands": bands}


def _counts(trees: Sequence[Life], counted: Sequence[Life], as_of: date) -> dict:
    statuses = Counter(life.status for life in trees)
    excluded = Counter(life.excluded for life in trees if life.excluded)
    gaps = [gap for life in counted for gap in life.gaps]
    standing = [life for life in counted if life.right == math.inf]
    unseen = [
        life for life in standing if life.last_seen is None or as_of - life.last_seen > A_YEAR
    ]
    newest = max((life.last_seen for life in trees if life.last_seen), default=None)
    return {
        "registered": len(trees),
        "in_rates": len(counted),
        "statuses": {status: statuses[status] for status in STATUSES},
        "in_rates_statuses": dict(sorted(Counter(life.status for life in counted).items())),
        "excluded": {reason: excluded[reason] for reason in EXCLUSIONS},
        "losses": len(counted) - len(standing),
        "other_losses": sum(life.cause == OTHER for life in counted),
        "late": sum(life.late for life in counted),
        "wide_dates": sum(life.wide_date for life in counted),
        "not_lost": len(standing),
        "unseen_over_a_year": len(unseen),
        "median_gap_days": int(median(gaps)) if gaps else None,
        "newest_look": newest.isoformat() if newest else None,
    }


def _if_lost_were_gone(counted: Sequence[Life], given: float | None) -> dict:
    """Second-summer survival if every tree lost from sight was lost within a month of its last
    look: the other bound."""
    if not any(life.status == "lost" for life in counted):
        return {}
    ages = _second(counted)
    if _why_withheld(counted, ages, given):
        return {}
    spells = []
    for life in counted:
        spell = life.spell
        if life.status == "lost":
            spell = Spell(spell.entry, spell.left, spell.left + 1)
        spells.append(spell)
    return {"if_lost_were_gone": _share(turnbull(spells).at_least(ages[1], given=given))}
