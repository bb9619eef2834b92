"""When a tree's bareness is news: its calendar, and the days on which a visit counts."""

from dataclasses import dataclass
from datetime import date, timedelta

from survey.science.seasons import Hemisphere, leaf_on_season

SIX_WEEKS = timedelta(weeks=6)  # after peers leafed out, or after its bare months (own rule)
_FAR = 800  # days: two years and a bit, past which no season will come


@dataclass(frozen=True, slots=True)
class Calendar:
    """A species where it stands. Months are 1 to 12 as they fall here, not in the north.

    `peers_in_leaf_on` is the day on which its kind was first seen in leaf in this growing season.
    A species without bare months grows in the six months of the leaf-on season of its hemisphere.
    """

    hemisphere: Hemisphere
    bare: frozenset[int] = frozenset()
    shoulder: frozenset[int] = frozenset()
    bare_in_drought: bool = False
    peers_in_leaf_on: date | None = None

    def __post_init__(self) -> None:
        if not (self.bare | self.shoulder) <= frozenset(range(1, 13)):
            raise ValueError("months are numbers from 1 to 12")

    def is_asleep(self, day: date) -> bool:
        """Whether it may stand bare on this day and be well; months of change count too."""
        return day.month in self.bare or day.month in self.shoulder

    def is_growing(self, day: date) -> bool:
        """Whether a look on this day can say that it is dead.

        Outside its bare months and those beside them, and six weeks after the last of them or
        after its kind was seen in leaf, whichever is later (own rule of this project).
        """
        if self.is_asleep(day):
            return False
        if not self.bare:
            opens, closes = leaf_on_season(_season_year(day, self.hemisphere), self.hemisphere)
            return opens <= day <= closes
        woke = self.woke_on(day)
        if day < woke + SIX_WEEKS:
            return False
        peers = self.peers_in_leaf_on
        return peers is None or not woke <= peers or day >= peers + SIX_WEEKS

    def next_growing(self, day: date) -> date | None:
        """The first day from `day` on that counts; None where its calendar has none."""
        for after in range(_FAR):
            if self.is_growing(day + timedelta(days=after)):
                return day + timedelta(days=after)
        return None

    def woke_on(self, day: date) -> date:
        """The first day after the bare months that lie before `day`."""
        first = day.replace(day=1)
        while first.month not in self.bare:
            before = (first - timedelta(days=1)).replace(day=1)
            if before.month in self.bare:
                return first
            first = before
        return first  # the day itself lies in a bare month


def _season_year(day: date, hemisphere: Hemisphere) -> int:
    if hemisphere == "south" and day.month < 10:
        return day.year - 1
    return day.year
