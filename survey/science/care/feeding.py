"""Fertilizer from the label of the bag, forward and backward, and the plain refusals.

A label gives nitrogen, phosphate (P2O5) and potash (K2O) as percent of the weight. The last two are
oxides: what plants take up is 0.436 and 0.830 of them. Doses go by the area of the root zone, never
by the thickness of the trunk.
"""

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass
from functools import partial
from typing import Literal

from survey.science.care.facts import si
from survey.science.care.records import (
    Buy,
    Dose,
    Impossible,
    NotGiven,
    Step,
    among,
    number,
    whole,
)

Word = Literal["under", "over", "leave_alone", "nothing"]
MOST_AREA_M2 = 10_000

REFUSED_FOR = (
    "first_two_years",
    "before_third_season",
    "thirsty",
    "root_rot",
    "waterlogged_soil",
    "wet_ball",
    "salt",
    "after_weed_killer",
    "near_first_frost",
    "not_growing",
    "over_the_yearly_limit",
)


@dataclass(frozen=True, slots=True)
class Label:
    """The three numbers of a bag as shares of its weight. Use `label` to read them off a bag."""

    nitrogen: float
    phosphate: float
    potash: float


def label(nitrogen: float, phosphate: float, potash: float) -> Label:
    """The three numbers as printed, in percent; past 100 together they are Impossible."""
    shares = [
        number(name, value, unit="percent") / 100
        for name, value in (("nitrogen", nitrogen), ("phosphate", phosphate), ("potash", potash))
    ]
    if sum(shares) > 1 + 1e-9:
        raise Impossible("label", "past_hundred", limit=1, unit="share")
    return Label(*shares)


def in_the_bag(bag: Label, mass_kg: float, *, used_share: float = 1.0) -> Dose:
    """What the three numbers mean: kilograms of each in so much of the bag, oxide and element."""
    mass, share = _mass(mass_kg), _used(used_share)
    used = mass * share
    return Dose(
        "fertilize",
        (
            Step("product", used, "kg", (("bag_mass", mass, "kg"), ("used_share", share, "share"))),
            *_contents(bag, used),
        ),
    )


def _contents(bag: Label, product: float) -> tuple[Step, ...]:
    phosphate, potash = product * bag.phosphate, product * bag.potash
    of_phosphate, of_potash = si("phosphorus_of_phosphate"), si("potassium_of_potash")
    return (
        Step(
            "nitrogen",
            product * bag.nitrogen,
            "kg",
            (("product", product, "kg"), ("nitrogen_share", bag.nitrogen, "share")),
        ),
        Step(
            "phosphate",
            phosphate,
            "kg",
            (("product", product, "kg"), ("phosphate_share", bag.phosphate, "share")),
        ),
        Step(
            "phosphorus",
            phosphate * of_phosphate,
            "kg",
            (("phosphate", phosphate, "kg"), ("phosphorus_of_phosphate", of_phosphate, "1")),
        ),
        Step(
            "potash",
            potash,
            "kg",
            (("product", product, "kg"), ("potash_share", bag.potash, "share")),
        ),
        Step(
            "potassium",
            potash * of_potash,
            "kg",
            (("potash", potash, "kg"), ("potassium_of_potash", of_potash, "1")),
        ),
    )


def refusals(
    *,
    years_planted: float | None = None,
    seasons_grown: int | None = None,
    frost_in_days: float | None = None,
    found: Collection[str] = (),
) -> tuple[str, ...]:
    """Every reason against feeding this tree now; empty when there is none.

    New means under two years in the ground (our own rule) or fewer than three growing seasons
    (Mississippi State). Published texts disagree on young trees; this is the careful side.
    """
    reasons = set(among("found", found, REFUSED_FOR))
    if years_planted is not None:
        years = number("years_planted", years_planted, at_most=500, unit="year")
        if years < si("feed_after_years"):
            reasons.add("first_two_years")
    if seasons_grown is not None:
        seasons = whole("seasons_grown", seasons_grown, at_most=500)
        if seasons < si("feed_after_seasons"):
            reasons.add("before_third_season")
    if frost_in_days is not None:
        days = number("frost_in_days", frost_in_days, at_most=366, unit="day")
        if days < si("feed_frost_days"):
            reasons.add("near_first_frost")
    return among("found", reasons, REFUSED_FOR)


def feed(
    *,
    bag: Label,
    rate_kg_m2: float,
    root_zone_radius_m: float | None = None,
    area_m2: float | None = None,
    quick_release: bool | None = None,
    given_this_year_kg_m2: float = 0.0,
    soil_test: bool = False,
    phosphorus_short: bool = False,
    years_planted: float | None = None,
    seasons_grown: int | None = None,
    frost_in_days: float | None = None,
    found: Collection[str] = (),
    trees: int = 1,
) -> Dose | NotGiven:
    """Product for a rate of nitrogen on the root zone, or why none is given.

    `rate_kg_m2` is nitrogen for an area; the area is π R² of the root zone, or as measured. What
    was given this year counts towards the yearly limit. Quick-release fertilizer, and one of which
    nobody knows, is put on in portions of about 1 lb of nitrogen for 1,000 square feet.
    """
    rate = number("rate", rate_kg_m2, at_most=1, unit="kg/m2")
    given = number("given_this_year", given_this_year_kg_m2, at_most=1, unit="kg/m2")
    reasons = set(
        refusals(
            years_planted=years_planted,
            seasons_grown=seasons_grown,
            frost_in_days=frost_in_days,
            found=found,
        )
    )
    if rate + given > si("nitrogen_never_over") * (1 + 1e-9):
        reasons.add("over_the_yearly_limit")
    if reasons:
        return NotGiven("fertilize", among("found", reasons, REFUSED_FOR))
    if bag.nitrogen <= 0:
        raise Impossible("nitrogen", "not_positive")
    count = whole("trees", trees, at_least=1, at_most=100_000)
    zone = _root_zone(root_zone_radius_m, area_m2)
    nitrogen = rate * zone.value
    product = nitrogen / bag.nitrogen
    quick = si("nitrogen_quick")
    portions = 1 if quick_release is False else max(1, math.ceil(rate / quick - 1e-9))
    steps = (
        zone,
        Step(
            "nitrogen_wanted", nitrogen, "kg", (("rate", rate, "kg/m2"), ("area", zone.value, "m2"))
        ),
        Step(
            "product_for_rate",
            product,
            "kg",
            (("nitrogen_wanted", nitrogen, "kg"), ("nitrogen_share", bag.nitrogen, "share")),
        ),
        Step(
            "portion",
            product / portions,
            "kg",
            (("product_for_rate", product, "kg"), ("portions", portions, "count")),
        ),
        Step(
            "year_rate",
            rate + given,
            "kg/m2",
            (("rate", rate, "kg/m2"), ("given_this_year", given, "kg/m2")),
        ),
        *_contents(bag, product),
        Step(
            "work_day_product",
            count * product,
            "kg",
            (("trees", count, "count"), ("product_for_rate", product, "kg")),
        ),
    )
    notes = ["water_in", "not_where_it_runs_off", "local_law_may_say_less"]
    if not soil_test:
        notes.append("soil_test_first")
    if bag.phosphate and not phosphorus_short:
        notes.append("phosphate_only_if_short")
    if portions > 1:
        notes.append("quick_release_in_portions")
    if rate + given > si("nitrogen_high") * (1 + 1e-9):
        notes.append("above_the_usual_rate")
    return Dose("fertilize", steps, (Buy("fertilizer", count * product, "kg"),), notes=tuple(notes))


@dataclass(frozen=True, slots=True)
class FeedJudged:
    """What was put on, against the limits. `because` says what spoke against feeding at all."""

    word: Word
    dose: Dose
    because: tuple[str, ...] = ()


def judge_feed(
    *,
    bag: Label,
    mass_kg: float,
    used_share: float = 1.0,
    area_m2: float | None = None,
    root_zone_radius_m: float | None = None,
    earlier_this_year_kg_m2: float = 0.0,
    quick_release: bool | None = None,
    years_planted: float | None = None,
    seasons_grown: int | None = None,
    found: Collection[str] = (),
) -> FeedJudged:
    """From a bag back to nitrogen for an area, and one word for it.

    *Over*: above 6 lb of nitrogen for 1,000 square feet in the year, which the summary of ANSI A300
    Part 2 says to avoid. *Under*: below the 2 lb at which its usual rates begin. *Leave alone*:
    between them, or a tree that is not to be fed, whatever little it got. *Nothing*: a label of
    0-0-0. Under is no order to add more: the soil test says whether anything is missing.
    """
    dose = in_the_bag(bag, mass_kg, used_share=used_share)
    zone = _root_zone(root_zone_radius_m, area_m2)
    if zone.value <= 0:
        raise Impossible("area", "not_positive")
    earlier = _earlier(earlier_this_year_kg_m2)
    nitrogen = dose["nitrogen"].value
    rate = nitrogen / zone.value
    year = rate + earlier
    reasons = refusals(years_planted=years_planted, seasons_grown=seasons_grown, found=found)
    word: Word = "leave_alone"
    if bag.nitrogen + bag.phosphate + bag.potash == 0 and earlier == 0:
        word = "nothing"
    elif year > si("nitrogen_never_over") * (1 + 1e-9):
        word = "over"
    elif year < si("nitrogen_low") * (1 - 1e-9) and not reasons:
        word = "under"
    notes = []
    if word == "under":
        notes.append("under_is_no_reason_to_add")
    if quick_release is not False and rate > si("nitrogen_quick") * (1 + 1e-9):
        notes.append("much_at_once_if_quick_release")
    if si("nitrogen_high") * (1 + 1e-9) < year and word != "over":
        notes.append("above_the_usual_rate")
    steps = (
        *dose.steps,
        zone,
        Step(
            "nitrogen_rate",
            rate,
            "kg/m2",
            (("nitrogen", nitrogen, "kg"), ("area", zone.value, "m2")),
        ),
        Step(
            "year_rate",
            year,
            "kg/m2",
            (("rate", rate, "kg/m2"), ("given_this_year", earlier, "kg/m2")),
        ),
    )
    return FeedJudged(word, Dose("fertilize", steps, notes=tuple(notes)), reasons)


def wrong_in_label(
    *,
    nitrogen: float | None,
    phosphate: float | None,
    potash: float | None,
    mass_kg: float | None,
    used_share: float | None,
    area_m2: float | None,
    earlier_kg_m2: float | None,
    years_planted: float | None,
) -> list[Impossible]:
    """All that `judge_feed` would refuse one after the other. None is not judged: not given, or not
    readable. The three numbers of the label are in percent."""
    checks: list[Callable[[], object]] = [
        partial(number, name, value, unit="percent")
        for name, value in (("nitrogen", nitrogen), ("phosphate", phosphate), ("potash", potash))
        if value is not None
    ]
    numbers = [max(0.0, value) for value in (nitrogen, phosphate, potash) if value is not None]
    checks.append(partial(label, *numbers, *[0.0] * (3 - len(numbers))))
    if mass_kg is not None:
        checks.append(partial(_mass, mass_kg))
    if used_share is not None:
        checks.append(partial(_used, used_share))
    if area_m2 is not None:
        checks.append(partial(number, "area", area_m2, above=0, at_most=MOST_AREA_M2, unit="m2"))
    if earlier_kg_m2 is not None:
        checks.append(partial(_earlier, earlier_kg_m2))
    if years_planted is not None:
        checks.append(partial(refusals, years_planted=years_planted))
    found = []
    for check in checks:
        try:
            check()
        except Impossible as wrong:
            found.append(wrong)
    return found


def _mass(mass_kg: float) -> float:
    return number("bag_mass", mass_kg, at_most=100_000, unit="kg")


def _used(share: float) -> float:
    return number("used_share", share, at_most=1, unit="share")


def _earlier(rate_kg_m2: float) -> float:
    return number("earlier_this_year", rate_kg_m2, at_most=10, unit="kg/m2")


def _root_zone(radius_m: float | None, area_m2: float | None) -> Step:
    if (radius_m is None) == (area_m2 is None):
        raise Impossible("area", "one_of_two")
    if radius_m is not None:
        radius = number("root_zone_radius", radius_m, at_most=50, unit="m")
        return Step("root_zone", math.pi * radius**2, "m2", (("root_zone_radius", radius, "m"),))
    return Step(
        "root_zone_measured", number("area", area_m2, at_most=MOST_AREA_M2, unit="m2"), "m2"
    )
