"""What trained people saw of many trees, read in bulk, and which of it may be taken at its word."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from survey.trees.models import Look
from survey.trees.species import Kind

NOT_AN_ANSWER = ["not_seen", "never_planted"]


@dataclass(frozen=True, slots=True)
class Seen:
    """One trained look at one tree, as far as rates and trends need it."""

    day: date
    presence: str
    condition: str
    channel: str

    @property
    def is_loss(self) -> bool:
        """Whether it says that the tree is dead or gone. Sprouting from below is alive."""
        if self.presence == Look.Presence.STANDING:
            return self.condition == "dead"
        return self.presence in (Look.Presence.STUMP, Look.Presence.GONE)

    @property
    def is_standing_dead(self) -> bool:
        return self.presence == Look.Presence.STANDING and self.condition == "dead"


@dataclass(frozen=True, slots=True)
class Record:
    """The trained looks at one tree in order of time, and whether one found it never planted."""

    seen: tuple[Seen, ...] = ()
    never_planted: bool = False


def trained_records(tree_ids: Sequence[int]) -> dict[int, Record]:
    """The record of each of these trees, in one query; trees without a trained look are missing.

    Corrected looks are left out, and so are those that could not see the tree. On one day a look
    that found the tree alive comes before one that found it dead: it cannot be the other way round.
    """
    looks: dict[int, list[Seen]] = defaultdict(list)
    never: set[int] = set()
    rows = (
        Look.objects.standing_record()
        .trained()
        .filter(tree_id__in=tree_ids)
        .exclude(presence=Look.Presence.NOT_SEEN)
        .order_by()
        .values_list("tree_id", "day", "presence", "condition", "channel")
    )
    for tree_id, *rest in rows.iterator(chunk_size=5000):
        seen = Seen(*rest)
        if seen.presence == Look.Presence.NEVER_PLANTED:
            never.add(tree_id)
        else:
            looks[tree_id].append(seen)
    return {
        tree_id: Record(tuple(sorted(looks.get(tree_id, ()), key=_in_time)), tree_id in never)
        for tree_id in {*looks, *never}
    }


def _in_time(seen: Seen) -> tuple[date, bool, str, str, str]:
    return seen.day, seen.is_loss, seen.presence, seen.condition, seen.channel


def believable(
    seen: Iterable[Seen], kind: Kind, *, removed_by: date | None = None
) -> tuple[Seen, ...]:
    """The looks without those "dead" that a bare crown may have been mistaken for.

    In a month in which the species may stand bare, "dead" counts only when the next look of a later
    day says dead or gone too, or when the tree was removed on that day or later.
    """
    looks = tuple(seen)
    kept = []
    for place, look in enumerate(looks):
        if look.is_standing_dead and kind.is_leaf_off(look.day.month):
            after = next((later for later in looks[place + 1 :] if later.day > look.day), None)
            agreed = after is not None and after.is_loss
            removed = after is None and removed_by is not None and removed_by >= look.day
            if not (agreed or removed):
                continue
        kept.append(look)
    return tuple(kept)
