"""A kind of care compared, as sentences: what is found, what it rests on, why it is not there."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.liaison.said import Finding, hundred
from survey.handbook.book import book
from survey.handbook.wording import said as handbook_said

Told = Mapping[str, Any]


def care_named(code: str) -> str:
    """What people call a kind of care, in the reader's language."""
    care = book().care.get(code)
    return str(handbook_said(care.label)) if care else code


def is_undecided(told: Told) -> bool:
    """Whether the two ways to treat later care point in opposite directions."""
    return (
        bool(told["effect"]) and told["effect"]["difference"] * told["followed"]["difference"] < 0
    )


def is_told(told: Told) -> bool:
    """Whether there is a figure that may be said."""
    return bool(told["effect"]) and not is_undecided(told)


def finding_of(told: Told) -> Finding:
    """The sentence of one kind of care, and in softer ink how sure it is."""
    if is_undecided(told):
        return Finding(
            _("Nothing can be said"),
            _(
                "Followed up to later care, trees with it fared one way; followed to the end, the"
                " other way."
            ),
        )
    if not told["effect"]:
        return Finding(_("There is no figure yet"), refused_said(told["missing"]))
    effect = told["effect"]
    with_care, without = near(effect["with_care"]), near(effect["without"])
    said = _(
        "Of 100 such trees about %(a)d stood a year after the care; of trees like them without it,"
        " about %(b)d"
    ) % {"a": with_care, "b": without}
    return Finding(said, difference_said(effect))


def difference_said(effect: Told) -> str:
    """The difference of 100 trees and its range, rounded outward."""
    said = _("The difference is %(d)s of 100, and could be anything from %(low)s to %(high)s.")
    words = {"d": signed(effect["difference"]), **ends_of(effect)}
    if effect["low"] <= 0 <= effect["high"]:
        return f"{said % words} {_('No difference at all is among what it could be.')}"
    return said % words


def ends_of(effect: Told) -> dict[str, str]:
    """The range of a difference of 100 trees, both ends rounded outward."""
    low, high = hundred(effect["low"]), hundred(effect["high"], up=True)
    return {"low": _signed(low or 0), "high": _signed(high or 0)}


def near(share: float) -> int:
    """A share as so many of 100, to the nearest."""
    return math.floor(share * 100 + 0.5)


def signed(share: float) -> str:
    """A difference as so many of 100, with a true minus sign."""
    return _signed(near(share))


def _signed(n: int) -> str:
    return f"\N{MINUS SIGN}{-n}" if n < 0 else str(n)


def plain_said(told: Told) -> str:
    """What a comparison of trees as they are would have said."""
    return _(
        "Comparing them as they are would have said %(d)s. Care goes to trees in trouble, so that"
        " comparison misleads."
    ) % {"d": signed(told["plain"]["difference"])}


def refused_said(missing: Sequence[Told]) -> str:
    """What a figure takes and what there is."""
    return " ".join(_wanting(one) for one in missing)


def _wanting(one: Told) -> str:
    words = {
        "treated": _("It takes %(need)d matched trees and there are %(have)d."),
        "losses": _("It takes %(need)d losses and there are %(have)d."),
        "losses_without": _("It takes %(need)d losses without the care and there are %(have)d."),
        "seen_with_care": _(
            "It takes %(need)d trees with the care whose fate a year later is known, and there are"
            " %(have)d."
        ),
        "seen_without": _(
            "It takes %(need)d trees without the care whose fate a year later is known, and there"
            " are %(have)d."
        ),
    }
    return words[one["code"]] % {"need": one["need"], "have": one["have"]}


def assumption_said(code: str) -> str:
    """What the figure counts on and nobody can check here."""
    return {
        "alike_but_for_care": _(
            "We matched trees by site, kind, age and what was last seen before the care. If whoever"
            " gave the care knew more than was written down, the figure is off."
        ),
        "alike_in_belief": _(
            "We matched trees by site, kind, age and condition, as everything known by the month"
            " before the care had it; nothing seen later counts. If whoever gave the care knew more"
            " than was written down, the figure is off."
        ),
        "later_care_by_chance": _(
            "A tree that got the care later counts only up to then. That is fair only if such trees"
            " would have fared like the others."
        ),
        "looks_by_chance": _(
            "We count on later looks not being made because of what had happened to the tree."
        ),
    }[code]


def measure_said(code: str) -> str:
    """In what trees with care and without were alike, or not."""
    return {
        "age_months": _("age, months"),
        "months_since_look": _("months since the last look"),
        "grade": _("steps below thriving"),
        "in_trouble": _("slipping or failing, of 100"),
    }[code]


def change_said(change: Told) -> str:
    """How condition changed, in steps from failing to thriving."""
    words = {
        "a": _steps(change["with_care"]),
        "b": _steps(change["without"]),
        "low": _steps(change["low"]),
        "high": _steps(change["high"]),
        "d": _steps(change["difference"]),
        "n": change["sets"],
    }
    return (
        ngettext(
            "Half a year to a year and a half later, trees with the care had changed by %(a)s"
            " steps of condition, trees like them by %(b)s. The difference is %(d)s, and could be"
            " anything from %(low)s to %(high)s (%(n)d match where both were looked at).",
            "Half a year to a year and a half later, trees with the care had changed by %(a)s"
            " steps of condition, trees like them by %(b)s. The difference is %(d)s, and could be"
            " anything from %(low)s to %(high)s (%(n)d matches where both were looked at).",
            change["sets"],
        )
        % words
    )


def _steps(value: float) -> str:
    return number_format(value, 1).replace("-", "\N{MINUS SIGN}")


def chance_said(p: float) -> str:
    """How often chance alone does as much."""
    n = max(1, math.ceil(p * 100 - 1e-9))
    return _(
        "If the care changed nothing, chance alone would make so large a difference in at most"
        " %(n)d of 100 towns like this one."
    ) % {"n": n}
