"""What the desk decides about a report: each with its reason, its message and its audit line."""

from datetime import date, datetime, timedelta

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import override

from survey.audit.log import record
from survey.chores.actions import write_chore
from survey.handbook.book import book
from survey.people.actions import queue_mail, withdraw_mail
from survey.people.models import Mail, Person
from survey.people.policy import may_clear_danger, may_triage
from survey.reports.models import Decision, DeskNote, Report
from survey.reports.reference import report_name
from survey.trees.models import Site, Tree

UNDO = timedelta(minutes=10)
"""How long a decision can be taken back, and how long its message waits before it leaves."""

LEASE = timedelta(minutes=10)
"""How long a docket counts as open on somebody's desk after they last touched it."""

Outcome = Decision.Outcome


class Outdated(Exception):
    """Somebody else decided first. `report` is as it is now; what was typed is still the caller's."""

    def __init__(self, report: Report, last: Decision | None) -> None:
        super().__init__("The report was decided by somebody else meanwhile.")
        self.report = report
        self.last = last


class TooLate(Exception):
    """The ten minutes are over, or the message has left, or another decision came after."""


def _locked(report: Report, version: int, by: Person) -> Report:
    """The report under lock, if `by` may decide and nobody decided since `version`."""
    if not may_triage(by):
        raise PermissionDenied
    now = Report.objects.select_for_update().select_related("area", "contact").get(pk=report.pk)
    if now.version != version:
        raise Outdated(now, now.decisions.order_by("-at", "-pk").first())
    return now


def _decide(
    report: Report,
    outcome: str,
    *,
    reason: str,
    message: str,
    by: Person,
    at: datetime,
    changes: dict,
) -> Decision:
    """Apply `changes`, remember what was before, and queue the message for everybody joined."""
    reason, message = reason.strip(), message.strip()
    if not reason:
        raise ValidationError({"reason": _("Say why, in a few words: the next person will ask.")})
    before = {name: _plain(getattr(report, name)) for name in changes}
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
        reason=reason,
    )
    return decision


def _plain(value):
    """A field as JSON can keep it."""
    return value.isoformat() if isinstance(value, date | datetime) else value


def _tell(decision: Decision, report: Report, message: str) -> Mail | None:
    """Queue the message for the report and for all that were joined to it; returns the first."""
    due = timezone.now() + UNDO
    first = None
    for told in [report, *report.joined.select_related("contact")]:
        with override(told.language):
            subject = _("Your note of %(name)s") % {"name": report_name(told)}
        mail = queue_mail(
            key=f"decision:{decision.pk}:{told.pk}",
            contact=told.contact,
            subject=subject,
            body=message,
            due_at=due,
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

    This is a courtesy, not a lock: `version` is what keeps two decisions apart.
    """
    if not may_triage(by):
        raise PermissionDenied
    report = Report.objects.select_for_update().select_related("opened_by").get(pk=report.pk)
    other = report.opened_by
    if other and other.pk != by.pk and report.opened_at and at - report.opened_at < LEASE:
        return other
    Report.objects.filter(pk=report.pk).update(opened_by=by, opened_at=at)
    return None


def keep_desk_note(
    *, report: Report, fields: dict[str, str], seen_version: int, by: Person, at: datetime
) -> DeskNote:
    """Keep what somebody has typed and not decided, so that nothing is lost."""
    if not may_triage(by):
        raise PermissionDenied
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
    if not message.strip():
        raise ValidationError({"message": _("Write what the neighbor is told.")})
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
    if not message.strip():
        raise ValidationError({"message": _("Write the question.")})
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
    """Join a report to the one it repeats; whatever that one is told, this one is told too."""
    report = _locked(report, version, by)
    root = Report.objects.select_for_update().get(pk=other.joined_to_id or other.pk)
    if root.pk == report.pk:
        raise ValidationError({"other": _("A report cannot be joined to itself.")})
    if root.area_id != report.area_id:
        raise ValidationError({"other": _("That report is from another town.")})
    if report.joined.exists():
        raise ValidationError(
            {"other": _("Others are joined to this one: join that one to this instead.")}
        )
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
    if danger not in book().dangers:
        raise ValidationError({"danger": _("Choose a kind of danger from the list.")})
    changes = {"danger": danger, "danger_cleared_at": None, "danger_cleared_by": ""}
    return _decide(
        report, Outcome.DANGER, reason=reason, message="", by=by, at=at, changes=changes
    )


@transaction.atomic
def clear_danger(
    *, report: Report, version: int, reason: str, by: Person, at: datetime
) -> Decision:
    """Say that a danger is over. Only somebody qualified on that day may."""
    if not may_clear_danger(by, report.area.today()):
        raise PermissionDenied(_("Only a qualified person may clear a danger."))
    report = _locked(report, version, by)
    if not report.danger or report.danger_cleared_at:
        raise ValidationError({"danger": _("No danger is open on this report.")})
    changes = {"danger_cleared_at": at, "danger_cleared_by": f"person:{by.key}"}
    return _decide(report, Outcome.CLEAR, reason=reason, message="", by=by, at=at, changes=changes)


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
    decision = report.decisions.standing().filter(outcome=Outcome.ORDER).last()
    if decision is not None:
        _withdraw(decision, at=timezone.now())
        decision.undone_at, decision.undone_by = max(at, decision.at), f"person:{by.key}"
        decision.save(update_fields=["undone_at", "undone_by"])
    report.state = Report.State.NEW
    report.version += 1
    report.save(update_fields=["state", "version"])
    record("report.reopened", subject=f"report:{report.client_ref}", by=by, at=at)


def _withdraw(decision: Decision, *, at: datetime) -> bool:
    """Stop every message of a decision; says whether none had left yet."""
    mails = Mail.objects.select_for_update().filter(key__startswith=f"decision:{decision.pk}:")
    return all([withdraw_mail(mail=mail, at=at) for mail in mails])


@transaction.atomic
def undo_decision(*, decision: Decision, by: Person, at: datetime) -> Report:
    """Take back the newest decision on a report, within ten minutes and before its message left.

    A decision that ordered work is undone where it was made: by dropping the order.
    """
    if not may_triage(by):
        raise PermissionDenied
    report = Report.objects.select_for_update().get(pk=decision.report_id)
    decision = Decision.objects.select_for_update().get(pk=decision.pk)
    newest = report.decisions.standing().last()
    if newest is None or newest.pk != decision.pk:
        raise TooLate(_("Another decision came after this one."))
    if decision.outcome == Outcome.ORDER:
        raise ValidationError(_("Drop the order instead: that opens the report again."))
    if not timedelta(0) <= at - decision.at <= UNDO:
        raise TooLate(_("The ten minutes are over. Decide again instead."))
    if not _withdraw(decision, at=timezone.now()):
        raise TooLate(_("The message has left already. Decide again instead."))
    for name, value in decision.before.items():
        setattr(report, name, value)
    report.version += 1
    report.save(update_fields=[*decision.before, "version"])
    decision.undone_at, decision.undone_by = at, f"person:{by.key}"
    decision.save(update_fields=["undone_at", "undone_by"])
    record(
        "report.undone",
        subject=f"report:{report.client_ref}",
        by=by,
        at=at,
        decision=decision.pk,
    )
    return report


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
    report.tree, report.site = tree, tree.site if tree else site
    report.version += 1
    report.save(update_fields=["tree", "site", "version"])
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
