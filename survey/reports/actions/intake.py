"""A report arrives: from the pages, from another program, or typed in for a caller."""

import uuid
from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.chores.actions import write_chore
from survey.handbook.book import book
from survey.people.actions import keep_contact
from survey.people.models import Person
from survey.people.policy import may_triage
from survey.photos.models import Photo
from survey.reports.answers import (
    MOST_WORDS,
    Answers,
    check,
    cleaned_text,
    spoken_language,
    too_long,
)
from survey.reports.danger import typed_danger
from survey.reports.keys import digest, new_key, page_secret
from survey.reports.models import Reply, Report, ReportSign
from survey.reports.reference import next_number
from survey.trees.actions.register import check_point
from survey.trees.models import Area, Site, Tree

Came = Report.Came

_DANGER_FIELDS = ("danger", "danger_words", "danger_cleared_at", "danger_cleared_by")


def submit_report(
    *,
    client_ref: uuid.UUID,
    area: Area,
    at: datetime,
    by: Person | None = None,
    key: str | None = None,
    came: str = Came.PHONE_PAGE,
    tree: Tree | None = None,
    site: Site | None = None,
    landmark: str = "",
    latitude: float | None = None,
    longitude: float | None = None,
    seen_on: date | None = None,
    danger: str = "",
    signs: tuple[str, ...] = (),
    picture: str = "",
    extent: str = "",
    side: str = "",
    words: str = "",
    email: str = "",
    phone: str = "",
    photos: tuple[Photo, ...] = (),
    language: str = "en",
) -> tuple[Report, str | None]:
    """Take a report in: its row, number, signs, audit line and chores, all or nothing.

    Returns the report and the secret of its private page. The same `client_ref` again returns the
    first report unchanged; the secret comes with it only when the same `key` is given again,
    because the database holds no secret. `key` is the sender's own (a draft's); without one a
    fresh secret is made. Raises ValidationError keyed by field: where, seen_on, danger, signs,
    picture, extent, side, words, landmark, latitude, contact, photos.

    Where no danger was ticked and the words speak of one, the report is marked with that danger
    and the words that say so (`danger_words`), and counts like any other.
    """
    secret = page_secret(key) if key else new_key()
    known = Report.objects.filter(client_ref=client_ref).first()
    if known is not None:
        return _seen_before(known, secret)
    answers = Answers(
        tree=tree,
        site=tree.site if tree is not None else site,
        landmark=" ".join(cleaned_text(landmark).split()),
        latitude=latitude,
        longitude=longitude,
        seen_on=seen_on or area.today(),
        danger=danger,
        signs=tuple(dict.fromkeys(signs)),
        picture=picture,
        extent=extent,
        side=side,
        words=cleaned_text(words),
        email=cleaned_text(email),
        phone=cleaned_text(phone),
        photos=photos,
    )
    check(area, answers)
    check_point(area, latitude, longitude)
    try:
        with transaction.atomic():
            report = _write(
                answers,
                client_ref=client_ref,
                area=area,
                at=at,
                by=by,
                came=came,
                secret=secret,
                language=spoken_language(language),
            )
    except IntegrityError:  # the same report was sent twice at once, and the other was faster
        return _seen_before(Report.objects.get(client_ref=client_ref), secret)
    return report, secret


def _seen_before(report: Report, secret: str) -> tuple[Report, str | None]:
    return report, secret if report.secret_digest == digest(secret) else None


def _write(
    answers: Answers,
    *,
    client_ref: uuid.UUID,
    area: Area,
    at: datetime,
    by: Person | None,
    came: str,
    secret: str,
    language: str,
) -> Report:
    day = area.today()
    danger, danger_words = answers.danger, ""
    if not danger:
        danger, danger_words = typed_danger(answers.words, answers.landmark)
    report = Report(
        client_ref=client_ref,
        area=area,
        day=day,
        number=next_number(area, day),
        came=came,
        site=answers.site,
        tree=answers.tree,
        landmark=answers.landmark,
        latitude=answers.latitude,
        longitude=answers.longitude,
        seen_on=answers.seen_on,
        danger=danger,
        danger_words=danger_words,
        picture=answers.picture,
        extent=answers.extent,
        side=answers.side,
        words=answers.words,
        language=language,
        contact=keep_contact(email=answers.email, phone=answers.phone, language=language, at=at),
        secret_digest=digest(secret),
        submitted_at=at,
        entered_by=f"person:{by.key}" if by else "",
        weight=weight_of(answers.signs, answers.extent),
    )
    report.full_clean(validate_unique=False, validate_constraints=False)
    report.save()
    ReportSign.objects.bulk_create(ReportSign(report=report, sign=sign) for sign in answers.signs)
    report.photos.set(answers.photos)
    record(
        "report.submitted",
        subject=f"report:{report.client_ref}",
        by=by,
        at=at,
        came=came,
        danger=report.danger,
        danger_typed=bool(danger_words),
    )
    write_chore(kind="match_report", key=str(report.pk))
    return report


def weight_of(signs: tuple[str, ...], extent: str) -> float:
    """How soon the signs ask for a look, by the handbook: each sign times how far round it goes."""
    return book().triage_weight((sign, extent or None) for sign in signs)


def enter_report_for_caller(
    *, client_ref: uuid.UUID, area: Area, came: str, by: Person, at: datetime, **answers
) -> Report:
    """Type a report in for somebody who called, wrote or sent a picture.

    `answers` are those of submit_report. The same `client_ref` again is the same report.
    """
    if not may_triage(by):
        raise PermissionDenied
    if came not in (Came.CALL, Came.PICTURE, Came.LETTER):
        raise ValidationError({"came": _("Say how it reached you.")})
    report, _secret = submit_report(
        client_ref=client_ref, area=area, came=came, by=by, at=at, **answers
    )
    return report


@transaction.atomic
def write_reply(
    *,
    report: Report,
    words: str,
    client_ref: uuid.UUID,
    at: datetime,
    photos: tuple[Photo, ...] = (),
) -> Reply:
    """What the neighbor answers to the desk's question; the report is on the desk again.

    A danger that the answer speaks of is marked, unless one is open already; one that was cleared
    before is open again, because this was written after it.

    The same `client_ref` again is the same reply. Raises ValidationError keyed by field when the
    text is empty or too long, or when nothing was asked (any more).
    """
    words = cleaned_text(words)
    if not words:
        raise ValidationError({"words": _("Write a few words, then send them.")})
    if len(words) > MOST_WORDS:
        raise ValidationError({"words": too_long(words)})
    report = Report.objects.select_for_update().get(pk=report.pk)
    known = Reply.objects.filter(client_ref=client_ref, report=report).first()
    if known is not None:
        return known
    if report.state != Report.State.ASKED:
        raise ValidationError(
            {"words": _("We are not waiting for an answer any more. Send a new report instead.")}
        )
    reply = Reply.objects.create(report=report, words=words, client_ref=client_ref, at=at)
    reply.photos.set(photos)
    report.state = Report.State.NEW
    report.version += 1
    changed = ["state", "version"]
    read: dict[str, str | bool] = {}
    if not report.danger or report.danger_cleared_at is not None:
        danger, danger_words = typed_danger(words)
        if danger:
            read = {"danger": danger, "danger_typed": True, "danger_before": report.danger}
            report.danger, report.danger_words = danger, danger_words
            report.danger_cleared_at, report.danger_cleared_by = None, ""
            changed += [*_DANGER_FIELDS]
    report.save(update_fields=changed)
    record("report.replied", subject=f"report:{report.client_ref}", at=at, reply=reply.pk, **read)
    return reply
