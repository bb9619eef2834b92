"""A group's figures as sentences: natural frequencies, with their range and the trees behind.

Every sentence of the survival pages is made here or in `survey.survival.cautions`; a template only
puts them in their places.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

from frontend.liaison.reading import Forecast, Outcome, Reading, Row
from survey.handbook.wording import said as handbook_said
from survey.survival.figures import MILESTONES, SECOND_SUMMER
from survey.survival.models import Group

ROUGH_BELOW = 50  # trees: fewer carry tenths only, more carry hundredths
COUNT_FIRST_BELOW = 10  # trees: of fewer the count comes first, then the rate


@dataclass(frozen=True, slots=True)
class Finding:
    """The sentence a page opens with: what is found, and how sure it is (in softer ink)."""

    said: str
    sure: str


def day_said(day: date) -> str:
    """ "June 16, 2026", "16 de junio de 2026"."""
    # Translators: a whole day, as a Django date format.
    return date_format(day, _("F j, Y"))


def month_said(day: date) -> str:
    """ "June 2026", "junio de 2026"."""
    # Translators: a month, as a Django date format.
    return date_format(day, _("F Y"))


def month_short(day: date) -> str:
    """ "Jun 2026", for the axis of a chart."""
    # Translators: a month in short, as a Django date format.
    return date_format(day, _("M Y"))


def months_said(months: float) -> str:
    """ "1 month", "7 months"."""
    whole = math.floor(months + 0.5)
    return ngettext("%(n)d month", "%(n)d months", whole) % {"n": whole}


def years_said(years: int) -> str:
    """ "1 year", "2 years"."""
    return ngettext("%(n)d year", "%(n)d years", years) % {"n": years}


def label_of(group: Group) -> str:
    """What people call the group; a species by its name in the reader's language."""
    return str(handbook_said(group.label)) if group.by == Group.By.SPECIES else group.label


def milestone_said(milestone: str) -> str:
    """ "second summer", "1 year", "2 years" …"""
    months = MILESTONES[milestone]
    if months is None:
        return _("second summer")
    return years_said(int(months // 12))


def withheld_said(code: str) -> str:
    """Why a figure is not there."""
    return {
        "too_few": _("fewer than five trees under watch: counts only"),
        "not_old_enough": _("no tree is old enough yet"),
        "not_watched": _("nobody watched so early"),
        "not_seen": _("nobody has looked so late yet"),
        "no_looks": _("fewer than five trees have been looked at"),
    }.get(code, code)


def far_off_said(reading: Reading) -> str:
    """Which ages the table leaves out because no tree has reached them."""
    left_out = [
        milestone_said(row.milestone)
        for row in reading.rows
        if reading.is_far_off(row)
        and not any(row.milestone == x.milestone for x in reading.leaning)
    ]
    if not left_out:
        return ""
    return _("No tree is old enough yet for: %s.") % ", ".join(left_out)


def status_said(code: str) -> str:
    """Where a tree is now, by trained eyes."""
    return {
        "alive": _("alive, seen within a year"),
        "stale": _("alive when last seen, over a year ago"),
        "unseen": _("not looked at since planting"),
        "standing_dead": _("dead, still standing"),
        "gone": _("gone: dead, or why is not known"),
        "removed_health": _("removed alive for health or safety"),
        "removed_other": _("removed alive for another reason"),
        "lost": _("could not be found again"),
        "never_planted": _("never planted"),
    }.get(code, code)


def excluded_said(code: str) -> str:
    """Why a tree is out of the rates."""
    return {
        "because_of_report": _("registered because of a report"),
        "not_found_alive": _("registered later, and no trained look found it alive"),
        "never_planted": _("never planted"),
        "gone_on_entry": _("lost in the month it came on the list"),
    }.get(code, code)


def hundred(share: float | None, *, up: bool = False) -> int | None:
    """A share as so many of 100: whole trees, rounded down unless `up`."""
    if share is None:
        return None
    return math.ceil(share * 100 - 1e-9) if up else math.floor(share * 100 + 1e-9)


def outer(least: float | None, most: float | None) -> int | None:
    """The upper end of a figure, rounded up; the same number where there is only one end."""
    return hundred(least) if least == most else hundred(most, up=True)


def finding_of(reading: Reading) -> Finding:
    """The one sentence of a group.

    The second summer if it can be told, else the latest age that can, else the counts alone. It
    quotes *at least*; the range holds both ends and is rounded outward. Of fewer than ten trees the
    count comes first and the range after it: "3 of 5".
    """
    group, row = reading.group, reading.told
    if row is None:
        return _counts_only(group)
    trees = group.counts["in_rates"]
    few = trees < COUNT_FIRST_BELOW
    said = _count_first(group, row) if few else _rate(group, row, _fine(trees, row))
    sure = _rate_of_few(group, row) if few else _sure(group, row, _fine(trees, row))
    return Finding(said, sure)


def _fine(trees: int, row: Row) -> int:
    """Tenths or hundredths: as fine as the trees carry, and never so rough that some are none."""
    rough = trees < ROUGH_BELOW
    return 10 if rough and not 0 < (row.at_least or 0.0) < 0.1 else 100


def _floor(share: float | None, of: int) -> int:
    return math.floor((share or 0.0) * of + 1e-9)


def _ceil(share: float | None, of: int) -> int:
    return math.ceil((share or 0.0) * of - 1e-9)


def _rate(group: Group, row: Row, of: int) -> str:
    least, most = _floor(row.at_least, of), _ceil(row.at_most, of)
    second = row.milestone == SECOND_SUMMER
    words = {
        "n": least,
        "of": of,
        "most": most,
        "group": named(group),
        "age": milestone_said(row.milestone),
    }
    # "At least 10 in 10" would be a riddle, and so would "at least 0"; neither is ever rounded.
    if least == of:
        said = (
            _("All the watched trees %(group)s stood through their second summer")
            if second
            else _("All the watched trees %(group)s still stood after %(age)s")
        )
    elif most == 0:
        said = (
            _("None of the watched trees %(group)s stood through their second summer")
            if second
            else _("None of the watched trees %(group)s still stood after %(age)s")
        )
    elif least == 0:
        said = (
            _("At most %(most)d in %(of)d of the trees %(group)s stood through their second summer")
            if second
            else _("At most %(most)d in %(of)d of the trees %(group)s still stood after %(age)s")
        )
    elif second:
        said = ngettext(
            "At least %(n)d in %(of)d of the trees %(group)s stood through its second summer",
            "At least %(n)d in %(of)d of the trees %(group)s stood through their second summer",
            least,
        )
    else:
        said = ngettext(
            "At least %(n)d in %(of)d of the trees %(group)s was still standing after %(age)s",
            "At least %(n)d in %(of)d of the trees %(group)s still stood after %(age)s",
            least,
        )
    return said % words


def _sure(group: Group, row: Row, of: int) -> str:
    trees = group.counts["in_rates"]
    words = {"low": _floor(row.low, of), "high": _ceil(row.high, of), "of": of, "trees": trees}
    if not group.counts.get("from_age"):
        said = ngettext(
            "(somewhere between %(low)d and %(high)d in %(of)d, from %(trees)d tree)",
            "(somewhere between %(low)d and %(high)d in %(of)d, from %(trees)d trees)",
            trees,
        )
        return said % words
    said = ngettext(
        "(of those alive at %(age)s; somewhere between %(low)d and %(high)d in %(of)d, from"
        " %(trees)d tree)",
        "(of those alive at %(age)s; somewhere between %(low)d and %(high)d in %(of)d, from"
        " %(trees)d trees)",
        trees,
    )
    return said % (words | {"age": months_said(group.counts["from_age"])})


def _count_first(group: Group, row: Row) -> str:
    trees = row.old
    watched = ngettext(
        "%(trees)d watched tree %(group)s", "%(trees)d watched trees %(group)s", trees
    ) % {"trees": trees, "group": named(group)}
    words = {"n": row.alive, "watched": watched, "age": milestone_said(row.milestone)}
    if row.milestone == SECOND_SUMMER:
        said = ngettext(
            "%(n)d of %(watched)s is known to have stood through its second summer",
            "%(n)d of %(watched)s are known to have stood through their second summer",
            row.alive,
        )
    else:
        said = ngettext(
            "%(n)d of %(watched)s is known to have stood for %(age)s",
            "%(n)d of %(watched)s are known to have stood for %(age)s",
            row.alive,
        )
    return said % words


def _rate_of_few(group: Group, row: Row) -> str:
    words = {"low": _floor(row.low, 10), "high": _ceil(row.high, 10)}
    if not group.counts.get("from_age"):
        return _("(of such trees, somewhere between %(low)d and %(high)d in 10 would)") % words
    words["age"] = months_said(group.counts["from_age"])
    return (
        _("(of such trees alive at %(age)s, somewhere between %(low)d and %(high)d in 10 would)")
        % words
    )


def _counts_only(group: Group) -> Finding:
    counts = group.counts
    alive = counts["statuses"]["alive"] + counts["statuses"]["stale"]
    trees = counts["registered"]
    listed = ngettext("%(trees)d tree %(group)s", "%(trees)d trees %(group)s", trees) % {
        "trees": trees,
        "group": named(group),
    }
    said = ngettext(
        "%(n)d of %(listed)s was alive when trained eyes last saw it",
        "%(n)d of %(listed)s were alive when trained eyes last saw them",
        alive,
    ) % {"n": alive, "listed": listed}
    return Finding(said, _("(a count; there is no rate yet)"))


def named(group: Group) -> str:
    """The group as the end of "the trees …"."""
    return {
        # Translators: what follows "the trees" in a sentence.
        "planting": pgettext("the trees", "of the planting %s"),
        "species": pgettext("the trees", "of the kind %s"),
        "site": pgettext("the trees", "at %s"),
        "year": pgettext("the trees", "planted in %s"),
        "supplier": pgettext("the trees", "from %s"),
        "town": pgettext("the trees", "of %s"),
    }[group.by] % label_of(group)


def counted_said(group: Group) -> str:
    """The count of these very trees, apart from the rate that such trees have."""
    statuses = group.counts["statuses"]
    died = statuses["standing_dead"] + statuses["gone"]
    removed = statuses["removed_health"] + statuses["removed_other"]
    alive, stale, lost = statuses["alive"], statuses["stale"], statuses["lost"]
    unseen, never = statuses["unseen"], statuses["never_planted"]
    parts = [
        (
            alive,
            ngettext(
                "%(n)d was seen alive within a year", "%(n)d were seen alive within a year", alive
            ),
        ),
        (
            stale,
            ngettext(
                "%(n)d was alive when last seen, over a year ago",
                "%(n)d were alive when last seen, over a year ago",
                stale,
            ),
        ),
        (died, ngettext("%(n)d died or is gone", "%(n)d died or are gone", died)),
        (removed, ngettext("%(n)d was removed alive", "%(n)d were removed alive", removed)),
        (
            lost,
            ngettext(
                "%(n)d tree could not be found again", "%(n)d trees could not be found again", lost
            ),
        ),
        (
            unseen,
            ngettext(
                "%(n)d has not been looked at yet", "%(n)d have not been looked at yet", unseen
            ),
        ),
        (never, ngettext("%(n)d was never planted", "%(n)d were never planted", never)),
    ]
    trees = group.counts["registered"]
    opening = ngettext("Of the %(n)d tree on the list", "Of the %(n)d trees on the list", trees)
    told = "; ".join(words % {"n": n} for n, words in parts if n)
    return f"{opening % {'n': trees}}: {told}."


def accounted_said(counts: Mapping[str, int]) -> dict[str, str]:
    """The words beside the marks of `drawings.survival.accounted`, by kind."""
    told = {
        "alive": ngettext(
            "%d alive, seen within a year", "%d alive, seen within a year", counts["alive"]
        ),
        "stale": ngettext(
            "%d alive, seen over a year ago", "%d alive, seen over a year ago", counts["stale"]
        ),
        "died": ngettext("%d died or is gone", "%d died or are gone", counts["died"]),
        "removed": ngettext("%d removed alive", "%d removed alive", counts["removed"]),
        "unknown": ngettext(
            "%d not found, or not looked at yet",
            "%d not found, or not looked at yet",
            counts["unknown"],
        ),
        "never": ngettext("%d never planted", "%d never planted", counts["never"]),
    }
    return {kind: words % counts[kind] for kind, words in told.items()}


def each_mark_said(trees: int) -> str:
    """For how many trees one mark stands."""
    if trees == 1:
        return _("One mark for each tree on the list.")
    return _("One mark stands for up to %(n)d trees of a kind.") % {"n": trees}


def outcome_said(name: str) -> str:
    """A way to be lost."""
    return {
        "died": _("Died, or gone and why is not known"),
        "removed_health": _("Removed alive for health or safety"),
        "removed_other": _("Removed alive for another reason"),
    }[name]


def outcome_rate_said(outcome: Outcome) -> str:
    """How many of such trees come to this end by an age; "" where that is not told apart."""
    if outcome.age is None:
        return ""
    low, high = hundred(outcome.at_least), outer(outcome.at_least, outcome.at_most)
    words = {"low": low, "high": high, "age": months_said(outcome.age)}
    if low == high:
        return _("%(high)d of 100 such trees by %(age)s") % words
    return _("%(low)d to %(high)d of 100 such trees by %(age)s") % words


def forecast_said(told: Forecast) -> Finding:
    """What is to be expected if nothing changes: trees that stand, and the range in softer ink."""
    words = {"n": told.stand, "day": day_said(told.by), "trees": told.trees}
    of = ngettext(
        "the %(trees)d tree alive when last seen",
        "the %(trees)d trees alive when last seen",
        told.trees,
    ) % {"trees": told.trees}
    words["of"] = of
    if told.milestone == SECOND_SUMMER:
        said = ngettext(
            "Of %(of)s, about %(n)d stands through its second summer, until %(day)s",
            "Of %(of)s, about %(n)d stand through their second summer, until %(day)s",
            told.stand,
        )
    else:
        words["age"] = milestone_said(told.milestone)
        said = ngettext(
            "Of %(of)s, about %(n)d still stands at the age of %(age)s, on %(day)s",
            "Of %(of)s, about %(n)d still stand at the age of %(age)s, on %(day)s",
            told.stand,
        )
    return Finding(said % words, _("(%(low)d to %(high)d)") % {"low": told.low, "high": told.high})


def replacements_said(told: Forecast) -> str:
    """How many new trees it takes to keep the number."""
    low, high = told.replacements
    if high == 0:
        return _("No replacement is to be expected.")
    if low == high:
        return ngettext(
            "Then %(n)d tree has to be replaced.", "Then %(n)d trees have to be replaced.", high
        ) % {"n": high}
    return _("Trees to replace: %(low)d to %(high)d.") % {"low": low, "high": high}


def forecast_end(told: Forecast) -> str:
    """The three lines at the end of the drawn forecast."""
    return "|".join(
        [
            month_short(told.by),
            _("%(n)d of %(trees)d") % {"n": told.stand, "trees": told.trees},
            _("%(low)d to %(high)d") % {"low": told.low, "high": told.high},
        ]
    )


def leaning_said(reading: Reading) -> str:
    """The figure beside the town, and how much of it is the group's own."""
    first = reading.leaning[0]
    low, high = hundred(first.low), hundred(first.high, up=True)
    n = math.floor(first.share * 100 + 0.5)
    words = {"n": n, "low": low, "high": high, "age": milestone_said(first.milestone)}
    if first.milestone == SECOND_SUMMER:
        said = ngettext(
            "About %(n)d of 100 such trees stands through its second"
            " summer (somewhere between %(low)d and %(high)d).",
            "About %(n)d of 100 such trees stand through their second"
            " summer (somewhere between %(low)d and %(high)d).",
            n,
        )
    else:
        said = ngettext(
            "About %(n)d of 100 such trees still stands after %(age)s"
            " (somewhere between %(low)d and %(high)d).",
            "About %(n)d of 100 such trees still stand after %(age)s"
            " (somewhere between %(low)d and %(high)d).",
            n,
        )
    return said % words


def own_share_said(share: float | None) -> str:
    """How much of a leaning figure is the group's own, in tenths."""
    if share is None:
        return ""
    tenths = math.floor(share * 10 + 0.5)
    if tenths == 0:
        return _(
            "Nearly all of it comes from the record of their species, their site and the town."
        )
    if tenths == 10:
        return _("Nearly all of it comes from these trees themselves.")
    return ngettext(
        "%(own)d tenth of it comes from these trees themselves, the rest from the record of their"
        " species, their site and the town.",
        "%(own)d tenths of it come from these trees themselves, the rest from the record of their"
        " species, their site and the town.",
        tenths,
    ) % {"own": tenths}


def town_said(reading: Reading) -> str:
    """The name of the other line in the chart: all trees of the same year."""
    if reading.year is None:
        return ""
    trees = reading.year.counts["in_rates"]
    return ngettext(
        "all planted in %(year)s: %(n)d tree", "all planted in %(year)s: %(n)d trees", trees
    ) % {"year": reading.year.key, "n": trees}


def mortality_said(told: Mapping) -> list[str]:
    """Two more ways to say how fast trees are lost: a half-life, and the count of two dates."""
    found = []
    overall = told.get("overall") or {}
    if overall.get("half_life_years"):
        low, high = overall.get("half_life_low"), overall.get("half_life_high")
        words = {"n": _years(overall["half_life_years"]), "low": _years(low), "high": _years(high)}
        if high is None:
            said = _("Half-life, if every year were alike: about %(n)s years (at least %(low)s).")
        else:
            said = _(
                "Half-life, if every year were alike: about %(n)s years (%(low)s to %(high)s)."
            )
        found.append(said % words)
    count = told.get("two_count")
    if count:
        words = {
            "alive": count["alive"],
            "trees": count["trees"],
            "years": _years(count["years"]),
            "n": hundred(count["annual"], up=True),
            "low": hundred(count["low"]),
            "high": hundred(count["high"], up=True),
        }
        said = ngettext(
            "By the textbook formula, from %(alive)d of %(trees)d tree alive after %(years)s years:"
            " %(n)d in 100 a year (%(low)d to %(high)d).",
            "By the textbook formula, from %(alive)d of %(trees)d trees alive after %(years)s"
            " years: %(n)d in 100 a year (%(low)d to %(high)d).",
            count["trees"],
        )
        found.append(said % words)
    return found


def _years(years: float | None) -> str:
    return "" if years is None else number_format(years, 1)
