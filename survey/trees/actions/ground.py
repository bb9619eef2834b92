"""Who owns the ground, and what they allow: without it no work is planned."""

from collections.abc import Sequence
from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.handbook.book import book
from survey.people.models import Person
from survey.people.policy import may_plan_work
from survey.trees.actions.register import free_ref
from survey.trees.models import LandManager, Permission, Site


@transaction.atomic
def name_owner(
    *,
    site: Site,
    by: Person,
    at: datetime,
    owner: LandManager | None = None,
    name: str = "",
    kind: str = "",
    phone: str = "",
) -> LandManager:
    """Write down who owns the ground of a site: one who is on the list, or a new one by name.

    Raises ValidationError keyed by field, PermissionDenied.
    """
    if not may_plan_work(by):
        raise PermissionDenied
    site = Site.objects.select_for_update().get(pk=site.pk)
    if owner is None:
        name = " ".join(name.split())
        if not name:
            raise ValidationError({"name": _("Choose an owner from the list, or name a new one.")})
        if LandManager.objects.filter(name__iexact=name).exists():
            raise ValidationError({"name": _("There is one of that name already.")})
        owner = LandManager(
            ref=free_ref(LandManager, name), name=name, kind=kind, phone=phone.strip()
        )
        owner.full_clean()
        owner.save()
    before = site.land_manager.ref if site.land_manager else ""
    site.land_manager = owner
    site.save(update_fields=["land_manager"])
    record("site.owner_named", subject=f"site:{site.ref}", by=by, at=at, was=before, now=owner.ref)
    return owner


@transaction.atomic
def give_leave(
    *,
    owner: LandManager,
    cares: Sequence[str],
    who: str,
    from_day: date,
    to_day: date,
    letter: str,
    by: Person,
    at: datetime,
) -> list[Permission]:
    """Write down what an owner allows, to whom, from one day to another, on all of their ground.

    The same care for the same people from the same day is one leave: its last day is corrected.
    Raises ValidationError keyed by field, PermissionDenied.
    """
    if not may_plan_work(by):
        raise PermissionDenied
    if not cares:
        raise ValidationError({"cares": _("Choose what is allowed.")})
    if to_day < from_day:
        raise ValidationError({"to_day": _("The last day lies before the first.")})
    if who not in Permission.Who.values:
        raise ValidationError({"who": _("Choose one from the list.")})
    LandManager.objects.select_for_update().get(pk=owner.pk)
    given = []
    for care in cares:
        if care not in book().care:
            raise ValidationError({"cares": _("Choose from the list.")})
        leave, _made = Permission.objects.update_or_create(
            land_manager=owner,
            care=care,
            who=who,
            from_day=from_day,
            defaults={"to_day": to_day, "letter": letter.strip()},
        )
        given.append(leave)
    record(
        "leave.given",
        subject=f"owner:{owner.ref}",
        by=by,
        at=at,
        cares=list(cares),
        who=who,
        from_day=from_day.isoformat(),
        to_day=to_day.isoformat(),
    )
    return given


@transaction.atomic
def end_leave(*, leave: Permission, on: date, by: Person, at: datetime) -> Permission:
    """The owner takes a leave back: `on` is its last day. Ending it twice is ending it once.

    Raises ValidationError keyed by field, PermissionDenied.
    """
    if not may_plan_work(by):
        raise PermissionDenied
    leave = Permission.objects.select_for_update().select_related("land_manager").get(pk=leave.pk)
    if on < leave.from_day:
        raise ValidationError({"to_day": _("The last day lies before the first.")})
    if on >= leave.to_day:
        return leave
    leave.to_day = on
    leave.save(update_fields=["to_day"])
    record(
        "leave.ended",
        subject=f"owner:{leave.land_manager.ref}",
        by=by,
        at=at,
        care=leave.care,
        who=leave.who,
        on=on.isoformat(),
    )
    return leave
