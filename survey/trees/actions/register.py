"""Sites, plantings and trees enter the registry; trees leave it."""

from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils.text import slugify
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.names import new_ref
from survey.people.models import Person
from survey.people.policy import may_do_work, may_plan_work, may_register_trees
from survey.science.distance import metres_between
from survey.trees.dates import check_dates
from survey.trees.evidence import evidence_changed
from survey.trees.models import Area, LandManager, Planting, Site, Tree
from survey.trees.species import kinds_in

METRES_A_MILE = 1609.344


def free_ref(model, words: str) -> str:
    """A readable reference that nobody has yet; a random one where the words give none."""
    stem = slugify(words)[:48].strip("-") or new_ref()
    if not model.objects.filter(ref=stem).exists():
        return stem
    return f"{stem}-{new_ref()}"


def _check_name(model, area: Area, name: str) -> None:
    if not name:
        raise ValidationError({"name": _("Give it a name that people use.")})
    if model.objects.filter(area=area, name__iexact=name).exists():
        raise ValidationError({"name": _("There is one of that name already.")})


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
                % {"miles": max(1, round(away / METRES_A_MILE)), "area": area.name}
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
    area = Area.objects.select_for_update(no_key=True).get(pk=area.pk)
    name = name.strip()
    _check_name(Site, area, name)
    check_point(area, latitude, longitude)
    site = Site(
        area=area,
        ref=free_ref(Site, name),
        name=name,
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
    area = Area.objects.select_for_update(no_key=True).get(pk=area.pk)
    name = name.strip()
    _check_name(Planting, area, name)
    check_dates("planted", planted_from, planted_to, planted_precision, today=area.today())
    if warranty_until is not None and warranty_until < planted_from:
        raise ValidationError({"warranty_until": _("The warranty ends before the planting.")})
    planting = Planting(
        area=area,
        ref=free_ref(Planting, name),
        name=name,
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

    The planting's dates are the tree's unless its own are given, all three of them. A tree that
    replaces another must belong to a planting of its own, and the other must have left.
    """
    if not may_register_trees(by):
        raise PermissionDenied
    area = Area.objects.select_for_update(no_key=True).get(pk=site.area_id)
    if planting.area_id != area.pk:
        raise ValidationError({"planting": _("That planting belongs to another town.")})
    if species not in kinds_in(area):
        raise ValidationError({"species": _("Choose a species from the list.")})
    tag = tag.strip()
    _check_tag(area, tag)
    check_point(area, latitude, longitude)
    own = (planted_from, planted_to, planted_precision)
    if not any(own):
        own = (planting.planted_from, planting.planted_to, planting.planted_precision)
    elif not all(own):
        raise ValidationError(
            {"planted_from": _("Give the first day, the last day and how well they are known.")}
        )
    check_dates("planted", *own, today=area.today())
    registered_on = registered_on or area.today()
    if registered_on > area.today():
        raise ValidationError({"registered_on": _("That day has not come yet.")})
    if registered_on < own[0]:
        raise ValidationError({"registered_on": _("That is before the tree was planted.")})
    if replaces is not None:
        replaces = Tree.objects.select_for_update(no_key=True).get(pk=replaces.pk)
        _check_replacement(replaces, planting, site, own[1])
    last = Tree.objects.filter(site=site).aggregate(n=Max("walk_order"))["n"]
    tree = Tree(
        area=area,
        site=site,
        planting=planting,
        tag=tag,
        species=species,
        planted_from=own[0],
        planted_to=own[1],
        planted_precision=own[2],
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


def _check_tag(area: Area, tag: str, but: Tree | None = None) -> None:
    """Refuse a tag that another tree wears. The caller holds the area's lock."""
    others = Tree.objects.filter(area=area, tag=tag).select_related("site")
    if but is not None:
        others = others.exclude(pk=but.pk)
    if tag and (other := others.first()):
        raise ValidationError(
            {
                "tag": _("Tag %(tag)s is on another tree already, at %(site)s.")
                % {"tag": tag, "site": other.site.name}
            }
        )


def _check_replacement(old: Tree, planting: Planting, site: Site, planted_to: date) -> None:
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
    if Tree.objects.filter(replaces=old).exists():
        raise ValidationError({"replaces": _("That tree has been replaced already.")})
    if planted_to < old.left_from:
        raise ValidationError(
            {"replaces": _("The new tree was planted before the old one had left.")}
        )


@transaction.atomic
def correct_tree(
    *,
    tree: Tree,
    species: str,
    tag: str,
    latitude: float | None,
    longitude: float | None,
    landmark: str,
    stems: int,
    street_bearing: int | None,
    walk_order: int,
    by: Person,
    at: datetime,
) -> Tree:
    """Mend a slip in what is written about a tree; the audit keeps what stood there before.

    Where and when it was planted and how it entered are not changed here: survival rests on them.
    """
    if not may_register_trees(by):
        raise PermissionDenied
    area = Area.objects.select_for_update(no_key=True).get(pk=tree.area_id)
    tree = Tree.objects.select_for_update(no_key=True).get(pk=tree.pk)
    tag = tag.strip()
    if species != tree.species and species not in kinds_in(area):
        raise ValidationError({"species": _("Choose a species from the list.")})
    _check_tag(area, tag, but=tree)
    check_point(area, latitude, longitude)
    new = {
        "species": species,
        "tag": tag,
        "latitude": latitude,
        "longitude": longitude,
        "landmark": landmark.strip(),
        "stems": stems,
        "street_bearing": street_bearing,
        "walk_order": walk_order,
    }
    before = {
        name: getattr(tree, name) for name, value in new.items() if getattr(tree, name) != value
    }
    if not before:
        return tree
    for name, value in new.items():
        setattr(tree, name, value)
    tree.full_clean()
    tree.save(update_fields=[*before])
    record("tree.corrected", subject=f"tree:{tree.ref}", by=by, at=at, before=before)
    evidence_changed(tree)
    return tree


@transaction.atomic
def record_departure(
    *,
    tree: Tree,
    left: str,
    left_from: date,
    left_to: date,
    by: Person,
    at: datetime,
    why: str = "",
) -> Tree:
    """Write down that a tree left the registry, how, and between which two days."""
    if not may_do_work(by):
        raise PermissionDenied
    tree = (
        Tree.objects.select_for_update(of=("self",), no_key=True)
        .select_related("area")
        .get(pk=tree.pk)
    )
    if tree.left:
        raise ValidationError({"left": _("This tree has left already.")})
    if left not in Tree.Left.values:
        raise ValidationError({"left": _("Say how the tree left.")})
    if left_to > tree.area.today():
        raise ValidationError({"left_to": _("That day has not come yet.")})
    if left_to < left_from:
        raise ValidationError({"left_to": _("The last day comes before the first.")})
    if left_from < tree.planted_from:
        raise ValidationError({"left_from": _("That is before the tree was planted.")})
    tree.left, tree.left_from, tree.left_to = left, left_from, left_to
    tree.full_clean()
    tree.save(update_fields=["left", "left_from", "left_to"])
    record("tree.left", subject=f"tree:{tree.ref}", by=by, at=at, how=left, why=why)
    evidence_changed(tree)
    return tree


@transaction.atomic
def withdraw_departure(*, tree: Tree, why: str, by: Person, at: datetime) -> Tree:
    """Take back that a tree left: it was found again, or it was another tree."""
    if not may_plan_work(by):
        raise PermissionDenied
    tree = Tree.objects.select_for_update(no_key=True).get(pk=tree.pk)
    if not tree.left:
        raise ValidationError({"left": _("This tree has not left.")})
    if not why.strip():
        raise ValidationError({"why": _("Say why, in a few words.")})
    if Tree.objects.filter(replaces=tree).exists():
        raise ValidationError({"left": _("Another tree stands in its place by now.")})
    before = {"left": tree.left, "from": str(tree.left_from), "to": str(tree.left_to)}
    tree.left, tree.left_from, tree.left_to = "", None, None
    tree.save(update_fields=["left", "left_from", "left_to"])
    record("tree.back", subject=f"tree:{tree.ref}", by=by, at=at, before=before, why=why.strip())
    evidence_changed(tree)
    return tree
