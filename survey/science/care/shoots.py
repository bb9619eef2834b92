"""Low shoots, pruning, and loose bark: what may be taken off, what stays, and who may do it."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

from survey.science.care.facts import si
from survey.science.care.records import (
    Dose,
    Impossible,
    NotGiven,
    Step,
    among,
    chosen,
    number,
    whole,
)

Who = Literal["anyone", "volunteer", "trained", "crew", "arborist"]
WHO = ("anyone", "volunteer", "trained", "crew", "arborist")
# Which shoots there are. Only the first three are suckers; the others are never taken off here.
SHOOTS = ("from_root", "from_base", "below_graft", "leader", "low_branch", "water_sprout")
_SUCKERS = ("from_root", "from_base", "below_graft")


def low_shoots(
    shoots: Sequence[str],
    *,
    bark_lost_share: float | None = None,
    grafted: bool | None = None,
    top_dead: bool = False,
    poor_crown: bool = False,
) -> Dose:
    """Which low shoots go and how many stay, in numbers and by kind.

    A sound tree loses all its suckers. Where half the bark or more is lost, or the crown is poor,
    and the tree is not grafted, one to three stay, for they feed the roots below the wound; where
    the top is dead and it is not grafted, one stays as the new leader. A grafted tree's low shoots
    are rootstock and all go, a dead top then meaning a new tree. Where nobody knows whether it is
    grafted, shoots that might be needed stay until somebody does: what is cut cannot be put back.
    Leaders and low branches always stay, and the other shoots of a crown that was lost.
    """
    for shoot in shoots:
        chosen("shoots", shoot, SHOOTS)
    lost = 0.0 if bark_lost_share is None else number("bark_lost", bark_lost_share, at_most=1)
    suckers = sum(shoot in _SUCKERS for shoot in shoots)
    grafts = sum(shoot == "below_graft" for shoot in shoots)
    is_grafted = True if grafts else grafted  # a graft that shoots come from below is one
    needed = lost >= si("shoots_bark_lost") - 1e-9 or top_dead or poor_crown
    notes = ["keep_leaders", "keep_low_branches", "no_weed_killer", "snap_while_soft"]
    low = high = 0
    if needed and is_grafted is not True:
        low, high = round(si("shoots_kept_least")), round(si("shoots_kept_most"))
        if top_dead:
            low = high = round(si("shoots_kept_top_dead"))
        notes.append("new_leader" if top_dead else "feeds_roots_below_wound")
        notes.append("decide_after_next_leaf_on")
        if is_grafted is None:
            notes.append("ask_whether_grafted")
            high = max(high, round(si("shoots_kept_most")))
    elif needed and top_dead:
        notes.append("rootstock_only_replace")
    elif needed:
        notes.append("rootstock")
    kept_low, kept_high = min(low, suckers), min(high, suckers)
    return Dose(
        "keep_low_shoots" if kept_high else "remove_suckers",
        (
            Step("shoots_kept_least", kept_low, "count", _counts(suckers, low)),
            Step("shoots_kept_most", kept_high, "count", _counts(suckers, high)),
            Step(
                "shoots_removed",
                suckers - kept_high,
                "count",
                (("suckers", suckers, "count"), ("kept", kept_high, "count")),
            ),
        ),
        notes=tuple(notes),
    )


def _counts(suckers: int, kept: int) -> tuple[tuple[str, float, str], ...]:
    return (("suckers", suckers, "count"), ("keep", kept, "count"))


PRUNING_REFUSED_FOR = ("thirsty", "borers_fly", "frozen_no_new_growth", "bare_by_kind")


def pruning(
    *,
    years_planted: float,
    cut_this_season_share: float = 0.0,
    found: Collection[str] = (),
) -> Dose | NotGiven:
    """Share of the leaves that may still be cut in this growing season; dead wood is not counted.

    Not more than 25 percent in a growing season (ANSI A300 Part 1 as quoted); one program in the
    south teaches under 20. In the first year only dead, broken and rubbing wood: live share 0.
    """
    if reasons := among("found", found, PRUNING_REFUSED_FOR):
        return NotGiven("prune_dead_wood", reasons)
    years = number("years_planted", years_planted, at_most=500, unit="year")
    cut = number("cut_this_season", cut_this_season_share, at_most=1, unit="share")
    new = years < si("prune_first_year")
    limit = 0.0 if new else si("prune_share")
    return Dose(
        "prune_dead_wood",
        (
            Step(
                "may_still_cut",
                max(0.0, limit - cut),
                "share",
                (("limit", limit, "share"), ("cut_this_season", cut, "share")),
            ),
            Step("southern_limit", si("prune_share_south"), "share"),
        ),
        notes=("dead_broken_rubbing_only",) if new else ("least_that_serves",),
    )


@dataclass(frozen=True, slots=True)
class BarkRule:
    """How loose bark is trimmed: who may, what is done in order, what is never done."""

    who: tuple[Who, ...]
    do: tuple[str, ...]
    never: tuple[str, ...]
    mark: str


# Trained hands only and not into the wood: garden press and extension, see the handbook.
LOOSE_BARK = BarkRule(
    who=("trained", "arborist"),
    do=("clean_sharp_blade", "back_to_sound_bark", "ragged_edge_only", "leave_open"),
    never=("enlarge", "cut_live_bark", "chisel_wood", "pull_off_to_find_out", "paint_or_dress"),
    mark="quoted, not seen",
)


def trim_loose_bark(
    *,
    who: str,
    lost_width_m: float,
    girth_m: float,
    width_after_m: float | None = None,
    wet_flap: bool = False,
) -> Dose | NotGiven:
    """How far loose bark may be trimmed: to the sound edge, so that the wound is no wider after.

    `lost_width_m` is the arc of dead or missing bark, loose bark counted as lost. Given the width
    after the work it says whether the wound was enlarged. A wet flap that still hangs on is not
    trimmed: it is shaded, and a qualified person sees it the same day (from memory).
    """
    if wet_flap:
        return NotGiven("trim_loose_bark", ("wet_flap_needs_a_qualified_person_today",))
    if chosen("who", who, WHO) not in LOOSE_BARK.who:
        return NotGiven("trim_loose_bark", ("trained_hands_only",))
    girth = number("girth", girth_m, above=0, at_most=15, unit="m")
    width = number("wound_width", lost_width_m, at_most=15, unit="m")
    if width > girth + 1e-9:
        raise Impossible("wound_width", "wider_than_girth", limit=girth, unit="m")
    steps = [
        Step(
            "girdled_share",
            width / girth,
            "share",
            (("wound_width", width, "m"), ("girth", girth, "m")),
        ),
        Step("no_wider_than", width, "m", (("wound_width", width, "m"),)),
    ]
    notes = list(LOOSE_BARK.do)
    if width_after_m is not None:
        after = number("width_after", width_after_m, at_most=girth, unit="m")
        wider = max(0.0, after - width)
        steps.append(
            Step(
                "enlarged_by",
                wider,
                "m",
                (("width_after", after, "m"), ("wound_width", width, "m")),
            )
        )
        notes.append("enlarged" if wider > 1e-9 else "not_enlarged")
    return Dose("trim_loose_bark", tuple(steps), notes=tuple(notes))


def shoots_counted(from_root: int = 0, from_base: int = 0, below_graft: int = 0) -> tuple[str, ...]:
    """Counts of low shoots as the list that `low_shoots` reads."""
    counts = {"from_root": from_root, "from_base": from_base, "below_graft": below_graft}
    return tuple(
        kind for kind, count in counts.items() for _ in range(whole(kind, count, at_most=10_000))
    )
