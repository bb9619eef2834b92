"""An own table's figures as sentences: natural frequencies, with their range and what is behind."""

import math

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.liaison.said import ROUGH_BELOW, Finding
from survey.exports.own_table.answer import Answer, GroupAnswer
from survey.exports.own_table.figures import Row

SECOND_YEAR = 24.0
SURE_BELOW = 0.05


def plain(number: float) -> str:
    """A number as people write it, without a tail of noughts."""
    return f"{number:.0f}" if number == int(number) or abs(number) >= 1e6 else f"{number:.6g}"


def age_said(age: float, unit: str) -> str:
    """ "2 years", "14 months", "30 weeks"; the number alone where nobody said the unit."""
    if unit == "months" and age and age % 12 == 0:
        age, unit = age / 12, "years"
    # The plural form is chosen by whole numbers; anything broken takes the plural.
    many = int(age) if age == int(age) and age < 1e9 else 2
    words = {
        "months": ngettext("%(age)s month", "%(age)s months", many),
        "years": ngettext("%(age)s year", "%(age)s years", many),
        "weeks": ngettext("%(age)s week", "%(age)s weeks", many),
        "days": ngettext("%(age)s day", "%(age)s days", many),
    }.get(unit, "%(age)s")
    return words % {"age": plain(age)}


def when_said(age: float, unit: str) -> str:
    """ "after 2 years", or "at the age of 24"."""
    words = _("after %s") if unit else _("at the age of %s")
    return words % age_said(age, unit)


def finding_of(group: GroupAnswer, unit: str, *, alone: bool) -> Finding:
    """The sentence of one group: two years if they can be told, else the latest age that can."""
    whose = _("in your table") if alone else _("in the group “%s”") % group.name
    row = chosen(group, unit)
    if row is None:
        return _counts_only(group, whose)
    of = 10 if group.n < ROUGH_BELOW else 100
    least = math.floor(row.at_least * of + 1e-9)
    words = {"n": least, "of": of, "whose": whose, "when": when_said(row.age, unit)}
    if least == of:
        said = _("All the watched trees %(whose)s still stood %(when)s") % words
    elif least:
        said = _("At least %(n)d in %(of)d of the trees %(whose)s still stood %(when)s") % words
    else:
        words["n"] = math.ceil(row.at_most * of - 1e-9)
        said = _("At most %(n)d in %(of)d of the trees %(whose)s still stood %(when)s") % words
    sure = ngettext(
        "(somewhere between %(low)d and %(high)d in %(of)d, from %(trees)d tree)",
        "(somewhere between %(low)d and %(high)d in %(of)d, from %(trees)d trees)",
        group.n,
    ) % {
        "low": math.floor(row.low * of + 1e-9),
        "high": math.ceil(row.high * of - 1e-9),
        "of": of,
        "trees": group.n,
    }
    if group.carried is not None and group.carried.given is not None:
        alive = _("of those alive at %s") % age_said(group.carried.given, unit)
        sure = f"{sure} {alive}"
    return Finding(said, sure)


def chosen(group: GroupAnswer, unit: str) -> Row | None:
    """The age a group's sentence is about."""
    told = [row for row in group.rows if row.can_be_quoted and row.age > 0]
    if unit == "months":
        told = [row for row in told if row.age == SECOND_YEAR] or told
    return told[-1] if told else None


def counted_said(group: GroupAnswer) -> str:
    """The count of these very trees."""
    return ngettext(
        "Of %(n)d tree that counts, %(ends)d is known to be lost; %(rest)d was alive when last"
        " seen.",
        "Of %(n)d trees that count, %(ends)d are known to be lost; %(rest)d were alive when last"
        " seen.",
        group.n,
    ) % {"n": group.n, "ends": group.ends, "rest": group.n - group.ends}


def groups_said(told: Answer, by: str) -> Finding:
    """The sentence of a table with several groups: whether they differ by more than chance."""
    tested = told.tests["finkelstein_logrank"]
    if tested is None:
        return Finding(
            _("%(n)d groups in your table, by “%(by)s”") % {"n": len(told.groups), "by": by},
            _("(whether they differ cannot be tested)"),
        )
    if tested.p < SURE_BELOW:
        said = _("The groups by “%s” differ by more than chance would easily bring about")
    else:
        said = _("The difference between the groups by “%s” could easily be chance")
    return Finding(said % by, f"({chance_said(tested.p)})")


def chance_said(p: float) -> str:
    """A p value as a natural frequency."""
    if p < 0.0001:
        return _("chance alone would do as much in fewer than 1 of 10,000 such tables")
    if p < 0.095:
        return _("chance alone would do as much in about 1 of %d such tables") % round(1 / p)
    return _("chance alone would do as much in about %d of 10 such tables") % round(10 * p)


def _counts_only(group: GroupAnswer, whose: str) -> Finding:
    said = ngettext(
        "%(alive)d of %(n)d tree %(whose)s was alive when last seen",
        "%(alive)d of %(n)d trees %(whose)s were alive when last seen",
        group.n,
    ) % {"alive": group.n - group.ends, "n": group.n, "whose": whose}
    return Finding(said, _("(a count; there is no rate that could be quoted)"))
