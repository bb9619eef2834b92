"""What a reader must know before quoting a group's figures: found as codes, said in words."""

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from survey.survival.figures import FEW, SECOND_SUMMER, Worked

SMALL, VERY_SMALL = 20, 10
LONG_GAP_DAYS = 366


def cautions_of(
    counts: dict[str, Any], worked: Worked, *, by: str, invented: bool
) -> list[dict[str, Any]]:
    """The cautions of one group, gravest first, each a code with its numbers."""
    found: list[dict[str, Any]] = []
    trees, standing = counts["in_rates"], counts["not_lost"]

    def say(code: str, **numbers: Any) -> None:
        found.append({"code": code, **numbers})

    if invented:
        say("invented")
    if trees < FEW:
        say("counts_only", trees=trees)
    elif trees < VERY_SMALL:
        say("very_small", trees=trees)
    elif trees < SMALL:
        say("small", trees=trees)
    if counts.get("from_age"):
        say("starts_late", months=int(counts["from_age"]))
    for told in worked.figures:
        shown = told.curve == "loss" and told.milestone == SECOND_SUMMER and not told.withheld
        if shown and told.at_least != told.at_most:
            say("between_looks")
    if counts["median_gap_days"] is not None:
        long_gap = counts["median_gap_days"] > LONG_GAP_DAYS
        say("long_gaps" if long_gap else "gaps", days=counts["median_gap_days"])
    if counts["unseen_over_a_year"]:
        stale = counts["unseen_over_a_year"] * 3 >= standing
        say("stale" if stale else "some_stale", unseen=counts["unseen_over_a_year"], of=standing)
    if counts["late"]:
        say("late_entry", trees=counts["late"])
    excluded = sum(counts["excluded"].values())
    if excluded:
        say("left_out", trees=excluded)
    if counts["planted"] and counts["planted"] > counts["registered"]:
        say("not_registered", trees=counts["planted"] - counts["registered"], of=counts["planted"])
    if counts["statuses"]["lost"]:
        lost = counts["statuses"]["lost"]
        say("lost_from_sight", trees=lost, share=counts.get("if_lost_were_gone"))
    if counts["other_losses"]:
        say("removed_for_other_reasons", trees=counts["other_losses"])
    if counts["wide_dates"]:
        say("wide_dates", trees=counts["wide_dates"])
    if counts.get("is_unique") is False:
        say("not_unique")
    if by in ("species", "site", "supplier", "town"):
        say("mixed")
    return found


UNSEEN_MONTHS = 12


def cautions_of_weighed(counts: dict[str, Any], *, by: str, invented: bool) -> list[dict[str, Any]]:
    """The same for a group with all evidence weighed."""
    found: list[dict[str, Any]] = []
    trees, looked_at = counts["in_rates"], counts["looked_at"]

    def say(code: str, **numbers: Any) -> None:
        found.append({"code": code, **numbers})

    if invented:
        say("invented")
    if trees < FEW:
        say("counts_only", trees=trees)
    elif trees < VERY_SMALL:
        say("very_small", trees=trees)
    elif trees < SMALL:
        say("small", trees=trees)
    if trees and not looked_at:
        say("usual_in_town", months=0)
    elif trees and counts["months_unseen"] > UNSEEN_MONTHS:
        say("usual_in_town", months=counts["months_unseen"])
    elif (trees - looked_at) * 3 >= trees > 0:
        say("not_looked_at", unseen=trees - looked_at, of=trees)
    if counts.get("from_age"):
        say("starts_late", months=int(counts["from_age"]))
    if counts["late"]:
        say("late_entry", trees=counts["late"])
    excluded = sum(counts["excluded"].values())
    if excluded:
        say("left_out", trees=excluded)
    if counts["planted"] and counts["planted"] > counts["registered"]:
        say("not_registered", trees=counts["planted"] - counts["registered"], of=counts["planted"])
    if counts["other_losses"]:
        say("removed_for_other_reasons", trees=counts["other_losses"])
    if counts["wide_dates"]:
        say("wide_dates", trees=counts["wide_dates"])
    if by in ("species", "site", "supplier", "town"):
        say("mixed")
    return found


def in_words(caution: dict[str, Any]) -> str:
    """One caution as a reader hears it. An unknown code is said as it stands."""
    code = caution["code"]
    plural, single, timed = _COUNTED.get(code), _PLAIN.get(code), _TIMED.get(code)
    if code == "usual_in_town" and not caution["months"]:
        return _(
            "Nobody has looked at these trees since they came on the list. What is told of them is"
            " what is usual in the town."
        )
    if code == "counts_only" and not caution["trees"]:
        return _("No tree of this group can be counted in the rates, so there are counts only.")
    if single is not None:
        return single() % caution
    if timed is not None:
        n = caution["months" if code in _IN_MONTHS else "days"]
        return timed(n) % {"n": n}
    if plural is not None:
        return plural(caution["trees"]) % caution
    if code == "lost_from_sight":
        return _lost(caution)
    return code


def _lost(caution: dict[str, Any]) -> str:
    said = ngettext(
        "%(trees)d tree could not be found again. It leaves the count at its last look.",
        "%(trees)d trees could not be found again. They leave the count at their last look.",
        caution["trees"],
    ) % {"trees": caution["trees"]}
    if caution.get("share") is None:
        return said
    more = _("Counted as lost, at least %(hundred)d of 100 stood through the second summer.")
    return f"{said} {more % {'hundred': int(caution['share'] * 100)}}"


_PLAIN = {
    "invented": lambda: _("This town and its trees are invented. Nothing here happened."),
    "not_unique": lambda: _(
        "The looks do not settle the curve: other curves fit them as well as this one."
    ),
    "between_looks": lambda: _(
        "At this age some losses are only known to fall between two looks. That is why there is an"
        " at least and an at most; quote the at least."
    ),
    # said without a verb or a noun that would have to follow the number
    "stale": lambda: _(
        "Out of date: of the trees not known to be lost, trained eyes have not seen %(unseen)d out"
        " of %(of)d for over a year. Look again before you quote this."
    ),
    "some_stale": lambda: _(
        "Of the trees not known to be lost, trained eyes have not seen %(unseen)d out of %(of)d for"
        " over a year. What was not seen counts only up to its last look."
    ),
    "not_looked_at": lambda: _(
        "Nobody has looked at %(unseen)d out of %(of)d trees since they came on the list. What is"
        " told of those is what is usual in the town."
    ),
    "mixed": lambda: _(
        "Trees planted in different seasons are put together here. Do not rank such groups:"
        " their trees differ in more than their name."
    ),
}

_IN_MONTHS = {"starts_late", "usual_in_town"}
_TIMED = {
    "usual_in_town": lambda n: ngettext(
        "Nobody has looked at these trees for %(n)d month. What is told of the time since is what"
        " is usual in the town.",
        "Nobody has looked at these trees for %(n)d months. What is told of the time since is what"
        " is usual in the town.",
        n,
    ),
    "starts_late": lambda n: ngettext(
        "Too few trees were watched before the age of %(n)d month. The figures are about trees that"
        " were alive at that age, not about all that were planted.",
        "Too few trees were watched before the age of %(n)d months. The figures are about trees"
        " that were alive at that age, not about all that were planted.",
        n,
    ),
    "gaps": lambda n: ngettext(
        "A loss is known only between two looks. Half of the gaps between looks were shorter than"
        " %(n)d day.",
        "A loss is known only between two looks. Half of the gaps between looks were shorter than"
        " %(n)d days.",
        n,
    ),
    "long_gaps": lambda n: ngettext(
        "Trees were looked at rarely: half of the gaps between looks were longer than %(n)d day."
        " What happened in between is known only roughly.",
        "Trees were looked at rarely: half of the gaps between looks were longer than %(n)d days."
        " What happened in between is known only roughly.",
        n,
    ),
}

_COUNTED = {
    "counts_only": lambda n: ngettext(
        "Only %(trees)d tree can be counted: too few for a rate, so there are counts only.",
        "Only %(trees)d trees can be counted: too few for a rate, so there are counts only.",
        n,
    ),
    "very_small": lambda n: ngettext(
        "Only %(trees)d tree is behind these figures. One tree more or less would change them.",
        "Only %(trees)d trees are behind these figures. One tree more or less would change them.",
        n,
    ),
    "small": lambda n: ngettext(
        "Only %(trees)d tree is behind these figures. Do not rank it against other groups.",
        "Only %(trees)d trees are behind these figures. Do not rank them against other groups.",
        n,
    ),
    "late_entry": lambda n: ngettext(
        "%(trees)d tree was registered after it was planted. It counts from then on, not before.",
        "%(trees)d trees were registered after they were planted. They count from then on, not"
        " before.",
        n,
    ),
    "left_out": lambda n: ngettext(
        "%(trees)d tree is left out of the rates and counted beside them; the list says why.",
        "%(trees)d trees are left out of the rates and counted beside them; the list says why.",
        n,
    ),
    "not_registered": lambda n: ngettext(
        "%(trees)d of the %(of)d trees planted never came on the list. It is not in the rates.",
        "%(trees)d of the %(of)d trees planted never came on the list. They are not in the rates.",
        n,
    ),
    "removed_for_other_reasons": lambda n: ngettext(
        "%(trees)d living tree was removed for a reason that has nothing to do with its health."
        " “Still standing” counts it as lost, “not dead” does not.",
        "%(trees)d living trees were removed for reasons that have nothing to do with their"
        " health. “Still standing” counts them as lost, “not dead” does not.",
        n,
    ),
    "wide_dates": lambda n: ngettext(
        "The planting day of %(trees)d tree is known only to the season or year, so its age has"
        " two ends.",
        "The planting day of %(trees)d trees is known only to the season or year, so their ages"
        " have two ends.",
        n,
    ),
}

CODES = sorted({*_PLAIN, *_TIMED, *_COUNTED, "lost_from_sight"})
