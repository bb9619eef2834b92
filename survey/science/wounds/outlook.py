"""What lost bark means: the trade's four bands, and what makes a tree one band worse off.

The steps at a quarter, a half and all round are a rule of thumb that is repeated in extension
texts and the garden press; no replicated trial on newly planted street trees stands behind them.
"""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal, TypeAlias

from survey.science.wounds.girdled import Girdled

Band: TypeAlias = Literal["none", "under_quarter", "quarter_to_half", "half_or_more", "all_round"]
Worse: TypeAlias = Literal[
    "thin_trunk", "new_tree", "repeated", "at_soil_line", "borers_or_ooze", "drought", "crown_thin"
]

BANDS: tuple[Band, ...] = (
    "none",
    "under_quarter",
    "quarter_to_half",
    "half_or_more",
    "all_round",
)
SOURCES: dict[Band, tuple[str, ...]] = {
    "none": (),
    "under_quarter": ("nmsu_2007",),
    "quarter_to_half": ("garden_press_bark",),
    "half_or_more": ("nmsu_2007",),
    "all_round": ("nmsu_2007", "iowa_rabbits"),
}
"""Handbook sources of each band; all of them are marked a rule of thumb."""

DELAY_SOURCES = ("nmsu_2007", "extension_girdled_2023")

WORSE: tuple[Worse, ...] = (
    "thin_trunk",
    "new_tree",
    "repeated",
    "at_soil_line",
    "borers_or_ooze",
    "drought",
    "crown_thin",
)
"""Each puts a wounded tree one band lower, once (own rule of this project, no source)."""

THIN_TRUNK_M = 0.0508  # 2 in across
NEW_TREE_DAYS = 365
SOIL_LINE_M = 0.0
CROWN_THIN = 0.25
_WHOLE = 1 - 1e-9


@dataclass(frozen=True, slots=True)
class Outlook:
    """The band as sourced at both ends of the range, and the band after the own adjustments.

    `delayed` says that green leaves do not speak against it: roots live on stored food for a while.
    """

    low: Band
    high: Band
    worse: tuple[Worse, ...]
    adjusted_low: Band
    adjusted_high: Band
    delayed: bool

    @property
    def is_known(self) -> bool:
        return self.low == self.high


def band_of(share: float) -> Band:
    """The band of a share of the girth, 0 to 1. Under 1/4, under 1/2, under all, all round."""
    if not 0 <= share <= 1:
        raise ValueError(f"a share lies between 0 and 1, not {share!r}")
    if share == 0:
        return "none"
    if share < 0.25:
        return "under_quarter"
    if share < 0.5:
        return "quarter_to_half"
    return "half_or_more" if share < _WHOLE else "all_round"


def outlook_of(share: Girdled, worse: Collection[Worse] = ()) -> Outlook:
    """The outlook of a share. However many reasons there are, they cost one band together.

    They never make *all round* of a trunk that has a bridge of live bark: that would tell of a
    sure death that no source tells of (own rule of this project).
    """
    unknown = set(worse) - set(WORSE)
    if unknown:
        raise ValueError(f"no such reason: {sorted(unknown)}")
    reasons = tuple(reason for reason in WORSE if reason in worse)
    low, high = band_of(share.low), band_of(share.high)
    return Outlook(
        low=low,
        high=high,
        worse=reasons if share.wounds else (),
        adjusted_low=_lowered(low) if reasons else low,
        adjusted_high=_lowered(high) if reasons else high,
        delayed=share.high >= 0.5,
    )


def _lowered(band: Band) -> Band:
    if band in ("none", "all_round"):
        return band
    return BANDS[min(BANDS.index(band) + 1, BANDS.index("half_or_more"))]


def reasons_for_worse(
    *,
    trunk_across_m: float | None,
    days_in_ground: int | None,
    repeated: bool,
    low_edge_m: float | None,
    borers_or_ooze: bool,
    drought: bool,
    crown_dieback: float | None,
) -> tuple[Worse, ...]:
    """Which of the seven reasons hold; what is not known (None) is no reason."""
    held: dict[Worse, bool] = {
        "thin_trunk": trunk_across_m is not None and trunk_across_m < THIN_TRUNK_M,
        "new_tree": days_in_ground is not None and days_in_ground < NEW_TREE_DAYS,
        "repeated": repeated,
        "at_soil_line": low_edge_m is not None and low_edge_m <= SOIL_LINE_M,
        "borers_or_ooze": borers_or_ooze,
        "drought": drought,
        "crown_thin": crown_dieback is not None and crown_dieback > CROWN_THIN,
    }
    return tuple(reason for reason in WORSE if held[reason])
