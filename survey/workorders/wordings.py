"""The codes of doses in words: refusals, things to mind, days to keep. One sentence each."""

from typing import Any

from django.utils.translation import gettext_lazy as _

REFUSED: dict[str, Any] = {
    "first_two_years": _("in the ground under two years"),
    "before_third_season": _("before its third season"),
    "thirsty": _("thirsty: it cannot use it, and salts draw water out of its roots"),
    "root_rot": _("rot is suspected"),
    "crown_rot": _("the crown is being dried out"),
    "waterlogged_soil": _("the soil is sodden"),
    "wet_ball": _("the root ball is wet"),
    "dry_ball": _("the root ball is dry: soak first"),
    "frozen_soil": _("the soil is frozen"),
    "salt": _("salt in the soil"),
    "after_weed_killer": _("hurt by weed killer"),
    "near_first_frost": _("frost may come within eight weeks"),
    "not_growing": _("it is not growing now"),
    "over_the_yearly_limit": _("past the limit of one year"),
    "label_not_typed": _("the three numbers of the label are missing"),
    "wet_bark": _("the bark is wet"),
    "frost": _("it freezes"),
    "too_hot": _("hotter than 95 °F (35 °C)"),
    "green_bark": _("its green bark feeds the tree"),
    "peeling_bark": _("its bark peels"),
    "owner_objects": _("the owner objects"),
    "marks_felling_here": _("white paint is a felling mark here"),
    "oil_paint": _("oil paint"),
    "enamel": _("enamel"),
    "old_paint_of_unknown_date": _("old paint of unknown date can hold lead or mercury"),
    "pesticide_by_law": _(
        "sold against pests, so a pesticide in law: label and owner’s leave first"
    ),
    "utilities_unmarked": _("the utilities have not all answered"),
    "heat_wave": _("a heat wave is on"),
    "lawn_was_only_water": _("the lawn’s water was its only water"),
    "salty_compost": _("salty compost"),
    "fresh_manure": _("fresh manure"),
    "standing_water": _("water stands there"),
    "clay": _("clay holds the water at the crown"),
    "wet_season": _("the wet season has begun"),
    "local_rule_today": _("watering rules forbid it today"),
    "trained_hands_only": _("trained hands only"),
    "source_not_known": _("nobody knows where the chips come from"),
    "kind_not_known": _("nobody asked which trees the chips are of"),
    "borers": _("from trees with borers"),
    "across_quarantine_line": _("from behind a quarantine line"),
    "kind_barred_here": _("a kind that this town does not take"),
    "glass_or_trash": _("glass, trash or weed seed"),
    "weed_seed": _("weed seed"),
    "sour_or_hot": _("sour or hot"),
    "three_years_or_older": _("three years in the ground or longer"),
    "ball_not_probed": _("nobody has probed the root ball"),
    "ball_not_dry": _("the root ball is not dry"),
    "wet_soil_sign": _("signs of wet soil"),
    "borers_fly": _("borers fly now"),
    "frozen_no_new_growth": _("hurt by frost: wait for new growth"),
    "bare_by_kind": _("its kind is bare now: dead and asleep look alike"),
    "needs_no_stake": _("shorter than 6 ft (1.8 m) and standing: it needs no stake"),
    "wet_flap_needs_a_qualified_person_today": _(
        "a wet flap of bark: shade it, do not pull; a qualified person today"
    ),
    "too_near_a_building": _("nearer than 5 ft (1.5 m) to a building"),
}

NOTES: dict[str, Any] = {
    "leave_gap": _("Nothing touches the bark."),
    "keep_flare_in_sight": _("The root flare stays in sight."),
    "little_on_the_ball": _("Little or none on the root ball itself."),
    "roots_grow_into_deep_mulch": _("Deeper than 4 in (10 cm): roots grow up into it."),
    "deeper_than_any_source": _("Deeper than any source says."),
    "narrower_than_usual": _("Narrower than the usual 2 ft (0.6 m)."),
    "thinner_than_usual": _("Thinner than usual."),
    "by_hand_no_tiller": _("By hand, no tiller."),
    "no_weed_killer": _("No weed killer."),
    "replace_lawn_water": _("The lawn’s water must be replaced."),
    "under_the_mulch": _("Under the mulch."),
    "off_the_trunk": _("Off the trunk."),
    "do_not_dig_in": _("Not dug in."),
    "no_soil_on_trunk": _("No soil against the trunk."),
    "open_in_wet_season": _("Opened before the wet season."),
    "onto_wet_soil": _("Onto wet soil: soak first, and no cardboard over a dry ball."),
    "none_this_week": _("None this week: the rain gave enough."),
    "more_doses_if_it_runs_off": _("If it runs off, give less at a time and come more often."),
    "probe_the_ball_first": _("Probe inside the ball first; sticky at 6 in (15 cm) means wait."),
    "onto_the_ball": _("Slowly, onto the ball."),
    "not_on_the_bark": _("Not on the bark."),
    "demand_above_preset": _("The air takes more than the rule for young trees says."),
    "leave_wound_and_rim_bare": _("The wound and its living rim stay bare."),
    "keep_low_branches": _("Low branches stay: they shade the trunk."),
    "does_not_mend_wounds": _("A coat mends no wound."),
    "exterior_latex_is_disputed": _("Exterior latex is disputed."),
    "water_in": _("Water it in."),
    "not_where_it_runs_off": _("Not where it runs off."),
    "local_law_may_say_less": _("State or local law may allow less."),
    "soil_test_first": _("A soil test comes first."),
    "phosphate_only_if_short": _("Phosphate only where a test finds it short."),
    "quick_release_in_portions": _("Quick release: in portions."),
    "above_the_usual_rate": _("Above the usual rate."),
    "under_is_no_reason_to_add": _("Under is no reason to add more: a soil test says."),
    "much_at_once_if_quick_release": _("Much at once, if it is quick release."),
    "keep_leaders": _("Leaders stay."),
    "snap_while_soft": _("Snap them while soft."),
    "new_leader": _("The one that stays becomes the new top."),
    "feeds_roots_below_wound": _("What stays feeds the roots below the wound."),
    "ask_whether_grafted": _("Find out whether it is grafted before any more are cut."),
    "rootstock": _("Grafted: the shoots are another kind."),
    "rootstock_only_replace": _("Grafted, and the top is dead: a new tree."),
    "clear_of_the_bark": _("Clear of the bark all round."),
    "look_twice_a_year": _("Looked at twice a year."),
    "clear_mulch_away": _("Mulch cleared away inside."),
    "in_slow_passes": _("In three or four slow passes, where it drains."),
    "ties_before_stakes": _("Ties off before stakes."),
    "two_stakes_may_stand_clear_as_guards": _(
        "Two stakes may stay, clear of the tree, against mowers until the ring is down."
    ),
    "wide_soft_ties": _("Wide, soft ties."),
    "no_wire": _("No wire, no cord."),
    "sources_disagree": _("Sources disagree."),
    "dead_broken_rubbing_only": _("In the first year only dead, broken and rubbing wood."),
    "least_that_serves": _("As little as serves."),
    "decide_after_next_leaf_on": _("Decide again after the next leaf-on."),
    "enlarged": _("The wound is wider than before. Stop and ask."),
    "not_enlarged": _("The wound is no wider than before."),
    "sooner_if_it_stands_alone": _("Sooner, if it stands alone."),
    "nursery_stake_tags_and_wrap_too": _("Nursery stake, tags and wrap go too."),
    "clean_sharp_blade": _("A clean, sharp blade."),
    "back_to_sound_bark": _("Back to bark that holds."),
    "ragged_edge_only": _("The ragged edge only."),
    "leave_open": _("Left open: no dressing."),
    "top_up_not_stack": _("Topped up, not stacked."),
    "count_shoots_first": _("Count the low shoots first: nobody has written down how many."),
    "deep_enough": _("Deep enough already."),
}

DUE: dict[str, Any] = {
    "check_ties": _("check stakes and ties"),
    "take_off_by": _("stakes and ties are off by"),
    "never_beyond": _("never later than"),
    "take_berm_away_by": _("the basin is out of the way by"),
    "coat_again_unless_shaded": _("a new coat, unless the crown shades the trunk"),
}

IMPOSSIBLE: dict[str, Any] = {
    "no_number": _("This must be a number."),
    "not_finite": _("This must be an ordinary number."),
    "negative": _("This cannot be below zero."),
    "not_positive": _("This must be more than zero."),
    "too_large": _("This is more than it can be. Check the number and its unit."),
    "too_small": _("This is less than it can be. Check the number and its unit."),
    "no_whole_number": _("This must be a whole number."),
    "not_above_inner": _("The edge lies inside the bare gap round the trunk. Make the ring wider."),
    "wider_than_girth": _("This is wider than the trunk is round. Measure both again."),
    "past_hundred": _("The three numbers add up to more than 100. Read them on the label again."),
    "not_known": _("Choose one from the list."),
    "too_few": _("Too few are given."),
    "out_of_order": _("These come in the wrong order."),
    "twice": _("The same one is named twice."),
    "no_day": _("This must be a day."),
    "one_of_two": _("Give the area, or how far the roots reach: one of the two."),
}
OTHERWISE = _("This measure cannot be. Check the number and its unit.")


def impossible_said(code: str) -> str:
    return str(IMPOSSIBLE.get(code, OTHERWISE))


def notes_said(codes: tuple[str, ...]) -> list[str]:
    return [str(NOTES[code]) for code in codes if code in NOTES]


def reasons_said(codes: tuple[str, ...]) -> str:
    """Reasons of a refusal in one phrase: "in the ground under two years; thirsty: …"."""
    return "; ".join(str(REFUSED.get(code, code.replace("_", " "))) for code in codes)
