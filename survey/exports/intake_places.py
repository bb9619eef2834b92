"""Imports of what stands where: sites, plantings, trees."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.core.exceptions import ValidationError
from django.db.models import Max, Q
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from survey.exports.columns import Column, Table
from survey.exports.intake import Batch, Entry, Kind, clean, settle
from survey.names import new_ref
from survey.people.models import Person
from survey.trees.actions.register import check_point
from survey.trees.models import Area, LandManager, Planting, Site, Tree
from survey.trees.species import kinds_in

REF = Column("ref", lazy("A short name for addresses; made from the name where it is empty."))
LATITUDE = Column("latitude", lazy("Where it is: north of the equator."), "number", "degrees")
LONGITUDE = Column("longitude", lazy("Where it is: east of Greenwich."), "number", "degrees")
SITE_FIELDS = [
    "kind",
    "land_manager_id",
    "mowing_contractor",
    "walk_from",
    "latitude",
    "longitude",
]
PLANTING_FIELDS = [
    "planted_from",
    "planted_to",
    "planted_precision",
    "planted_count",
    "supplier",
    "contractor",
    "stock_form",
    "warranty_until",
    "note",
]
TREE_FIELDS = [
    "site_id",
    "planting_id",
    "species",
    "planted_from",
    "planted_to",
    "planted_precision",
    "registered_on",
    "registered_because",
    "latitude",
    "longitude",
    "landmark",
    "stems",
    "street_bearing",
    "replaces_id",
    "left",
    "left_from",
    "left_to",
]

SITES = Table(
    "sites",
    lazy("Sites"),
    lazy("One row for each park, street or school yard."),
    (
        Column("name", lazy("The site as people call it; once in a town."), required=True),
        Column(
            "kind",
            lazy("What kind of place it is."),
            "code",
            choices=("park", "street", "school", "square", "other"),
            required=True,
        ),
        REF,
        Column("land_manager", lazy("Who owns the ground: name or short name, as on the list.")),
        Column("mowing_contractor", lazy("Who mows there.")),
        Column("walk_from", lazy("Where the walk begins.")),
        LATITUDE,
        LONGITUDE,
    ),
)
PLANTINGS = Table(
    "plantings",
    lazy("Plantings"),
    lazy("One row for each order or contract of one season."),
    (
        Column("name", lazy("The planting as people call it; once in a town."), required=True),
        Column(
            "planted",
            lazy(
                "When: a day (2023-11-14), a month (2023-11), a year (2023), or first and last day"
                " with a stroke between (2023-11-01/2024-02-28)."
            ),
            "date",
            required=True,
        ),
        REF,
        Column("planted_count", lazy("How many trees by its papers."), "whole number", "trees"),
        Column("supplier", lazy("Who supplied the trees.")),
        Column("contractor", lazy("Who planted them.")),
        Column("stock_form", lazy("How they came: bare root, in a pot, with a root ball.")),
        Column("warranty_until", lazy("Last day of the warranty."), "day"),
        Column("note", lazy("Anything else.")),
    ),
)
TREES = Table(
    "trees",
    lazy("Trees"),
    lazy("One row for each tree. Each needs a tag or a short name, by which looks find it."),
    (
        Column("tag", lazy("What stands on its tag; once in a town.")),
        Column("ref", lazy("Its short name for addresses; drawn where it is empty.")),
        Column("site", lazy("The site: name or short name, as on the list."), required=True),
        Column(
            "planting", lazy("The planting: name or short name, as on the list."), required=True
        ),
        Column("species", lazy("The kind of tree, by its code."), required=True),
        Column("planted", lazy("When, if other than its planting says; as there."), "date"),
        Column("registered_on", lazy("The day it came on a list."), "day", required=True),
        Column(
            "registered_because",
            lazy("Why: a planting record, an inventory round, or a report about it."),
            "code",
            choices=("planting_record", "inventory", "report"),
            required=True,
        ),
        LATITUDE,
        LONGITUDE,
        Column("walk_order", lazy("Its place in the walk along the site."), "whole number"),
        Column("landmark", lazy("How to find it.")),
        Column("stems", lazy("How many stems; 1 where it is empty."), "whole number"),
        Column(
            "street_bearing",
            lazy("Which way the street lies, clockwise from north."),
            "whole number",
            "degrees",
        ),
        Column("replaces", lazy("The tree it replaces: tag or short name, already on the list.")),
        Column(
            "left",
            lazy(
                "How it left: died; removed alive for health or safety; removed alive for another"
                " reason; lost from sight."
            ),
            "code",
            choices=("died", "removed_health", "removed_other", "lost"),
        ),
        Column("left_when", lazy("When it left; written as for planted."), "date"),
    ),
)


def judge_sites(area: Area, entries: Sequence[Entry], at: datetime, by: Person | None) -> Batch:
    batch = Batch()
    known = {s.name: s for s in Site.objects.filter(area=area, name__in=names(entries, "name"))}
    managers = {}
    for manager in LandManager.objects.all():
        managers[manager.ref] = managers[manager.name] = manager
    refs = Refs(Site)
    for entry in fresh(batch, entries, "name"):
        old = known.get(entry["name"])
        manager = managers.get(entry["land_manager"] or "")
        if entry["land_manager"] and manager is None:
            batch.refuse(entry, "land_manager", _("Nobody of that name is on the list."))
            continue
        site = Site(
            area=area,
            ref=old.ref if old else refs.take(entry["ref"], entry["name"]),
            name=entry["name"],
            kind=entry["kind"],
            land_manager=manager,
            mowing_contractor=entry["mowing_contractor"] or "",
            walk_from=entry["walk_from"] or "",
            latitude=entry["latitude"],
            longitude=entry["longitude"],
        )
        if clean(batch, entry, site) and in_area(batch, entry, area):
            settle(batch, entry, old, site, SITE_FIELDS)
    return batch


def judge_plantings(area: Area, entries: Sequence[Entry], at: datetime, by: Person | None) -> Batch:
    batch, today = Batch(), area.today()
    plantings = Planting.objects.filter(area=area, name__in=names(entries, "name"))
    known = {planting.name: planting for planting in plantings}
    refs = Refs(Planting)
    for entry in fresh(batch, entries, "name"):
        old, when = known.get(entry["name"]), entry["planted"]
        if when.start > today:
            batch.refuse(entry, "planted", _("That day has not come yet."))
            continue
        if entry["warranty_until"] and entry["warranty_until"] < when.start:
            batch.refuse(entry, "warranty_until", _("That is before it was planted."))
            continue
        planting = Planting(
            area=area,
            ref=old.ref if old else refs.take(entry["ref"], entry["name"]),
            name=entry["name"],
            planted_from=when.start,
            planted_to=when.end,
            planted_precision=when.precision,
            planted_count=entry["planted_count"],
            supplier=entry["supplier"] or "",
            contractor=entry["contractor"] or "",
            stock_form=entry["stock_form"] or "",
            warranty_until=entry["warranty_until"],
            note=entry["note"] or "",
        )
        if clean(batch, entry, planting):
            settle(batch, entry, old, planting, PLANTING_FIELDS)
    return batch


def judge_trees(area: Area, entries: Sequence[Entry], at: datetime, by: Person | None) -> Batch:
    batch, species = Batch(), kinds_in(area)
    sites = by_name(Site, area, names(entries, "site"))
    plantings = by_name(Planting, area, names(entries, "planting"))
    trees = trees_called(area, [*names(entries, "tag"), *names(entries, "ref")])
    replaced = trees_called(area, names(entries, "replaces"))
    orders = dict(
        Site.objects.filter(pk__in=[site.pk for site in sites.values()])
        .annotate(last=Max("trees__walk_order"))
        .values_list("pk", "last")
    )
    refs = Refs(Tree)
    for entry in fresh(batch, fresh(batch, entries, "tag"), "ref"):
        site, planting = sites.get(entry["site"]), plantings.get(entry["planting"])
        if not (entry["tag"] or entry["ref"]):
            batch.refuse(entry, "tag", _("Give the tree a tag or a short name."))
        elif site is None:
            batch.refuse(entry, "site", _("No site of that name is on the list."))
        elif planting is None:
            batch.refuse(entry, "planting", _("No planting of that name is on the list."))
        elif entry["species"] not in species:
            batch.refuse(entry, "species", _("No species has that code."))
        elif entry["replaces"] and entry["replaces"] not in replaced:
            batch.refuse(
                entry,
                "replaces",
                _("That tree is not on the list. Bring it in with an earlier file."),
            )
        else:
            old = trees.get(entry["tag"] or "") or trees.get(entry["ref"] or "")
            tree = _tree(area, entry, site, planting, replaced.get(entry["replaces"] or ""))
            tree.ref = old.ref if old else refs.take(entry["ref"], "")
            orders[site.pk] = (orders[site.pk] or 0) + 1
            tree.walk_order = entry["walk_order"] or orders[site.pk]
            if _possible(batch, entry, tree, area) and clean(batch, entry, tree, "walk_order"):
                settle(batch, entry, old, tree, TREE_FIELDS)
    return batch


def _tree(area: Area, entry: Entry, site: Site, planting: Planting, replaces: Tree | None) -> Tree:
    planted, left = entry["planted"], entry["left_when"]
    return Tree(
        area=area,
        site=site,
        planting=planting,
        tag=entry["tag"] or "",
        species=entry["species"],
        planted_from=planted.start if planted else planting.planted_from,
        planted_to=planted.end if planted else planting.planted_to,
        planted_precision=planted.precision if planted else planting.planted_precision,
        registered_on=entry["registered_on"],
        registered_because=entry["registered_because"],
        latitude=entry["latitude"],
        longitude=entry["longitude"],
        landmark=entry["landmark"] or "",
        stems=entry["stems"] or 1,
        street_bearing=entry["street_bearing"],
        replaces=replaces,
        left=entry["left"] or "",
        left_from=left.start if left else None,
        left_to=left.end if left else None,
    )


def _possible(batch: Batch, entry: Entry, tree: Tree, area: Area) -> bool:
    """What spans several cells of a tree's row."""
    today = area.today()
    wrong = ""
    if tree.registered_on > today:
        wrong, why = "registered_on", _("That day has not come yet.")
    elif tree.registered_on < tree.planted_from:
        wrong, why = "registered_on", _("That is before the tree was planted.")
    elif bool(tree.left) != bool(tree.left_from):
        wrong, why = "left", _("How a tree left and when belong together: give both or neither.")
    elif tree.left_from and (tree.left_from < tree.planted_from or tree.left_to > today):
        wrong, why = "left_when", _("A tree leaves after it was planted, and not after today.")
    elif tree.replaces and tree.replaces.site_id != tree.site_id:
        wrong, why = "replaces", _("The old tree stood at another site.")
    elif tree.replaces and tree.replaces.planting_id == tree.planting_id:
        wrong, why = "planting", _("A replacement belongs to a planting of its own.")
    elif tree.replaces and not tree.replaces.left:
        wrong, why = "replaces", _("First write down how the old tree left.")
    else:
        return in_area(batch, entry, area)
    batch.refuse(entry, wrong, why)
    return False


def names(entries: Iterable[Entry], column: str) -> list[str]:
    """Every name in one column, once."""
    return sorted({entry[column] for entry in entries if entry[column]})


def fresh(batch: Batch, entries: Sequence[Entry], column: str) -> list[Entry]:
    """The entries whose name in this column comes only once; the later ones are refused."""
    first: dict[str, int] = {}
    kept = []
    for entry in entries:
        name = entry[column]
        if name and name in first:
            batch.refuse(
                entry,
                column,
                _("“%(name)s” stands in line %(line)d already.")
                % {"name": name, "line": first[name]},
            )
        else:
            first[name] = entry.line
            kept.append(entry)
    return kept


def in_area(batch: Batch, entry: Entry, area: Area) -> bool:
    """Whether the row's point, if it has one, lies in the town."""
    try:
        check_point(area, entry["latitude"], entry["longitude"])
    except ValidationError as wrong:
        batch.refuse(entry, "latitude", " ".join(wrong.messages))
        return False
    return True


def by_name(model, area: Area, called: list[str]) -> dict:
    """Sites or plantings of an area by name and by short name."""
    found = {}
    for thing in model.objects.filter(Q(name__in=called) | Q(ref__in=called), area=area):
        found[thing.ref] = found[thing.name] = thing
    return found


def trees_called(area: Area, called: list[str]) -> dict[str, Tree]:
    """Trees of an area by tag and by short name; a tag wins where both are the same word."""
    trees = list(Tree.objects.filter(Q(tag__in=called) | Q(ref__in=called), area=area))
    return {tree.ref: tree for tree in trees} | {tree.tag: tree for tree in trees if tree.tag}


class Refs:
    """Gives out short names that nobody has, within one batch too."""

    def __init__(self, model) -> None:
        self._model = model
        self._given: set[str] = set()

    def take(self, wanted: str | None, words: str) -> str:
        """The name asked for, else one made of the words, else one drawn by lot."""
        if not wanted and not slugify(words):
            return new_ref()
        ref = wanted or slugify(words)[:48]
        taken = ref in self._given or self._model.objects.filter(ref=ref).exists()
        if taken and not wanted:
            ref = f"{ref}-{new_ref()[:4]}"
        self._given.add(ref)
        return ref


KINDS = [
    Kind(SITES, judge_sites),
    Kind(PLANTINGS, judge_plantings),
    Kind(TREES, judge_trees),
]
