"""A belief and what moved it, in the words a neighbor accepts; figures come in, sentences go out.

Points are 10·log10 of odds: ten points are ten times likelier. Every sentence that names points
names the figure it was given, rounded to whole points, and words for strength follow the rounded
figure, so that two rows with the same figure are never told differently.
"""

import math
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

CLAIMS = ("lost", "worse")

NOTHING, LITTLE, SOME, MUCH, SETTLES = "nothing", "little", "some", "much", "settles"
LEAST_POINTS = ((20, SETTLES), (10, MUCH), (5, SOME), (2, LITTLE))
"""From how many rounded points on a look says that much; below the last, nearly nothing."""

TENTHS_FROM, TENTHS_TO = 0.1, 0.9
"""Between these a share is told in tenths, outside of them in hundredths."""


def whole(points: float) -> int:
    """Rounded half away from zero, so that a pull and its opposite round alike."""
    return int(math.copysign(math.floor(abs(points) + 0.5), points))


def strength_of(points: float) -> str:
    """How much a pull says, as a code: nothing, little, some, much, settles."""
    size = abs(whole(points))
    return next((code for least, code in LEAST_POINTS if size >= least), NOTHING)


def points_said(points: float) -> str:
    """ "+4 points", "−1 point", "0 points": the sign is part of the figure."""
    rounded = whole(points)
    sign = "+" if rounded > 0 else "−" if rounded < 0 else ""
    return ngettext("%(n)s point", "%(n)s points", abs(rounded)) % {"n": f"{sign}{abs(rounded)}"}


def state_said(state: str) -> str:
    return _STATES[state]()


_STATES = {
    "thriving": lambda: pgettext("condition", "thriving"),
    "holding": lambda: pgettext("condition", "holding"),
    "slipping": lambda: pgettext("condition", "slipping"),
    "failing": lambda: pgettext("condition", "failing"),
    "dead": lambda: pgettext("condition", "dead"),
    "gone": lambda: pgettext("condition", "gone"),
}


def claim_said(claim: str) -> str:
    """What is claimed of the tree, to stand after "is" or "are"."""
    return _("dead or gone") if claim == "lost" else _("slipping or worse")


def side_said(claim: str, points: float, *, gone: bool = False) -> str:
    """What a pull speaks for: the claim, or its opposite. `gone`: the tree was said to be gone."""
    if claim == "lost":
        return _("alive") if points <= 0 else state_said("gone" if gone else "dead")
    return _("slipping or worse") if points > 0 else _("holding or better")


# Months -------------------------------------------------------------------------------------------


def month_said(month: date, now: date | None = None) -> str:
    """ "February", with its year unless that is the year of `now`."""
    if now is not None and month.year == now.year:
        return month_name(month)
    # Translators: a month, as a Django date format.
    return date_format(month, _("F Y"))


def month_name(month: date) -> str:
    return date_format(month, "F")


def day_said(day: date) -> str:
    # Translators: a whole day, as a Django date format.
    return date_format(day, _("F j, Y"))


def between_said(first: date, last: date) -> dict[str, str]:
    """Two months for one sentence: the year is said once if it is the same."""
    return {"first": month_said(first, last), "last": month_said(last)}


# Shares -------------------------------------------------------------------------------------------


def share_said(share: float) -> str:
    """ "about 7 in 10", "97 in 100"; never 0 and never 100 in 100."""
    if TENTHS_FROM <= share <= TENTHS_TO:
        return _("about %(n)d in 10") % {"n": math.floor(share * 10 + 0.5)}
    return hundred_said(share)


def hundred_said(share: float) -> str:
    """ "72 in 100", "more than 99 in 100", "fewer than 1 in 100"."""
    n = math.floor(share * 100 + 0.5)
    if n > 99:
        return _("more than 99 in 100")
    if n < 1:
        return _("fewer than 1 in 100")
    return _("%(n)d in 100") % {"n": n}


def range_said(share: float, low: float, high: float) -> str:
    """Within what the share may lie, in the same parts as `share_said` tells it.

    Ends are rounded outward, so that the words never claim more than the figures. "" where the
    share itself already says no more than that.
    """
    parts = 10 if TENTHS_FROM <= share <= TENTHS_TO else 100
    at_least = math.floor(low * parts + 1e-9)
    at_most = math.ceil(high * parts - 1e-9)
    told = {"low": at_least, "high": at_most, "of": parts}
    if at_least <= 0 and at_most >= parts:
        return _("it could be any number")
    if at_least <= 0:
        return "" if at_most <= 1 and parts == 100 else _("at most %(high)d in %(of)d") % told
    if at_most >= parts:
        return "" if at_least >= 99 and parts == 100 else _("at least %(low)d in %(of)d") % told
    if at_least == at_most:
        return ""
    return _("somewhere between %(low)d and %(high)d in %(of)d") % told


# What a pull says ---------------------------------------------------------------------------------


def verdict_said(points: float, claim: str, *, gone: bool = False) -> str:
    """How much that says, for which side, with its points: one sentence."""
    told = {"points": points_said(points), "side": side_said(claim, points, gone=gone)}
    match strength_of(points):
        case "nothing":
            return _("This says nearly nothing (%(points)s).") % told
        case "little":
            return _("This says little for “%(side)s” (%(points)s).") % told
        case "some":
            return _("This says something for “%(side)s” (%(points)s).") % told
        case "much":
            return _("This says much for “%(side)s” (%(points)s).") % told
    return _("This nearly settles it: “%(side)s” (%(points)s).") % told


def bare_verdict_said(points: float, claim: str, month: date, species: str, *, may_be: bool) -> str:
    """The same of a tree called dead or bare in months in which its kind is, or may be, bare.

    `species` is the common name of its kind; "" when not known.
    """
    told = {
        "points": points_said(points),
        "side": side_said(claim, points),
        "bare": _bare_said(month, species, may_be=may_be),
    }
    match strength_of(points):
        case "nothing":
            return _("%(bare)s, so this says nearly nothing (%(points)s).") % told
        case "little":
            return _("%(bare)s, so this says little (%(points)s).") % told
        case "some":
            return _("%(bare)s, so this says less than in leaf, but something (%(points)s).") % told
        case "much":
            return _("%(bare)s, and still this says much for “%(side)s” (%(points)s).") % told
    return _("%(bare)s, and still this nearly settles it: “%(side)s” (%(points)s).") % told


def _bare_said(month: date, species: str, *, may_be: bool) -> str:
    told = {"species": species, "month": month_name(month)}
    if not species or any(word in species.lower() for word in ("tree", "árbol")):
        if may_be:
            return _("This kind of tree may be bare in %(month)s") % told
        return _("This kind of tree is bare in %(month)s") % told
    if may_be:
        return _("%(species)s trees may be bare in %(month)s") % told
    return _("%(species)s trees are bare in %(month)s") % told


# The opening --------------------------------------------------------------------------------------

LIKELY, SURE, COULD_BE = 0.5, 0.9, 0.1


def opening_said(shares: dict[str, float]) -> str:
    """The likeliest condition and what else it could be: "Probably slipping, could be holding".

    Dead and gone are one in this, named by the likelier of the two.
    """
    lost = "gone" if shares["gone"] > shares["dead"] else "dead"
    told = {name: share for name, share in shares.items() if name not in ("dead", "gone")}
    told[lost] = shares["dead"] + shares["gone"]
    first = max(told, key=lambda name: told[name])
    others = sorted(
        (name for name in told if name != first and told[name] >= COULD_BE),
        key=lambda name: -told[name],
    )[:2]
    names = [state_said(name) for name in told if name in others]
    words = {"state": state_said(first), "one": names[0] if names else "", "two": names[-1:]}
    words["two"] = names[1] if len(names) == 2 else ""
    return _OPENINGS[_how_sure(told[first]), len(names)]() % words


def _how_sure(share: float) -> str:
    return "sure" if share >= SURE else "probably" if share >= LIKELY else "perhaps"


_OPENINGS = {
    ("sure", 0): lambda: _("Almost surely %(state)s"),
    ("sure", 1): lambda: _("Almost surely %(state)s, could be %(one)s"),
    ("probably", 0): lambda: _("Probably %(state)s"),
    ("probably", 1): lambda: _("Probably %(state)s, could be %(one)s"),
    ("probably", 2): lambda: _("Probably %(state)s, could be %(one)s or %(two)s"),
    ("perhaps", 0): lambda: _("Perhaps %(state)s"),
    ("perhaps", 1): lambda: _("Perhaps %(state)s, could be %(one)s"),
    ("perhaps", 2): lambda: _("Perhaps %(state)s, could be %(one)s or %(two)s"),
}


def died_said(first: date, about: date, last: date, *, sure: bool, gone: bool, listed: date) -> str:
    """When the tree died, as months; `listed` is the month it came on the list.

    `sure` says it outright, else "if so"; `gone` speaks of a tree that is gone.
    """
    if last <= listed:
        told = {"month": month_said(listed)}
        if sure:
            return _("It was so already when it came on the list in %(month)s.") % told
        return _("If so, it was so already when it came on the list in %(month)s.") % told
    told = between_said(first, last) | {"about": month_said(about, last)}
    if first == last:
        return _DIED_IN[sure, gone]() % told
    return _DIED[sure, gone]() % told


_DIED_IN = {
    (True, False): lambda: _("It died in %(last)s."),
    (True, True): lambda: _("It was lost in %(last)s."),
    (False, False): lambda: _("If so, it died in %(last)s."),
    (False, True): lambda: _("If so, it was lost in %(last)s."),
}
_DIED = {
    (True, False): lambda: _(
        "It died between %(first)s and %(last)s, most likely about %(about)s."
    ),
    (True, True): lambda: _(
        "It was lost between %(first)s and %(last)s, most likely about %(about)s."
    ),
    (False, False): lambda: _(
        "If so, it died between %(first)s and %(last)s, most likely about %(about)s."
    ),
    (False, True): lambda: _(
        "If so, it was lost between %(first)s and %(last)s, most likely about %(about)s."
    ),
}


def share_sentence(claim: str, share: float, low: float, high: float) -> str:
    """ "about 7 in 10 trees like this are dead or gone (somewhere between 5 and 9 in 10)"."""
    told = {"share": share_said(share), "claim": claim_said(claim)}
    told["range"] = range_said(share, low, high)
    if told["range"]:
        return _("%(share)s trees like this are %(claim)s (%(range)s)") % told
    return _("%(share)s trees like this are %(claim)s") % told
