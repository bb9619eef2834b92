"""What a walk would tell, in words: looks, minutes, and what is known before and after."""

import math
from collections.abc import Mapping
from typing import Any

from django.http import Http404, HttpRequest
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.places import asked
from survey.survival.weighing import MARGIN, MINUTES

USUAL = 60


def minutes_asked(request: HttpRequest) -> int:
    """How long somebody wants to walk: one of `MINUTES`, an hour where nothing is said."""
    told = asked(request, "minutes") or str(USUAL)
    if told not in [str(minutes) for minutes in MINUTES]:
        raise Http404
    return int(told)


def minutes_said(minutes: int) -> str:
    """ "30 minutes", "1 hour"."""
    if minutes % 60:
        return ngettext("%(n)d minute", "%(n)d minutes", minutes) % {"n": minutes}
    hours = minutes // 60
    return ngettext("%(n)d hour", "%(n)d hours", hours) % {"n": hours}


def walk_said(walk: Mapping[str, Any]) -> str:
    """The looks and minutes of a stored walk, and the number standing: now, and afterwards.

    Ranges are rounded outward; where that hides what the looks add, no second range is said.
    """
    minutes = math.ceil(walk["minutes"])
    looks = ngettext("%(n)d look", "%(n)d looks", walk["trees"]) % {"n": walk["trees"]}
    long = ngettext("about %(n)d minute", "about %(n)d minutes", minutes) % {"n": minutes}
    ends = [*walk["before"], *walk["after"]]
    words = {
        "trees": walk["of"],
        "low": math.floor(ends[0] + 1e-9),
        "high": math.ceil(ends[1] - 1e-9),
        "least": math.floor(ends[2] + 1e-9),
        "most": math.ceil(ends[3] - 1e-9),
    }
    if walk["of"] == 1:
        number = _("Nobody knows whether its one tree stands now; afterwards we expect to know.")
    elif words["most"] - words["least"] >= words["high"] - words["low"]:
        number = _(
            "Of these %(trees)d trees somewhere between %(low)d and %(high)d stand now; afterwards"
            " we expect to know it a little better."
        )
    else:
        number = _(
            "Of these %(trees)d trees somewhere between %(low)d and %(high)d stand now; afterwards"
            " we expect to know it to within %(least)d to %(most)d."
        )
    return f"{looks}, {long}. {number % words}"


def see_said(trees: int, see: int, walk: Mapping[str, Any]) -> str:
    """How many trees to see, picked by chance, to know well enough how many stand; or that it is
    known so well already."""
    low, high = walk["before"]
    if walk["of"] > 1 and high - low <= 2 * MARGIN * walk["of"]:
        return _("It is known to within %(margin)d of 100 already.") % {
            "margin": round(MARGIN * 100)
        }
    return ngettext(
        "To know it to within %(margin)d of 100, see the one tree.",
        "To know it to within %(margin)d of 100, see %(see)d of the %(trees)d trees.",
        trees,
    ) % {"margin": round(MARGIN * 100), "see": see, "trees": trees}
