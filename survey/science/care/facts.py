"""Every number of the trade that a dose rests on, as its source states it, and who says so.

`source` is a code of the register of sources, `mark` says how sure a number without one is. Pages
print both. Nothing outside this file knows a figure of the trade.
"""

from dataclasses import dataclass

from survey.science.units import convert

COMMON = "common practice, no source"
MEMORY = "memory, to be verified"
OWN = "own rule of this project"


@dataclass(frozen=True, slots=True)
class Fact:
    """A figure as stated, its SI unit, and its source or its mark."""

    stated: float
    stated_unit: str
    unit: str
    source: str | None = None
    mark: str | None = None

    def __post_init__(self) -> None:
        if self.source is None and self.mark is None:
            raise ValueError("A fact names its source or says how sure it is.")

    @property
    def value(self) -> float:
        """The figure in SI."""
        return convert(self.stated, self.stated_unit, self.unit)


FACTS: dict[str, Fact] = {
    # mulch, turf, basin, compost
    "mulch_gap": Fact(4, "in", "m", "sacramento_trees"),
    "mulch_depth": Fact(3, "in", "m", "uf_mulch"),
    "mulch_deep": Fact(4, "in", "m", "watertown_mulch"),
    "mulch_deepest": Fact(6, "in", "m", "california_outreach"),
    "mulch_radius": Fact(3, "ft", "m", mark=COMMON),
    "mulch_radius_least": Fact(2, "ft", "m", mark=COMMON),
    "mulch_settling": Fact(10, "percent", "share", mark=OWN),
    "mulch_settles_by": Fact(1 / 3, "share", "share", mark=COMMON),
    "turf_radius": Fact(3, "ft", "m", mark=COMMON),
    "turf_radius_least": Fact(2, "ft", "m", mark=COMMON),
    "berm_foot": Fact(3, "1", "1", mark=OWN),
    "berm_radius": Fact(18, "in", "m", mark=OWN),
    "berm_height": Fact(3, "in", "m", mark=OWN),
    "berm_months": Fact(24, "month", "month", mark=COMMON),
    "compost_depth": Fact(1, "in", "m", mark=COMMON),
    "compost_depth_least": Fact(0.5, "in", "m", mark=COMMON),
    "compost_depth_most": Fact(2, "in", "m", mark=COMMON),
    # a coat on the trunk
    "coat_parts_paint": Fact(1, "1", "1", "uc_ipm_whitewash"),
    "coat_parts_water": Fact(1, "1", "1", "uc_ipm_whitewash"),
    "coat_coverage": Fact(200, "ft2/gal", "m2/m3", mark=MEMORY),
    "coat_below_soil": Fact(2, "in", "m", "uc_santa_clara_may"),
    "coat_rim": Fact(1, "in", "m", mark=OWN),
    "coat_coats_most": Fact(2, "count", "count", mark=COMMON),
    "coat_years": Fact(3, "year", "year", mark=COMMON),
    "coat_hottest_c": Fact(35, "degC", "degC", mark=OWN),  # 95 °F
    "coat_coldest_c": Fact(0, "degC", "degC", mark=OWN),
    # fertilizer
    "phosphorus_of_phosphate": Fact(0.436, "share", "share", mark=MEMORY),
    "potassium_of_potash": Fact(0.830, "share", "share", mark=MEMORY),
    "nitrogen_low": Fact(2, "lb/1000ft2", "kg/m2", "a300_fertilizing"),
    "nitrogen_high": Fact(4, "lb/1000ft2", "kg/m2", "a300_fertilizing"),
    "nitrogen_never_over": Fact(6, "lb/1000ft2", "kg/m2", "a300_fertilizing"),
    "nitrogen_quick": Fact(1, "lb/1000ft2", "kg/m2", mark=MEMORY),
    "feed_after_years": Fact(2, "year", "year", mark=OWN),
    "feed_after_seasons": Fact(3, "count", "count", "mississippi_feeding_2018"),
    "feed_frost_days": Fact(56, "day", "day", mark=COMMON),  # 8 weeks, the longer of 6 to 8
    # water
    "regulation_factor": Fact(0.62, "gal/in/ft2", "water", "mwelo"),
    "etaf_home": Fact(0.55, "1", "1", "mwelo"),
    "etaf_other": Fact(0.45, "1", "1", "mwelo"),
    "advice_under_years": Fact(3, "year", "year", mark=OWN),
    "efficiency_drip": Fact(0.81, "1", "1", "mwelo"),
    "efficiency_overhead": Fact(0.75, "1", "1", "mwelo"),
    "efficiency_hand": Fact(1, "1", "1", mark=OWN),  # poured into the basin: none is sprayed away
    "ball_holds_low": Fact(2, "gal/in", "m3/m", mark=MEMORY),
    "ball_holds_high": Fact(3, "gal/in", "m3/m", mark=MEMORY),
    "doses_a_week_least": Fact(2, "count", "count", mark=OWN),
    "bucket": Fact(5, "gal", "m3", "california_outreach"),
    "water_months_least": Fact(24, "month", "month", mark=OWN),
    "water_months_dry_summer": Fact(36, "month", "month", mark=OWN),
    "establish_florida": Fact(3, "month/in", "month/m", "florida_water"),
    "establish_florida_north": Fact(4, "month/in", "month/m", "florida_water"),
    "establish_trial": Fact(4.8, "month/in", "month/m", "uf_irrigation"),
    "establish_cold": Fact(12, "month/in", "month/m", "nursery_roots"),
    # stakes and ties
    "tie_check_first": Fact(3, "month", "month", mark=OWN),
    "tie_check_second": Fact(6, "month", "month", mark=OWN),
    "tie_check_last": Fact(12, "month", "month", mark=COMMON),
    "needs_no_stake_under": Fact(6, "ft", "m", "nevada_stakes_2017"),
    "tie_above_upright": Fact(6, "in", "m", "nevada_stakes_2017"),
    "tie_third": Fact(1 / 3, "share", "share", "nevada_stakes_2017"),
    "tie_two_thirds": Fact(2 / 3, "share", "share", "nevada_stakes_2017"),
    # low shoots, pruning, bark
    "shoots_bark_lost": Fact(0.5, "share", "share", mark=OWN),
    "shoots_kept_least": Fact(1, "count", "count", mark=OWN),
    "shoots_kept_most": Fact(3, "count", "count", mark=OWN),
    "shoots_kept_top_dead": Fact(1, "count", "count", mark=COMMON),
    "prune_share": Fact(25, "percent", "share", "a300_pruning"),
    "prune_share_south": Fact(20, "percent", "share", "carolina_pruning"),
    "prune_first_year": Fact(1, "year", "year", mark=MEMORY),
    # chips, guards
    "chips_from_building": Fact(5, "ft", "m", mark=MEMORY),
    "guard_mesh": Fact(0.25, "in", "m", "rodent_guards"),
    "guard_in_soil": Fact(3, "in", "m", "rodent_guards"),
    "guard_above_snow": Fact(24, "in", "m", "rodent_guards"),
    "guard_clear": Fact(2, "in", "m", mark=OWN),
    "guard_overlap": Fact(2, "in", "m", mark=OWN),
    # measuring trunks
    "caliper_height": Fact(6, "in", "m", "nursery_stock_standard"),
    "caliper_height_thick": Fact(12, "in", "m", "nursery_stock_standard"),
    "caliper_thick_over": Fact(4, "in", "m", "nursery_stock_standard"),
    "dbh_stems": Fact(6, "count", "count", "magarik_2020"),
    "dbh_height": Fact(1.37, "m", "m", "dbh_heights"),
    # trials
    "trial_worth": Fact(0.2, "share", "share", mark=OWN),
    "trial_level": Fact(0.05, "share", "share", mark=COMMON),
    "trial_power": Fact(0.8, "share", "share", mark=COMMON),
}


def si(name: str) -> float:
    """The figure of that name, in SI; KeyError where there is none."""
    return FACTS[name].value
