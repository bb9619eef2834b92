"""What one look says of life, and when frost or drought explains it."""

from datetime import date, timedelta

from survey.science.saving.facts import Facts, Line, Seen
from survey.science.saving.growing import SIX_WEEKS

TREE = {"standing", "sprouting"}
ALIVE_WORDS = {"thriving", "holding", "slipping", "failing"}


def is_alive(look: Seen, facts: Facts) -> bool:
    """Leaves, green under the bark, or the word of somebody who could know."""
    if look.presence not in TREE:
        return False
    if look.green:
        return True
    if look.presence == "sprouting":
        return False  # the leaves are those of the shoots
    if look.leaf in ("full", "partial"):
        return True
    return look.condition in ALIVE_WORDS and (look.trained or facts.calendar.is_growing(look.day))


def is_suspect(look: Seen) -> bool:
    """No sign of life was found by somebody who looked for one."""
    if look.presence != "standing" or look.green or look.leaf in ("full", "partial"):
        return False
    return look.condition == "dead" or (look.leaf == "bare" and look.brown)


def is_proof(look: Seen) -> bool:
    """A trained visit that went over the whole tree: called dead after a scratch, or brown all
    over."""
    return look.trained and look.brown and (look.condition == "dead" or look.brown_all_over)


def held(facts: Facts) -> tuple[date | None, Line | None]:
    """Until when frost or drought forbids to call it dead, seen from today."""
    until, why = None, None
    if facts.frozen_on is not None:
        until = frost_over(facts)
        why = Line("frost_wait", day=facts.frozen_on, other=until)
    if facts.dry_from is not None and facts.calendar.bare_in_drought:
        dry = None if facts.dry_to is None else facts.dry_to + SIX_WEEKS
        if dry is None or until is None or dry > until:
            until, why = dry, Line("drops_in_drought", day=facts.dry_from, other=dry)
            if dry is None:
                return date.max, why
    if until is None or until <= facts.day:
        return None, None
    return until, why


def frost_over(facts: Facts) -> date:
    """New growth shows what frost has killed: the first day that counts, six weeks after it."""
    frozen = facts.frozen_on
    assert frozen is not None
    first = facts.calendar.next_growing(frozen + SIX_WEEKS) or frozen + SIX_WEEKS
    if facts.calendar.bare or facts.calendar.is_growing(first - timedelta(days=1)):
        return first
    return first + SIX_WEEKS  # an evergreen after a winter frost: its spring growth comes first


def is_held(facts: Facts, day: date) -> bool:
    """Whether frost or drought explains what was seen on this day."""
    frozen = facts.frozen_on
    if frozen is not None and frozen <= day < frost_over(facts):
        return True
    if facts.dry_from is None or not facts.calendar.bare_in_drought:
        return False
    ends = date.max if facts.dry_to is None else facts.dry_to + SIX_WEEKS
    return facts.dry_from <= day < ends
