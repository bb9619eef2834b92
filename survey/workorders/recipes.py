"""How each kind of care is worked from a tree: the numbers that the sums of the trade are given.

Every number that is asked for is written down, with whether anybody knows it.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from survey.science.care import (
    coat,
    feeding,
    ground,
    guard,
    presets,
    shoots,
    stakes,
    stems,
    watering,
)
from survey.science.care.coat import sunny_sides
from survey.science.care.facts import si
from survey.science.care.records import Buy, Dose, NotGiven, Step
from survey.workorders.facts import Facts, Sky
from survey.workorders.models import OrderLine, WorkOrder

DAYS_IN_MONTH = 30.436875
TRUNK_M = 0.0508  # 2 in: the usual size at planting, common practice, no source
CANOPY_M = 1.524  # 5 ft, own rule of this project, for a crown that nobody measured
PLANT_FACTORS = {
    "very_low": 0.05,
    "low": 0.2,
    "low_to_moderate": 0.35,
    "moderate": 0.5,
    "moderate_to_high": 0.7,
    "high": 0.85,
}
"""The middle of each class of water use; bands differ by agency (see the handbook's disputes)."""
COAT_TO_M = 1.524  # 5 ft, as the handbook works it
FLUSH_M = 0.1524  # 6 in, common practice, no source

OF_A_WORK_DAY = ("work_day_", "volume_with_settling")


@dataclass(slots=True)
class Case:
    """What one dose is worked from; every number that is asked for is written down."""

    line: OrderLine
    facts: Facts
    sky: Sky
    day: date
    waters: bool
    order: WorkOrder
    uses: dict[str, Any] = field(default_factory=dict)
    assumed: list[str] = field(default_factory=list)

    def take(self, name: str, known: Any, *, else_: Any = None) -> Any:
        """What a person typed; else what the record knows; else the usual figure, as assumed."""
        value = self.line.inputs.get(name)
        if value is None:
            value = known
        if value is None:
            value = else_
            self.assumed.append(name)
        self.uses[name] = value
        return value

    def girth(self) -> float:
        round_each = self.facts.girths_m
        known = None
        if round_each and len(round_each) >= self.facts.tree.stems:
            widths = [girth / math.pi for girth in round_each.values()]
            known = stems.together(widths).value * math.pi if len(widths) > 1 else None
            known = known or next(iter(round_each.values()))
        return float(self.take("girth", known, else_=TRUNK_M * math.pi))

    def found(self, *codes: str) -> list[str]:
        """Which of these facts the record knows of the tree."""
        facts, ball = self.facts, self.facts.ball
        so = {
            "dry_ball": ball == "dry" and not self.waters,
            "wet_ball": ball == "wet",
            "waterlogged_soil": ball == "wet",
            "root_rot": facts.may_rot,
            "crown_rot": facts.may_rot,
            "thirsty": facts.is_thirsty,
            "salt": bool(facts.clues.get("test_found_salt")),
            "after_weed_killer": bool(facts.clues.get("sprayed_lately")),
        }
        return [code for code in codes if so[code]]


def _water(case: Case) -> Dose | NotGiven:
    girth = case.girth()
    canopy = case.take("canopy_diameter", None, else_=CANOPY_M)
    species = case.facts.species
    use = species.water_use if species else None
    factor = case.take(
        "plant_factor", PLANT_FACTORS.get(use or ""), else_=PLANT_FACTORS["moderate"]
    )
    eto = case.take("eto", case.sky.eto_m, else_=0.0)
    rain = case.take("rain", case.sky.rain_m, else_=0.0)
    by = case.take("by", "hand")
    need = watering.weekly_need(
        eto_m_per_week=eto,
        plant_factor=factor,
        canopy_diameter_m=canopy,
        by=by,
        rain_m_per_week=rain,
    )
    caliper = girth / math.pi
    rules = rules_for(case)
    preset = next((rule for rule in rules if rule.code == case.uses["preset"]), None)
    found = case.found("wet_ball", "root_rot")
    dose = watering.water(
        caliper_m=caliper,
        need_m3_per_week=need["weekly_need"].value,
        preset=preset,
        by=by,
        found=found,
    )
    if isinstance(dose, NotGiven):
        return dose
    whole = _without_work_day(dose)
    return Dose("water", need.steps + whole.steps, whole.buys, notes=whole.notes)


def rules_for(case: Case) -> tuple[presets.Watering, ...]:
    """What each source says for this tree now, side by side. The town's usual one comes by climate:
    own rule of this project."""
    usual = {"dry_summer": "california", "warm": "florida"}.get(case.order.area.climate, "georgia")
    code = case.take("preset", usual)
    days = max(0, (case.day - case.facts.tree.planted_to).days)
    rules = presets.establishment(
        case.girth() / math.pi, days, area_m2=math.pi * case.uses["canopy_diameter"] ** 2 / 4
    )
    if code not in {rule.code for rule in rules}:
        case.uses["preset"] = None
    return rules


def _mulch(case: Case) -> Dose | NotGiven:
    return _without_work_day(
        ground.mulch_ring(
            outer_radius_m=case.take("outer_radius", si("mulch_radius")),
            trunk_radius_m=case.girth() / (2 * math.pi),
            depth_m=case.take("depth", si("mulch_depth")),
            gap_m=case.take("gap", si("mulch_gap")),
            found=case.found("waterlogged_soil", "crown_rot", "dry_ball"),
        )
    )


def _turf(case: Case) -> Dose | NotGiven:
    return _without_work_day(
        ground.turf_ring(
            outer_radius_m=case.take("outer_radius", si("turf_radius")),
            trunk_radius_m=case.girth() / (2 * math.pi),
            found=case.found("waterlogged_soil"),
        )
    )


def _compost(case: Case) -> Dose | NotGiven:
    return _without_work_day(
        ground.compost(
            outer_radius_m=case.take("outer_radius", si("mulch_radius")),
            trunk_radius_m=case.girth() / (2 * math.pi),
            depth_m=case.take("depth", si("compost_depth")),
            gap_m=case.take("gap", si("mulch_gap")),
            found=case.found("root_rot", "dry_ball"),
        )
    )


def _berm(case: Case) -> Dose | NotGiven:
    return _without_work_day(
        ground.berm(
            radius_m=case.take("radius", si("berm_radius")),
            height_m=case.take("berm_height", si("berm_height")),
            built=case.day,
            found=case.found("root_rot"),
        )
    )


def _coat(case: Case) -> Dose | NotGiven:
    tree = case.facts.tree
    latitude = tree.latitude if tree.latitude is not None else case.order.area.latitude
    sides = case.take("sides", None, else_=list(sunny_sides(latitude))) or list(
        sunny_sides(latitude)
    )
    case.uses["sides"] = sides
    wounds = [
        coat.Wound(row.width_m, row.length_m, row.low_edge_m or 0.0)
        for row in case.facts.wounds
        if row.width_m and row.length_m
    ]
    species = case.facts.species
    of_bark = {"green_photosynthetic": "green_bark", "peeling": "peeling_bark"}
    found = [of_bark[species.bark]] if species and species.bark in of_bark else []
    times = case.take("coats", 1)
    dose = coat.trunk_coat(
        base_diameter_m=case.girth() / math.pi,
        from_height_m=case.take("from_m", 0.0),
        to_height_m=case.take("to_m", COAT_TO_M),
        sides=sides,
        wounds=wounds,
        newly_planted=case.facts.age_months(case.day) < 12,
        coats=times,
        product=case.take("paint", "interior_latex"),
        bark_damaged="bark_sunken" in case.facts.signs,
        on=case.day,
        found=found,
    )
    if isinstance(dose, NotGiven):
        return dose
    steps = []
    for step in _without_work_day(dose).steps:
        if step.code == "slant":
            continue  # a trunk taken as upright all the way: the same as its height
        steps.append(step)
        if step.code == "mix_volume":
            uses = (("coats", float(times), "count"), ("mix_volume", step.value, "m3"))
            steps.append(Step("coats_of_mix", step.value * times, "m3", uses))
    return Dose(dose.care, tuple(steps), dose.buys, dose.dates, dose.notes)


def _guard(case: Case) -> Dose:
    return _without_work_day(
        guard.trunk_guard(
            trunk_diameter_m=case.girth() / math.pi, snow_m=case.take("snow", None, else_=0.0)
        )
    )


def _feed(case: Case) -> Dose | NotGiven:
    months = case.facts.age_months(case.day)
    found = case.found("thirsty", "root_rot", "wet_ball", "salt", "after_weed_killer")
    years = months * DAYS_IN_MONTH / 365.2425
    reasons = feeding.refusals(years_planted=years, found=found)
    case.take("soil_test", "")
    numbers = [case.take(name, None) for name in ("nitrogen", "phosphate", "potash")]
    if reasons:
        return NotGiven("fertilize", reasons)
    if any(number is None for number in numbers):
        return NotGiven("fertilize", ("label_not_typed",))
    quick = not case.take("slow_release", False)
    rate = case.take("rate", si("nitrogen_quick") if quick else si("nitrogen_low"))
    return _without_work_day(
        feeding.feed(
            bag=feeding.label(*numbers),
            rate_kg_m2=rate,
            root_zone_radius_m=case.take("root_zone_radius", si("mulch_radius")),
            quick_release=quick,
            soil_test=bool(case.uses["soil_test"]),
            years_planted=years,
            found=found,
        )
    )


def _shoots(case: Case) -> Dose:
    counts = {
        name: int(case.take(name, None, else_=0))
        for name in ("from_root", "from_base", "below_graft")
    }
    species = case.facts.species
    said = case.take("grafted", "unknown" if species and species.often_grafted else "no")
    grafted = {"yes": True, "no": False}.get(said)
    lost = case.facts.lost
    case.uses["bark_lost"] = lost.high if lost else None
    dose = shoots.low_shoots(
        shoots.shoots_counted(**counts),
        bark_lost_share=lost.high if lost else None,
        grafted=grafted,
        top_dead=bool(case.take("top_dead", None, else_=False)),
        poor_crown=case.facts.condition == "failing",
    )
    if not any(name in case.line.inputs for name in counts):
        # What nobody counted is no nought, and a sum of noughts says that none may be taken off.
        return Dose(dose.care, (), notes=("count_shoots_first", *dose.notes))
    return dose


def _ties(case: Case) -> Dose:
    return stakes.stake_days(case.facts.tree.planted_to, case.order.area.hemisphere)


def _flush(case: Case) -> Dose | NotGiven:
    ring = ground.turf_ring(
        outer_radius_m=case.take("outer_radius", si("mulch_radius")),
        trunk_radius_m=case.girth() / (2 * math.pi),
    )
    found = case.found("wet_ball", "root_rot")
    if found or isinstance(ring, NotGiven):
        return NotGiven("flush_soil", tuple(found))
    depth = case.take("depth", FLUSH_M)
    area = ring["ring_area"]
    volume = area.value * depth
    uses = (("ring_area", area.value, "m2"), ("depth", depth, "m"))
    steps = (ring["inner_radius"], area, Step("flush_water", volume, "m3", uses))
    return Dose("flush_soil", steps, (Buy("water", volume, "m3"),), notes=("in_slow_passes",))


def _bark(case: Case) -> Dose | NotGiven | None:
    widest = max(
        (row for row in case.facts.wounds if row.width_m and row.girth_m),
        key=lambda row: row.width_m / row.girth_m,
        default=None,
    )
    if widest is None:
        return None
    return shoots.trim_loose_bark(
        who="trained", lost_width_m=widest.width_m, girth_m=widest.girth_m
    )


WORKED: dict[str, Callable[[Case], Dose | NotGiven | None]] = {
    "water": _water,
    "mulch_ring": _mulch,
    "turf_back": _turf,
    "compost": _compost,
    "berm": _berm,
    "whitewash": _coat,
    "trunk_guard": _guard,
    "fertilize": _feed,
    "remove_suckers": _shoots,
    "keep_low_shoots": _shoots,
    "remove_ties": _ties,
    "flush_soil": _flush,
    "trim_loose_bark": _bark,
}
"""Kinds of care with a sum; the others are given in the handbook's words alone."""


def _without_work_day(dose: Dose | NotGiven) -> Any:
    """The lines of one tree: those of a work day are added up over the order's own trees."""
    if isinstance(dose, NotGiven):
        return dose
    steps = tuple(step for step in dose.steps if not step.code.startswith(OF_A_WORK_DAY))
    buys = tuple(buy for buy in dose.buys if not buy.code.endswith("_each"))
    return Dose(dose.care, steps, buys, dose.dates, dose.notes)
