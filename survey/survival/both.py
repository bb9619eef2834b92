"""The two readings of one group beside each other: where they differ by more than their limits.

Both rest on the same trees and share most of their looks, so their limits overlap nearly always,
and two readings whose limits do not even touch would be a rare wreck. What a reader needs to know
is less: that whoever quotes one reading with its limits says something that the other denies. So
they differ beyond their limits where the estimate of one lies outside the limits of the other.

"All of them" and "none of them" are where an estimate from looks alone must end when it meets no
loss or no survivor; the other reading never gives them. Such an estimate therefore speaks through
its own limits only.
"""

import math

from survey.survival.models import Figure, Group


def other_reading(group: Group) -> Group | None:
    """The same trees with all evidence weighed, with its figures; None before that is worked out.

    Raises `ValueError` for a group that is that reading itself.
    """
    if group.reading != Group.Reading.VERIFIED:
        raise ValueError(f"{group} is not of verified looks.")
    others = Group.objects.filter(area=group.area_id, by=group.by, key=group.key).weighed()
    return others.prefetch_related("figures").first()


def begin_alike(verified: Group, weighed: Group) -> bool:
    """Whether both speak of trees that stood at the same age; otherwise they cannot differ."""
    start = verified.counts.get("from_age")
    return start is not None and start == weighed.counts.get("from_age")


def differ(verified: Figure, weighed: Figure) -> bool:
    """Whether one of two figures, both told, lies outside the limits of the other.

    A verified estimate with two ends lies outside when both of them do. Limits are taken as they
    are printed, rounded outward to one in a hundred.
    """
    if verified.withheld or weighed.withheld:
        return False
    inside = _least(verified) <= weighed.at_least <= _most(verified)
    reached = verified.at_most >= _least(weighed) and verified.at_least <= _most(weighed)
    at_an_end = verified.at_least == 1 or verified.at_most == 0
    return not (inside and (reached or at_an_end))


def _least(figure: Figure) -> float:
    return math.floor(figure.low * 100 + 1e-9) / 100


def _most(figure: Figure) -> float:
    return math.ceil(figure.high * 100 - 1e-9) / 100
