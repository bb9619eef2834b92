"""The questions of the private page that the writer of a report has answered."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from survey.audit.models import Entry
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.reports.models import Report

NOTED = "clue.noted"
"""The act under which `answer_check` writes an answer down, with the question and what was said."""


@dataclass(frozen=True, slots=True)
class Answered:
    """One question in the reader's language, what was answered, and on which day of the area."""

    check: str
    asks: str
    answer: str
    day: date


def answered_by(report: Report) -> list[Answered]:
    """What a report's writer answered, oldest question first; of several answers to one question
    the last. Questions that the handbook no longer has are left out."""
    zone, known = ZoneInfo(report.area.time_zone), book().checks
    lines = Entry.objects.filter(subject=f"report:{report.pk}", act=NOTED).order_by("at", "pk")
    last: dict[str, tuple[datetime, str]] = {}
    for at, detail in lines.values_list("at", "detail"):
        if detail.get("check") in known:
            last[detail["check"]] = (at, detail.get("answer", ""))
    return [
        Answered(
            code,
            str(said(known[code].asks)),
            str(said(known[code].yes if answer == "yes" else known[code].no)),
            at.astimezone(zone).date(),
        )
        for code, (at, answer) in last.items()
    ]
