"""Which groups a tree belongs to, and how a group is named in an address and in a chore."""

from hashlib import sha256
from typing import NamedTuple

from django.db.models import QuerySet
from django.utils.text import slugify

from survey.trees.models import Area, Planting, Site, Tree
from survey.trees.species import kinds_in

GROUPINGS = ["planting", "species", "site", "year", "supplier", "town"]


class Keys(NamedTuple):
    """The key of a tree's group for each way of grouping; "" where it belongs to none."""

    planting: str
    species: str
    site: str
    year: str
    supplier: str
    town: str

    def pairs(self) -> list[tuple[str, str]]:
        return [(by, key) for by, key in zip(GROUPINGS, self, strict=True) if key]


def name_of(area: Area, by: str, key: str) -> str:
    """The key of the chore that rolls this group up."""
    return f"{area.pk}|{by}|{key}"


def keys_of(tree: Tree) -> Keys:
    """The groups of one tree; reads its planting, site and area."""
    return Keys(
        planting=tree.planting.ref,
        species=tree.species,
        site=tree.site.ref,
        year=str(tree.planted_from.year),
        supplier=supplier_key(tree.planting.supplier),
        town="all",
    )


def supplier_key(name: str) -> str:
    """A supplier's name fit for an address; the same for spellings that differ only in case."""
    plain = " ".join(name.split()).casefold()
    slug = slugify(plain)[:60]
    if slug.replace("-", " ") == plain:
        return slug
    return f"{slug or 'supplier'}-{sha256(plain.encode()).hexdigest()[:6]}" if plain else ""


def trees_in(area: Area, by: str, key: str) -> QuerySet[Tree]:
    """The trees of one group. Raises ValueError for a grouping that does not exist."""
    trees = Tree.objects.filter(area=area)
    if by == "planting":
        return trees.filter(planting__ref=key)
    if by == "species":
        return trees.filter(species=key)
    if by == "site":
        return trees.filter(site__ref=key)
    if by == "year":
        return trees.filter(planted_from__year=int(key)) if key.isdecimal() else trees.none()
    if by == "supplier":
        return trees.filter(planting__supplier__in=suppliers_named(area, key))
    if by == "town":
        return trees if key == "all" else trees.none()
    raise ValueError(f"Trees cannot be grouped by {by!r}.")


def suppliers_named(area: Area, key: str) -> list[str]:
    names = Planting.objects.filter(area=area).order_by("supplier").values_list("supplier")
    return [name for (name,) in names.distinct() if name and supplier_key(name) == key]


def label_of(area: Area, by: str, key: str) -> str:
    """What people call the group."""
    if by == "planting":
        named = Planting.objects.filter(area=area, ref=key)
        return named.values_list("name", flat=True).first() or key
    if by == "site":
        return Site.objects.filter(area=area, ref=key).values_list("name", flat=True).first() or key
    if by == "species":
        kind = kinds_in(area).get(key)
        return kind.name if kind else key
    if by == "supplier":
        return next(iter(suppliers_named(area, key)), key)
    return area.name if by == "town" else key
