"""Save, watch or replace: what follows from a tree's state, its bark and its place, with reasons.

The order of the rules is an own rule of this project; each reason names what it rests on
(`grounds`). None of it is a rating of danger.
"""

from dataclasses import dataclass
from datetime import date
from typing import Literal, TypeAlias

from survey.science.saving.facts import Line, Need, State
from survey.science.wounds.outlook import BANDS, Band, Outlook

Verdict: TypeAlias = Literal["nothing_to_do", "save", "watch", "replace"]

STOCK_ACROSS_IN = 2.0  # a usual street tree at planting, measured across (own rule)
YEARS_AN_INCH = (0.25, 1.0)  # to establish: 3 months (Florida) to a year (cold places) an inch
SMALL_ACROSS_M = 0.0508
YOUNG_DAYS = 3 * 365


@dataclass(frozen=True, slots=True)
class Place:
    """What else the choice needs. `cause_goes_on` None: not known. Months as they fall here.

    `flush_on` is the first flush to come after the wound was seen; None when it is over.
    """

    day: date
    planted_from: date
    planted_to: date
    bark: Outlook | None = None
    cause_goes_on: bool | None = None
    condition: Literal["", "thriving", "holding", "slipping", "failing", "dead"] = ""
    trunk_across_m: float | None = None
    grafted: bool | None = None
    planting_months: frozenset[int] = frozenset()
    flush_on: date | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """What to do, why, and what is still needed; with the years that replacing would cost."""

    verdict: Verdict
    reasons: tuple[Line, ...]
    needs: tuple[Need, ...]
    years_lost: tuple[float, float]
    plant_from: date | None


def choose(state: State, place: Place) -> Choice:
    """Save, watch or replace. Only a dead tree, a trunk bare all round, a failing crown on half
    the bark or less, or a dead top on a graft is to be replaced."""
    verdict, reasons, needs = _verdict(state, place)
    lost = years_lost(place.planted_from, place.planted_to, place.day)
    plant_from = None
    if verdict in ("save", "watch"):
        reasons += _cause(place)
    if verdict != "nothing_to_do":
        reasons.append(Line("years_lost", number=lost[0], to_number=lost[1]))
    if verdict == "replace":
        plant_from = next_planting(place.day, place.planting_months)
        if plant_from is not None:
            reasons.append(Line("plant_window", day=plant_from))
        if place.cause_goes_on:
            reasons.append(Line("cause_before_new_tree"))
    return Choice(verdict, tuple(reasons), tuple(needs), lost, plant_from)


def _verdict(state: State, place: Place) -> tuple[Verdict, list[Line], list[Need]]:
    if state.name == "gone":
        return "nothing_to_do", [Line("no_tree_here")], []
    if state.name == "dead":
        return "replace", [Line("dead_is_replaced")], []
    if state.name == "top_dead":
        return _shoots(place)
    if state.name in ("asleep", "cannot_tell"):
        return "watch", [Line("wait_before_choosing")], []
    return _alive(place)


def _shoots(place: Place) -> tuple[Verdict, list[Line], list[Need]]:
    if place.grafted is None:
        return "watch", [Line("graft_not_known")], [Need("find_graft", place.day, trained=True)]
    if place.grafted:
        return "replace", [Line("shoots_are_rootstock")], []
    return "save", [Line("keep_low_shoots")], []


def _alive(place: Place) -> tuple[Verdict, list[Line], list[Need]]:
    bark = place.bark
    if bark is None or bark.high == "none":
        return _by_crown(place)
    reasons = [_bark_line(bark)]
    if bark.worse:
        reasons.append(Line("one_band_worse"))
    if bark.delayed:
        reasons.append(Line("green_with_girdle"))
    if _spans(bark):
        reasons.append(Line("share_not_sure"))
        return "watch", reasons, [Need("tape_the_wound", place.day, trained=True)]
    if bark.low == "all_round":
        return "replace", [*reasons, _graft_line(place)], []
    if bark.adjusted_high == "half_or_more":
        if place.condition == "failing":
            return "replace", [*reasons, Line("crown_failing")], []
        if place.flush_on is None:
            again = Need("tape_the_wound", place.day, trained=True)
            return "watch", [*reasons, Line("flush_is_over")], [again]
        return "watch", [*reasons, Line("decide_after_flush", day=place.flush_on)], []
    if place.condition == "failing":
        return "watch", [*reasons, Line("crown_failing")], []
    return "save", reasons, []


def _by_crown(place: Place) -> tuple[Verdict, list[Line], list[Need]]:
    if place.condition == "failing":
        return "watch", [Line("crown_failing")], []
    if place.condition == "slipping":
        return "save", [Line("crown_slipping")], []
    return "nothing_to_do", [Line("nothing_against_it")], []


def _spans(bark: Outlook) -> bool:
    """Whether the two ends of the range would lead to different choices."""
    last = BANDS.index("half_or_more")
    ends: tuple[Band, Band] = (bark.adjusted_low, bark.adjusted_high)
    steps = [max(0, BANDS.index(end) - last + 1) for end in ends]
    return steps[0] != steps[1]


def _bark_line(bark: Outlook) -> Line:
    """The band as sourced; where it is a range, its worse end."""
    return Line(f"bark_{bark.high}")


def _graft_line(place: Place) -> Line:
    """Very young or small girdled trees are replaced; a bridge graft is for valued ones."""
    small = place.trunk_across_m is not None and place.trunk_across_m < SMALL_ACROSS_M
    young = (place.day - place.planted_from).days < YOUNG_DAYS
    return Line("too_young_to_graft") if small or young else Line("bridge_graft")


def _cause(place: Place) -> list[Line]:
    if place.cause_goes_on:
        return [Line("stop_cause_first")]
    wounded = place.bark is not None and place.bark.high != "none"
    return [Line("cause_not_known")] if place.cause_goes_on is None and wounded else []


def years_lost(planted_from: date, planted_to: date, day: date) -> tuple[float, float]:
    """Years that a new tree needs to be where this one is (own rule of this project).

    The years this one has stood, plus establishing again: a quarter of a year to a year for each
    inch across, two inches at planting.
    """
    if planted_from > day or planted_to < planted_from:
        raise ValueError("planting days lie in order and not after the day")
    least = max(0, (day - min(planted_to, day)).days) / 365.25
    most = (day - planted_from).days / 365.25
    fast, slow = (years * STOCK_ACROSS_IN for years in YEARS_AN_INCH)
    return least + fast, most + slow


def next_planting(day: date, months: frozenset[int]) -> date | None:
    """The first day from `day` on in a planting month; None where no month is named."""
    if not months:
        return None
    while day.month not in months:
        day = date(day.year + day.month // 12, day.month % 12 + 1, 1)
    return day
