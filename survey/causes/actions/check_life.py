"""A visit that asks one thing: is there life in this tree? From the twigs toward the trunk."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.causes.models import ClueNoted
from survey.causes.saving import SCRATCHED, SHOOTS
from survey.people.models import Observer, Person
from survey.photos.models import Photo
from survey.science.saving.facts import PARTS
from survey.trees.actions.look import SeenSign, record_look
from survey.trees.models import Look, Tree


@transaction.atomic
def check_life(
    *,
    tree: Tree,
    observer: Observer,
    trained: bool,
    day: date,
    presence: str,
    by: Person,
    at: datetime,
    leaf: str = "",
    condition: str = "",
    scratched: Mapping[str, str] | None = None,
    shoots: bool = False,
    photos: Sequence[Photo] = (),
    note: str = "",
    channel: str = Look.Channel.WALK,
    repeat_key: str | None = None,
) -> Look:
    """Write down a look whose scratches are kept by part: twig, branch, trunk → green or brown.

    The look itself says green if anything was green, brown if all that was scratched was. A scratch
    on the trunk is a wound: only trained people make one. The same `repeat_key` gives back the same
    look. Raises ValidationError keyed by field, PermissionDenied.
    """
    found = dict(scratched or {})
    for part, color in found.items():
        if part not in PARTS or color not in Look.Scratch.values:
            raise ValidationError({part: _("Choose one from the list.")})
    if "trunk" in found and not trained:
        raise ValidationError(
            {"trunk": _("Only a trained person scratches the trunk: a scratch there is a wound.")}
        )
    look = record_look(
        tree=tree,
        observer=observer,
        trained=trained,
        day=day,
        channel=channel,
        presence=presence,
        condition=condition,
        leaf=leaf,
        scratch=_together(found),
        signs=[SeenSign(SHOOTS)] if shoots else [],
        photos=photos,
        note=note,
        repeat_key=repeat_key,
        by=by,
        at=at,
    )
    for part in PARTS:
        if part in found:
            ClueNoted.objects.get_or_create(
                tree=tree,
                clue=SCRATCHED[part],
                look=look,
                defaults={
                    "so": found[part] == Look.Scratch.GREEN,
                    "day": look.day,
                    "trained": trained,
                    "by": f"person:{by.key}",
                    "at": at,
                },
            )
    return look


def _together(found: Mapping[str, str]) -> str:
    if not found:
        return ""
    green = Look.Scratch.GREEN in found.values()
    return Look.Scratch.GREEN if green else Look.Scratch.BROWN
