"""Stakes and ties: the days to look at them, the day they go, and what the push test means."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from survey.science.care.days import a_day, months_after
from survey.science.care.facts import si
from survey.science.care.records import Dose, Due, NotGiven, Step, chosen, number
from survey.science.seasons import Hemisphere, leaf_on_season

TieVerdict = Literal["take_off", "replant_or_anchor", "arborist", "calm_day_first", "loosen"]


def stake_days(staked: date, hemisphere: Hemisphere) -> Dose:
    """When to check stakes and ties, when they go, and the day they must not outlast.

    Off by the start of the second growing season (Pacific Northwest note); checks after 3, 6 and 12
    months; never beyond two growing seasons (contract wording, common practice). The season under
    way at staking counts as the first, because the earlier day is the safer one. Whatever check
    would fall after the day they go is left out.
    """
    day = a_day("staked", staked)
    chosen("hemisphere", hemisphere, ("north", "south"))
    first = next(
        year for year in (day.year - 1, day.year, day.year + 1) if _ends(year, hemisphere) >= day
    )
    off = leaf_on_season(first + 1, hemisphere)[0]
    last = _ends(first + 1, hemisphere)
    checks = [
        Due("check_ties", months_after(day, round(si(f"tie_check_{nth}"))))
        for nth in ("first", "second", "last")
    ]
    return Dose(
        "remove_ties",
        (),
        dates=(
            *(check for check in checks if check.on < off),
            Due("take_off_by", off),
            Due("never_beyond", last),
        ),
        notes=(
            "sooner_if_it_stands_alone",
            "ties_before_stakes",
            "two_stakes_may_stand_clear_as_guards",
            "nursery_stake_tags_and_wrap_too",
        ),
    )


def _ends(year: int, hemisphere: Hemisphere) -> date:
    return leaf_on_season(year, hemisphere)[1]


@dataclass(frozen=True, slots=True)
class TieTest:
    """What was seen: untie one side in calm weather and push at chest height.

    `two_fingers`: two fingers fit between tie and bark. None is not known.
    """

    calm: bool | None = None
    ball_moves: bool | None = None
    trunk_bends: bool | None = None
    two_fingers: bool | None = None
    grown_in: bool = False


# In this order; all common practice, no source.
PUSH_TEST = ("calm_day", "untie_one_side", "push_at_chest_height", "watch_the_ball")


def judge_ties(seen: TieTest) -> TieVerdict:
    """What the push test asks for. A tie in the bark is an arborist's, whatever the test says."""
    if seen.grown_in:
        return "arborist"
    if seen.ball_moves:
        return "replant_or_anchor"
    if seen.calm is not True or seen.ball_moves is None or seen.trunk_bends is None:
        return "loosen" if seen.two_fingers is False else "calm_day_first"
    return "take_off"


def tie_heights(
    height_m: float, *, springs_upright_at_m: float | None = None, whippy: bool = False
) -> Dose | NotGiven:
    """Where a tie may go, by source side by side; a tree under 6 ft that stands needs no stake.

    About 6 in above the lowest point at which the top springs upright; to anchor the ball below a
    third of the height, others say up to two thirds. The sources disagree.
    """
    height = number("height", height_m, above=0, at_most=30, unit="m")
    if height < si("needs_no_stake_under") - 1e-9 and not whippy:
        return NotGiven("stake", ("needs_no_stake",))
    steps = [
        Step(
            code,
            height * si(share),
            "m",
            (("height", height, "m"), ("share_of_height", si(share), "1")),
        )
        for code, share in (("tie_third", "tie_third"), ("tie_two_thirds", "tie_two_thirds"))
    ]
    if springs_upright_at_m is not None:
        upright = number("springs_upright_at", springs_upright_at_m, at_most=height, unit="m")
        above = si("tie_above_upright")
        steps.insert(
            0,
            Step(
                "tie_above_upright_point",
                min(height, upright + above),
                "m",
                (
                    ("springs_upright_at", upright, "m"),
                    ("tie_above_upright", above, "m"),
                    ("height", height, "m"),
                ),
            ),
        )
    return Dose("stake", tuple(steps), notes=("wide_soft_ties", "no_wire", "sources_disagree"))
