"""Writes a town's reports, decisions, mail and orders into the database."""

from datetime import timedelta

from django.utils.translation import gettext as _
from django.utils.translation import override

from survey.chores.actions import write_chore
from survey.handbook.book import book
from survey.management.demo.enter import Register, enter_looks, enter_photos, put
from survey.management.demo.looks import LookPlan
from survey.management.demo.neighbors import ContactPlan, DecisionPlan, MailPlan, ReportPlan
from survey.management.demo.orders import LinePlan, OrderPlan
from survey.people.models import Contact, Mail, Observer
from survey.reports.keys import digest
from survey.reports.models import Decision, DeskNote, Reply, Report, ReportSign
from survey.reports.reference import report_name
from survey.trees.models import CareGiven
from survey.workorders.models import OrderLine, WorkOrder

UNSIGNED = "neighbor:unsigned"
Reports = dict[ReportPlan, Report]


def enter_stories(register: Register) -> Reports:
    """Photos, looks, reports, decisions, mail, orders and the audit; returns the report rows."""
    town = register.town
    photos = [photo for look in town.looks for photo in look.photos]
    photos += [photo for report in town.reports if not report.look for photo in report.photos]
    enter_photos(register, photos)
    contacts = _contacts(register)
    enter_looks(register, town.looks, _neighbors(town.reports, contacts))
    rows = _reports(register, contacts)
    _decisions(register, rows, contacts)
    _replies(register, rows)
    _orders(register, rows)
    _desk_notes(register, rows)
    _photo_lines(register)
    register.lines.sort(key=lambda line: line.at)
    put(register.lines)
    return rows


def _contacts(register: Register) -> dict[ContactPlan, Contact]:
    plans = [report.contact for report in register.town.reports if report.contact]
    rows = put(
        Contact(
            email=plan.email,
            phone=plan.phone,
            language=plan.language,
            created_at=plan.created_at,
            erased_at=plan.erased_at,
        )
        for plan in plans
    )
    for row in rows:
        if row.erased_at:
            register.note("contact.erased", f"contact:{row.pk}", row.erased_at)
    return dict(zip(plans, rows, strict=True))


def _neighbors(
    reports: list[ReportPlan], contacts: dict[ContactPlan, Contact]
) -> dict[LookPlan, Observer]:
    """Who stands behind each look that a report made: its writer, or whoever left no name."""
    unsigned, _made = Observer.objects.get_or_create(
        key=UNSIGNED, defaults={"kind": Observer.Kind.RESIDENT}
    )
    signed = [report for report in reports if report.look and report.contact]
    rows = put(
        Observer(key=f"neighbor:{contacts[report.contact].pk}", kind=Observer.Kind.RESIDENT)
        for report in signed
    )
    known = {report.look: row for report, row in zip(signed, rows, strict=True)}
    return {report.look: known.get(report.look, unsigned) for report in reports if report.look}


# ------------------------------------------------------------------------- reports


def _row(register: Register, plan: ReportPlan, contacts: dict, rows: Reports) -> Report:
    latitude, longitude = plan.point or (None, None)
    return Report(
        client_ref=plan.client_ref,
        area=register.area,
        day=plan.day,
        number=plan.number,
        state=plan.state,
        came=plan.came,
        site=register.sites[plan.site] if plan.site else None,
        tree=register.trees[plan.life] if plan.life else None,
        landmark=plan.landmark,
        latitude=latitude,
        longitude=longitude,
        seen_on=plan.seen_on,
        danger=plan.danger,
        danger_cleared_at=plan.cleared_at,
        danger_cleared_by=register.by(plan.cleared_by),
        picture=plan.picture,
        extent=plan.extent,
        side=plan.side,
        words=plan.words,
        language=plan.language,
        contact=contacts[plan.contact] if plan.contact else None,
        secret_digest=digest(plan.secret),
        submitted_at=plan.submitted_at,
        entered_by=register.by(plan.entered_by),
        weight=book().triage_weight((sign, plan.extent or None) for sign in plan.signs),
        joined_to=rows[plan.joined_to] if plan.joined_to else None,
        look_due=plan.look_due,
        version=plan.version,
    )


def _reports(register: Register, contacts: dict[ContactPlan, Contact]) -> Reports:
    """Those that others are joined to come first: a joined report names its other at once."""
    rows: Reports = {}
    for joined in (False, True):
        plans = [plan for plan in register.town.reports if bool(plan.joined_to) is joined]
        made = put([_row(register, plan, contacts, rows) for plan in plans])
        rows.update(zip(plans, made, strict=True))
    repeats = [plan for plan in rows if plan.repeats]
    for plan in repeats:
        rows[plan].likely_same_as = rows[plan.repeats]
    Report.objects.bulk_update([rows[plan] for plan in repeats], ["likely_same_as"], batch_size=200)
    put(ReportSign(report=row, sign=sign) for plan, row in rows.items() for sign in plan.signs)
    put(
        Report.photos.through(report=row, photo=register.photos[photo])
        for plan, row in rows.items()
        for photo in plan.photos
    )
    put(
        Report.looks.through(report=row, look=register.looks[plan.look])
        for plan, row in rows.items()
        if plan.look
    )
    for plan, row in rows.items():
        register.note(
            "report.submitted",
            f"report:{row.client_ref}",
            plan.submitted_at,
            plan.entered_by,
            came=plan.came,
            danger="" if any(d.outcome == "danger" for d in plan.decisions) else plan.danger,
        )
    return rows


def _decisions(register: Register, rows: Reports, contacts: dict[ContactPlan, Contact]) -> None:
    pairs: list[tuple[ReportPlan, DecisionPlan]] = sorted(
        ((plan, decision) for plan in rows for decision in plan.decisions),
        key=lambda pair: pair[1].at,
    )
    made = put(
        Decision(
            report=rows[plan],
            outcome=decision.outcome,
            at=decision.at,
            by=register.by(decision.by),
            reason=decision.reason,
            message=decision.message,
            before=decision.before,
            undone_at=decision.undone_at,
            undone_by=register.by(decision.undone_by),
        )
        for plan, decision in pairs
    )
    letters: list[tuple[Decision, MailPlan]] = []
    for (plan, decision), row in zip(pairs, made, strict=True):
        subject = f"report:{plan.client_ref}"
        register.note(
            f"report.{decision.outcome}",
            subject,
            decision.at,
            decision.by,
            decision=row.pk,
            reason=decision.reason,
        )
        if decision.undone_at:
            register.note("report.reopened", subject, decision.undone_at, decision.undone_by)
        letters.extend((row, mail) for mail in decision.mails)
    mails = put(
        Mail(
            key=f"decision:{row.pk}:{rows[mail.report].pk}",
            contact=contacts[mail.report.contact],
            subject=_subject(rows[mail.report]),
            body=mail.body,
            due_at=mail.due_at,
            state=mail.state,
            settled_at=mail.settled_at,
        )
        for row, mail in letters
    )
    first: dict[int, Decision] = {}
    for (row, plan), mail in zip(letters, mails, strict=True):
        if row.pk not in first:
            row.mail = mail
            first[row.pk] = row
        if plan.told_at:
            who = next(p["sign_in"] for p in register.town.plan.people if p["role"] == "staff")
            register.note("mail.told_by_phone", f"mail:{mail.pk}", plan.told_at, who)
        if mail.state == Mail.State.WAITING:
            write_chore(kind="send_mail", key=str(mail.pk), due_at=mail.due_at)
    Decision.objects.bulk_update(first.values(), ["mail"], batch_size=300)


def _subject(report: Report) -> str:
    with override(report.language):
        return _("Your note of %(name)s") % {"name": report_name(report)}


def _replies(register: Register, rows: Reports) -> None:
    pairs = [(plan, reply) for plan in rows for reply in plan.replies]
    made = put(
        Reply(report=rows[plan], client_ref=reply.client_ref, words=reply.words, at=reply.at)
        for plan, reply in pairs
    )
    for (plan, _reply), row in zip(pairs, made, strict=True):
        register.note("report.replied", f"report:{plan.client_ref}", row.at, reply=row.pk)


def _desk_notes(register: Register, rows: Reports) -> None:
    """Two dockets on which somebody has begun to write."""
    waiting = [plan for plan in rows if plan.state == "new" and not plan.danger and plan.life]
    staff = [p["sign_in"] for p in register.town.plan.people if p["role"] == "staff"]
    begun = (
        {"reason": "Same side as its neighbors: ask when they mow next."},
        {"reason": "Look at it on Saturday first", "message": "Thank you. We come by on Saturday"},
    )
    put(
        DeskNote(
            report=rows[plan],
            person=register.people[sign_in],
            fields=fields,
            seen_version=plan.version,
            touched_at=register.moment(register.town.plan.today - timedelta(days=1), 16),
        )
        for plan, sign_in, fields in zip(waiting[-2:], (staff[0], staff[-1]), begun, strict=False)
    )


# ------------------------------------------------------------------------- orders


def _version(plan: OrderPlan) -> int:
    """How often the order changed since it was written: planned, done, confirmed or dropped."""
    return {"drafted": 0, "planned": 1, "dropped": 2, "done": 2, "confirmed": 3}[plan.state]


def _orders(register: Register, rows: Reports) -> None:
    plans = register.town.orders
    made = put(_order(register, plan) for plan in plans)
    pairs = [
        (plan, order, line) for plan, order in zip(plans, made, strict=True) for line in plan.lines
    ]
    given = _care_given(register, [(plan, line) for plan, _order, line in pairs])
    put(
        OrderLine(
            order=order,
            tree=register.trees[line.life],
            care=line.care,
            dose=line.dose,
            outcome=line.outcome,
            remark=line.remark,
            given=given.get(line),
            look=register.looks[line.look] if line.look else None,
        )
        for _plan, order, line in pairs
    )
    put(
        WorkOrder.reports.through(workorder=order, report=rows[report])
        for plan, order in zip(plans, made, strict=True)
        for report in plan.reports
    )
    for plan, order in zip(plans, made, strict=True):
        _order_lines_of_audit(register, plan, order)


def _order(register: Register, plan: OrderPlan) -> WorkOrder:
    settled = plan.state in {"done", "confirmed"}
    has_day = plan.state in {"planned", "done", "confirmed", "dropped"}
    return WorkOrder(
        area=register.area,
        number=plan.number,
        state=plan.state,
        why=plan.why,
        who=plan.who,
        window_from=plan.created_at.date(),
        window_to=plan.window_to,
        planned_for=plan.planned_for if has_day else None,
        team=plan.team if has_day else "",
        utility_ticket=plan.ticket if has_day else "",
        utility_ticket_until=plan.window_to if plan.ticket and has_day else None,
        created_at=plan.created_at,
        created_by=register.by(plan.created_by),
        done_on=plan.done_on,
        done_by=plan.done_by,
        done_notes=plan.done_notes,
        look_due=plan.look_due if settled else None,
        confirmed_at=plan.confirmed_at,
        dropped_at=plan.dropped_at,
        dropped_because=plan.dropped_because,
        version=_version(plan),
    )


def _care_given(
    register: Register, pairs: list[tuple[OrderPlan, LinePlan]]
) -> dict[LinePlan, CareGiven]:
    done = [(plan, line) for plan, line in pairs if line.outcome == "given"]
    rows = put(
        CareGiven(
            tree=register.trees[line.life],
            care=line.care,
            given_from=plan.done_on,
            given_to=plan.done_on,
            given_precision="day",
            dose=line.dose[:120],
            by_whom=plan.done_by[:80],
            note=line.remark,
            entered_at=plan.done_at,
            entered_by=register.by(_reporter(register, plan)),
        )
        for plan, line in done
    )
    for (plan, line), row in zip(done, rows, strict=True):
        subject = f"tree:{register.trees[line.life].ref}"
        who = _reporter(register, plan)
        register.note("care.recorded", subject, row.entered_at, who, care=line.care)
    return {line: row for (_plan, line), row in zip(done, rows, strict=True)}


def _reporter(register: Register, plan: OrderPlan) -> str:
    """Who wrote down that an order was done."""
    people = register.town.plan.people
    if plan.who == "crew":
        return next(p["sign_in"] for p in people if p["role"] == "crew")
    if plan.who == "volunteer":
        return next(
            (p["sign_in"] for p in people if p["role"] == "volunteer" and p["name"] in plan.team),
            plan.created_by,
        )
    return next(p["sign_in"] for p in people if p.get("qualified_until"))


def _order_lines_of_audit(register: Register, plan: OrderPlan, order: WorkOrder) -> None:
    subject = f"order:{register.area.ref}:{plan.number}"
    first = [report for report in plan.reports if report.decisions]
    register.note(
        "order.drafted",
        subject,
        plan.created_at,
        plan.created_by,
        lines=len(plan.lines),
        reports=[str(report.client_ref) for report in first],
    )
    if order.planned_for:
        planned = plan.created_at + timedelta(days=2)
        first_day = min(plan.planned_for, register.town.plan.today)
        if planned > register.moment(first_day, 0):  # urgent: planned in one breath
            planned = plan.created_at + timedelta(seconds=40)
        register.note(
            "order.planned",
            subject,
            planned,
            plan.created_by,
            day=plan.planned_for.isoformat(),
        )
    if plan.done_at:
        counts = {
            outcome: sum(line.outcome == outcome for line in plan.lines)
            for outcome in ("given", "not_done")
        }
        register.note("order.done", subject, plan.done_at, _reporter(register, plan), **counts)
    if plan.confirmed_at:
        register.note("order.confirmed", subject, plan.confirmed_at)
    if plan.dropped_at:
        register.note(
            "order.dropped", subject, plan.dropped_at, plan.created_by, reason=plan.dropped_because
        )


def _photo_lines(register: Register) -> None:
    """Who accepted or declined the neighbors' photos, and when."""
    for report in register.town.reports:
        for photo in report.photos:
            if photo.shown != "hidden" and report.decisions:
                decision = report.decisions[0]
                register.note(
                    f"photo.{photo.shown}", f"photo:{photo.key}", decision.at, decision.by
                )


def example_link(register: Register, address: str) -> tuple[str, str] | None:
    """The private page of one answered report: bare, but alive."""
    fit = [
        report
        for report in register.town.reports
        if report.case == "asleep" and report.state == "answered" and report.language == "en"
    ]
    if not fit:
        return None
    report = next(
        (
            one
            for one in reversed(fit)
            if one.contact
            and any(p.shown == "accepted" and p.scene.part == "whole" for p in one.photos)
        ),
        fit[-1],
    )
    name = f"{report.day:%B} {report.day.day}, note {report.number}"
    return f"A neighbor's private page ({name})", f"{address}/note/{report.secret}/"
