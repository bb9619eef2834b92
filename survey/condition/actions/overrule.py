"""Trained staff lay down what a tree's condition is, and take it back. Never an edit."""

from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.condition.models import Overruling, State
from survey.people.models import Person
from survey.people.policy import may_overrule
from survey.trees.evidence import evidence_changed
from survey.trees.models import Tree

LONGEST = 400


@transaction.atomic
def overrule_belief(
    *, tree: Tree, state: str, day: date, reason: str, by: Person, at: datetime
) -> Overruling:
    """Say what a tree's condition was on a day, and why: evidence of the strongest kind.

    One that stands already is withdrawn, with the new reason as the reason. Raises ValidationError
    keyed by field; PermissionDenied unless `by` is trained staff.
    """
    if not may_overrule(by, day):
        raise PermissionDenied
    tree = _held(tree)
    reason = _checked_reason(reason)
    if state not in State.values:
        raise ValidationError({"state": _("Choose one from the list.")})
    if day > tree.area.today():
        raise ValidationError({"day": _("That day has not come yet.")})
    if day < tree.planted_from:
        raise ValidationError({"day": _("That is before the tree was planted.")})
    for standing in Overruling.objects.standing().filter(tree=tree):
        _withdraw(standing, reason, by, at)
    made = Overruling(
        tree=tree,
        state=state,
        day=day,
        reason=reason,
        by_key=f"person:{by.key}",
        by_name=by.name,
        at=at,
    )
    made.full_clean()
    made.save()
    record(
        "belief.overruled",
        subject=f"tree:{tree.ref}",
        by=by,
        at=at,
        state=state,
        day=day.isoformat(),
        reason=reason,
    )
    evidence_changed(tree)
    return made


@transaction.atomic
def withdraw_overruling(
    *, overruling: Overruling, reason: str, by: Person, at: datetime
) -> Overruling:
    """Take an overruling back, with a reason: what it said counts no more, and stays on record.

    One that was withdrawn already is returned as it is.
    """
    if not may_overrule(by, overruling.day):
        raise PermissionDenied
    tree = _held(overruling.tree)
    reason = _checked_reason(reason)
    overruling = Overruling.objects.get(pk=overruling.pk)
    if overruling.withdrawn_at is None:
        _withdraw(overruling, reason, by, at)
        evidence_changed(tree)
    return overruling


def _held(tree: Tree) -> Tree:
    return (
        Tree.objects.select_for_update(of=("self",), no_key=True)
        .select_related("area")
        .get(pk=tree.pk)
    )


def _checked_reason(reason: str) -> str:
    reason = reason.strip()
    if not reason:
        raise ValidationError({"reason": _("Say why: what did you see?")})
    if len(reason) > LONGEST:
        raise ValidationError({"reason": _("Keep the reason under %d letters.") % LONGEST})
    return reason


def _withdraw(overruling: Overruling, reason: str, by: Person, at: datetime) -> None:
    overruling.withdrawn_at = at
    overruling.withdrawn_by, overruling.withdrawn_name = f"person:{by.key}", by.name
    overruling.withdrawn_reason = reason
    overruling.full_clean()
    overruling.save()
    record(
        "belief.overruling_withdrawn",
        subject=f"tree:{overruling.tree.ref}",
        by=by,
        at=at,
        overruling=overruling.pk,
        reason=reason,
    )
