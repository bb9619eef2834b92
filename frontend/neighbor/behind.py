"""What may be behind a report, as its writer reads it: words only, never above *possible*, and one
question that anybody can safely answer."""

import logging
from collections.abc import Collection
from dataclasses import dataclass

from frontend.handbook.chapters import address_of, name_of
from survey.causes.conflicts import BadFacts
from survey.causes.models import ClueNoted
from survey.handbook.book import book
from survey.handbook.causes import Check
from survey.handbook.wording import said
from survey.reports.actions.answer_check import witness_of
from survey.reports.answered import answered_by
from survey.reports.causes import causes_of_report
from survey.reports.models import Report
from survey.workorders.holds import holds_in

MOST_NAMED = 2
"""A list of many causes would read as a verdict on all of them. Ours to choose."""

UNDECIDED = (Report.State.NEW, Report.State.ASKED)
MOST_ASKED = 2
"""Who has answered one question is asked at most one more. Ours to choose."""
MOST_UNSEEN = 20
"""So many questions that could not be seen are skipped; more of an address is not read."""

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Suspected:
    """One cause that may be behind it, in the handbook's words."""

    name: str
    says: str
    address: str


@dataclass(frozen=True, slots=True)
class Behind:
    """What may be behind it (nothing: it cannot be told yet), what somebody trained has confirmed,
    and the question, if one helps."""

    suspected: tuple[Suspected, ...]
    confirmed: tuple[Suspected, ...]
    asleep: bool
    question: Check | None
    is_last: bool = False  # one was answered already, and this is the last that is asked


def unseen_in(query) -> list[str]:
    """The questions named in an address whose answer could not be seen: `query` is request.GET."""
    codes = dict.fromkeys(query.getlist("unseen")[:MOST_UNSEEN])
    return [code for code in codes if code in book().checks]


def kept_away(report: Report) -> Report | None:
    """The open danger, told by somebody else, that keeps people from this report's tree."""
    tree = report.tree
    return holds_in(report.area).on_tree(tree) if tree is not None else None


def behind_of(report: Report, *, near: bool = False, skip: Collection[str] = ()) -> Behind | None:
    """What the report and the record of its tree let one suppose. None where nothing may be said:
    a danger here or `near`, a tree that is gone, a report that was decided, a record at odds with
    itself.

    `skip` are questions whose answer could not be seen. Without a tree there is no question,
    because nobody could keep the answer.
    """
    tree = report.tree
    gone = tree is not None and tree.left
    if report.danger or near or gone or report.state not in UNDECIDED:
        return None
    try:
        told, _recorded = causes_of_report(report, who="anyone")
    except BadFacts:
        log.info("What report %s says contradicts itself; no cause is named", report.pk)
        return None
    named = [] if told.asleep else told.named[:MOST_NAMED]
    asked = [one.question.code for one in (told.asked, *told.others) if one is not None]
    question = None
    answered = len(answered_by(report))
    if tree is not None and answered < MOST_ASKED:
        over = {*skip, *_answered_by(report)}
        question = next((code for code in asked if code not in over), None)
    return Behind(
        suspected=tuple(_told(one.cause) for one in named),
        confirmed=tuple(_told(code) for code in told.confirmed if code in book().causes),
        asleep=told.asleep is not None,
        question=book().checks[question] if question else None,
        is_last=answered == MOST_ASKED - 1,
    )


def _told(code: str) -> Suspected:
    cause = book().causes[code]
    return Suspected(name_of(cause), str(said(cause.says)), address_of("causes", code))


def _answered_by(report: Report) -> set[str]:
    """The checks to which this report has an answer already: a person is asked once."""
    noted = set(ClueNoted.objects.filter(by=witness_of(report)).values_list("clue", flat=True))
    return {
        code
        for code, check in book().checks.items()
        if noted & {*check.yes_means, *check.yes_denies, *check.no_means, *check.no_denies}
    }
