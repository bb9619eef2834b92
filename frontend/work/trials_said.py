"""A trial in sentences: what its size can tell, and what it told. No bare share, no promise."""

from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from survey.handbook.book import book
from survey.science.care.trials import Reach
from survey.workorders.trials import Standing, instead_said


@dataclass(frozen=True, slots=True)
class Said:
    """The finding first, then the counts, then what so few trees can tell."""

    finding: str
    counts: tuple[str, ...]
    size: str
    caveats: tuple[str, ...]


def in_a_hundred(share: float) -> int:
    return round(share * 100)


def said_of(standing: Standing) -> Said:
    trial, reach = standing.trial, standing.reach
    care = book().care.get(trial.care)
    name = _(care.label) if care else trial.care
    counts = []
    for gets, label in ((True, name), (False, instead_said(trial))):
        good, seen, of_all = standing.seen(gets)
        words = {"side": label, "good": good, "seen": seen, "all": of_all}
        counts.append(_("%(side)s: %(good)d of %(seen)d seen do well; %(all)d were drawn.") % words)
    return Said(_finding(standing, name), tuple(counts), _size(reach), _caveats(standing))


def _size(reach: Reach | None) -> str:
    """What so many trees can tell, in natural frequencies."""
    if reach is None:
        return _("Too small to tell: one side has no tree.")
    words = {
        "expected": in_a_hundred(reach.expected),
        "first": reach.treated,
        "second": reach.others,
    }
    if reach.word == "too_small_to_tell":
        size = _(
            "Too small to tell: %(first)d against %(second)d trees. If %(expected)d in 100 do well "
            "without it, a gain of 20 in 100 would mostly go unnoticed."
        )
        if reach.better is not None:
            words["better"] = in_a_hundred(reach.better)
            size += " " + _("It would be noticed from about %(better)d in 100 on.")
    else:
        words["better"] = in_a_hundred(reach.better or 0)
        size = _(
            "%(first)d against %(second)d trees: if %(expected)d in 100 do well without it, a rise "
            "to %(better)d in 100 would be noticed four times in five."
        )
    return size % words


def _finding(standing: Standing, name: str) -> str:
    trial, result = standing.trial, standing.result
    if not standing.is_due:
        day = date_format(trial.until, "F j, Y")
        return _("The answer is read on %s, not sooner: who looks often finds luck.") % day
    if result is None or result.word == "nothing_to_weigh":
        return _(
            "There is nothing to weigh: too few of the trees were looked at, or all did alike."
        )
    words = {"care": name, "instead": instead_said(trial)}
    if result.word == "cannot_tell":
        return _("This trial cannot tell “%(care)s” from “%(instead)s”.") % words
    if result.word == "care_better":
        return _("Trees with “%(care)s” did better than those with “%(instead)s”.") % words
    return _("Trees with “%(care)s” did worse than those with “%(instead)s”.") % words


def _caveats(standing: Standing) -> tuple[str, ...]:
    found = []
    if standing.crossed:
        tags = ", ".join(str(tree) for tree in standing.crossed)
        found.append(
            _("Given the care against their lot: %s. They count on the side of their lot.") % tags
        )
    unseen = sum(row.good is None for row in standing.rows)
    if standing.is_due and unseen:
        found.append(_("Not looked at since, and so not counted: %d.") % unseen)
    result = standing.result
    if result is not None and result.word in ("cannot_tell", "care_better", "care_worse"):
        words = {"p": in_a_hundred(result.p) if result.p >= 0.01 else _("less than 1")}
        found.append(
            _("Lots alone would part the two sides this far in %(p)s of 100 such trials.") % words
        )
    if result is not None and result.word == "cannot_tell":
        found.append(_("“Cannot tell” is not “no effect”."))
    return tuple(found)
