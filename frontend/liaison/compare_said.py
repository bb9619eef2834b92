"""Groups compared, as sentences: how many times as fast, how sure, and whether chance does as much.

No sentence says which group is better, or why. "As fast" is the ratio of hazards: of trees of one
age that still stand, so many times as many are lost by the next month.
"""

import math
from collections.abc import Sequence

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.liaison.said import Finding, label_of, named
from survey.science.survival.comparison import (
    FEWEST_LOSSES,
    FEWEST_TREES,
    NOT_AT_RISK_TOGETHER,
    TOO_FEW_LOSSES,
    TOO_FEW_TREES,
    Comparison,
)
from survey.science.survival.what_else import UNKNOWN
from survey.survival.comparing import AT_PLANTING, GAPS, LATER, Compared
from survey.survival.models import Group

COULD_EASILY = 0.2  # a p above which "easily" is no exaggeration
MOST_TOLD = 100  # times: more than so many is all that is said


def finding_of(compared: Compared, groups: Sequence[Group]) -> Finding:
    """The sentence that the answer opens with."""
    together = compared.together
    if together.refused:
        return Finding(_("These groups cannot be compared yet"), why_refused(together))
    if len(groups) == 2:
        return pair_said(together, groups[0], groups[1])
    words = {"n": len(groups)}
    if together.could_be_chance:
        said = _("The differences between these %(n)d groups could be chance") % words
    else:
        said = _("These %(n)d groups differ by more than chance would easily bring about") % words
    return Finding(said, _("(all taken together)"))


def pair_said(one: Comparison, first: Group, second: Group) -> Finding:
    """How many times as fast trees of the one group were lost as those of the other."""
    if one.ratio is None or one.low is None or one.high is None:
        return Finding(_("These groups cannot be compared yet"), why_refused(one))
    turned = one.ratio < 1
    ratio, low, high = one.ratio, one.low, one.high
    if turned:
        ratio, low, high = (_over(x) for x in (one.ratio, one.high, one.low))
    more, less = (first, second) if turned else (second, first)
    words = {"more": named(more), "less": named(less)}
    if math.isinf(ratio):
        said = _("Of the trees %(less)s none was lost that can be compared") % words
        words["low"] = times_said(low)
        sure = _("(those %(more)s were lost at least %(low)s times as fast)") % words
        return Finding(said, sure)
    if times_said(ratio, up=None) == times_said(1.0):
        said = _("The trees %(more)s were lost about as fast as the trees %(less)s") % words
    else:
        words["ratio"] = times_said(ratio, up=None)
        said = (
            _("The trees %(more)s were lost about %(ratio)s times as fast as the trees %(less)s")
            % words
        )
    return Finding(said, between_said(low, high))


def _over(ratio: float) -> float:
    return 1 / ratio if ratio else math.inf


def between_said(low: float, high: float) -> str:
    """The range of a ratio, its ends rounded outward."""
    if math.isinf(high):
        return _("(at least %s times)") % times_said(low)
    words = {"low": times_said(low), "high": times_said(high, up=True)}
    return _("(somewhere between %(low)s and %(high)s times)") % words


def times_said(ratio: float, *, up: bool | None = False) -> str:
    """ "1.6": rounded down, up, or (None) to the nearest; an end never rounds to 1 from beside."""
    if ratio > MOST_TOLD:
        return _("over %d") % MOST_TOLD
    digits = 0 if ratio >= 10 or ratio == 0 else 1 if ratio >= 0.1 else 2
    told = _rounded(ratio, digits, up)
    if up is not None and told == 1 and abs(ratio - 1) > 1e-9:
        digits, told = 2, _rounded(ratio, 2, up)
    return number_format(told, digits)


def _rounded(ratio: float, digits: int, up: bool | None) -> float:
    scaled = ratio * 10**digits
    if up is None:
        whole = math.floor(scaled + 0.5)
    else:
        whole = math.ceil(scaled - 1e-9) if up else math.floor(scaled + 1e-9)
    return float(whole / 10**digits)


def chance_said(one: Comparison) -> str:
    """Whether chance alone does as much, in words and as p; "" where nothing was compared."""
    p = one.p if one.corrected_p is None else one.corrected_p
    if p is None:
        return ""
    words = {"often": _often(p), "p": p_said(p)}
    if not one.could_be_chance:
        said = _(
            "Chance alone would seldom do that: if all were lost alike, a difference at least this"
            " large would turn up in %(often)s such comparisons (%(p)s)."
        )
    elif p > COULD_EASILY:
        said = _(
            "The difference could easily be chance: if all were lost alike, one at least this large"
            " would turn up in %(often)s such comparisons (%(p)s)."
        )
    else:
        said = _(
            "The difference could be chance: if all were lost alike, one at least this large would"
            " turn up in %(often)s such comparisons (%(p)s)."
        )
    return said % words


def _often(p: float) -> str:
    if p < 0.0001:
        return _("fewer than 1 of 10,000")
    if p < 0.095:
        return _("about 1 of %d") % round(1 / p)
    if p < 0.95:
        return _("about %d of 10") % round(10 * p)
    return _("nearly all")


def p_said(p: float | None) -> str:
    """ "p = 0.031"; a dash where nothing was compared."""
    if p is None:
        return "–"
    if p < 0.001:
        return _("p is less than %s") % number_format(0.001, 3)
    return f"p = {number_format(p, 3)}"


def why_refused(one: Comparison) -> str:
    """Why nothing is said of a difference, and what it would take."""
    losses = sum(one.losses)
    if one.refused == TOO_FEW_TREES:
        return _("(each needs %(least)d trees in the rates; the smallest has %(n)d)") % {
            "least": FEWEST_TREES,
            "n": min(one.trees),
        }
    if one.refused == TOO_FEW_LOSSES:
        said = ngettext(
            "(it takes %(least)d losses among them all; there was %(n)d)",
            "(it takes %(least)d losses among them all; there were %(n)d)",
            losses,
        )
        return said % {"least": FEWEST_LOSSES, "n": losses}
    if one.refused == NOT_AT_RISK_TOGETHER:
        return _("(hardly any were under watch at the same ages when trees were lost)")
    return one.refused


def attribute_said(attribute: str) -> str:
    """What groups may differ in."""
    return {
        "species": _("kind of tree"),
        "year": _("planting year"),
        "site": _("site"),
        "supplier": _("supplier"),
        "planting": _("planting"),
        "stock_form": _("how the tree came: its roots"),
        "entry": _("on the list since"),
        "gap": _("middle gap between looks"),
    }.get(attribute, attribute)


def value_said(compared: Compared, attribute: str, value: str, kinds: dict[str, str]) -> str:
    """One value of an attribute as people call it."""
    if value == UNKNOWN:
        return _("not known")
    if attribute == "species":
        return str(kinds.get(value, value))
    if attribute == "entry":
        return {AT_PLANTING: _("planting"), LATER: _("later")}.get(value, value)
    if attribute == "gap":
        return _gap_said(int(value))
    return compared.names.get(attribute, {}).get(value) or value


def _gap_said(most: int) -> str:
    if most > GAPS[-1]:
        return _("over %d days") % GAPS[-1]
    return _("up to %d days") % most


def short(label: str, letters: int = 21) -> str:
    """A name cut to fit beside a line."""
    return label if len(label) <= letters else f"{label[: letters - 1].rstrip()}…"


def labels_said(first: Group, second: Group) -> str:
    """ "A and B", as the head of a row."""
    return _("%(first)s and %(second)s") % {"first": label_of(first), "second": label_of(second)}
