"""Sites, plantings and trees enter the registry; trees leave it."""

from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils.text import slugify
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.people.models import Person
from survey.people.policy import may_do_work, may_register_trees
from survey.trees.evidence import evidence_changed
from survey.trees.models import Area, LandManager, Planting, Site, Tree
from survey.trees.places import new_ref
from survey.trees.species import kinds_in
from survey.science.distance import metres_between


def _free_ref(model, words: str) -> str:
    """A readable reference that nobody has yet; a random one where the words give none."""
    stem = slugify(words)[:48] or new_ref()
    if not model.objects.filter(ref=stem).exists():
        return stem
    return f"{stem}-{new_ref()[:4]}"


def check_point(area: Area, latitude: float | None, longitude: float | None) -> None:
    """Refuse a point that lies outside the area: most often a mistyped figure."""
    if (latitude is None) != (longitude is None):
        raise ValidationError({"latitude": _("Give both figures of the point, or neither.")})
    if latitude is None:
        return
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        raise ValidationError({"latitude": _("That point is not on the earth.")})
    away = metres_between(area.latitude, area.longitude, latitude, longitude)
    if away > area.radius_m:
        raise ValidationError(
            {
                "latitude": _(
                    "That point is %(miles)d miles from %(area)s. Check it, or leave it empty."
                )
                % {"miles": max(1, round(away / 1609.344)), "area": area.name}
            }
        )


@transaction.atomic
def register_site(
    *,
    area: Area,
    name: str,
    kind: str,
    by: Person,
    at: datetime,
    land_manager: LandManager | None = None,
    mowing_contractor: str = "",
    walk_from: str = "",
    latitude: float | None = None,
    longitude: float | None = None,
) -> Site:
    """Put a place on the list. Raises ValidationError keyed by field, PermissionDenied."""
    if not may_register_trees(by):
        raise PermissionDenied
    check_point(area, latitude, longitude)
    site = Site(
        area=area,
        ref=_free_ref(Site, name),
        name=name.strip(),
        kind=kind,
        land_manager=land_manager,
        mowing_contractor=mowing_contractor.strip(),
        walk_from=walk_from.strip(),
        latitude=latitude,
        longitude=longitude,
    )
    site.full_clean()
    site.save()
    record("site.registered", subject=f"site:{site.ref}", by=by, at=at)
    return site


@transaction.atomic
def register_planting(
    *,
    area: Area,
    name: str,
    planted_from: date,
    planted_to: date,
    planted_precision: str,
    by: Person,
    at: datetime,
    planted_count: int | None = None,
    supplier: str = "",
    contractor: str = "",
    stock_form: str = "",
    warranty_until: date | None = None,
) -> Planting:
    """Open a cohort: the trees of one order or contract in one season."""
    if not may_register_trees(by):
        raise PermissionDenied
    if planted_from > area.today():
        raise ValidationError({"planted_from": _("That day has not come yet.")})
    planting = Planting(
        area=area,
        ref=_free_ref(Planting, name),
        name=name.strip(),
        planted_from=planted_from,
        planted_to=planted_to,
        planted_precision=planted_precision,
        planted_count=planted_count,
        supplier=supplier.strip(),
        contractor=contractor.strip(),
        stock_form=stock_form.strip(),
        warranty_until=warranty_until,
    )
    planting.full_clean()
    planting.save()
    record("planting.registered", subject=f"planting:{planting.ref}", by=by, at=at)
    return planting


@transaction.atomic
def register_tree(
    *,
    site: Site,
    planting: Planting,
    species: str,
    by: Person,
    at: datetime,
    registered_on: date | None = None,
    registered_because: str = Tree.Because.PLANTING_RECORD,
    planted_from: date | None = None,
    planted_to: date | None = None,
    planted_precision: str = "",
    tag: str = "",
    latitude: float | None = None,
    longitude: float | None = None,
    landmark: str = "",
    stems: int = 1,
    street_bearing: int | None = None,
    replaces: Tree | None = None,
) -> Tree:
    """Enter one tree, next in its site's walking order.

    The planting's dates are the tree's unless its own are given. A tree that replaces another
    must belong to a planting of its own, and the other must have left.
    """
    if not may_register_trees(by):
        raise PermissionDenied
    area = site.area
    if planting.area_id != area.pk:
        raise ValidationError({"planting": _("That planting belongs to another town.")})
    if species not in kinds_in(area):
        raise ValidationError({"species": _("Choose a species from the list.")})
    check_point(area, latitude, longitude)
    registered_on = registered_on or area.today()
    if registered_on > area.today():
        raise ValidationError({"registered_on": _("That day has not come yet.")})
    if replaces is not None:
        _check_replacement(replaces, planting, site)
    last = Site.objects.select_for_update().get(pk=site.pk).trees.aggregate(n=Max("walk_order"))["n"]
    tree = Tree(
        area=area,
        site=site,
        planting=planting,
        tag=tag.strip(),
        species=species,
        planted_from=planted_from or planting.planted_from,
        planted_to=planted_to or planting.planted_to,
        planted_precision=planted_precision or planting.planted_precision,
        registered_on=registered_on,
        registered_because=registered_because,
        latitude=latitude,
        longitude=longitude,
        walk_order=(last or 0) + 1,
        landmark=landmark.strip(),
        stems=stems,
        street_bearing=street_bearing,
        replaces=replaces,
    )
    tree.full_clean()
    tree.save()
    record("tree.registered", subject=f"tree:{tree.ref}", by=by, at=at, tag=tree.tag)
    evidence_changed(tree)
    return tree


def _check_replacement(old: Tree, planting: Planting, site: Site) -> None:
    if old.site_id != site.pk:
        raise ValidationError({"replaces": _("The old tree stood at another site.")})
    if old.planting_id == planting.pk:
        raise ValidationError(
            {"planting": _("A replacement belongs to a planting of its own, with its own day.")}
        )
    if not old.left:
        raise ValidationError(
            {"replaces": _("First write down how the old tree left, then enter the new one.")}
        )


@transaction.atomic
def record_departure(
    *, tree: Tree, left: str, left_from: date, left_to: date, by: Person, at: datetime, why: str = ""
) -> Tree:
    """Write down that a tree left the registry, how, and between which two days."""
    if not may_do_work(by):
        raise PermissionDenied
    tree = Tree.objects.select_for_update().select_related("area").get(pk=tree.pk)
    if tree.left:
        raise ValidationError({"left": _("This tree has left already.")})
    if left_to > tree.area.today():
        raise ValidationError({"left_to": _("That day has not come yet.")})
    tree.left, tree.left_from, tree.left_to = left, left_from, left_to
    tree.full_clean()
    tree.save(update_fields=["left", "left_from", "left_to"])
    record("tree.left", subject=f"tree:{tree.ref}", by=by, at=at, how=left, why=why)
    evidence_changed(tree)
    return tree
