"""A kind of tree as the handbook holds it: when it is bare, its bark, and what it bears badly."""

from dataclasses import dataclass
from typing import Literal

from survey.handbook.records import (
    Entry,
    FieldRefused,
    Hemisphere,
    Month,
    Name,
    Said,
    Trade,
    northern_month,
)

Amount = Literal["very_low", "low", "low_to_moderate", "moderate", "moderate_to_high", "high"]
Bark = Literal["thin_smooth", "smooth", "rough", "peeling", "green_photosynthetic"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Species(Entry):
    """A kind of tree, with the months in which it is supposed to be bare (northern hemisphere).

    The south has them six months later, unless a source gives it months of its own. `bark` is that
    of the young tree; `water_use` that of an established one, in the place `water_use_from` names.
    """

    latin: str
    common_name: Said
    leaf_habit: Literal["deciduous", "semi-evergreen", "evergreen", "drought-deciduous"]
    bare_months: tuple[Month, ...]
    shoulder_months: tuple[Month, ...]
    bare_months_south: tuple[Month, ...] = ()
    shoulder_months_south: tuple[Month, ...] = ()
    bare_in_drought: bool = False
    height_low_m: float
    height_high_m: float
    sunscald: Amount
    bark: Bark
    water_use: Amount | None = None
    water_use_from: Trade | None = None
    often_grafted: bool = False  # a shoot from below the graft is another kind of tree
    salt_sensitive: bool = False
    wakes_late: bool = False
    iron_hungry: bool = False  # turns yellow on limy soil
    leaf_note: Said | None = None
    aliases: tuple[Name, ...] = ()

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        for name in ("shoulder_months", "shoulder_months_south"):
            bare = getattr(self, name.replace("shoulder", "bare"))
            if set(bare) & set(getattr(self, name)):
                raise FieldRefused(name, "holds a month that is a bare month too")
        if bool(self.bare_months_south) != bool(self.shoulder_months_south):
            raise FieldRefused("shoulder_months_south", "go together with bare_months_south")
        if (self.water_use is None) != (self.water_use_from is None):
            raise FieldRefused("water_use_from", "goes together with water_use")
        if not 0 < self.height_low_m <= self.height_high_m:
            raise FieldRefused("height_high_m", "is not a height at or above height_low_m")

    def is_bare(self, month: int, hemisphere: Hemisphere) -> bool:
        """Whether the tree is supposed to stand without leaves in this month."""
        there = northern_month(month, hemisphere)
        if hemisphere == "south" and self.bare_months_south:
            return month in self.bare_months_south
        return there in self.bare_months

    def is_shoulder(self, month: int, hemisphere: Hemisphere) -> bool:
        """Whether it may or may not be in leaf: dropping, late, or changing its leaves."""
        there = northern_month(month, hemisphere)
        if hemisphere == "south" and self.shoulder_months_south:
            return month in self.shoulder_months_south
        return there in self.shoulder_months
