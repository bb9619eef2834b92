"""The causes that fit a report: what it says, and what the record holds of the tree it names."""

from dataclasses import replace

from django.db.models import Q

from survey.causes.differential import Differential, tell_apart
from survey.causes.facts import Facts
from survey.causes.local import weights_in_force
from survey.causes.record import Record, Recorded, place_of, read_record
from survey.causes.verdicts import rulings_on
from survey.handbook.book import book
from survey.handbook.causes import Who
from survey.reports.models import Report
from survey.science.causes.records import Witness


def facts_of_report(report: Report) -> tuple[Facts, Recorded]:
    """A report as facts: its ticks and words by one neighbor, the rest by the record.

    The look that the report itself made is the same neighbor's word and is not counted again.
    `report` should come with its area, tree, planting and signs.
    """
    facts, record = _read(report)
    if record is None:
        return facts, Recorded(())
    recorded = record.recorded()
    return replace(facts, further=recorded.clues), recorded


def _read(report: Report) -> tuple[Facts, Record | None]:
    """What the report says and where and when; and the record of its tree, if it names one."""
    day, area, tree = report.seen_on, report.area, report.tree
    who = Witness("photo" if _is_picture(report) else "lay", f"report:{report.client_ref}")
    signs = {tick.sign: True for tick in report.signs.all() if tick.sign in book().signs}
    words = "\n".join([report.words, *(reply.words for reply in report.replies.all())])
    said = {
        "signs": signs,
        "extent": report.extent if report.extent in book().extents else "",
        "side": report.side if report.side in book().sides else "",
        "words": words[:20_000],
        "witness": who,
    }
    if tree is None:
        return Facts(**said, month=day.month, latitude=report.latitude or area.latitude), None
    if tree.area_id == area.pk:
        tree.area = area  # so that it is not asked for again
    record = read_record(tree, max(day, area.today()), without=Q(reports=report))
    return Facts(**said, **place_of(tree, day)), record


def _is_picture(report: Report) -> bool:
    return report.came == Report.Came.PICTURE and not report.words


def causes_of_report(
    report: Report, *, who: Who = "anyone", in_danger: bool = False
) -> tuple[Differential, Recorded]:
    """The causes that fit, and the one question; none while this report is an open danger, or
    while `in_danger` says that another one keeps people away.

    Raises BadFacts for what contradicts itself.
    """
    facts, record = _read(report)
    recorded = record.recorded() if record else Recorded(())
    open_here = bool(report.danger) and report.danger_cleared_at is None
    told = tell_apart(
        replace(facts, further=recorded.clues),
        who=who,
        in_danger=in_danger or open_here,
        local=weights_in_force(report.area),
        rulings=rulings_on(record.tree, record.day) if record else None,
        supposing=record
        and (lambda check, yes: replace(facts, further=record.answered(check, yes=yes).clues)),
    )
    return told, recorded
