"""The landscape water formula of California's ordinance: 23 CCR 490 and following, section 492.4.

MAWA = ETo × 0.62 × (ETAF × LA + (1 − ETAF) × SLA), ETWU = ETo × 0.62 × ETAF × area with ETAF =
plant factor / irrigation efficiency; ETWU must not pass MAWA. LA holds the special landscape area
(SLA), whose own ETAF is 1. The rule rounds the 0.623 gallons of an inch on a square foot to 0.62;
it is kept, because the rule is what is checked.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from survey.science.care.facts import si
from survey.science.care.records import Dose, Impossible, Step, number


@dataclass(frozen=True, slots=True)
class Zone:
    """Plants watered alike: their area in square meters and ETAF; `special` counts with ETAF 1."""

    name: str
    area_m2: float
    etaf: float
    special: bool = False


def etaf(plant_factor: float, efficiency: float) -> float:
    """Share of ETo to be given: plant factor (0 to 1) over irrigation efficiency (to 1)."""
    factor = number("plant_factor", plant_factor, at_most=1)
    return factor / number("efficiency", efficiency, above=0, at_most=1)


@dataclass(frozen=True, slots=True)
class Budget:
    """What may be used and what will be, in cubic meters a year, line by line."""

    allowed: Step
    zones: tuple[Step, ...]
    estimated: Step
    fits: bool

    @property
    def dose(self) -> Dose:
        """The same as a dose of water."""
        return Dose("water", (*self.zones, self.estimated, self.allowed))


def water_budget(eto_m_per_year: float, zones: Sequence[Zone], *, residential: bool) -> Budget:
    """Allowed (MAWA) against estimated (ETWU) water of a landscape in a year."""
    eto = number("eto", eto_m_per_year, at_most=5, unit="m/year")
    if not zones:
        raise Impossible("zones", "too_few")
    factor = si("regulation_factor")
    lines: list[Step] = []
    area = special = used = 0.0
    for zone in zones:
        here = number("area", zone.area_m2, at_most=10**8, unit="m2")
        given = 1.0 if zone.special else number("etaf", zone.etaf, at_most=4)
        line = Step(
            "zone_water",
            eto * factor * given * here,
            "m3/year",
            (
                ("eto", eto, "m/year"),
                ("regulation_factor", factor, "water"),
                ("etaf", given, "1"),
                ("area", here, "m2"),
            ),
        )
        lines.append(line)
        area += here
        special += here if zone.special else 0.0
        used += line.value
    share = si("etaf_home" if residential else "etaf_other")
    allowed = Step(
        "allowed_water",
        eto * factor * (share * area + (1 - share) * special),
        "m3/year",
        (
            ("eto", eto, "m/year"),
            ("regulation_factor", factor, "water"),
            ("etaf", share, "1"),
            ("area", area, "m2"),
            ("special_area", special, "m2"),
        ),
    )
    estimated = Step(
        "estimated_water",
        used,
        "m3/year",
        tuple(("zone", line.value, "m3/year") for line in lines),
    )
    return Budget(allowed, tuple(lines), estimated, used <= allowed.value * (1 + 1e-12))
