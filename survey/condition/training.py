"""How far a volunteer has come: practice rounds, paired walks, and what is missing."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from survey.condition.agreement import Pair, pairs_on
from survey.people.models import PairedWalk, Person, PracticeRound
from survey.people.training import is_enough
from survey.trees.models import Area

# Own rules of this project. Four in five is the agreement that a street tree study took as good
# enough, as Bancks, North and Johnson 2018 tell of it (Arboriculture & Urban Forestry 44(2):73-86,
# seen in summary). They found trained volunteers to use the very same word of condition in fewer
# than seven in ten, so the next word counts as agreement here, but never alive against dead.
WALKS_NEEDED = 2
FEWEST_TREES = 5
AGREED_OF = (4, 5)


@dataclass(frozen=True, slots=True)
class WalkSeen:
    """A paired walk with what both saw of the same trees."""

    walk: PairedWalk
    pairs: list[Pair]

    @property
    def same(self) -> int:
        return sum(pair.is_same for pair in self.pairs)

    @property
    def near(self) -> int:
        return sum(pair.is_near for pair in self.pairs)

    @property
    def is_enough(self) -> bool:
        """Trees enough seen by both, with the same word or the next one for four in five."""
        agreed, of = AGREED_OF
        return len(self.pairs) >= FEWEST_TREES and self.near * of >= agreed * len(self.pairs)


@dataclass(frozen=True, slots=True)
class Standing:
    """What somebody who learns has done so far. `ready_on` is the first day on which they may be
    signed off without a reason; None while something is missing."""

    person: Person
    rounds: list[PracticeRound]
    walks: list[WalkSeen]
    practiced: bool
    walks_missing: int
    ready_on: date | None

    @property
    def best(self) -> PracticeRound | None:
        return max(self.rounds, key=lambda each: each.right / each.of, default=None)


def today_of_the_house(at: datetime) -> date:
    """Today in the home town; the day of `at` before there is one."""
    home = Area.objects.filter(is_home=True).first()
    return home.today() if home else at.date()


def _day_in_town(at: datetime) -> date:
    """The day on which a moment fell in the home town."""
    home = Area.objects.filter(is_home=True).first()
    return at.astimezone(ZoneInfo(home.time_zone)).date() if home else at.date()


def walk_seen(walk: PairedWalk) -> WalkSeen:
    return WalkSeen(walk, pairs_on(walk))


def standing_of(person: Person) -> Standing:
    """How far this person has come, from the rounds and walks that are kept."""
    rounds = list(person.practice.order_by("at", "pk"))
    walks = [walk_seen(walk) for walk in person.paired_walks.select_related("partner")]
    practiced = next((each for each in rounds if is_enough(each)), None)
    good = [seen for seen in walks if seen.is_enough]
    missing = max(0, WALKS_NEEDED - len(good))
    ready_on = None
    if practiced is not None and not missing:
        ready_on = max(_day_in_town(practiced.at), good[WALKS_NEEDED - 1].walk.day)
    return Standing(person, rounds, walks, practiced is not None, missing, ready_on)
