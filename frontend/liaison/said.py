"""A group's figures as sentences: natural frequencies, with their range and the trees behind."""

import math
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from survey.survival.figures import MILESTONES, SECOND_SUMMER
from survey.survival.models import Figure, Group

ROUGH_BELOW = 50  # trees: fewer carry tenths only, more carry hundredths


@dataclass(frozen=True, slots=True)
class Finding:
    """The sentence a page opens with: what is found, and how sure it is (in softer ink)."""

    said: str
    sure: str


def milestone_said(milestone: str) -> str:
    """ "second summer", "1 year", "2 years" …"""
    months = MILESTONES[milestone]
    if months is None:
        return _("second summer")
    years = int(months // 12)
    return ngettext("%(n)d year", "%(n)d years", years) % {"n": years}


def withheld_said(code: str) -> str:
    """Why a figure is not there."""
    return {
        "too_few": _("fewer than five trees under watch: counts only"),
        "not_old_enough": _("no tree is old enough yet"),
        "not_watched": _("nobody watched so early"),
        "not_seen": _("nobody has looked so late yet"),
    }.get(code, code)


def hundred(share: float | None, *, up: bool = False) -> int | None:
    """A share as so many of 100: whole trees, rounded down unless `up`."""
    if share is None:
        return None
    return math.ceil(share * 100 - 1e-9) if up else math.floor(share * 100 + 1e-9)


def finding_of(group: Group, figures: dict[str, Figure]) -> Finding:
    """The one sentence of a group. `figures` are those of its loss curve by milestone.

    The second summer if it can be told, else the latest age that can, else the counts alone. It
    quotes *at least*; the range holds both ends and is rounded outward.
    """
    told = [figures[name] for name in MILESTONES if not figures[name].withheld]
    figure = next((f for f in told if f.milestone == SECOND_SUMMER), told[-1] if told else None)
    if figure is None:
        return _counts_only(group)
    trees = group.counts["in_rates"]
    of = 10 if trees < ROUGH_BELOW else 100
    least = math.floor(figure.at_least * of + 1e-9)
    words = {
        "n": least,
        "of": of,
        "group": _named(group),
        "age": milestone_said(figure.milestone),
    }
    # "At least 10 in 10" would be a riddle; a rounded share never gets here, only one of all.
    if least == of and figure.milestone == SECOND_SUMMER:
        said = _("All the watched trees %(group)s stood through their second summer") % words
    elif least == of:
        said = _("All the watched trees %(group)s still stood after %(age)s") % words
    elif figure.milestone == SECOND_SUMMER:
        said = (
            _("At least %(n)d in %(of)d of the trees %(group)s stood through their second summer")
            % words
        )
    else:
        said = (
            _("At least %(n)d in %(of)d of the trees %(group)s still stood after %(age)s") % words
        )
    sure = ngettext(
        "(somewhere between %(low)d and %(high)d in %(of)d, from %(trees)d tree)",
        "(somewhere between %(low)d and %(high)d in %(of)d, from %(trees)d trees)",
        trees,
    ) % {
        "low": math.floor(figure.low * of + 1e-9),
        "high": math.ceil(figure.high * of - 1e-9),
        "of": of,
        "trees": trees,
    }
    if group.counts.get("from_age"):
        sure = f"{sure} {_('of those alive at %d months') % group.counts['from_age']}"
    return Finding(said, sure)


def counted_said(group: Group) -> str:
    """The count of these very trees, apart from the rate that such trees have."""
    statuses = group.counts["statuses"]
    parts = []

    def part(count: int, one: str, many: str) -> None:
        if count:
            parts.append((one if count == 1 else many) % {"n": count})

    died = statuses["standing_dead"] + statuses["gone"]
    removed = statuses["removed_health"] + statuses["removed_other"]
    part(
        statuses["alive"],
        _("%(n)d was seen alive within a year"),
        _("%(n)d were seen alive within a year"),
    )
    part(
        statuses["stale"],
        _("%(n)d was alive when last seen, over a year ago"),
        _("%(n)d were alive when last seen, over a year ago"),
    )
    part(died, _("%(n)d died or is gone"), _("%(n)d died or are gone"))
    part(removed, _("%(n)d was removed alive"), _("%(n)d were removed alive"))
    part(statuses["lost"], _("%(n)d could not be found again"), _("%(n)d could not be found again"))
    part(
        statuses["unseen"],
        _("%(n)d has not been looked at yet"),
        _("%(n)d have not been looked at yet"),
    )
    part(statuses["never_planted"], _("%(n)d was never planted"), _("%(n)d were never planted"))
    trees = group.counts["registered"]
    opening = ngettext("Of the %(n)d tree on the list", "Of the %(n)d trees on the list", trees)
    return f"{opening % {'n': trees}}: {'; '.join(parts)}."


def _counts_only(group: Group) -> Finding:
    counts = group.counts
    alive = counts["statuses"]["alive"] + counts["statuses"]["stale"]
    said = ngettext(
        "%(alive)d of %(trees)d tree %(group)s was alive when trained eyes last saw it",
        "%(alive)d of %(trees)d trees %(group)s were alive when trained eyes last saw them",
        counts["registered"],
    ) % {"alive": alive, "trees": counts["registered"], "group": _named(group)}
    return Finding(said, _("(a count; there is no rate yet)"))


def _named(group: Group) -> str:
    """The group as the end of "the trees …"."""
    return {
        "planting": _("of the planting %s"),
        "species": _("of the kind %s"),
        "site": _("at %s"),
        "year": _("planted in %s"),
        "supplier": _("from %s"),
        "town": _("of %s"),
    }[group.by] % group.label
