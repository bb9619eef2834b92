"""Girdled share: how much of a trunk's girth has lost its bark, as a range where it is not sure."""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from survey.science.wounds.face import BadWound, Wound, covered

How: TypeAlias = Literal["none", "tape", "clock", "mixed", "lay"]


@dataclass(frozen=True, slots=True)
class Girdled:
    """Share of the girth without live bark, from `low` to `high` (equal where it is known)."""

    low: float
    high: float
    how: How
    wounds: int

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.high <= 1:
            raise ValueError(f"{self.low} to {self.high} is no range of shares")

    @property
    def is_known(self) -> bool:
        return math.isclose(self.low, self.high, abs_tol=1e-9)


_OPEN = 1e-6  # as good as not at all

WHOLE = Girdled(0.0, 0.0, "none", 0)


def girdled(wounds: Iterable[Wound]) -> Girdled:
    """The share lost on one stem: the union of its wounds on one clock face.

    One wound is W / C by tape. Wounds whose place is not known may hide behind each other or stand
    side by side: then the share runs from the widest to the sum, at most 1. Measuring procedure:
    own rule of this project and standard practice; two wounds 12 to 3 and 3 to 6 make a half.
    """
    seen = list(wounds)
    if not seen:
        return WHOLE
    if len({wound.stem for wound in seen}) > 1:
        raise ValueError("wounds of different stems have no clock face in common")
    placed = [arc for wound in seen if (arc := wound.arc()) is not None]
    loose = sorted(wound.share for wound in seen if not wound.is_placed)
    together = min(1.0, covered(placed))
    low = max([together, *loose])
    high = min(1.0, math.fsum([together, *loose]))
    taped = sum(wound.is_taped for wound in seen)
    how: How = "tape" if taped == len(seen) else "clock" if not taped else "mixed"
    return Girdled(low, max(low, high), how, len(seen))


def girdled_by_stem(wounds: Iterable[Wound]) -> dict[int, Girdled]:
    """The same stem by stem, for those that have a wound, in the order of their numbers."""
    stems: dict[int, list[Wound]] = defaultdict(list)
    for wound in wounds:
        stems[wound.stem].append(wound)
    return {stem: girdled(stems[stem]) for stem in sorted(stems)}


def girdled_by_eye(ranges: Iterable[tuple[float, float]], unseen: int = 0) -> Girdled:
    """The share from the lay scale: each sign with the range of shares that its step names.

    Several signs may be one place seen twice, or places side by side: from the largest lower end
    to the sum of the upper ends. A step does not hold its upper end ("less than a quarter" is no
    quarter) unless it is one point, and some bark is lost where one is named at all. Beside a sign
    that could not be seen all of it (`unseen`), everything may be lost.
    """
    seen = sorted(ranges)
    if not seen and not unseen:
        return WHOLE
    for low, high in seen:
        if not 0 <= low <= high <= 1:
            raise ValueError(f"{low} to {high} is no range of shares")
    low = max((max(low, _OPEN) for low, _high in seen), default=_OPEN)
    high = math.fsum(high if low == high else high - _OPEN for low, high in seen)
    high = 1.0 if unseen else max(low, min(1.0, high))
    return Girdled(low, high, "lay", len(seen) + unseen)


def whole_tree(
    by_stem: Mapping[int, Girdled], stems: int, girths: Mapping[int, float] | None = None
) -> Girdled:
    """The share of all bark lost on a tree of several stems (own rule of this project).

    Each stem counts by its girth where all girths are known, else all stems count alike; a stem
    without a wound counts as whole. Raises `BadWound` for a stem the tree does not have.
    """
    if stems < 1 or any(not 1 <= stem <= stems for stem in by_stem):
        raise BadWound("stem", "no_such_stem")
    if not by_stem:
        return WHOLE
    numbers = range(1, stems + 1)
    known = girths is not None and all(girths.get(stem, 0) > 0 for stem in numbers)
    weight = {stem: girths[stem] if known and girths else 1.0 for stem in numbers}
    total = math.fsum(weight.values())
    low = math.fsum(weight[stem] * share.low for stem, share in by_stem.items()) / total
    high = math.fsum(weight[stem] * share.high for stem, share in by_stem.items()) / total
    ways = {share.how for share in by_stem.values()}
    how: How = ways.pop() if len(ways) == 1 else "mixed"
    wounds = sum(share.wounds for share in by_stem.values())
    return Girdled(min(1.0, low), min(1.0, max(low, high)), how, wounds)
