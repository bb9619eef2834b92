"""Every worked line as a formula over the names of its operands, for the page that prints it.

Letters, digits and the signs + − × / ² √ Σ π and ⌈ ⌉ only; `Σ name` adds up all operands of that
name. A test works each of them out and compares it with the line. Where the operands stand in
units of different kinds (gallons from inches and square feet), the line holds with the units.
"""

FORMULA: dict[str, str] = {
    # ground
    "inner_radius": "trunk_radius + gap",
    "ring_area": "π × (outer_radius² − inner_radius²)",
    "ring_volume": "ring_area × depth",
    "volume_with_settling": "work_day_volume × (1 + settling)",
    "settled_depth": "depth × (1 − settles_by)",
    "missing_depth": "max(0, depth − settled_depth)",
    "top_up_volume": "trees × ring_area × missing_depth",
    "work_day_area": "trees × ring_area",
    "basin_floor": "π × radius²",
    "basin_holds": "basin_floor × berm_height",
    "berm_width": "berm_foot × berm_height",
    "soil_volume": "π × (2 × radius + berm_width) × (berm_width × berm_height / 2)",
    # coat
    "coat_height": "to_height − from_height + below_soil",
    "slant": "√(coat_height² + ((base_diameter − top_diameter) / 2)²)",
    "bark_area": "π × ((base_diameter + top_diameter) / 2) × slant",
    "coat_area": "bark_area × arc − left_out",
    "mix_volume": "coat_area / coverage",
    "work_day_mix": "trees × coats × mix_volume",
    "paint_volume": "work_day_mix × paint / (paint + water)",
    "water_in_mix": "work_day_mix × water / (paint + water)",
    # fertilizer
    "product": "bag_mass × used_share",
    "nitrogen": "product × nitrogen_share",
    "phosphate": "product × phosphate_share",
    "phosphorus": "phosphate × phosphorus_of_phosphate",
    "potash": "product × potash_share",
    "potassium": "potash × potassium_of_potash",
    "root_zone": "π × root_zone_radius²",
    "nitrogen_wanted": "rate × area",
    "product_for_rate": "nitrogen_wanted / nitrogen_share",
    "portion": "product_for_rate / portions",
    "year_rate": "rate + given_this_year",
    "work_day_product": "trees × product_for_rate",
    "nitrogen_rate": "nitrogen / area",
    # water
    "canopy_area": "π × canopy_diameter² / 4",
    "asked_water": "eto × regulation_factor × plant_factor × canopy_area / efficiency",
    "rain_water": "min(asked_water, rain × regulation_factor × canopy_area)",
    "weekly_need": "asked_water − rain_water",
    "week_water": "max(need, preset)",
    "ball_holds": "ball_holds_high × caliper",
    "ball_surely_holds": "ball_holds_low × caliper",
    "doses_a_week": "⌈max(least, week_water / ball_holds)⌉",
    "each_dose": "week_water / doses_a_week",
    "buckets": "each_dose / bucket",
    "run_time": "each_dose / flow",
    "work_day_water": "trees × each_dose",
    "months_to_water": "max(least, by_size × caliper)",
    "zone_water": "eto × regulation_factor × etaf × area",
    "allowed_water": "eto × regulation_factor × (etaf × area + (1 − etaf) × special_area)",
    "estimated_water": "Σ zone",
    # stakes, shoots, bark, guards, stems
    "tie_third": "height × share_of_height",
    "tie_two_thirds": "height × share_of_height",
    "tie_above_upright_point": "min(height, springs_upright_at + tie_above_upright)",
    "shoots_kept_least": "min(keep, suckers)",
    "shoots_kept_most": "min(keep, suckers)",
    "shoots_removed": "suckers − kept",
    "may_still_cut": "max(0, limit − cut_this_season)",
    "girdled_share": "wound_width / girth",
    "no_wider_than": "wound_width",
    "enlarged_by": "max(0, width_after − wound_width)",
    "guard_diameter": "trunk_diameter + 2 × guard_clear",
    "guard_length": "π × guard_diameter + guard_overlap",
    "guard_height": "guard_in_soil + snow + guard_above_snow",
    "work_day_length": "trees × guard_length",
    "diameter": "girth / π",
    "girth": "π × diameter",
    "dbh": "√(Σ stem²)",
}
# A day's amount is made from that of one tree, whatever it is called there.
FORMULA_OF_CARE: dict[tuple[str, str], str] = {
    ("berm", "work_day_volume"): "trees × soil_volume",
    ("mulch_ring", "work_day_volume"): "trees × ring_volume",
    ("compost", "work_day_volume"): "trees × ring_volume",
}


def formula(care: str, code: str) -> str | None:
    """The formula of a worked line; None for a line that was measured or is a stated figure."""
    return FORMULA_OF_CARE.get((care, code)) or FORMULA.get(code)
