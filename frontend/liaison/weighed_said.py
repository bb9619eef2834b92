"""The two readings of a group as sentences: what each says, and why they differ where they do."""

import math

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.liaison.reading import Rate, Reading, Row, Weighed
from frontend.liaison.said import Finding, hundred, milestone_said, outer, withheld_said
from survey.survival.cautions import in_words
from survey.survival.figures import SECOND_SUMMER

WEIGHED_ALONE = {"usual_in_town", "not_looked_at"}
"""Cautions that the verified reading has no need of."""


def about(share: float | None) -> int | None:
    """An estimate as so many of 100, halves up."""
    return None if share is None else math.floor(share * 100 + 0.5)


def asked_age(reading: Reading) -> str:
    """The age at which both readings are told beside each other: that of the page's sentence."""
    return reading.told.milestone if reading.told else SECOND_SUMMER


def both_said(reading: Reading) -> dict | None:
    """Everything that stands under "Two readings"; None while there is only one."""
    weighed = reading.weighed
    if weighed is None:
        return None
    milestone = asked_age(reading)
    row = next(row for row in reading.rows if row.milestone == milestone)
    rate = weighed.at(milestone)
    return {
        "age": milestone_said(milestone),
        "verified": verified_said(row),
        "weighed": rate_said(rate),
        "heard": heard_said(weighed),
        "standing": standing_said(weighed),
        "cautions": [
            in_words(caution)
            for caution in weighed.group.cautions
            if caution["code"] in WEIGHED_ALONE
        ],
        "differ": differ_said(reading),
        "method": weighed.group.method,
        "evidence": weighed.group.evidence,
    }


def verified_said(row: Row) -> str:
    """The verified figure in short."""
    if row.withheld:
        return _("Withheld: %s.") % withheld_said(row.withheld)
    words = {
        "n": hundred(row.at_least),
        "most": outer(row.at_least, row.at_most),
        "low": hundred(row.low),
        "high": hundred(row.high, up=True),
    }
    if row.at_least == row.at_most:
        return _("%(n)d of 100 (somewhere between %(low)d and %(high)d).") % words
    return (
        _("At least %(n)d, at most %(most)d of 100 (somewhere between %(low)d and %(high)d).")
        % words
    )


def rate_said(rate: Rate) -> str:
    """The figure with all evidence weighed in short."""
    if rate.share is None:
        return _("Withheld: %s.") % withheld_said(rate.withheld)
    return _("About %(n)d of 100 (somewhere between %(low)d and %(high)d).") % {
        "n": about(rate.share),
        "low": hundred(rate.low),
        "high": hundred(rate.high, up=True),
    }


def heard_said(weighed: Weighed) -> str:
    """What the weighed reading rests on."""
    counts = weighed.group.counts
    looks, neighbors = counts["looks"], counts["neighbor_looks"]
    said = ngettext("%(n)d look by anybody", "%(n)d looks by anybody", looks) % {"n": looks}
    if neighbors:
        more = ngettext("%(n)d of them by a neighbor", "%(n)d of them by neighbors", neighbors)
        said = f"{said}, {more % {'n': neighbors}}"
    return _(
        "%(looks)s, each for what it is worth; and silence, where a complaint would be likely."
    ) % {"looks": said}


def standing_said(weighed: Weighed) -> str:
    """How many of these very trees are believed to stand now."""
    counts = weighed.group.counts
    trees, standing = counts["in_rates"], counts["expected_standing"]
    words = {
        "n": math.floor(standing["mean"] + 0.5),
        "low": standing["low"],
        "high": standing["high"],
        "trees": trees,
    }
    if standing["low"] == standing["high"]:
        said = ngettext(
            "Of these %(trees)d tree, %(n)d is believed to stand now.",
            "Of these %(trees)d trees, %(n)d are believed to stand now.",
            trees,
        )
    else:
        said = ngettext(
            "Of these %(trees)d tree, %(low)d to %(high)d is believed to stand now.",
            "Of these %(trees)d trees, %(low)d to %(high)d are believed to stand now.",
            trees,
        )
    return said % words


def differ_said(reading: Reading) -> Finding | None:
    """That the readings differ by more than their ranges allow, and why; None where they do not."""
    weighed = reading.weighed
    apart = [rate for rate in weighed.rates if rate.differs] if weighed else []
    if weighed is None or not apart:
        return None
    rows = {row.milestone: row for row in reading.rows}
    apart.sort(key=lambda rate: rows[rate.milestone].age)
    ages = ", ".join(milestone_said(rate.milestone) for rate in apart)
    first = apart[0]
    fewer = first.share < rows[first.milestone].at_least
    said = _("The two readings differ by more than their ranges allow (%(ages)s).")
    why = [
        _("With all evidence weighed, fewer trees stand.")
        if fewer
        else _("With all evidence weighed, more trees stand."),
        *_why(weighed),
        _("Look again with trained eyes before you quote either."),
    ]
    return Finding(said % {"ages": ages}, " ".join(why))


def _why(weighed: Weighed) -> list[str]:
    """What the weighed reading hears and the verified one does not."""
    counts = weighed.group.counts
    found = []
    neighbors, worried, bare = (counts[f"{kind}_looks"] for kind in ("neighbor", "worried", "bare"))
    if neighbors:
        found.append(
            ngettext(
                "It also hears %(n)d look by neighbors, who look when something is wrong.",
                "It also hears %(n)d looks by neighbors, who look when something is wrong.",
                neighbors,
            )
            % {"n": neighbors}
        )
    if worried:
        found.append(
            ngettext(
                "%(n)d look was a complaint, and it allows for that.",
                "%(n)d looks were complaints, and it allows for that.",
                worried,
            )
            % {"n": worried}
        )
    if bare:
        found.append(
            ngettext(
                "It takes %(n)d look in a month in which such trees stand bare for little.",
                "It takes %(n)d looks in months in which such trees stand bare for little.",
                bare,
            )
            % {"n": bare}
        )
    found.append(_("What nobody saw, it fills in with what is usual in the town."))
    return found
