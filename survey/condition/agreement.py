"""How often two who looked at the same tree said the same, and where they differ.

Says nothing of who was right: a tree may have changed in between, or not been the same tree.
"""

from bisect import bisect_left
from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from survey.people.models import Observer, PairedWalk
from survey.science.agreement import Share, same_word
from survey.trees.models import Look, LookSign
from survey.trees.queries import LookQuerySet

# Own rules of this project.
LOOKS_BELONG_TOGETHER = timedelta(days=30)
FEWEST_PAIRS = 5
DIFFERED_AT_LEAST = 2  # once is a slip; twice is worth a second look

ALIVE_STEPS = ("thriving", "holding", "slipping", "failing", "sprouting")
WORDS = (*ALIVE_STEPS, "dead", "gone")


@dataclass(frozen=True, slots=True)
class Told:
    """One look in one word (one of WORDS), with the signs that were ticked."""

    look: int
    tree: int
    observer: int
    day: date
    word: str
    signs: frozenset[str]


@dataclass(frozen=True, slots=True)
class Pair:
    """Two looks at one tree that may be compared."""

    mine: Told
    other: Told

    @property
    def is_same(self) -> bool:
        return self.mine.word == self.other.word

    @property
    def is_near(self) -> bool:
        """The same word, or the next one on the way from thriving to failing. Alive and dead are
        never near each other."""
        if self.is_same:
            return True
        if not {self.mine.word, self.other.word} <= set(ALIVE_STEPS):
            return False
        steps = ALIVE_STEPS.index(self.mine.word) - ALIVE_STEPS.index(self.other.word)
        return abs(steps) == 1


@dataclass(frozen=True, slots=True)
class Twice:
    """What to look at twice: one said `mine` where the other said `other`, so many times.

    For a sign, `mine` or `other` is its code and the other side is empty: only one ticked it.
    """

    mine: str
    other: str
    times: int


@dataclass(frozen=True, slots=True)
class Agreement:
    """How one observer and others agreed; `share` is None with fewer than FEWEST_PAIRS pairs."""

    pairs: int
    same: int
    near: int
    share: Share | None
    words: tuple[Twice, ...]
    signs: tuple[Twice, ...]


def word_of(presence: str, condition: str) -> str:
    """A look in one word of WORDS; "" where it says nothing that can be compared."""
    if presence == Look.Presence.STANDING:
        return condition
    if presence == Look.Presence.SPROUTING:
        return "sprouting"
    return "gone" if presence in (Look.Presence.STUMP, Look.Presence.GONE) else ""


def told_by(looks: LookQuerySet) -> list[Told]:
    """These looks in one word each, with their signs; those that say nothing are left out."""
    rows = [
        row
        for row in looks.order_by("day", "pk").values_list(
            "pk", "tree_id", "observer_id", "day", "presence", "condition"
        )
        if word_of(row[4], row[5])
    ]
    signs: dict[int, set[str]] = defaultdict(set)
    ticked = LookSign.objects.filter(look__in=looks.order_by().values("pk"))
    for look, sign in ticked.values_list("look_id", "sign"):
        signs[look].add(sign)
    return [
        Told(pk, tree, observer, day, word_of(presence, condition), frozenset(signs[pk]))
        for pk, tree, observer, day, presence, condition in rows
    ]


def pairs_of(observer: Observer) -> list[Pair]:
    """Each look of one observer beside the trained look of somebody else at the same tree that is
    nearest in time and at most 30 days away; looks without one are left out."""
    own = Look.objects.standing_record().filter(observer=observer)
    mine = told_by(own)
    if not mine:
        return []
    others: dict[int, list[Told]] = defaultdict(list)
    theirs = Look.objects.standing_record().trained().filter(tree__in=own.values("tree"))
    for told in told_by(theirs.exclude(observer=observer)):
        others[told.tree].append(told)
    found = ((told, _nearest(told, others[told.tree])) for told in mine)
    return [Pair(told, other) for told, other in found if other is not None]


def _nearest(told: Told, others: list[Told]) -> Told | None:
    """Of looks in order of time, the nearest within reach; of two equally near, the earlier."""
    place = bisect_left(others, told.day, key=lambda other: other.day)
    near = [
        other
        for other in others[max(0, place - 1) : place + 1]
        if abs(other.day - told.day) <= LOOKS_BELONG_TOGETHER
    ]
    return min(near, key=lambda other: abs(other.day - told.day), default=None)


def agreement_in(pairs: list[Pair]) -> Agreement:
    """How far these pairs agree, and what to look at twice."""
    place = {word: number for number, word in enumerate(WORDS)}
    enough = len(pairs) >= FEWEST_PAIRS
    share = same_word(
        [place[pair.mine.word] for pair in pairs], [place[pair.other.word] for pair in pairs]
    )
    return Agreement(
        pairs=len(pairs),
        same=sum(pair.is_same for pair in pairs),
        near=sum(pair.is_near for pair in pairs),
        share=share if enough else None,
        words=_often(_differing_words(pairs)) if enough else (),
        signs=_often(_differing_signs(pairs)) if enough else (),
    )


def _differing_words(pairs: list[Pair]) -> Counter[tuple[str, str]]:
    return Counter((pair.mine.word, pair.other.word) for pair in pairs if not pair.is_same)


def _differing_signs(pairs: list[Pair]) -> Counter[tuple[str, str]]:
    counted: Counter[tuple[str, str]] = Counter()
    for pair in pairs:
        counted.update((sign, "") for sign in pair.mine.signs - pair.other.signs)
        counted.update(("", sign) for sign in pair.other.signs - pair.mine.signs)
    return counted


def _often(counted: Counter[tuple[str, str]]) -> tuple[Twice, ...]:
    """What happened at least twice, most often first."""
    order = sorted(counted.items(), key=lambda each: (-each[1], each[0]))
    return tuple(
        Twice(mine, other, times) for (mine, other), times in order if times >= DIFFERED_AT_LEAST
    )


def agreement_of(observer: Observer) -> Agreement:
    """How often this observer and trained others said the same of the same tree within 30 days."""
    return agreement_in(pairs_of(observer))


def pairs_on(walk: PairedWalk) -> list[Pair]:
    """What the two of a paired walk saw of the same trees there on that day, in walking order.

    Of two looks by one person at one tree the later counts.
    """
    looks = Look.objects.standing_record().filter(day=walk.day, tree__site__ref=walk.where)
    learner = {told.tree: told for told in _told_of(looks, walk.person_id)}
    partner = {told.tree: told for told in _told_of(looks, walk.partner_id)}
    order = looks.order_by("tree__walk_order", "tree__tag", "tree").values_list("tree", flat=True)
    both = [tree for tree in dict.fromkeys(order) if tree in learner and tree in partner]
    return [Pair(learner[tree], partner[tree]) for tree in both]


def _told_of(looks: LookQuerySet, person: int) -> list[Told]:
    return told_by(looks.filter(observer__person=person))
