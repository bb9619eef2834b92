"""SI to the reader's units and back, and rounding the way people measure and buy.

Sizes of units come from one strict `pint` registry; a conversion between things that differ in
kind (a length to a volume) is refused. Everything here names units by the short keys of `UNITS`.
"""

import math
from dataclasses import dataclass, replace
from typing import Literal

import pint

from survey.science.care.records import Buy, Dose, Impossible, Step, Use, number

System = Literal["us", "metric"]

# short name -> how pint spells it. Base units of the same kind share a dimension.
UNITS = {
    "1": "dimensionless",
    "share": "dimensionless",
    "percent": "percent",
    "count": "dimensionless",
    "m": "meter",
    "cm": "centimeter",
    "mm": "millimeter",
    "ft": "foot",
    "in": "inch",
    "m2": "meter**2",
    "cm2": "centimeter**2",
    "ft2": "foot**2",
    "in2": "inch**2",
    "m3": "meter**3",
    "L": "liter",
    "mL": "milliliter",
    "ft3": "foot**3",
    "yd3": "yard**3",
    "gal": "gallon",
    "qt": "quart",
    "fl_oz": "fluid_ounce",
    "kg": "kilogram",
    "g": "gram",
    "lb": "pound",
    "oz": "ounce",
    "kg/m2": "kilogram/meter**2",
    "g/m2": "gram/meter**2",
    "lb/1000ft2": "pound/(1000*foot**2)",
    "m3/m": "meter**3/meter",
    "L/cm": "liter/centimeter",
    "gal/in": "gallon/inch",
    "m2/m3": "meter**2/meter**3",
    "m2/L": "meter**2/liter",
    "ft2/gal": "foot**2/gallon",
    "m/week": "meter/week",
    "mm/week": "millimeter/week",
    "in/week": "inch/week",
    "m/year": "meter/year",
    "mm/year": "millimeter/year",
    "in/year": "inch/year",
    "m3/week": "meter**3/week",
    "L/week": "liter/week",
    "gal/week": "gallon/week",
    "m3/year": "meter**3/year",
    "L/year": "liter/year",
    "gal/year": "gallon/year",
    "water": "meter**3/(meter*meter**2)",  # volume for a depth on an area: 1, and the rule's 0.62
    "L/mm/m2": "liter/(millimeter*meter**2)",
    "gal/in/ft2": "gallon/(inch*foot**2)",
    "1/week": "1/week",
    "month/m": "month/meter",
    "month/cm": "month/centimeter",
    "month/in": "month/inch",
    "day": "day",
    "week": "week",
    "month": "month",
    "year": "year",
    "h": "hour",
    "m3/h": "meter**3/hour",
    "L/h": "liter/hour",
    "gal/h": "gallon/hour",
    "degree": "degree",
    "degC": "delta_degC",
    "degF": "delta_degF",
}

_registry: pint.UnitRegistry[float] = pint.UnitRegistry()
_one = {name: 1.0 * _registry.Quantity(spelled) for name, spelled in UNITS.items()}
_size = {name: float(one.to_base_units().magnitude) for name, one in _one.items()}
_kind = {name: str(one.dimensionality) for name, one in _one.items()}

# What an SI unit is read in: (US, metric).
_READ: dict[str, tuple[str, str]] = {
    "m": ("ft", "m"),
    "m2": ("ft2", "m2"),
    "m3": ("gal", "L"),
    "kg": ("lb", "kg"),
    "kg/m2": ("lb/1000ft2", "g/m2"),
    "m3/m": ("gal/in", "L/cm"),
    "m2/m3": ("ft2/gal", "m2/L"),
    "m/week": ("in/week", "mm/week"),
    "m/year": ("in/year", "mm/year"),
    "m3/week": ("gal/week", "L/week"),
    "m3/year": ("gal/year", "L/year"),
    "water": ("gal/in/ft2", "L/mm/m2"),
    "share": ("percent", "percent"),
    "month/m": ("month/in", "month/cm"),
    "m3/h": ("gal/h", "L/h"),
    "degC": ("degF", "degC"),
}
# The same SI unit is read otherwise for some things: a depth is no distance.
_SMALL = ("in", "cm")
_HEAP = ("ft3", "m3")
_DAB = ("fl_oz", "mL")
_PINCH = ("oz", "g")
_PATCH = ("in2", "cm2")
_MORE_OF = {"oz": "lb", "g": "kg"}
_READ_OF: dict[str, tuple[str, str]] = {
    "depth": _SMALL,
    "settled_depth": _SMALL,
    "missing_depth": _SMALL,
    "gap": _SMALL,
    "trunk_radius": _SMALL,
    "caliper": _SMALL,
    "girth": _SMALL,
    "diameter": _SMALL,
    "base_diameter": _SMALL,
    "top_diameter": _SMALL,
    "wound_width": _SMALL,
    "wound_length": _SMALL,
    "width_after": _SMALL,
    "no_wider_than": _SMALL,
    "enlarged_by": _SMALL,
    "below_soil": _SMALL,
    "berm_height": _SMALL,
    "berm_width": _SMALL,
    "stem": _SMALL,
    "dbh": _SMALL,
    "rain": ("in", "mm"),
    "ring_volume": _HEAP,
    "volume_with_settling": _HEAP,
    "volume": _HEAP,
    "work_day_volume": _HEAP,
    "top_up_volume": _HEAP,
    "soil_volume": _HEAP,
    "chips": _HEAP,
    "chips_each": _HEAP,
    "compost": _HEAP,
    "soil": _HEAP,
    "mix_volume": _DAB,
    "work_day_mix": _DAB,
    "paint_volume": _DAB,
    "water_in_mix": _DAB,
    "nitrogen": _PINCH,
    "phosphate": _PINCH,
    "potash": _PINCH,
    "phosphorus": _PINCH,
    "potassium": _PINCH,
    "product": _PINCH,
    "nitrogen_wanted": _PINCH,
    "product_for_rate": _PINCH,
    "portion": _PINCH,
    "left_out": _PATCH,
    "wound_area": _PATCH,
    "coat_rim": _SMALL,
    "snow": _SMALL,
    "guard_in_soil": _SMALL,
    "guard_above_snow": _SMALL,
    "guard_clear": _SMALL,
    "guard_overlap": _SMALL,
    "guard_diameter": _SMALL,
    "guard_length": _SMALL,
    "guard_height": _SMALL,
    "caliper_height": _SMALL,
    "tie_above_upright": _SMALL,
}


@dataclass(frozen=True, slots=True)
class Shown:
    """A number in the reader's unit, not rounded."""

    value: float
    unit: str


def convert(value: float, unit: str, to: str) -> float:
    """`value` of `unit` in `to`; both keys of `UNITS` of the same kind, or Impossible.

    Temperatures are readings, not differences: 0 degC is 32 degF.
    """
    if unit not in UNITS or to not in UNITS or _kind[unit] != _kind[to]:
        raise Impossible("unit", "not_known")
    if unit == to:
        return value
    if unit == "degC":
        return value * 1.8 + 32
    if unit == "degF":
        return (value - 32) / 1.8
    return value * _size[unit] / _size[to]


def reader_unit(unit: str, system: System, *, name: str = "") -> str:
    """The unit in which a reader sees something kept in SI. `name` is that of a line or operand."""
    us, metric = _READ_OF[name] if _fits(name, unit) else _READ.get(unit, (unit, unit))
    return us if system == "us" else metric


def _fits(name: str, unit: str) -> bool:
    return name in _READ_OF and unit in UNITS and _kind[_READ_OF[name][0]] == _kind[unit]


def shown(value: float, unit: str, system: System, *, name: str = "") -> Shown:
    """An SI value in the reader's unit; a pinch that is a pound, or a kilogram, is read as one."""
    read = reader_unit(unit, system, name=name)
    if read in _MORE_OF and abs(value) >= _size[_MORE_OF[read]]:
        read = _MORE_OF[read]
    return Shown(convert(value, unit, read), read)


def from_reader(field: str, value: object, unit: str, si: str) -> float:
    """What a reader typed, in SI; text, NaN and the like are Impossible and name the field."""
    return convert(number(field, value, at_least=None), unit, si)


def shown_step(step: Step, system: System) -> Step:
    """A worked line with its value and every operand in the reader's units, not rounded."""
    whole = shown(step.value, step.unit, system, name=step.code)
    return replace(
        step,
        value=whole.value,
        unit=whole.unit,
        uses=tuple(_shown_use(use, system) for use in step.uses),
    )


def _shown_use(use: Use, system: System) -> Use:
    name, value, unit = use
    read = shown(value, unit, system, name=name)
    return name, read.value, read.unit


def shown_dose(dose: Dose, system: System) -> Dose:
    """A dose as the reader sees and buys it."""
    return replace(
        dose,
        steps=tuple(shown_step(step, system) for step in dose.steps),
        buys=shopping(dose.buys, system),
    )


def up_to(value: float, step: float) -> float:
    """Rounded up to a whole multiple of `step`; what is whole but for the last digits stays."""
    return round(math.ceil(value / step - 1e-9) * step, 9) + 0.0


def to_nearest(value: float, step: float) -> float:
    """Rounded to the nearest multiple of `step`, halves up."""
    return round(math.floor(value / step + 0.5 + 1e-12) * step, 9) + 0.0


# How a tape, a bucket and a scale are read.
_MARKS = {
    "in": 0.25,
    "ft": 0.5,
    "gal": 0.5,
    "fl_oz": 0.5,
    "oz": 0.5,
    "lb": 0.1,
    "yd3": 0.1,
    "cm": 1.0,
    "m": 0.1,
    "L": 1.0,
    "mL": 5.0,
    "g": 5.0,
    "kg": 0.05,
    "m3": 0.05,
}


def on_the_mark(value: float, unit: str) -> float:
    """Rounded to what a tape, bucket or scale shows; other units come back as they are."""
    mark = _MARKS.get(unit)
    return value if mark is None else to_nearest(value, mark)


@dataclass(frozen=True, slots=True)
class Package:
    """A size in which something is sold: so much of `unit`, by whole `rounded_up_to`."""

    code: str
    holds: float
    unit: str
    rounded_up_to: float = 1.0
    from_one_up_to: float | None = None  # bulk of one or more comes in coarser steps


_Sizes = dict[str, tuple[Package, ...]]
_CHIPS: _Sizes = {
    "us": (Package("bag_2ft3", 2, "ft3"), Package("yd3", 1, "yd3", 0.1, 0.5)),
    "metric": (Package("bag_50L", 50, "L"), Package("m3", 1, "m3", 0.05, 0.5)),
}
_EARTH: _Sizes = {
    "us": (Package("bag_1ft3", 1, "ft3"), Package("yd3", 1, "yd3", 0.1, 0.5)),
    "metric": (Package("bag_25L", 25, "L"), Package("m3", 1, "m3", 0.05, 0.5)),
}
_PAINT: _Sizes = {
    "us": (Package("quart_can", 1, "qt"), Package("gallon_can", 1, "gal")),
    "metric": (Package("can_1L", 1, "L"), Package("can_5L", 5, "L")),
}
_WATER: _Sizes = {
    "us": (Package("gal", 1, "gal", 0.5),),
    "metric": (Package("L", 1, "L", 1.0),),
}
_FERTILIZER: _Sizes = {
    "us": (Package("oz", 1, "oz", 0.5), Package("lb", 1, "lb", 0.5)),
    "metric": (Package("g", 1, "g", 5.0), Package("kg", 1, "kg", 0.1)),
}
# Sizes of bags and cans: common practice, no source.
SOLD: dict[str, _Sizes] = {
    "chips": _CHIPS,
    "chips_each": {system: sizes[:1] for system, sizes in _CHIPS.items()},
    "compost": _EARTH,
    "soil": _EARTH,
    "paint": _PAINT,
    "water": _WATER,
    "fertilizer": _FERTILIZER,
}


def shopping(buys: tuple[Buy, ...], system: System) -> tuple[Buy, ...]:
    """Exact SI amounts as what a shop sells, rounded up, one for each size it comes in.

    Twenty rings come as 69 bags of 2 cubic feet *or* as 5.1 cubic yards: each line is the whole
    amount. What is counted (ties, stakes) comes back whole; unknown things come back in the
    reader's unit, exact.
    """
    lines: list[Buy] = []
    for buy in buys:
        sizes = SOLD.get(buy.code, {}).get(system, ())
        if buy.unit == "count":
            lines.append(Buy(buy.code, up_to(buy.value, 1), "count", 1))
        elif sizes:
            lines += [_sold(buy, size) for size in sizes]
        else:
            read = shown(buy.value, buy.unit, system, name=buy.code)
            lines.append(Buy(buy.code, read.value, read.unit))
    return tuple(lines)


def _sold(buy: Buy, size: Package) -> Buy:
    packages = convert(buy.value, buy.unit, size.unit) / size.holds
    coarse = size.from_one_up_to
    step = coarse if coarse is not None and packages > 1 else size.rounded_up_to
    return Buy(buy.code, up_to(packages, step), size.code, step)
