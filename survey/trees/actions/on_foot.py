"""A tree is entered by somebody who stands before it: the tree and its first look, in one go."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from survey.people.actions import observer_of
from survey.people.models import Person
from survey.people.policy import counts_as_trained
from survey.photos.models import Photo
from survey.trees.actions.look import record_look
from survey.trees.actions.register import register_tree
from survey.trees.models import Area, Look, Planting, Site, Tree


@transaction.atomic
def register_on_foot(
    *,
    site: Site,
    planting: Planting,
    species: str,
    by: Person,
    at: datetime,
    repeat_key: str,
    condition: str = "",
    girths_m: Sequence[float | None] = (),
    photos: Sequence[Photo] = (),
    note: str = "",
    registered_on: date | None = None,
    **tree_fields,
) -> Tree:
    """Register a tree and write down how it stood; `tree_fields` are those of `register_tree`.

    The same `repeat_key` again gives back the same tree: on a street a form is often sent twice.
    Raises ValidationError keyed by field, PermissionDenied.
    """
    if known := Look.objects.filter(repeat_key=repeat_key).select_related("tree").first():
        return known.tree
    day = registered_on or site.area.today()
    tree = register_tree(
        site=site,
        planting=planting,
        species=species,
        registered_on=day,
        by=by,
        at=at,
        **tree_fields,
    )
    record_look(
        tree=tree,
        observer=observer_of(by),
        trained=counts_as_trained(by, day),
        day=day,
        channel=Look.Channel.REGISTRATION,
        presence=Look.Presence.STANDING,
        condition=condition,
        girths_m=girths_m,
        photos=photos,
        note=note,
        repeat_key=repeat_key,
        by=by,
        at=at,
    )
    return tree


def next_tag(tag: str) -> str:
    """The tag that follows in a numbered row: "0412" after "0411", "B-9" before "B-10".

    Empty where the tag does not end in a number.
    """
    digits = len(tag) - len(tag.rstrip("0123456789"))
    if not digits:
        return ""
    stem, number = tag[:-digits], tag[-digits:]
    return f"{stem}{int(number) + 1:0{digits}d}"


def free_tag_after(area: Area, tag: str) -> str:
    """The next tag in the row that no tree of the area bears; empty where the row has no next."""
    following = next_tag(tag)
    stem = tag.rstrip("0123456789")
    taken = set(Tree.objects.filter(area=area, tag__startswith=stem).values_list("tag", flat=True))
    while following and following in taken:
        following = next_tag(following)
    return following
