"""A worked line in words and signs, in the reader's units: "27.5 sq ft × 0.25 ft".

Each line of a dose has a name and a working. Operands stand in braces; after a colon comes how one
is read: `n` without its unit, `long` in feet or meters, `feet` so without the unit, `short` in
inches or centimeters, `week` of one week, `exact` of one week to the hundredth.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext, ngettext_lazy, pgettext_lazy

from survey.science import units
from survey.science.care.records import Buy, Step

UNIT_SAID: dict[str, Any] = {
    "m": pgettext_lazy("unit", "m"),
    "cm": pgettext_lazy("unit", "cm"),
    "mm": pgettext_lazy("unit", "mm"),
    "ft": pgettext_lazy("unit", "ft"),
    "in": pgettext_lazy("unit", "in"),
    "m2": pgettext_lazy("unit", "m²"),
    "cm2": pgettext_lazy("unit", "cm²"),
    "ft2": pgettext_lazy("unit", "sq ft"),
    "m3": pgettext_lazy("unit", "m³"),
    "ft3": pgettext_lazy("unit", "cu ft"),
    "yd3": pgettext_lazy("unit", "cu yd"),
    "L": pgettext_lazy("unit", "L"),
    "mL": pgettext_lazy("unit", "mL"),
    "gal": pgettext_lazy("unit", "gal"),
    "qt": pgettext_lazy("unit", "qt"),
    "fl_oz": pgettext_lazy("unit", "fl oz"),
    "kg": pgettext_lazy("unit", "kg"),
    "g": pgettext_lazy("unit", "g"),
    "lb": pgettext_lazy("unit", "lb"),
    "oz": pgettext_lazy("unit", "oz"),
    "kg/m2": pgettext_lazy("unit", "kg/m²"),
    "g/m2": pgettext_lazy("unit", "g/m²"),
    "lb/1000ft2": pgettext_lazy("unit", "lb per 1,000 sq ft"),
    "gal/in": pgettext_lazy("unit", "gal an inch"),
    "L/cm": pgettext_lazy("unit", "L a centimeter"),
    "ft2/gal": pgettext_lazy("unit", "sq ft a gallon"),
    "m2/L": pgettext_lazy("unit", "m² a liter"),
    "in/week": pgettext_lazy("unit", "in a week"),
    "mm/week": pgettext_lazy("unit", "mm a week"),
    "gal/week": pgettext_lazy("unit", "gal a week"),
    "L/week": pgettext_lazy("unit", "L a week"),
    "percent": pgettext_lazy("unit", "%"),
    "in2": pgettext_lazy("unit", "sq in"),
    "in/year": pgettext_lazy("unit", "in a year"),
    "mm/year": pgettext_lazy("unit", "mm a year"),
    "gal/year": pgettext_lazy("unit", "gal a year"),
    "L/year": pgettext_lazy("unit", "L a year"),
    "week": pgettext_lazy("unit", "weeks"),
    "day": pgettext_lazy("unit", "days"),
    "year": pgettext_lazy("unit", "years"),
    "degree": pgettext_lazy("unit", "°"),
    "m3/h": pgettext_lazy("unit", "m³ an hour"),
    "L/h": pgettext_lazy("unit", "L an hour"),
    "gal/h": pgettext_lazy("unit", "gal an hour"),
    "month": pgettext_lazy("unit", "months"),
    "h": pgettext_lazy("unit", "hours"),
    "month/in": pgettext_lazy("unit", "months an inch"),
    "month/cm": pgettext_lazy("unit", "months a centimeter"),
    "gal/in/ft2": pgettext_lazy("unit", "gal for an inch on a square foot"),
    "L/mm/m2": pgettext_lazy("unit", "L for a millimeter on a square meter"),
    "degF": pgettext_lazy("unit", "°F"),
    "degC": pgettext_lazy("unit", "°C"),
    "count": "",
    "1": "",
    "share": "",
}

PACKAGES: dict[str, Any] = {
    "bag_2ft3": ngettext_lazy("%(n)s bag of 2 cu ft", "%(n)s bags of 2 cu ft", "count"),
    "bag_1ft3": ngettext_lazy("%(n)s bag of 1 cu ft", "%(n)s bags of 1 cu ft", "count"),
    "bag_50L": ngettext_lazy("%(n)s bag of 50 L", "%(n)s bags of 50 L", "count"),
    "bag_25L": ngettext_lazy("%(n)s bag of 25 L", "%(n)s bags of 25 L", "count"),
    "quart_can": ngettext_lazy("%(n)s can of 1 quart", "%(n)s cans of 1 quart", "count"),
    "gallon_can": ngettext_lazy("%(n)s can of 1 gallon", "%(n)s cans of 1 gallon", "count"),
    "can_1L": ngettext_lazy("%(n)s can of 1 L", "%(n)s cans of 1 L", "count"),
    "can_5L": ngettext_lazy("%(n)s can of 5 L", "%(n)s cans of 5 L", "count"),
}

LINES: dict[str, tuple[Any, Any]] = {
    "inner_radius": (
        lazy("Bare gap, from the middle"),
        lazy("half the trunk {trunk_radius} + clear bark {gap}"),
    ),
    "ring_area": (lazy("Area"), "π × ({outer_radius:feet}² − {inner_radius:feet}²)"),
    "ring_volume": (lazy("Volume, {depth} deep"), "{ring_area} × {depth:long}"),
    "canopy_area": (lazy("Ground under the crown"), "π × {canopy_diameter:feet}² ÷ 4"),
    "asked_water": (
        lazy("What the air takes, a week"),
        lazy("{eto:week} × {plant_factor:n} × {canopy_area} of crown{factor} ÷ {efficiency:n}"),
    ),
    "rain_water": (lazy("Less what the rain gave"), "{rain:week} × {canopy_area}{factor}"),
    "weekly_need": (lazy("Left to give"), "{asked_water:exact} − {rain_water:exact}"),
    "week_water": (
        lazy("The larger, a week"),
        lazy("left to give {need:week}; by the rule for young trees {preset:week}"),
    ),
    "ball_holds": (
        lazy("What the root ball holds at most"),
        lazy("trunk {caliper} × {ball_holds_high}"),
    ),
    "ball_surely_holds": (
        lazy("What it holds in any case"),
        lazy("trunk {caliper} × {ball_holds_low}"),
    ),
    "doses_a_week": (
        lazy("Visits a week"),
        lazy("{week_water:week} in visits of at most {ball_holds}, at least {least:n}"),
    ),
    "each_dose": (lazy("Water at each visit"), "{week_water:week} ÷ {doses_a_week:n}"),
    "buckets": (lazy("In buckets"), lazy("{each_dose} in buckets of {bucket}")),
    "run_time": (lazy("Drip runs, each time"), "{each_dose} ÷ {flow}"),
    "months_to_water": (
        lazy("To be watered for"),
        lazy("the longer of {least} and, by size, {by_size} × {caliper}"),
    ),
    "settled_depth": (lazy("Left after the first season"), "{depth} × (1 − {settles_by})"),
    "missing_depth": (lazy("Missing"), "{depth} − {settled_depth}"),
    "top_up_volume": (
        lazy("Chips to top up"),
        "{trees:n} × {ring_area} × {missing_depth:long}",
    ),
    "basin_floor": (lazy("Floor of the basin"), "π × {radius:feet}²"),
    "basin_holds": (lazy("Water it holds"), "{basin_floor} × {berm_height:long}{cubic}"),
    "berm_width": (lazy("Foot of the wall"), "{berm_foot:n} × {berm_height}"),
    "soil_volume": (
        lazy("Soil to bring"),
        "π × (2 × {radius:long} + {berm_width:long}) × {berm_width:long} × {berm_height:long} ÷ 2",
    ),
    "coat_height": (
        lazy("Height of the coat"),
        lazy("{to_height} − {from_height} + {below_soil} below the soil"),
    ),
    "bark_area": (lazy("Bark, all round"), "π × {base_diameter:long} × {slant:long}"),
    "coat_area": (
        lazy("Bark to coat"),
        lazy("{bark_area} × {arc} of the way round − {left_out} for wound and rim"),
    ),
    "mix_volume": (lazy("Mix for one coat"), "{coat_area} ÷ {coverage}"),
    "coats_of_mix": (lazy("Mix for all coats"), "{coats:n} × {mix_volume}"),
    "paint_volume": (
        lazy("Paint in it"),
        lazy("{work_day_mix}, paint {paint:n} to water {water:n}"),
    ),
    "water_in_mix": (
        lazy("Water in it"),
        lazy("{work_day_mix}, paint {paint:n} to water {water:n}"),
    ),
    "tie_above_upright_point": (
        lazy("Tie, above the point where the top springs upright"),
        "{springs_upright_at} + {tie_above_upright}",
    ),
    "tie_third": (lazy("Tie, at a third of the height"), "{height} ÷ 3"),
    "tie_two_thirds": (lazy("Tie, at two thirds of the height"), "2 × {height} ÷ 3"),
    "may_still_cut": (
        lazy("Leaves that may still be cut this season"),
        "{limit} − {cut_this_season}",
    ),
    "southern_limit": (lazy("A southern program teaches less than"), ""),
    "guard_diameter": (
        lazy("Across the guard"),
        lazy("trunk {trunk_diameter} + 2 × {guard_clear}"),
    ),
    "guard_length": (lazy("Wire cloth, long"), "π × {guard_diameter:long} + {guard_overlap:long}"),
    "guard_height": (
        lazy("Wire cloth, high"),
        lazy("{guard_in_soil} in the soil + snow {snow} + {guard_above_snow}"),
    ),
    "root_zone": (lazy("Root zone"), "π × {root_zone_radius:feet}²"),
    "root_zone_measured": (lazy("Ground it fell on"), lazy("as typed")),
    "nitrogen_wanted": (lazy("Nitrogen wanted"), "{rate} × {area}"),
    "product_for_rate": (lazy("Product"), "{nitrogen_wanted} ÷ {nitrogen_share}"),
    "portion": (lazy("At a time"), lazy("{product_for_rate} in {portions:n} portions")),
    "year_rate": (lazy("Nitrogen in this year"), lazy("{rate} + earlier {given_this_year}")),
    "product": (lazy("What was used"), "{bag_mass} × {used_share}"),
    "nitrogen": (lazy("Nitrogen (N)"), "{product} × {nitrogen_share}"),
    "phosphate": (lazy("Phosphate (P₂O₅)"), "{product} × {phosphate_share}"),
    "phosphorus": (lazy("of it phosphorus (P)"), "{phosphate} × {phosphorus_of_phosphate:n}"),
    "potash": (lazy("Potash (K₂O)"), "{product} × {potash_share}"),
    "potassium": (lazy("of it potassium (K)"), "{potash} × {potassium_of_potash:n}"),
    "nitrogen_rate": (lazy("Nitrogen by area"), "{nitrogen} ÷ {area}"),
    "shoots_kept_least": (lazy("Low shoots that stay, at least"), lazy("{suckers:n} counted")),
    "shoots_kept_most": (lazy("Low shoots that stay, at most"), lazy("{suckers:n} counted")),
    "shoots_removed": (lazy("Low shoots to take off"), "{suckers:n} − {kept:n}"),
    "flush_water": (lazy("Water over the ring"), "{ring_area} × {depth:long}{cubic}"),
    "girdled_share": (lazy("Bark lost round it"), "{wound_width} ÷ {girth}"),
    "enlarged_by": (lazy("Wider than before by"), "{width_after} − {wound_width}"),
    "diameter": (lazy("Across the trunk"), "{girth} ÷ π"),
    "girth": (lazy("Round the trunk"), "π × {diameter}"),
    "dbh": (lazy("All stems as one"), lazy("root of the sum of the squares")),
    "zone_water": (
        lazy("Plants watered alike"),
        "{eto} × {etaf:n} × {area}{factor}",
    ),
    "estimated_water": (lazy("Water in a year"), lazy("all of them together")),
    "allowed_water": (
        lazy("Water allowed in a year"),
        "{eto} × ({etaf:n} × {area} + (1 − {etaf:n}) × {special_area}){factor}",
    ),
    "no_wider_than": (lazy("Not wider afterwards than"), lazy("as measured")),
}

SMALL_MASS = {
    "nitrogen_wanted", "product_for_rate", "portion", "nitrogen", "phosphate", "phosphorus",
    "potash", "potassium",
}  # fmt: skip
READ_AS = {
    "inner_radius": "gap",
    "coats_of_mix": "mix_volume",
    "work_day_mix": "mix_volume",
    "trunk_diameter": "diameter",
    "guard_height": "diameter",
    "snow": "depth",
}
"""Lines that are read in the unit of another: a bare gap in inches, whatever it is counted from."""
CUBIC_YARD_M3 = 0.764554857984


def amount(value: float, unit: str) -> str:
    """A number with its unit, to three figures: "27.5 sq ft", "0.25 ft", "13"."""
    number = plain(value)
    if unit in PACKAGES:
        return str(PACKAGES[unit] % {"count": math.ceil(value), "n": number})
    said = UNIT_SAID[unit]
    if unit == "percent":
        return f"{number}{said}"
    return f"{number} {said}" if said else number


def plain(value: float) -> str:
    """A number to three figures, without zeros that say nothing, in the reader's own writing."""
    if value == 0:
        return "0"
    digits = max(0, 2 - math.floor(math.log10(abs(value))))
    rounded = round(value, min(digits, 4))
    text = f"{rounded:.{min(digits, 4)}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    decimals = len(text.partition(".")[2])
    return number_format(text, decimal_pos=decimals, use_l10n=True, force_grouping=True)


@dataclass(frozen=True, slots=True)
class _Operand:
    """One operand inside a working; the part after the colon says how it is read."""

    name: str
    value: float
    unit: str
    system: units.System

    def __format__(self, how: str) -> str:
        if how == "n":
            return plain(self.value)
        if how == "exact":
            # What is taken from each other is told to the hundredth, so that the line adds up.
            shown = units.shown(self.value, self.unit, self.system, name=self.name)
            said = UNIT_SAID[shown.unit.removesuffix("/week")]
            return f"{number_format(round(shown.value, 2), 2, force_grouping=True)} {said}"
        if how == "week":
            shown = units.shown(self.value, self.unit, self.system, name=self.name)
            return amount(shown.value, shown.unit.removesuffix("/week"))
        if how == "feet":
            unit = "ft" if self.system == "us" else "m"
            return plain(units.convert(self.value, self.unit, unit))
        if how in ("long", "short"):
            pairs = {"long": ("ft", "m"), "short": ("in", "cm")}[how]
            unit = pairs[self.system != "us"]
            return amount(units.convert(self.value, self.unit, unit), unit)
        return in_reader_units(self.name, self.value, self.unit, self.system)


def in_reader_units(name: str, value: float, unit: str, system: units.System) -> str:
    """An SI value of a line or operand as the reader says it."""
    if unit not in units.UNITS:
        return amount(value, unit)
    name = READ_AS.get(name, name)
    if unit == "kg" and name in SMALL_MASS and value < units.convert(1, "lb", "kg"):
        to = "oz" if system == "us" else "g"
        return amount(units.convert(value, "kg", to), to)
    shown = units.shown(value, unit, system, name=name)
    if shown.unit == "ft3" and value >= CUBIC_YARD_M3:
        return amount(units.convert(value, "m3", "yd3"), "yd3")
    if shown.unit == "fl_oz" and shown.value >= 64:
        return amount(units.convert(value, "m3", "gal"), "gal")
    if shown.unit == "mL" and shown.value >= 2000:
        return amount(shown.value / 1000, "L")
    return amount(shown.value, shown.unit)


def _in_buckets(step: Step, system: units.System) -> str:
    """Full buckets and what is poured from one more: "1 bucket and 1.55 gal"."""
    size = next((value for name, value, _unit in step.uses if name == "bucket"), None)
    if size is None or step.value <= 0:
        return plain(step.value)
    full = math.floor(step.value + 1e-6)
    rest = max(0.0, step.value - full) * size
    shown = units.shown(rest, "m3", system, name="bucket")
    words = {"n": full, "rest": amount(shown.value, shown.unit)}
    if rest < size * 0.01:
        return ngettext("%(n)d bucket", "%(n)d buckets", full) % words
    if not full:
        return _("%(rest)s of one bucket") % words
    return ngettext("%(n)d bucket and %(rest)s", "%(n)d buckets and %(rest)s", full) % words


def _factor(step: Step, system: units.System) -> str:
    """What the formula takes an inch on a square foot, or a millimeter on a square meter, for."""
    for name, value, unit in step.uses:
        if name == "regulation_factor":
            return f" × {plain(units.shown(value, unit, system, name=name).value)}"
    return ""


@dataclass(frozen=True, slots=True)
class Told:
    """A worked line as a page prints it; `value` is SI, and `total` is for all trees or ""."""

    code: str
    name: str
    working: str
    one: str
    total: str
    value: float
    unit: str


def told(step: Step, system: units.System, *, together: float | None = None) -> Told:
    """A worked line in words, signs and the reader's units."""
    name, working = LINES.get(step.code, (step.code.replace("_", " "), ""))
    operands: dict[str, Any] = {
        use: _Operand(use, value, unit, system) for use, value, unit in step.uses
    }
    # A gallon is no cubic foot and an inch on a square foot is no gallon: what it takes is shown.
    operands["factor"] = _factor(step, system)
    operands["cubic"] = " × 7.48" if system == "us" else " × 1000"
    return Told(
        code=step.code,
        name=str(name).format_map(operands),
        working=str(working).format_map(operands),
        one=_in_buckets(step, system)
        if step.code == "buckets"
        else in_reader_units(step.code, step.value, step.unit, system),
        total="" if together is None else in_reader_units(step.code, together, step.unit, system),
        value=step.value,
        unit=step.unit,
    )


BUY_SAID: dict[str, Any] = {
    "chips": lazy("Wood chips"),
    "compost": lazy("Ripe compost"),
    "soil": lazy("Soil"),
    "paint": lazy("White latex, new"),
    "water": lazy("Water"),
    "fertilizer": lazy("Fertilizer"),
    "wire_cloth": lazy("Wire cloth"),
}


def shopping_said(buys: Iterable[Buy], system: units.System) -> list[tuple[str, str]]:
    """What to bring, as people buy it: ("Wood chips", "3.6 cu yd, or 49 bags of 2 cu ft")."""
    lines = []
    for buy in buys:
        sizes = [size for size in units.shopping((buy,), system) if size.value > 0]
        if not sizes:
            continue
        best, *others = _by_the_handful(sizes)
        said = amount(best.value, best.unit)
        if others:
            words = {"one": said, "other": amount(others[0].value, others[0].unit)}
            said = _("%(one)s, or %(other)s") % words
        lines.append((str(BUY_SAID.get(buy.code, buy.code)), said))
    return lines


def _by_the_handful(sizes: list[Buy]) -> list[Buy]:
    """The size that is easiest to handle first: bags up to a dozen, bulk beyond."""
    if len(sizes) == 2 and sizes[0].value > 12:
        return [sizes[1], sizes[0]]
    return sizes
