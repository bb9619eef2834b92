"""The list of trees that a look would settle: its address, and its figures in words."""

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.places import asked
from survey.condition.doubt_walks import TIMES, Waiting


def list_address(minutes: int, site: str = "", area: str = "") -> str:
    """The list for a walk of so many minutes, in a town or on one site by their short names."""
    told = {"minutes": minutes, "site": site, "area": area}
    return reverse("frontend:doubts") + "?" + urlencode({k: v for k, v in told.items() if v})


def look_query(minutes: int, site: str = "", area: str = "") -> str:
    """What a look's address says so that the person is led back to this list."""
    told = {"doubts": minutes, "site": site, "area": area}
    return urlencode({k: v for k, v in told.items() if v})


def came_from(request) -> str:
    """The list that led to a page with `look_query` in its address; "" where none did."""
    minutes = asked(request, "doubts")
    if minutes not in map(str, TIMES):
        return ""
    return list_address(int(minutes), asked(request, "site"), asked(request, "area"))


def settled_said(listed: int, unsure: int, settled: float) -> str:
    """Of how many trees nobody is sure whether they live, of how many one expects to be after the
    walk, and what looks at the others tell. `listed` are all of which a look tells anything."""
    if not unsure:
        return _("It is known which of these trees are alive. A look tells how they are doing.")
    first = ngettext(
        "Nobody is sure whether one tree here is alive.",
        "Of %(n)d trees here nobody is sure whether they are alive.",
        unsure,
    ) % {"n": unsure}
    said = [first, _afterwards(unsure, settled)]
    if listed > unsure:
        said.append(_("Of the others, a look tells how they are doing."))
    return " ".join(said)


def _afterwards(unsure: int, settled: float) -> str:
    many = min(round(settled), unsure)
    if unsure == 1 and not settled:
        return _("There is no time for it on this walk.")
    if unsure == 1:
        return _("This walk will likely tell.") if many else _("This walk may tell.")
    if not many:
        return _("After this walk we expect to know a little more.")
    if many == unsure:
        return _("After this walk we expect to be sure of nearly all of them.")
    return ngettext(
        "After this walk we expect to be sure of about one of them.",
        "After this walk we expect to be sure of about %(n)d of them.",
        many,
    ) % {"n": many}


def waiting_said(waiting: Waiting) -> str:
    """Until which month it is best to wait, and with how many trees."""
    # Translators: a month, as a Django date format.
    month = date_format(waiting.month, _("F Y"))
    if waiting.at_least:
        return _("Wait until %(month)s: %(n)d trees and more.") % {
            "month": month,
            "n": waiting.trees,
        }
    return ngettext(
        "Wait until %(month)s: one tree.", "Wait until %(month)s: %(n)d trees.", waiting.trees
    ) % {"month": month, "n": waiting.trees}
