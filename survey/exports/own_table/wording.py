"""Words for what an own table says: ages, shares, reasons; and ages as people ask for them."""

from django.utils.translation import gettext as _

from survey.exports.cells import BadCell
from survey.exports.own_table.cells import age_of

MOST_ASKED = 40


def age_said(age: float, in_months: bool) -> str:
    """An age as it is written: "14 months", or the number alone where the unit is not known."""
    number = f"{age:.6g}" if age < 1e6 else f"{age:.0f}"
    if not in_months:
        return number
    return _("1 month") if age == 1 else _("%s months") % number


def ask_ages(text: str) -> list[float]:
    """The ages of a list like "12, 24, 36"; none for an empty one. Raises ValueError."""
    parts = [part.strip() for part in text.replace(";", ",").split(",")]
    ages = sorted({age_of(part) for part in parts if part})
    if len(ages) > MOST_ASKED:
        raise BadCell(_("Ask for at most %d ages at once.") % MOST_ASKED)
    return ages


def share_said(share: float | None) -> str:
    """A share with three places; a dash where there is none."""
    return "–" if share is None else f"{share:.3f}"


def why_said(why: str) -> str:
    """Why a figure is not there, or not to be quoted."""
    return {
        "not_watched": _("too few watched so early"),
        "emptied": _("nobody left under watch"),
        "not_seen": _("nobody seen alive so late"),
        "too_few": _("too few for a rate: counts only"),
    }.get(why, why)


def p_said(p: float) -> str:
    """A p value as people read it."""
    return _("less than 0.0001") if p < 0.0001 else f"{p:.4f}"


def test_name(name: str) -> str:
    """A test by its name in words."""
    return {
        "sun_logrank": _("log-rank, scores of Sun"),
        "finkelstein_logrank": _("log-rank, scores of Finkelstein"),
        "wilcoxon": _("Wilcoxon, which weighs early ends more"),
    }.get(name, name)
