"""What is stored of a group, read once: the table and the chart of its page are both made of it.

The other reading, with all evidence weighed, is a row of its own; it may not be there yet. Three
parts of a group's row may be missing, and the page does well without them. Their shapes:

- `group.pooled`: `{"town_age": …, "figures": {milestone: {"share", "low", "high"}}, "own_share":
  0..1}`. The planting's survival leaning on its species, its site and the town; `own_share` is how
  much of it comes from the planting's own trees. It stands beside the raw estimate.
- `group.forecast`: `{"trees": n, "milestone": "second_summer" | "60", "age": months, "by":
  "2028-09-30", "stand": mid, "low": n, "high": n, "path": [[age, share, low, high], …],
  "replacements": [low, high]}`. `trees` counts those alive when last seen; `path` begins where the
  looks end, and its shares are of the same trees as those of the curve.
- `group.curves["causes"]`: `{"died" | "removed_health" | "removed_other": [[age, at_least,
  at_most], …]}`. Of all trees, the share that had come to this end by an age; only where trees
  were removed alive.

`group.curves` holds `loss` and, where trees were removed for other reasons, `death` as [age,
at_least, at_most, low, high]; `under_watch` as [age, trees, lost so far]; and `second_summer`, the
least and the greatest age at its end.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from survey.survival.both import begin_alike, differ, other_reading
from survey.survival.figures import MILESTONES, NOT_OLD_ENOUGH, SECOND_SUMMER
from survey.survival.models import Figure, Group
from survey.trees.models import Planting

Bounds = tuple[tuple[float, float, float], ...]

OUTCOMES = ("died", "removed_health", "removed_other")


@dataclass(frozen=True, slots=True)
class Row:
    """One age in the table: the rate, as shares from 0 to 1 or None, and the count.

    `town` is *at least* of all trees of the same year; `age` the greatest where trees differ, and
    `from_age` the least.
    """

    milestone: str
    from_age: float
    age: float
    watched: int
    alive: int
    lost: int
    unknown: int
    withheld: str
    at_least: float | None
    at_most: float | None
    low: float | None
    high: float | None
    not_dead: float | None
    not_dead_most: float | None
    town: float | None = None

    @property
    def chosen(self) -> bool:
        return self.milestone == SECOND_SUMMER

    @property
    def old(self) -> int:
        """Trees that are old enough by now, whatever is known of them."""
        return self.alive + self.lost + self.unknown


@dataclass(frozen=True, slots=True)
class Leaning:
    """A figure that leans on the town's record, of such trees: share, low, high."""

    milestone: str
    share: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """How many of the trees alive when last seen still stand on a day, if nothing changes."""

    trees: int
    milestone: str
    age: float
    by: date
    stand: int
    low: int
    high: int
    path: tuple[tuple[float, float, float, float], ...]
    replacements: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Outcome:
    """One way to be lost: its trees, and its share of all such trees by `age` where told."""

    name: str
    trees: int
    age: float | None = None
    at_least: float | None = None
    at_most: float | None = None


@dataclass(frozen=True, slots=True)
class Rate:
    """A figure of the reading with all evidence weighed; None where it is withheld, with why."""

    milestone: str
    share: float | None
    low: float | None
    high: float | None
    not_dead: float | None
    withheld: str
    differs: bool


@dataclass(frozen=True, slots=True)
class Weighed:
    """The same trees with all evidence weighed, as far as ages go that the page tells.

    `line` is (age, share, low, high); `uprights` those at the ages of `rates`.
    """

    group: Group
    rates: tuple[Rate, ...]
    line: tuple[tuple[float, float, float, float], ...]
    uprights: tuple[tuple[float, float, float, float], ...]

    def at(self, milestone: str) -> Rate:
        return next(rate for rate in self.rates if rate.milestone == milestone)


@dataclass(frozen=True, slots=True)
class Reading:
    """A group as its page tells it. `curve`, `death` and `town` are (age, at least, at most)."""

    group: Group
    rows: tuple[Row, ...]
    curve: Bounds
    band: Bounds
    death: Bounds
    under_watch: tuple[tuple[float, int, int], ...]
    second_ages: tuple[float, float] | None
    outcomes: tuple[Outcome, ...]
    leaning: tuple[Leaning, ...]
    own_share: float | None
    forecast: Forecast | None
    planted: date | None
    year: Group | None
    town: Bounds
    weighed: Weighed | None

    @property
    def second(self) -> Row:
        """The row of the second summer, told or withheld."""
        return next(row for row in self.rows if row.chosen)

    def is_far_off(self, row: Row) -> bool:
        """Nothing can be told of this age yet, because no tree has reached it."""
        return row.withheld == NOT_OLD_ENOUGH and not row.chosen

    @property
    def told(self) -> Row | None:
        """The row that the sentence tells: the second summer, or the latest age that can be."""
        if not self.second.withheld:
            return self.second
        return next((row for row in reversed(self.rows) if not row.withheld), None)


def read(group: Group) -> Reading:
    """The reading of one group, with the trees of its year beside it where it is a planting."""
    planting = _planting(group)
    year = _year(group, planting) if planting else None
    rows = rows_of(group, year)
    curves = group.curves
    loss = curves.get("loss", ())
    until = loss[-1][0] if loss else 0.0
    second = curves.get("second_summer")
    pooled = getattr(group, "pooled", None) or {}
    return Reading(
        group=group,
        rows=rows,
        curve=_bounds(loss),
        band=_band(loss),
        death=_bounds(curves.get("death", ())),
        under_watch=tuple((age, n, lost) for age, n, lost in curves.get("under_watch", ())),
        second_ages=(second[0], second[1]) if second else None,
        outcomes=_outcomes(group),
        leaning=_leaning(pooled),
        own_share=pooled.get("own_share"),
        forecast=_forecast(getattr(group, "forecast", None) or {}),
        planted=_one_month(planting),
        year=year,
        town=_bounds([row for row in year.curves["loss"] if row[0] <= until]) if year else (),
        weighed=weighed_of(group, other_reading(group)),
    )


def weighed_of(group: Group, other: Group | None) -> Weighed | None:
    """The other reading of a group; its line goes as far as the verified curve does."""
    if other is None:
        return None
    loss = group.curves.get("loss", ())
    until = loss[-1][0] if loss else 0.0
    alike = begin_alike(group, other)
    own = {(figure.curve, figure.milestone): figure for figure in group.figures.all()}
    told = {(figure.curve, figure.milestone): figure for figure in other.figures.all()}
    rates = tuple(
        Rate(
            milestone=name,
            share=told["loss", name].at_least,
            low=told["loss", name].low,
            high=told["loss", name].high,
            not_dead=told["death", name].at_least,
            withheld=told["loss", name].withheld,
            differs=alike and differ(own["loss", name], told["loss", name]),
        )
        for name in MILESTONES
    )
    drawn = other.curves.get("loss", ()) if alike else ()
    line = tuple((row[0], row[1], row[3], row[4]) for row in drawn if row[0] <= until)
    ages = {name: told["loss", name].age_months for name in MILESTONES}
    uprights = (
        (ages[rate.milestone], rate.share, rate.low, rate.high)
        for rate in rates
        if alike and rate.share is not None and ages[rate.milestone] <= until
    )
    return Weighed(other, rates, line, tuple(sorted(uprights)))


def rows_of(group: Group, year: Group | None = None) -> tuple[Row, ...]:
    """The rows of the table in order of age; the chart's dot stands on one of them."""
    figures = {(figure.curve, figure.milestone): figure for figure in group.figures.all()}
    beside = {}
    if year is not None:
        beside = {f.milestone: f.at_least for f in year.figures.all() if f.curve == "loss"}
    least = group.curves.get("second_summer", [None])[0]
    rows = [
        _row(figures["loss", name], figures["death", name], least, beside.get(name))
        for name in MILESTONES
    ]
    return tuple(sorted(rows, key=lambda row: (row.age, not row.chosen)))


def _row(loss: Figure, death: Figure, least: float | None, town: float | None) -> Row:
    second = loss.milestone == SECOND_SUMMER and least is not None
    return Row(
        milestone=loss.milestone,
        from_age=float(least) if second and least is not None else loss.age_months,
        age=loss.age_months,
        watched=loss.at_risk,
        alive=loss.count_alive,
        lost=loss.count_lost,
        unknown=loss.count_unknown,
        withheld=loss.withheld,
        at_least=loss.at_least,
        at_most=loss.at_most,
        low=loss.low,
        high=loss.high,
        not_dead=death.at_least,
        not_dead_most=death.at_most,
        town=None if loss.withheld else town,
    )


def _bounds(rows: Sequence[Sequence[float]]) -> Bounds:
    return tuple((row[0], row[1], row[2]) for row in rows)


def _band(loss: Sequence[Sequence[float]]) -> Bounds:
    """The limits by age. At the first age all trees stand by definition: there is no doubt."""
    rows = tuple((age, low, high) for age, _, _, low, high in loss)
    return ((rows[0][0], 1.0, 1.0), *rows[1:]) if rows else ()


def _planting(group: Group) -> Planting | None:
    if group.by != Group.By.PLANTING:
        return None
    return Planting.objects.filter(area=group.area, ref=group.key).first()


def _one_month(planting: Planting | None) -> date | None:
    """The month of planting, where it is known that well and is one."""
    if planting is None:
        return None
    first, last = planting.planted_from, planting.planted_to
    return first if (first.year, first.month) == (last.year, last.month) else None


def _year(group: Group, planting: Planting) -> Group | None:
    """All trees planted in the same year, if there are others and both begin at planting."""
    if planting.planted_from.year != planting.planted_to.year:
        return None
    found = (
        Group.objects.filter(area=group.area, by="year", key=str(planting.planted_from.year))
        .verified()
        .prefetch_related("figures")
        .first()
    )
    if found is None or not found.curves.get("loss") or not group.curves.get("loss"):
        return None
    if found.counts["in_rates"] <= group.counts["in_rates"]:
        return None
    if found.counts.get("from_age") or group.counts.get("from_age"):
        return None
    return found


def _outcomes(group: Group) -> tuple[Outcome, ...]:
    """Every way in which trees were lost; `gone` and standing dead both died."""
    statuses = group.counts["statuses"]
    counts = {
        "died": statuses["standing_dead"] + statuses["gone"],
        "removed_health": statuses["removed_health"],
        "removed_other": statuses["removed_other"],
    }
    causes: Mapping[str, Sequence[Sequence[float]]] = group.curves.get("causes", {})
    found = []
    for name in OUTCOMES:
        rows = causes.get(name, ())
        last = rows[-1] if rows else (None, None, None)
        if counts[name]:
            found.append(Outcome(name, counts[name], *last))
    return tuple(found)


def _leaning(pooled: Mapping) -> tuple[Leaning, ...]:
    figures = pooled.get("figures", {})
    return tuple(
        Leaning(name, figures[name]["share"], figures[name]["low"], figures[name]["high"])
        for name in MILESTONES
        if name in figures
    )


def _forecast(told: Mapping) -> Forecast | None:
    if not told or not told.get("trees"):
        return None
    low, high = told["replacements"]
    return Forecast(
        trees=told["trees"],
        milestone=told["milestone"],
        age=told["age"],
        by=date.fromisoformat(told["by"]),
        stand=round(told["stand"]),
        low=told["low"],
        high=told["high"],
        path=tuple((row[0], row[1], row[2], row[3]) for row in told.get("path", ())),
        replacements=(low, high),
    )
