"""What each sentence of the decision rests on: sources of the handbook, a mark, or both.

`sources` are codes of the handbook's source list; a test holds that each exists. The marks are the
handbook's own.
"""

from dataclasses import dataclass
from typing import Literal, TypeAlias

Mark: TypeAlias = Literal[
    "common practice, no source", "memory, to be verified", "own rule of this project"
]

OWN: Mark = "own rule of this project"
MEMORY: Mark = "memory, to be verified"
PRACTICE: Mark = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Ground:
    """`rule_of_thumb` says that sources repeat it and no trial stands behind it."""

    sources: tuple[str, ...] = ()
    mark: Mark | None = None
    rule_of_thumb: bool = False

    def __post_init__(self) -> None:
        if not self.sources and self.mark is None:
            raise ValueError("a ground names a source or a mark")


_OWN = Ground(mark=OWN)

GROUNDS: dict[str, Ground] = {
    # states
    "gone": _OWN,
    "never_looked_at": _OWN,
    "two_visits": Ground(("eugene_street_trees",), OWN),
    "no_shoots_no_green": Ground(("eugene_street_trees",), OWN),
    "in_growing_season": _OWN,
    "sprouts_below": Ground(("iowa_rabbits",)),
    "roots_alive": Ground(("iowa_rabbits",)),
    "drops_in_drought": Ground(("defoliation_column",), MEMORY),
    "bare_window": Ground(mark=MEMORY),
    "late_window": Ground(("kentucky_transplant",), OWN),
    "alive_before": _OWN,
    "winter_look_proves_nothing": Ground(("mobot_drought",), OWN),
    "in_leaf": _OWN,
    "scratch_green": Ground(("scratch_test",)),
    "called_alive": _OWN,
    "neighbor_saw_alive": _OWN,
    "green_is_not_saved": Ground(("extension_girdled_2023",)),
    "look_overdue": _OWN,
    "frost_wait": Ground(("uc_ipm_frost", "ucce_frost_2007")),
    "looked_after_frost_or_drought": Ground(("uc_ipm_frost", "defoliation_column")),
    "looked_while_bare": Ground(("mobot_drought",), OWN),
    "looked_too_early": Ground(("kentucky_transplant",), OWN),
    "two_visits_no_photo": _OWN,
    "one_visit": _OWN,
    "bare_in_leaf_time": Ground(("scratch_test",)),
    "nothing_said_of_life": _OWN,
    "sprouts_seen_asleep": _OWN,
    # contradictions
    "green_and_dead": Ground(("scratch_test",)),
    "leaf_and_dead": _OWN,
    "brown_and_alive": Ground(("scratch_test",)),
    "green_and_top_dead": Ground(("scratch_test",)),
    "dead_then_alive": _OWN,
    "dead_and_alive_on_one_day": _OWN,
    "gone_then_there": _OWN,
    "belief_says_dead": _OWN,
    "belief_says_alive": _OWN,
    # save, watch or replace
    "no_tree_here": _OWN,
    "dead_is_replaced": _OWN,
    "wait_before_choosing": Ground(("mobot_drought",), OWN),
    "graft_not_known": Ground(("iowa_rabbits",), OWN),
    "shoots_are_rootstock": Ground(("iowa_rabbits",)),
    "keep_low_shoots": Ground(("unh_suckers",), PRACTICE),
    "bark_under_quarter": Ground(("nmsu_2007",), rule_of_thumb=True),
    "bark_quarter_to_half": Ground(("garden_press_bark",), MEMORY, rule_of_thumb=True),
    "bark_half_or_more": Ground(("nmsu_2007",), rule_of_thumb=True),
    "bark_all_round": Ground(("nmsu_2007", "iowa_rabbits"), rule_of_thumb=True),
    "one_band_worse": _OWN,
    "green_with_girdle": Ground(("nmsu_2007", "extension_girdled_2023")),
    "share_not_sure": _OWN,
    "too_young_to_graft": Ground(("pennsylvania_1928",)),
    "bridge_graft": Ground(("msu_bridge_graft", "wvu_bridge_graft"), OWN),
    "crown_failing": _OWN,
    "crown_slipping": _OWN,
    "decide_after_flush": _OWN,
    "flush_is_over": _OWN,
    "nothing_against_it": _OWN,
    "stop_cause_first": Ground(("nc_state_2019", "morgenroth_2015")),
    "cause_not_known": _OWN,
    "cause_before_new_tree": _OWN,
    "years_lost": Ground(("florida_water",), OWN),
    "plant_window": Ground(mark=PRACTICE),
    # needs
    "first_look": _OWN,
    "look_in_leaf": _OWN,
    "scratch_twigs": Ground(("scratch_test",)),
    "second_visit": _OWN,
    "photo": _OWN,
    "find_graft": _OWN,
    "tape_the_wound": _OWN,
    "look_again": _OWN,
}
