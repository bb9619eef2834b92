"""Sentences of the desk: what a row, a heading and a suggested message say."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import ngettext, override

from survey.handbook.book import book
from survey.handbook.wording import said
from survey.reports.danger import said_to_be_no_danger
from survey.reports.models import Decision, Report
from survey.reports.reference import report_name
from survey.trees.species import Kind

SAID_LETTERS = 64
HEADING_LETTERS = 90


def why_words() -> dict[str, tuple[str, str]]:
    """For each reason of the queue: its name, and what is done about it."""
    return {
        "danger": (
            _("Danger to people"),
            _("professionals only; nobody goes near until it is cleared"),
        ),
        "replied": (_("They have replied"), _("they answered what we asked")),
        "voices": (_("Several notes, one tree"), _("join them, answer once")),
        "heavy": (_("Heavy signs"), _("most bark lost, or as bad, first")),
        "waited": (_("Waited longest"), _("longer than we promised")),
        "new": (_("New, nothing pressing"), _("heaviest first")),
        "asked": (_("Waiting for the neighbor"), _("we asked, they have not replied")),
    }


def quoted(report: Report, letters: int = SAID_LETTERS) -> str:
    """The first words a neighbor wrote, in quotation marks of their language."""
    words = " ".join(report.words.split())
    if not words:
        return ""
    if len(words) > letters:
        words = words[:letters].rsplit(" ", 1)[0].rstrip(".,;:") + "…"
    return f"«{words}»" if report.language == "es" else f"“{words}”"


def signs_of(report: Report) -> list[str]:
    """The ticked signs as a neighbor reads them; a code nobody knows any more says itself."""
    known = book().signs
    return [
        str(said(known[tick.sign].label)) if tick.sign in known else tick.sign
        for tick in report.signs.all()
    ]


def danger_words(report: Report) -> str:
    known = book().dangers.get(report.danger)
    return str(said(known.label)) if known else report.danger


def written_danger(report: Report) -> str:
    """The words that were read as a danger, where none was ticked; "" otherwise."""
    if not report.danger_words:
        return ""
    return _("written, not ticked: “%s”") % report.danger_words


def extent_words(report: Report) -> str:
    known = book().extents.get(report.extent)
    return str(said(known.label)) if known else ""


def side_words(report: Report) -> str:
    known = book().sides.get(report.side)
    return str(said(known.label)) if known else ""


def picture_words(report: Report) -> str:
    known = book().picture_scale.get(report.picture)
    return str(said(known.label)) if known else ""


def heading(report: Report) -> str:
    """What a docket is about, in one line: the neighbor's words, or what was ticked."""
    words = quoted(report, HEADING_LETTERS)
    if words:
        return words
    ticked = signs_of(report)
    if ticked:
        return ", ".join(ticked)
    return danger_words(report) if report.danger else _("No words, only a place")


def days_ago(days: int) -> str:
    if days <= 0:
        return _("today")
    return ngettext("%d day", "%d days", days) % days


def tree_words(report: Report, kinds: dict[str, Kind]) -> str:
    """ "0407 field maple", or an empty text."""
    tree = report.tree
    if tree is None:
        return ""
    kind = kinds.get(tree.species)
    return f"{tree} {kind.name.lower() if kind else tree.species}".strip()


def place_words(report: Report) -> str:
    if report.site is not None:
        return report.site.name
    return report.landmark or _("a point on the map")


def number_words(n: int) -> str:
    """A small number as a sentence begins with it: "Three"."""
    words = [_("One"), _("Two"), _("Three"), _("Four"), _("Five"), _("Six"), _("Seven"),
             _("Eight"), _("Nine"), _("Ten")]  # fmt: skip
    return words[n - 1] if 1 <= n <= len(words) else str(n)


def headline(dangers: int, rest: int, waits: Sequence[int], promise: int) -> str:
    """The finding of the queue: open dangers, and how long others have waited for us.

    `waits[d]` reports have waited d days.
    """
    parts = []
    if dangers:
        first = ngettext(
            "%(n)s danger first: professionals only, nobody goes near.",
            "%(n)s dangers first: professionals only, nobody goes near.",
            dangers,
        )
        parts.append(first % {"n": number_words(dangers)})
    late, longest = sum(waits[promise + 1 :]), max(len(waits) - 1, 0)
    if late:
        text = ngettext(
            "%(n)s note has waited longer than the %(promise)d days we promised: %(longest)d days.",
            "%(n)s notes have waited longer than the %(promise)d days we promised, the longest "
            "%(longest)d days.",
            late,
        )
        parts.append(text % {"n": number_words(late), "promise": promise, "longest": longest})
    elif not rest:
        parts.append(
            _("Nothing else waits.") if dangers else _("Nothing waits. The desk is clear.")
        )
    elif longest:
        start = _("Nothing else") if dangers else _("Nothing")
        text = ngettext(
            "%(start)s has waited longer than %(days)d day.",
            "%(start)s has waited longer than %(days)d days.",
            longest,
        )
        parts.append(text % {"start": start, "days": longest})
    else:
        parts.append(_("Everything else came in today.") if dangers else _("It all came in today."))
    return " ".join(parts)


def suggestion(outcome: str, report: Report, kinds: dict[str, Kind]) -> str:
    """A first text for the neighbor in the report's language, to be changed before it is sent."""
    with override(report.language):
        what = {"name": report_name(report), "tree": _spoken_tree(report, kinds)}
        texts = {
            "order": _(
                "Thank you for your note of %(name)s about %(tree)s. It gets the care it needs. "
                "Your private page says when that is done."
            ),
            "answer": _(
                "Thank you for your note of %(name)s about %(tree)s. We have looked at what you "
                "sent. The tree needs no work from us now. If it gets worse, please write again."
            ),
            "watch": _(
                "Thank you for your note of %(name)s about %(tree)s. Nothing has to be done today. "
                "Somebody will look at the tree again, and we will act if it gets worse."
            ),
            "ask": _(
                "Thank you for your note of %(name)s about %(tree)s. One question, so that we "
                "choose the right care: "
            ),
            "join": _(
                "Thank you for your note of %(name)s about %(tree)s. A neighbor told us of the "
                "same tree, so we keep both notes together. You will hear what we do."
            ),
            "set_aside": _(
                "Thank you for your note of %(name)s about %(tree)s. This is not a tree we look "
                "after, so we cannot do anything about it."
            ),
        }
        if outcome not in texts:
            return ""
        text = texts[outcome] % what
        if report.danger and report.danger_cleared_at is None:
            text = (
                text.rstrip() + " " + _("Please stay away from the tree until we say it is safe.")
            )
        return text


def _spoken_tree(report: Report, kinds: dict[str, Kind]) -> str:
    """ "the linden at Quarry Green", in the language now spoken."""
    kind = kinds.get(report.tree.species) if report.tree else None
    known = book().species.get(report.tree.species) if report.tree else None
    name = str(said(known.common_name)).lower() if known else kind.name.lower() if kind else ""
    if name and report.site:
        return _("the %(tree)s at %(place)s") % {"tree": name, "place": report.site.name}
    if report.site:
        return _("the tree at %(place)s") % {"place": report.site.name}
    return _("the tree")


def outcome_words(decision: Decision) -> str:
    """What a decision did, as the strip after it says: "June 15, note 8 is answered"."""
    name = {"name": report_name(decision.report)}
    words = {
        "order": _("%(name)s is ordered."),
        "join": _("%(name)s is joined to another."),
        "answer": _("%(name)s is answered."),
        "ask": _("%(name)s: we asked back."),
        "set_aside": _("%(name)s is set aside."),
        "danger": _("%(name)s is marked as danger."),
        "clear": _("%(name)s: the danger is cleared."),
    }
    if decision.outcome == "answer" and decision.report.look_due:
        return _("%(name)s is answered, and its tree is watched.") % name
    if said_to_be_no_danger(decision):
        return _("%(name)s: the words are not about a danger.") % name
    return words[decision.outcome] % name
