"""A report being written: begun, kept page by page, and sent.

Drafts live in real time (`at` is the clock's moment), also in a town that has a data date: how
long one is kept has nothing to do with the day that town lives on.
"""

import uuid
from datetime import date, datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.photos.intake import PhotoRefused, take_in
from survey.photos.models import Photo
from survey.photos.removing import remove_photo
from survey.reports.actions.intake import submit_report
from survey.reports.answers import MOST_PHOTOS, how_to_answer
from survey.reports.keys import digest, new_key, page_secret
from survey.reports.models import Draft, Report
from survey.trees.models import Area, Site, Tree

KEPT_LETTERS = 2_000_000
"""How much of a text is kept while its writer is asked to shorten it."""

ANSWERS = frozenset(
    (
        *("danger", "safe", "site", "tree", "landmark", "latitude", "longitude"),
        *("signs", "picture", "extent", "side", "photos", "words"),
        *("seen_on", "seen_typed", "contact"),
    )
)


def start_draft(*, area: Area, at: datetime, answers: dict[str, Any]) -> tuple[Draft, str]:
    """Begin a report; returns the draft and the key for its address, which is kept nowhere."""
    key = new_key()
    draft = Draft.objects.create(
        key_digest=digest(key),
        client_ref=uuid.uuid4(),
        area=area,
        answers=_kept({}, answers),
        started_at=at,
        touched_at=at,
    )
    return draft, key


def open_draft(key: str) -> Draft | None:
    """The draft of this key, or None when it was never begun, was sent, or is cleared away."""
    return (
        Draft.objects.select_related("area").filter(key_digest=digest(key)).first() if key else None
    )


def sent_report(key: str) -> tuple[Report, str] | None:
    """The report that was sent from the draft of this key, and its page's secret; or None."""
    secret = page_secret(key)
    report = (
        Report.objects.filter(secret_digest=digest(secret))
        .select_related("area", "site", "tree__site", "contact")
        .first()
    )
    return (report, secret) if report else None


def _kept(before: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """The answers with these changes; None takes one away. Text is kept as typed, up to a bound."""
    unknown = changes.keys() - ANSWERS
    if unknown:
        raise ValueError(f"No such answers: {', '.join(sorted(unknown))}")
    kept = {**before, **changes}
    for name, value in kept.items():
        if isinstance(value, str):
            text = value.replace("\x00", "").encode("utf-8", "replace").decode("utf-8")
            kept[name] = text[:KEPT_LETTERS]
    return {name: value for name, value in kept.items() if value is not None}


@transaction.atomic
def save_answers(*, draft: Draft, answers: dict[str, Any], at: datetime) -> Draft:
    """Keep these answers beside the earlier ones, right or wrong: nothing typed is lost."""
    locked = Draft.objects.select_for_update().select_related("area").filter(pk=draft.pk).first()
    if locked is None:  # it was sent from another window meanwhile
        return draft
    locked.answers = _kept(locked.answers, answers)
    locked.touched_at = at
    locked.save(update_fields=["answers", "touched_at"])
    return locked


@transaction.atomic
def add_photo(*, draft: Draft, file, part: str, at: datetime) -> Photo:
    """Put a photo to a draft. Raises PhotoRefused; what was there before stays."""
    locked = Draft.objects.select_for_update().get(pk=draft.pk)
    if locked.photos.count() >= MOST_PHOTOS:
        raise PhotoRefused(
            _("Up to %d photos can go with one report.") % MOST_PHOTOS, code="too_many"
        )
    photo = take_in(file=file, part=part, at=at)
    locked.photos.add(photo)
    locked.touched_at = at
    locked.save(update_fields=["touched_at"])
    return photo


@transaction.atomic
def drop_photo(*, draft: Draft, photo_key: str, at: datetime) -> bool:
    """Take a photo out of a draft and delete it; whether it was there."""
    photo = draft.photos.filter(key=photo_key).first()
    if photo is None:
        return False
    draft.photos.remove(photo)
    remove_photo(photo=photo)
    Draft.objects.filter(pk=draft.pk).update(touched_at=at)
    return True


def _day(text: Any) -> date | None:
    try:
        return date.fromisoformat(text)
    except (TypeError, ValueError):
        return None


@transaction.atomic
def submit_draft(*, key: str, at: datetime, language: str) -> tuple[Report, str]:
    """Send a draft: the report is written and the draft is gone, in one transaction.

    Sent twice, even at the same moment, it is one report: the second finds it by the key. Raises
    ValidationError keyed by answer, and then the draft stays as it is; Draft.DoesNotExist when
    the key opens neither a draft nor a report.
    """
    draft = (
        Draft.objects.select_for_update(of=("self",))
        .select_related("area")
        .filter(key_digest=digest(key))
        .first()
    )
    if draft is None:
        sent = sent_report(key)
        if sent is None:
            raise Draft.DoesNotExist
        return sent
    said = draft.answers
    trees = Tree.objects.select_related("site").filter(area=draft.area)
    try:
        email, phone = how_to_answer(said.get("contact", ""))
    except ValidationError as trouble:
        raise ValidationError({"contact": trouble.messages[0]}) from trouble
    report, secret = submit_report(
        client_ref=draft.client_ref,
        area=draft.area,
        key=key,
        at=at,
        tree=trees.filter(ref=said["tree"]).first() if said.get("tree") else None,
        site=Site.objects.filter(area=draft.area, ref=said["site"]).first()
        if said.get("site")
        else None,
        landmark=said.get("landmark", ""),
        latitude=said.get("latitude"),
        longitude=said.get("longitude"),
        seen_on=_day(said.get("seen_on")),
        danger=said.get("danger", ""),
        signs=tuple(said.get("signs", ())),
        picture=said.get("picture", ""),
        extent=said.get("extent", ""),
        side=said.get("side", ""),
        words=said.get("words", ""),
        email=email,
        phone=phone,
        photos=tuple(draft.photos.order_by("pk")),
        language=language,
    )
    draft.delete()
    return report, secret or page_secret(key)
