"""Groups of an area's trees beside each other: how they were lost, and what else differs.

Everything is read from stands, which are the parts that groups are made of, so no look is read and
nothing is kept. A tree belongs to one group of a grouping only.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from survey.science.records import Spells
from survey.science.survival.comparison import Comparison, Pair, compare_within, corrected
from survey.science.survival.what_else import UNKNOWN, Difference, what_else_differs
from survey.survival.fates import Fates
from survey.survival.models import Stand
from survey.trees.models import Area, Planting

GROUPINGS = ["planting", "species", "site", "year", "supplier"]
"""What groups can be compared by; all trees of a town are one group."""
FEWEST, MOST = 2, 12  # groups
LIKE = ["species", "site", "year", "supplier"]
"""What trees can be asked to have in common before they are compared."""

GAPS = [45, 120, 240, 420]
"""Days between two looks: up to each of these, and longer. Steps of about one, three, six and
twelve months with some weeks of grace."""
AT_PLANTING, LATER = "at_planting", "later"


class CannotCompare(ValueError):
    """There are fewer groups than two, more than twelve, or one twice; or no such grouping."""


@dataclass(frozen=True, slots=True)
class Beside:
    """One of the groups: how many of its trees are in the rates, and were lost.

    `gap` is the middle of the days between two trained looks at a tree.
    """

    key: str
    trees: int
    losses: int
    gap: int | None


@dataclass(frozen=True, slots=True)
class Compared:
    """Groups as they compare. `pairs` is empty for two groups, whose answer is `together`.

    `names` gives, for each attribute of `else_differs`, what its values are called; "" where a
    value names itself. `within` is what only trees alike were compared by, "" for all with all.
    """

    by: str
    within: str
    groups: tuple[Beside, ...]
    together: Comparison
    pairs: tuple[Pair, ...]
    else_differs: tuple[Difference, ...]
    names: Mapping[str, Mapping[str, str]]


@dataclass(frozen=True, slots=True)
class _Part:
    """One stand in one of the groups."""

    group: int
    like: str
    values: dict[str, str]
    fates: Fates


def compare_groups(area: Area, by: str, keys: Sequence[str], *, within: str = "") -> Compared:
    """Compare two to twelve groups of one grouping, in the order given.

    A key that has no trees is a group of none, which is refused as too few. `within` (one of
    `LIKE`, not `by`) compares only trees that have it in common, and takes the ratio to be the
    same among all of them. Raises `CannotCompare`.
    """
    if by not in GROUPINGS or not (within == "" or (within in LIKE and within != by)):
        raise CannotCompare(f"Groups cannot be compared by {by!r} within {within!r}.")
    if not FEWEST <= len(keys) <= MOST or len(set(keys)) < len(keys):
        raise CannotCompare(f"From {FEWEST} to {MOST} different groups can be compared.")
    names: dict[str, dict[str, str]] = defaultdict(dict)
    parts = list(_parts(area, by, keys, within, names))
    whole = [Fates.together(part.fates for part in parts if part.group == g) for g in _places(keys)]
    strata = _strata(parts, len(keys))
    pairs: list[Pair] = []
    if len(keys) > FEWEST:
        places = list(combinations(_places(keys), 2))
        found = [compare_within([[s[a], s[b]] for s in strata]) for a, b in places]
        pairs = [Pair(a, b, one) for (a, b), one in zip(places, corrected(found), strict=True)]
    return Compared(
        by=by,
        within=within,
        groups=tuple(
            Beside(key, fates.in_rates.trees, fates.in_rates.spells().deaths, fates.median_gap())
            for key, fates in zip(keys, whole, strict=True)
        ),
        together=compare_within(strata),
        pairs=tuple(pairs),
        else_differs=what_else_differs(_counted(parts, by, len(keys))),
        names=names,
    )


def _places(keys: Sequence[str]) -> range:
    return range(len(keys))


def _parts(
    area: Area, by: str, keys: Sequence[str], within: str, names: dict[str, dict[str, str]]
) -> Iterator[_Part]:
    """The stands of the groups; what their values are called is written into `names`."""
    places = {key: place for place, key in enumerate(keys)}
    for key in keys:
        stands = Stand.objects.filter(area=area).of_group(by, key)
        for stand in stands.select_related("planting", "site").order_by("pk"):
            fates = Fates.from_rows(stand.fates, stand.newest)
            values = _values(stand, stand.planting, fates)
            names["site"][stand.site.ref] = stand.site.name
            names["planting"][stand.planting.ref] = stand.planting.name
            names["supplier"][stand.supplier] = stand.planting.supplier
            yield _Part(places[key], values.get(within, ""), values, fates)


def _values(stand: Stand, planting: Planting, fates: Fates) -> dict[str, str]:
    return {
        "species": stand.species,
        "year": str(stand.year),
        "site": stand.site.ref,
        "supplier": stand.supplier,
        "planting": planting.ref,
        "stock_form": " ".join(planting.stock_form.split()).casefold(),
        "gap": _step(fates.median_gap()),
    }


def _step(days: int | None) -> str:
    """Which step of `GAPS` a gap belongs to, by its greatest number of days."""
    if days is None:
        return UNKNOWN
    return str(next((most for most in GAPS if days <= most), GAPS[-1] + 1))


def _strata(parts: Sequence[_Part], groups: int) -> list[list[Spells]]:
    """strata[s][g]: the spells of group g among the trees alike; one stratum when all are."""
    found: dict[tuple[str, int], list[Fates]] = defaultdict(list)
    for part in parts:
        found[part.like, part.group].append(part.fates)
    return [
        [Fates.together(found[like, g]).in_rates.spells() for g in range(groups)]
        for like in sorted({part.like for part in parts}) or [""]
    ]


def _counted(parts: Sequence[_Part], by: str, groups: int) -> dict[str, list[Counter[str]]]:
    """How many trees in the rates have each value, by attribute and group."""
    told: dict[str, list[Counter[str]]] = {}
    for part in parts:
        columns = part.fates.in_rates
        if not columns.trees:
            continue
        for attribute, value in part.values.items():
            if attribute != by:
                counts = told.setdefault(attribute, [Counter() for _ in range(groups)])
                counts[part.group][value] += columns.trees
        later = columns.of(~np.isneginf(columns.entry))
        entered = told.setdefault("entry", [Counter() for _ in range(groups)])
        entered[part.group].update({LATER: later, AT_PLANTING: columns.trees - later})
    # Groups that share no planting are made of plantings: to say that they differ in them is idle.
    shared = Counter(value for counts in told.get("planting", []) for value in counts)
    if max(shared.values(), default=0) < FEWEST:
        told.pop("planting", None)
    return told
