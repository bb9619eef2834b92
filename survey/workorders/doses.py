"""The dose of every line of an order: worked from the tree, the weather and what a person changed.

The sums are those of `survey.science.care`; here they get their numbers. What nobody typed comes
from the record, else from the figures of the trade, and `assumed` names what was taken for granted.
"""

import math
from collections.abc import Callable, Iterable, Mapping
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
from survey.science.care.facts import si
from survey.science.care.records import Buy, Dose, Impossible, NotGiven, Step
from survey.workorders.facts import Facts, Known, Sky
from survey.workorders.models import OrderLine, WorkOrder
from survey.workorders.sun_side import sides_at_risk

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
COAT_TO_M = 1.52  # 5 ft, as the handbook works it
FLUSH_M = 0.1524  # 6 in, common practice, no source

SUMMED = frozenset(
    {
        "ring_area",
        "ring_volume",
        "each_dose",
        "week_water",
        "basin_holds",
        "soil_volume",
        "coat_area",
        "coats_of_mix",
        "paint_volume",
        "water_in_mix",
        "product_for_rate",
        "nitrogen_wanted",
        "flush_water",
        "guard_length",
        "shoots_removed",
    }
)
"""Lines that add up over the trees of an order; a depth or a girth does not."""

OF_A_WORK_DAY = ("work_day_", "volume_with_settling")


@dataclass(frozen=True, slots=True)
class Worked:
    """One line of an order, worked: the dose or the refusal, or the measure that cannot be."""

    line: OrderLine
    facts: Facts
    uses: Mapping[str, Any]
    assumed: tuple[str, ...] = ()
    dose: Dose | NotGiven | None = None
    impossible: Impossible | None = None

    @property
    def given(self) -> Dose | None:
        """The dose, unless it is refused; an overruled refusal stays a refusal with its reason."""
        return self.dose if isinstance(self.dose, Dose) else None

    @property
    def refused(self) -> NotGiven | None:
        return self.dose if isinstance(self.dose, NotGiven) else None


@dataclass(frozen=True, slots=True)
class CareDose:
    """One kind of care on an order: every line worked, and what they come to together."""

    care: str
    lines: tuple[Worked, ...]
    rules: tuple[presets.Watering, ...] = ()

    @property
    def doses(self) -> list[Worked]:
        return [worked for worked in self.lines if worked.given is not None]

    @property
    def example(self) -> Worked | None:
        """The tree whose sum is shown in full: the one with the middle trunk."""
        given = sorted(self.doses, key=lambda worked: (trunk_of(worked), worked.line.pk))
        return given[(len(given) - 1) // 2] if given else None

    def together(self, code: str) -> float | None:
        """The sum of a worked line over all trees that get it; None where it does not add up."""
        if code not in SUMMED:
            return None
        return math.fsum(
            step.value
            for worked in self.doses
            if worked.given
            for step in worked.given.steps
            if step.code == code
        )

    @property
    def buys(self) -> tuple[Buy, ...]:
        """Exact amounts for all trees, one for each thing."""
        added: dict[tuple[str, str], float] = {}
        for worked in self.doses:
            for buy in worked.given.buys if worked.given else ():
                key = (buy.code, buy.unit)
                added[key] = added.get(key, 0.0) + buy.value
        return tuple(Buy(code, value, unit) for (code, unit), value in added.items())


def trunk_of(worked: Worked) -> float:
    return float(worked.uses.get("girth") or 0.0)


@dataclass(slots=True)
class _Case:
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


def _water(case: _Case) -> Dose | NotGiven:
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


def rules_for(case: _Case) -> tuple[presets.Watering, ...]:
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


def _mulch(case: _Case) -> Dose | NotGiven:
    return _without_work_day(
        ground.mulch_ring(
            outer_radius_m=case.take("outer_radius", si("mulch_radius")),
            trunk_radius_m=case.girth() / (2 * math.pi),
            depth_m=case.take("depth", si("mulch_depth")),
            gap_m=case.take("gap", si("mulch_gap")),
            found=case.found("waterlogged_soil", "crown_rot", "dry_ball"),
        )
    )


def _turf(case: _Case) -> Dose | NotGiven:
    return _without_work_day(
        ground.turf_ring(
            outer_radius_m=case.take("outer_radius", si("turf_radius")),
            trunk_radius_m=case.girth() / (2 * math.pi),
            found=case.found("waterlogged_soil"),
        )
    )


def _compost(case: _Case) -> Dose | NotGiven:
    return _without_work_day(
        ground.compost(
            outer_radius_m=case.take("outer_radius", si("mulch_radius")),
            trunk_radius_m=case.girth() / (2 * math.pi),
            depth_m=case.take("depth", si("compost_depth")),
            gap_m=case.take("gap", si("mulch_gap")),
            found=case.found("root_rot", "dry_ball"),
        )
    )


def _berm(case: _Case) -> Dose | NotGiven:
    return _without_work_day(
        ground.berm(
            radius_m=case.take("radius", si("berm_radius")),
            height_m=case.take("berm_height", si("berm_height")),
            built=case.day,
            found=case.found("root_rot"),
        )
    )


def _coat(case: _Case) -> Dose | NotGiven:
    tree = case.facts.tree
    latitude = tree.latitude if tree.latitude is not None else case.order.area.latitude
    sides = case.take("sides", None, else_=list(sides_at_risk(latitude))) or list(
        sides_at_risk(latitude)
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


def _guard(case: _Case) -> Dose:
    return _without_work_day(
        guard.trunk_guard(
            trunk_diameter_m=case.girth() / math.pi, snow_m=case.take("snow", None, else_=0.0)
        )
    )


def _feed(case: _Case) -> Dose | NotGiven:
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


def _shoots(case: _Case) -> Dose:
    counts = {
        name: int(case.take(name, None, else_=0))
        for name in ("from_root", "from_base", "below_graft")
    }
    species = case.facts.species
    said = case.take("grafted", "unknown" if species and species.often_grafted else "no")
    grafted = {"yes": True, "no": False}.get(said)
    lost = case.facts.lost
    case.uses["bark_lost"] = lost.high if lost else None
    return shoots.low_shoots(
        shoots.shoots_counted(**counts),
        bark_lost_share=lost.high if lost else None,
        grafted=grafted,
        top_dead=bool(case.take("top_dead", None, else_=False)),
        poor_crown=case.facts.condition == "failing",
    )


def _ties(case: _Case) -> Dose:
    return stakes.stake_days(case.facts.tree.planted_to, case.order.area.hemisphere)


def _flush(case: _Case) -> Dose | NotGiven:
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


def _bark(case: _Case) -> Dose | NotGiven | None:
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


WORKED: dict[str, Callable[[_Case], Dose | NotGiven | None]] = {
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


def doses_of(order: WorkOrder, lines: Iterable[OrderLine], record: Known) -> dict[str, CareDose]:
    """Every line of an order worked for the day it is planned for, or for today, by care.

    `lines` come with their trees; `record` holds what is known of these. No question is asked.
    """
    lines = list(lines)
    day = order.planned_for or max(order.window_from, record.today)
    sky = record.sky(day)
    watered = {line.tree_id for line in lines if line.care == "water"}
    found: dict[str, list[Worked]] = {}
    rules: dict[str, tuple[presets.Watering, ...]] = {}
    for line in lines:
        facts = record.facts[line.tree_id]
        case = _Case(line, facts, sky, day, line.tree_id in watered, order)
        worked = _worked(case)
        found.setdefault(line.care, []).append(worked)
    doses = {}
    for care, all_worked in found.items():
        dose = CareDose(care, tuple(all_worked))
        example = dose.example
        if care == "water" and example is not None:
            case = _Case(example.line, example.facts, sky, day, True, order, dict(example.uses))
            rules[care] = rules_for(case)
            dose = CareDose(care, tuple(all_worked), rules[care])
        doses[care] = dose
    return doses


def _worked(case: _Case) -> Worked:
    sum_of = WORKED.get(case.line.care)
    dose, impossible = None, None
    if sum_of is not None:
        try:
            dose = sum_of(case)
        except Impossible as error:
            impossible = error
    assumed = tuple(dict.fromkeys(case.assumed))
    return Worked(case.line, case.facts, case.uses, assumed, dose, impossible)
