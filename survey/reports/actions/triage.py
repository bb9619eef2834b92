"""What the desk decides about a report: each with its reason, its message and its audit line."""

from datetime import date, datetime, timedelta

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import override

from survey.audit import outdated
from survey.audit.log import record
from survey.chores.actions import write_chore
from survey.handbook.book import book
from survey.people.actions import queue_mail, withdraw_mail
from survey.people.models import Mail, Person
from survey.people.policy import may_clear_danger, may_triage
from survey.reports.answers import cleaned_text
from survey.reports.looks import withdraw_looks
from survey.reports.models import Decision, DeskNote, Report
from survey.reports.reference import report_name
from survey.trees.models import Site, Tree

UNDO = timedelta(minutes=10)
"""How long a decision can be taken back, by the real clock."""

GRACE = timedelta(seconds=30)
"""How much longer its message waits, so that an undo at the last moment is never overtaken."""

LEASE = timedelta(minutes=10)
"""How long a docket counts as open on somebody's desk after they last touched it."""

MOST_MESSAGE = 4000  # letters of a message to a neighbor
MOST_REASON = 500
MOST_TYPED = 20_000  # letters kept of what is typed and not decided

Outcome = Decision.Outcome


class Outdated(outdated.Outdated):
    """Somebody else decided first. `report` is as it is now; what was typed is the caller's to
    keep. `last` is the newest decision that stands, None when it was another change."""

    def __init__(self, report: Report, last: Decision | None) -> None:
        super().__init__(report)
        self.report = report
        self.last = last


class TooLate(Exception):
    """The ten minutes are over, or the message has left, or another decision came after."""


def _locked(report: Report, version: int, by: Person) -> Report:
    """The report under lock, if `by` may decide and nobody decided since `version`."""
    if not may_triage(by):
        raise PermissionDenied
    return _unchanged(_hold([report.pk])[report.pk], version)


def _hold(keys: list[int]) -> dict[int, Report]:
    """These reports under lock, always taken in one order, so that two people never wait for
    each other in a ring."""
    rows = Report.objects.select_for_update(of=("self",)).select_related("area", "contact")
    return {row.pk: row for row in rows.filter(pk__in=keys).order_by("pk")}


def _unchanged(report: Report, version: int) -> Report:
    if report.version != version:
        raise Outdated(report, newest_decision(report))
    return report


def newest_decision(report: Report) -> Decision | None:
    """The newest decision that stands. Rows are counted up, whatever an area's clock says."""
    return report.decisions.standing().order_by("-pk").first()


def _words(reason: str, message: str, *, needed: str = "") -> tuple[str, str]:
    """Reason and message as they are kept; refuses both at once when both are wrong."""
    reason, message = " ".join(cleaned_text(reason).split()), cleaned_text(message)
    wrong = {}
    if not reason:
        wrong["reason"] = _("Say why, in a few words: the next person will ask.")
    elif len(reason) > MOST_REASON:
        wrong["reason"] = _("Please say why in at most %d letters.") % MOST_REASON
    if needed and not message:
        wrong["message"] = needed
    elif len(message) > MOST_MESSAGE:
        wrong["message"] = _("Please make the message shorter: at most %d letters.") % MOST_MESSAGE
    if wrong:
        raise ValidationError(wrong)
    return reason, message


def _decide(
    report: Report,
    outcome: str,
    *,
    reason: str,
    message: str = "",
    by: Person,
    at: datetime,
    changes: dict,
) -> Decision:
    """Apply `changes`, remember what was before, and queue the message for whom it concerns."""
    before = {name: _plain(getattr(report, name)) for name in changes}
    was = report.state
    for name, value in changes.items():
        setattr(report, name, value)
    report.version += 1
    report.opened_by, report.opened_at = None, None
    report.save(update_fields=[*changes, "version", "opened_by", "opened_at"])
    decision = Decision(
        report=report,
        outcome=outcome,
        at=at,
        by=f"person:{by.key}",
        reason=reason,
        message=message,
        before=before,
        undo_until=timezone.now() + UNDO,
    )
    decision.full_clean()
    decision.save()
    if message:
        decision.mail = _tell(decision, report, message)
        decision.save(update_fields=["mail"])
    DeskNote.objects.filter(report=report, person=by).delete()
    record(
        f"report.{outcome}",
        subject=f"report:{report.client_ref}",
        by=by,
        at=at,
        decision=decision.pk,
        before=was,
        after=report.state,
    )
    return decision


def _plain(value):
    """A field as JSON can keep it."""
    return value.isoformat() if isinstance(value, date | datetime) else value


def _tell(decision: Decision, report: Report, message: str) -> Mail | None:
    """Queue the message for the report and all that were joined to it; returns the first.

    A question goes to the one who is asked alone. Nobody is told the same thing twice.
    """
    told_all = [report]
    if decision.outcome != Outcome.ASK:
        told_all += report.joined.select_related("contact").order_by("pk")
    first, reached = None, set()
    for told in told_all:
        address = told.contact and (told.contact.email.lower() or told.contact.phone)
        if not address or address in reached:
            continue
        reached.add(address)
        with override(told.language):
            subject = _("Your note of %(name)s") % {"name": report_name(told)}
        mail = queue_mail(
            key=f"decision:{decision.pk}:{told.pk}",
            contact=told.contact,
            subject=subject,
            body=message,
            due_at=decision.undo_until + GRACE,
        )
        first = first or mail
    return first


def message_reaches(report: Report) -> str:
    """How an answer would reach the neighbor: "email", "phone" or "" for the private page only."""
    contact = report.contact
    if contact is None or contact.erased_at is not None:
        return ""
    return "email" if contact.email else "phone"


@transaction.atomic
def open_docket(*, report: Report, by: Person, at: datetime) -> Person | None:
    """Put a docket on somebody's desk; returns the colleague who has it open already, if any.

    `at` is the real clock. This is a courtesy, not a lock: `version` keeps two decisions apart.
    """
    if not may_triage(by):
        raise PermissionDenied
    report = Report.objects.select_for_update().get(pk=report.pk)
    since = report.opened_at
    if report.opened_by_id not in (None, by.pk) and since is not None and at - since < LEASE:
        return report.opened_by
    Report.objects.filter(pk=report.pk).update(opened_by=by, opened_at=at)
    return None


def keep_desk_note(
    *, report: Report, fields: dict[str, str], seen_version: int, by: Person, at: datetime
) -> DeskNote:
    """Keep what somebody has typed and not decided, so that nothing is lost.

    `at` is the real clock. Raises ValidationError when it is more than anybody types.
    """
    if not may_triage(by):
        raise PermissionDenied
    fields = {str(name)[:40]: cleaned_text(str(typed)) for name, typed in fields.items()}
    if sum(map(len, fields.values())) > MOST_TYPED or len(fields) > 40:
        raise ValidationError({"fields": _("That is too much to keep. Please make it shorter.")})
    note, _made = DeskNote.objects.update_or_create(
        report=report,
        person=by,
        defaults={"fields": fields, "seen_version": seen_version, "touched_at": at},
    )
    return note


@transaction.atomic
def answer_report(
    *,
    report: Report,
    version: int,
    reason: str,
    message: str,
    by: Person,
    at: datetime,
    look_due: date | None = None,
) -> Decision:
    """Close a report with an answer; with `look_due` the tree is watched: somebody looks again."""
    report = _locked(report, version, by)
    reason, message = _words(reason, message, needed=_("Write what the neighbor is told."))
    if look_due is not None and look_due < report.area.today():
        raise ValidationError({"look_due": _("That day is over: choose one to come.")})
    changes = {"state": Report.State.ANSWERED, "look_due": look_due, "joined_to_id": None}
    return _decide(
        report, Outcome.ANSWER, reason=reason, message=message, by=by, at=at, changes=changes
    )


@transaction.atomic
def ask_back(
    *, report: Report, version: int, reason: str, message: str, by: Person, at: datetime
) -> Decision:
    """Ask the neighbor one question; the report stays on the desk until they reply."""
    report = _locked(report, version, by)
    reason, message = _words(reason, message, needed=_("Write the question."))
    changes = {"state": Report.State.ASKED, "joined_to_id": None}
    return _decide(
        report, Outcome.ASK, reason=reason, message=message, by=by, at=at, changes=changes
    )


@transaction.atomic
def set_aside_report(
    *, report: Report, version: int, reason: str, message: str, by: Person, at: datetime
) -> Decision:
    """Close a report that needs nothing: not our tree, a mistake, a joke."""
    report = _locked(report, version, by)
    reason, message = _words(reason, message)
    changes = {"state": Report.State.SET_ASIDE, "joined_to_id": None}
    return _decide(
        report, Outcome.SET_ASIDE, reason=reason, message=message, by=by, at=at, changes=changes
    )


@transaction.atomic
def join_report(
    *,
    report: Report,
    other: Report,
    version: int,
    reason: str,
    message: str,
    by: Person,
    at: datetime,
) -> Decision:
    """Join a report to the one it repeats; whatever that one is told, this one is told too.

    Joining to one that was joined itself leads to its first. Raises ValidationError keyed by
    field (`other`, `reason`, `message`).
    """
    if not may_triage(by):
        raise PermissionDenied
    wanted = other.joined_to_id or other.pk
    held = _hold([report.pk, wanted])
    report, root = _unchanged(held[report.pk], version), held[wanted]
    reason, message = _words(reason, message)
    if root.pk == report.pk:
        raise ValidationError({"other": _("A report cannot be joined to itself.")})
    if root.area_id != report.area_id:
        raise ValidationError({"other": _("That report is from another town.")})
    if report.joined.exists():
        raise ValidationError(
            {"other": _("Others are joined to this one: join that one to this instead.")}
        )
    if root.joined_to_id is not None:
        raise ValidationError({"other": _("That one was just joined to another. Look again.")})
    changes = {"state": Report.State.JOINED, "joined_to_id": root.pk}
    return _decide(
        report, Outcome.JOIN, reason=reason, message=message, by=by, at=at, changes=changes
    )


@transaction.atomic
def mark_danger(
    *, report: Report, version: int, danger: str, reason: str, by: Person, at: datetime
) -> Decision:
    """Mark a danger to people: from now on nobody is sent near it."""
    report = _locked(report, version, by)
    reason, _none = _words(reason, "")
    if danger not in book().dangers:
        raise ValidationError({"danger": _("Choose a kind of danger from the list.")})
    # Now a person says so: it no longer rests on the neighbor's words alone.
    changes = {
        "danger": danger,
        "danger_words": "",
        "danger_cleared_at": None,
        "danger_cleared_by": "",
    }
    return _decide(report, Outcome.DANGER, reason=reason, by=by, at=at, changes=changes)


@transaction.atomic
def clear_danger(
    *, report: Report, version: int, reason: str, by: Person, at: datetime
) -> Decision:
    """Say that a danger is over. Only somebody qualified on that day may."""
    if not may_clear_danger(by, report.area.today()):
        raise PermissionDenied(_("Only a qualified person may clear a danger."))
    report = _locked(report, version, by)
    reason, _none = _words(reason, "")
    if not report.danger or report.danger_cleared_at:
        raise ValidationError({"danger": _("No danger is open on this report.")})
    changes = {"danger_cleared_at": at, "danger_cleared_by": f"person:{by.key}"}
    return _decide(report, Outcome.CLEAR, reason=reason, by=by, at=at, changes=changes)


@transaction.atomic
def set_danger_words_aside(
    *, report: Report, version: int, reason: str, by: Person, at: datetime
) -> Decision:
    """Say that words which were read as a danger speak of none; the decision keeps the words.

    Anybody who decides at the desk may: nobody ticked a danger. One that was ticked, or marked at
    the desk, is cleared by somebody qualified.
    """
    report = _locked(report, version, by)
    reason, _none = _words(reason, "")
    if not report.danger_words or report.danger_cleared_at:
        raise ValidationError({"danger": _("No danger was read from the words of this report.")})
    changes = {"danger": "", "danger_words": ""}
    return _decide(report, Outcome.CLEAR, reason=reason, by=by, at=at, changes=changes)


@transaction.atomic
def mark_ordered(
    *,
    report: Report,
    version: int,
    reason: str,
    message: str,
    by: Person,
    at: datetime,
) -> Decision:
    """Close a report with a work order; called by whoever writes the order, in its transaction."""
    report = _locked(report, version, by)
    reason, message = _words(reason, message)
    changes = {"state": Report.State.ORDERED, "joined_to_id": None}
    return _decide(
        report, Outcome.ORDER, reason=reason, message=message, by=by, at=at, changes=changes
    )


@transaction.atomic
def unmark_ordered(*, report: Report, by: Person, at: datetime) -> None:
    """Open a report again whose order was dropped; its message is withdrawn if it has not left."""
    report = Report.objects.select_for_update().get(pk=report.pk)
    if report.state != Report.State.ORDERED:
        return
    decision = report.decisions.standing().filter(outcome=Outcome.ORDER).order_by("-pk").first()
    if decision is not None:
        _withdraw(decision, at=timezone.now())
        decision.undone_at, decision.undone_by = max(at, decision.at), f"person:{by.key}"
        decision.save(update_fields=["undone_at", "undone_by"])
    report.state = Report.State.NEW
    report.version += 1
    report.opened_by, report.opened_at = None, None
    report.save(update_fields=["state", "version", "opened_by", "opened_at"])
    record("report.reopened", subject=f"report:{report.client_ref}", by=by, at=at)


def _withdraw(decision: Decision, *, at: datetime) -> bool:
    """Stop every message of a decision; says whether none had reached anybody yet."""
    mails = Mail.objects.filter(key__startswith=f"decision:{decision.pk}:").order_by("pk")
    for mail in mails.select_for_update():
        withdraw_mail(mail=mail, at=at)
    return not mails.exclude(state__in=[Mail.State.WITHDRAWN, Mail.State.UNREACHABLE]).exists()


@transaction.atomic
def undo_decision(*, decision: Decision, by: Person, at: datetime) -> Report:
    """Take back the newest decision on a report, within ten minutes and before its message left.

    A decision that ordered work is undone where it was made: by dropping the order. A danger that
    a colleague marked is not taken back but cleared, by somebody qualified. Raises TooLate,
    ValidationError, PermissionDenied.
    """
    if not may_triage(by):
        raise PermissionDenied
    report = _hold([decision.report_id])[decision.report_id]
    decision = Decision.objects.select_for_update().get(pk=decision.pk)
    newest = newest_decision(report)
    if newest is None or newest.pk != decision.pk:
        raise TooLate(_("Another decision came after this one."))
    if decision.outcome == Outcome.ORDER:
        raise ValidationError(_("Drop the order instead: that opens the report again."))
    if decision.outcome == Outcome.DANGER and not may_unmark(decision, by):
        raise PermissionDenied(_("Only a qualified person may clear a danger."))
    if decision.undo_until is None or timezone.now() >= decision.undo_until:
        raise TooLate(_("The ten minutes are over. Decide again instead."))
    if not _withdraw(decision, at=timezone.now()):
        raise TooLate(_("The message has left already. Decide again instead."))
    for name, value in decision.before.items():
        setattr(report, name, _field(name).to_python(value))
    report.version += 1
    report.opened_by, report.opened_at = None, None
    report.save(update_fields=[*decision.before, "version", "opened_by", "opened_at"])
    decision.undone_at, decision.undone_by = max(at, decision.at), f"person:{by.key}"
    decision.save(update_fields=["undone_at", "undone_by"])
    record(
        "report.undone",
        subject=f"report:{report.client_ref}",
        by=by,
        at=at,
        decision=decision.pk,
    )
    return report


def may_unmark(decision: Decision, by: Person) -> bool:
    """Whether `by` may take a danger mark back: their own slip, or as somebody qualified."""
    return decision.by == f"person:{by.key}" or may_clear_danger(by, decision.report.area.today())


def _field(name: str):
    """The field behind a column name; a foreign key's own column holds the other row's key."""
    field = Report._meta.get_field(name.removesuffix("_id"))
    return field.target_field if field.is_relation else field


@transaction.atomic
def place_report(
    *,
    report: Report,
    version: int,
    by: Person,
    at: datetime,
    tree: Tree | None = None,
    site: Site | None = None,
) -> Report:
    """Say which tree or site a report is about; its look and its neighbors are worked out anew."""
    report = _locked(report, version, by)
    if tree is None and site is None:
        raise ValidationError({"tree": _("Choose a tree or a site.")})
    place = tree or site
    if place.area_id != report.area_id:
        raise ValidationError({"tree": _("That is in another town.")})
    if report.tree_id != (tree.pk if tree else None):
        withdraw_looks(report, by=by, at=at)
    report.tree, report.site = tree, tree.site if tree else site
    report.version += 1
    # What it repeats was guessed from where it seemed to be; the chore below guesses anew.
    report.likely_same_as = None
    report.save(update_fields=["tree", "site", "likely_same_as", "version"])
    record(
        "report.placed",
        subject=f"report:{report.client_ref}",
        by=by,
        at=at,
        tree=tree.ref if tree else None,
        site=report.site.ref,
    )
    write_chore(kind="match_report", key=str(report.pk))
    return report
