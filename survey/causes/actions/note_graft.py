"""Whether a tree was grafted is written down: it decides what its low shoots are worth."""

from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.causes.models import ClueNoted
from survey.causes.saving import GRAFTED
from survey.people.models import Person
from survey.people.policy import counts_as_trained
from survey.trees.models import Tree


@transaction.atomic
def note_graft(*, tree: Tree, grafted: bool, day: date, by: Person, at: datetime) -> ClueNoted:
    """Write down that a tree was grafted, or was not; the newest word counts.

    Only who counts as trained on that day may say so. Raises ValidationError keyed by field,
    PermissionDenied.
    """
    if not counts_as_trained(by, day):
        raise PermissionDenied
    if day > tree.area.today():
        raise ValidationError({"day": _("That day has not come yet.")})
    if day < tree.planted_from:
        raise ValidationError({"day": _("That is before the tree was planted.")})
    noted = ClueNoted.objects.create(
        tree=tree, clue=GRAFTED, so=grafted, day=day, trained=True, by=f"person:{by.key}", at=at
    )
    record("graft.noted", subject=f"tree:{tree.ref}", by=by, at=at, grafted=grafted)
    return noted
