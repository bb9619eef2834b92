"""An own table's curve, as the survival chart wants it."""

import math

from django.utils.translation import gettext as _

from frontend.liaison.own_table.said import age_said, plain
from survey.exports.own_table.answer import GroupAnswer

YEAR = 12  # the chart's axis has a line for every twelve
LINES = 6  # about so many of them


def survival_chart(group: GroupAnswer, unit: str, desc: str) -> dict | None:
    """What the survival chart draws; None when there is no curve.

    The chart counts in months and draws a line for each year. Ages of another unit are stretched so
    that its lines fall on round numbers, and carry those as their words.
    """
    if len(group.curve) < 2:
        return None
    first, last = group.curve[0][0], group.curve[-1][0]
    step, origin = _axis(first, last, unit)

    def at(age: float) -> float:
        return (age - origin) / step * YEAR

    marks = [origin + step * k for k in range(1, math.ceil((last - origin) / step) + 1)]
    spells = group.spells
    asked = [age for age in sorted({first, *marks, last}) if first <= age <= last]
    watched = [
        (
            at(age),
            int(spells.count[(spells.entry <= age) & (spells.left >= age)].sum()),
            int(spells.count[spells.right <= age].sum()),
        )
        for age in asked
    ]
    return {
        "curve": [(at(age), least, most) for age, least, most, _low, _high in group.curve],
        "band": [(at(age), low, high) for age, _least, _most, low, high in group.curve],
        "under_watch": watched,
        "title": _("Still standing, by age"),
        "desc": desc,
        "words": {
            "curve": _("still standing"),
            "under_watch": _("under watch"),
            "lost": _("known lost so far"),
            "planted": _("planted") if unit == "months" and not origin else age_said(origin, unit),
            "years": "|".join(age_said(age, unit) if unit else plain(age) for age in marks),
            "shares": "|".join([_("none"), *(_("%d in 10") % n for n in (2, 4, 6, 8)), _("all")]),
            "scale": _("The scale does not begin at none."),
            "seen_to": _("looks end here"),
            "starts": _("watched from here on"),
        },
    }


def _axis(first: float, last: float, unit: str) -> tuple[float, float]:
    """How far apart the lines of the axis are, and where it begins: both round numbers."""
    if unit == "months" and last - first <= 12 * YEAR:
        return float(YEAR), 0.0
    begin = first if first > (last - first) / 2 else 0.0
    rough = max(last - begin, 1e-9) / LINES
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(size * by for by in (1, 2, 5, 10) if size * by >= rough)
    return step, math.floor(begin / step) * step
