"""Rows of the queue and of the rail, each with what the page says about it."""

from collections.abc import Sequence, Set
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.desk import sayings
from survey.condition.models import Belief
from survey.reports.models import Reply, Report
from survey.reports.promises import READ_WITHIN
from survey.reports.reference import report_name
from survey.trees.models import Area, Tree
from survey.trees.species import Kind


@dataclass(frozen=True, slots=True)
class Row:
    """One report as the queue shows it."""

    report: Report
    name: str
    place: str
    tree: str
    condition: str
    shares: list[float] | None
    said: str
    moves: str
    clock: str
    is_late: bool
    photos: str


def reports_by_key(keys: Sequence[int]) -> dict[int, Report]:
    """These reports with all that a row needs, in two queries."""
    rows = (
        Report.objects.filter(pk__in=keys)
        .with_queue_place()
        .select_related("site", "tree", "likely_same_as", "joined_to", "opened_by")
        .prefetch_related("signs")
    )
    return {report.pk: report for report in rows}


def beliefs(reports: Sequence[Report]) -> dict[int, list[float]]:
    """What is believed of each tree, by the tree's key; trees that nobody weighed are missing."""
    trees = {report.tree_id for report in reports if report.tree_id}
    return {belief.tree_id: belief.shares for belief in Belief.objects.filter(tree__in=trees)}


def last_seen(trees: Set[int]) -> dict[int, str]:
    """The condition each tree was last seen in by trained eyes, by the tree's key."""
    seen = Tree.objects.filter(pk__in=trees).with_last_trained_look()
    return {tree.pk: tree.gauge_condition or "" for tree in seen}


def rows_of(
    reports: Sequence[Report], whys: Sequence[str], area: Area, kinds: dict[str, Kind]
) -> list[Row]:
    """One row for each report; `whys` are the reasons they are here, in the same order."""
    believed = beliefs(reports)
    others = {report.tree_id for report in reports if report.tree_id} - believed.keys()
    conditions = last_seen(others)
    replies = _newest_replies(reports, whys)
    return [
        Row(
            report=report,
            name=report_name(report, today=area.today()),
            place=sayings.place_words(report),
            tree=sayings.tree_words(report, kinds),
            condition=conditions.get(report.tree_id, ""),
            shares=believed.get(report.tree_id),
            said=replies.get(report.pk) or sayings.quoted(report),
            moves=moves(report, why, area),
            clock=sayings.days_ago((area.today() - report.day).days),
            is_late=area.today() - report.day > READ_WITHIN,
            photos=_photos(report.photo_count),
        )
        for report, why in zip(reports, whys, strict=True)
    ]


def _newest_replies(reports: Sequence[Report], whys: Sequence[str]) -> dict[int, str]:
    replied = [r.pk for r, why in zip(reports, whys, strict=True) if why == "replied"]
    found = {}
    for reply in Reply.objects.filter(report__in=replied).order_by("at", "pk"):
        words = " ".join(reply.words.split())
        cut = words[: sayings.SAID_LETTERS] + ("…" if len(words) > sayings.SAID_LETTERS else "")
        found[reply.report_id] = f"“{cut}”"
    return found


def moves(report: Report, why: str, area: Area) -> str:
    """What puts a report where it stands, in a few words."""
    signs = sayings.signs_of(report)
    extent = sayings.extent_words(report)
    seen = "; ".join(signs[:2]) + (f" ({extent.lower()})" if signs and extent else "")
    match why:
        case "danger":
            written = sayings.written_danger(report)
            kind = sayings.danger_words(report)
            return f"{kind}; {written}" if written else kind
        case "replied":
            return _("reply to our question")
        case "voices" if report.voices:
            return (
                ngettext("%d more note joined", "%d more notes joined", report.voices)
                % report.voices
            )
        case "voices" if report.likely_same_as is not None:
            return _("likely the same as %s") % report_name(
                report.likely_same_as, today=area.today()
            )
        case "voices":
            return _("another note says likely the same")
        case "waited":
            days = (area.today() - report.day).days
            waiting = ngettext("waiting %d day", "waiting %d days", days) % days
            return f"{waiting}; {seen}" if seen else waiting
        case "asked":
            return _("we asked back")
    return seen or _("nothing ticked")


def _photos(count: int) -> str:
    if not count:
        return _("no photo")
    return ngettext("%d photo", "%d photos", count) % count
