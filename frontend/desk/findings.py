"""What the page of a finding shows, read in a fixed number of questions."""

import cmath
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Prefetch, Q
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.drawings.drawn import Drawn
from frontend.drawings.finding_charts import Pair, Share, Ticked, first_seen, pairs, shares
from frontend.drawings.finding_plan import Stand, plan
from survey.causes import finding_words as words
from survey.causes.models import Finding
from survey.causes.seen_signs import STANDING, WALKED, WINDOW
from survey.causes.wounds import wound_of
from survey.handbook.book import book
from survey.people.models import Person
from survey.science.wounds.girdled import girdled_by_stem, whole_tree
from survey.trees.measured import WoundMeasure
from survey.trees.models import Area, Happening, Look, LookSign, Tree

BARK = ("bark_wound", "bark_torn", "bark_sunken")
MOST_TREES = 300
MOST_HAPPENINGS = 400
OFTEN = ("mowing", "watering")
HALF = 50.0  # percent of the round from which a trained eye decides, save or replace
WORTH_A_TICK = ("new_contractor", "stake_on", "stake_off", "digging", "irrigation_off", "heat")


@dataclass(frozen=True, slots=True)
class Listed:
    """A finding in the list."""

    finding: Finding
    said: str
    follows: str
    judged_by: str


def listed(area: Area, findings: Sequence[Finding]) -> list[Listed]:
    """Findings with their sentences; names are read once for all."""
    names = words.names_of(area, findings)
    people = names_of_people(row.judged_by for row in findings)
    return [
        Listed(
            finding=row,
            said=words.heading(row, names),
            follows=str(row.get_follows_display()),
            judged_by=people.get(row.judged_by, ""),
        )
        for row in findings
    ]


def names_of_people(whos) -> dict[str, str]:
    """Names by "person:key", as the record has whoever judged."""
    keys = {who.removeprefix("person:") for who in whos if who}
    people = Person.objects.filter(key__in=keys) if keys else []
    return {f"person:{one.key}": one.name or one.sign_in for one in people}


@dataclass(frozen=True, slots=True)
class Shown:
    """One tree of a finding: when it was first seen with the sign, how far round, on which side."""

    tree: Tree
    marked: bool
    first_seen: date | None
    extent: str
    lost_from: float | None
    lost_to: float | None
    bearing: float | None
    look: Look | None


def trees_of(finding: Finding) -> list[Shown]:
    """The trees with the sign, as their newest look has them; for a site also those without it."""
    base = Tree.objects.filter(area=finding.area_id).select_related("site")
    marked = set(finding.trees.values_list("pk", flat=True))
    if finding.follows == Finding.Follows.SITE:
        rows = base.filter(Q(site=finding.site_id) | Q(pk__in=finding.trees.values("pk")))
        rows = rows.filter(Q(left="") | Q(pk__in=finding.trees.values("pk")))
    else:
        rows = base.filter(pk__in=finding.trees.values("pk"))
    trees = list(rows.in_walking_order()[: MOST_TREES + 1])
    looks = _newest_looks(finding, [tree.pk for tree in trees])
    first = _first_days(finding, [tree.pk for tree in trees])
    return [
        _shown(finding, tree, tree.pk in marked, looks.get(tree.pk), first.get(tree.pk))
        for tree in trees
    ]


def gone_of(finding: Finding) -> int:
    """How many trees of a site's finding were counted without the sign and have left since."""
    if finding.follows != Finding.Follows.SITE:
        return 0
    looked = (
        Look.objects.standing_record()
        .trained()
        .filter(channel__in=WALKED, presence__in=STANDING, day__gte=finding.weighed_on - WINDOW)
    )
    left = Tree.objects.filter(site=finding.site_id, looks__in=looked).exclude(left="")
    counted = left.exclude(registered_because=Tree.Because.REPORT)
    return counted.exclude(pk__in=finding.trees.values("pk")).distinct().count()


def _trained(trees: Sequence[int]):
    return (
        Look.objects.standing_record()
        .trained()
        .filter(tree__in=trees, channel__in=WALKED, presence__in=STANDING)
    )


def _newest_looks(finding: Finding, trees: Sequence[int]) -> dict[int, Look]:
    """The newest look of each tree; `measured` is the newest one with wounds by tape or clock."""
    since = finding.weighed_on - WINDOW
    looks = (
        _trained(trees)
        .filter(day__gte=since)
        .in_order()
        .prefetch_related(
            Prefetch("signs", LookSign.objects.filter(sign=finding.sign), to_attr="of_finding"),
            Prefetch("wounds", WoundMeasure.objects.order_by("stem", "number")),
        )
    )
    newest: dict[int, Look] = {}
    measured: dict[int, Look] = {}
    for look in looks:
        newest[look.tree_id] = look  # the last one of each tree stays
        if look.wounds.all():
            measured[look.tree_id] = look
    for tree, look in newest.items():
        look.measured = measured.get(tree)
    return newest


def _first_days(finding: Finding, trees: Sequence[int]) -> dict[int, date]:
    channels = (*WALKED, Look.Channel.ACCEPTANCE)
    signs = LookSign.objects.filter(
        sign=finding.sign,
        look__tree__in=trees,
        look__trained=True,
        look__superseded_by=None,
        look__channel__in=channels,
    )
    # the earliest comes last and stays
    return dict(signs.order_by("-look__day").values_list("look__tree_id", "look__day"))


def _shown(
    finding: Finding, tree: Tree, marked: bool, look: Look | None, first: date | None
) -> Shown:
    sign = next(iter(look.of_finding), None) if look else None
    extent = book().extents.get(sign.extent) if sign and sign.extent else None
    low = high = bearing = None
    if marked and finding.sign in BARK and extent and extent.from_fraction is not None:
        low, high = extent.from_fraction * 100, extent.to_fraction * 100
    if marked and sign and tree.street_bearing is not None:
        if sign.side == "street":
            bearing = float(tree.street_bearing)
        elif sign.side in ("path", "building"):
            bearing = (tree.street_bearing + 180.0) % 360
    if marked and look and look.measured and finding.sign == "bark_wound":
        low, high, placed = _measured(look.measured, tree)
        bearing = placed if placed is not None else bearing
    if low is not None and low >= 97 and bearing is None:
        bearing = 0.0  # all round has no side
    return Shown(
        tree=tree,
        marked=marked,
        first_seen=first if marked else None,
        extent=str(_(extent.label)) if extent else "",
        lost_from=low,
        lost_to=high,
        bearing=bearing,
        look=look,
    )


def _measured(look: Look, tree: Tree) -> tuple[float, float, float | None]:
    """What a tape says goes before the lay scale: all wounds of the look together, in percent of
    the round from the least to the most, and the middle of those whose place is known."""
    wounds = [wound_of(row) for row in look.wounds.all()]
    girths = {row.stem: row.girth_m for row in look.wounds.all() if row.girth_m}
    shares = girdled_by_stem(wounds)
    lost = whole_tree(shares, max(tree.stems, *shares), girths)
    arcs = [arc for wound in wounds if (arc := wound.arc()) is not None]
    bearing = None
    if arcs and tree.street_bearing is not None:
        pull = sum(
            hours * cmath.exp(1j * math.radians(30 * (start + hours / 2))) for start, hours in arcs
        )
        if abs(pull) > 1e-6:  # wounds that face each other have no middle
            bearing = (tree.street_bearing + math.degrees(cmath.phase(pull))) % 360
    return lost.low * 100, lost.high * 100, bearing


def plan_of(finding: Finding, shown: Sequence[Shown], *, rings: bool = False) -> Drawn | None:
    """The site from above, or None where no tree has a point or they stand at several sites."""
    if finding.site_id is None or len(shown) > MOST_TREES:
        return None
    stands = [
        Stand(
            tag=str(one.tree),
            latitude=one.tree.latitude,
            longitude=one.tree.longitude,
            marked=one.marked,
            lost_from=one.lost_from,
            lost_to=one.lost_to,
            bearing=one.bearing,
            looked_at=one.look is not None,
        )
        for one in shown
        if one.tree.latitude is not None
    ]
    if not stands:
        return None
    bark = finding.sign in BARK
    return plan(
        stands,
        title=_("Plan of %s with its trees") % finding.site.name,
        note=_("each trunk seen from above, gap to scale") if bark else _("filled = with the sign"),
        boundary=[] if rings else _ring(finding.site.boundary),
        metric=finding.area.units == "metric",
        rings=rings,
        trunks=bark,
    )


def _ring(boundary: Any) -> list[list[float]]:
    """The outer ring of a GeoJSON polygon; nothing for anything else."""
    if isinstance(boundary, Mapping) and boundary.get("type") == "Polygon":
        rings = boundary.get("coordinates") or [[]]
        return [[float(lon), float(lat)] for lon, lat, *_z in rings[0]]
    return []


def shares_of(finding: Finding, names: words.Names) -> Drawn | None:
    """The finding's group among all others of its kind."""
    levels = finding.facts.get("levels", ())
    if len(levels) < 2:
        return None
    known = {
        Finding.Follows.SITE: names.sites,
        Finding.Follows.PLANTING: names.plantings,
        Finding.Follows.SPECIES: names.kinds,
    }.get(finding.follows, {})
    there = finding.facts.get("there", {"with": 0, "of": 0})
    return shares(
        [
            Share(
                name=str(known.get(level["code"], level["code"])),
                with_sign=level["with"],
                of=level["of"],
                low=level["low"],
                high=level["high"],
                own=level["own"],
            )
            for level in levels
        ],
        title=_("Share of trees with the sign, and where the true share plausibly lies"),
        note=_("dot = share, line = 95 in 100 range"),
        elsewhere=(there["with"], there["of"]),
    )


def pairs_of(finding: Finding, names: words.Names) -> Drawn | None:
    """For a site the same loads elsewhere; for a load its trees and others, site by site."""
    if finding.facts.get("loads"):
        return pairs(
            [
                Pair(_load_name(load, names), tuple(load["here"]), tuple(load["there"]))
                for load in finding.facts["loads"]
            ],
            title=_("The same kinds from the same nursery, here and elsewhere"),
            note=_("one dot, one tree; filled = with the sign"),
            here=_("here"),
            there=_("elsewhere"),
        )
    if finding.facts.get("places"):
        return pairs(
            [
                Pair(
                    names.sites.get(place["site"], ""),
                    tuple(place["here"]),
                    tuple(place["there"]),
                )
                for place in finding.facts["places"]
            ],
            title=_("These trees and all others, site by site"),
            note=_("one dot, one tree; filled = with the sign"),
            here=_("these"),
            there=_("others"),
        )
    return None


def _load_name(load: Mapping, names: words.Names) -> str:
    kind = names.kinds.get(load["species"], load["species"])
    return f"{kind}, {load['supplier'] or _('supplier not known')}"


def happenings_of(finding: Finding, shown: Sequence[Shown]) -> list[Happening]:
    """What is on record at the places of a finding and its planting, newest last."""
    sites = {one.tree.site_id for one in shown if one.marked}
    mine = Q(site__in=sites)
    if finding.planting_id:
        mine |= Q(planting=finding.planting_id)
    else:
        mine |= Q(planting__in={one.tree.planting_id for one in shown if one.marked})
    rows = Happening.objects.filter(mine, from_day__lte=finding.weighed_on)
    return list(rows.newest_first()[:MOST_HAPPENINGS])[::-1]


def months_of(finding: Finding, happenings: Sequence[Happening]) -> Drawn | None:
    """The months of first seeing, with happenings as ticks. At one site only: elsewhere the days
    of one place would stand beside trees of another."""
    months = finding.facts.get("first_seen", {}).get("months")
    if not months:
        return None
    begin = min(date.fromisoformat(f"{month}-01") for month in months)
    ticks: dict[tuple[date, str], Ticked] = {}
    if finding.site_id:
        for happening in happenings:
            near = (begin - happening.from_day).days < 200
            often = happening.kind in OFTEN
            if near and (often or happening.kind in WORTH_A_TICK):
                label = words.happened(happening.kind)
                ticks.setdefault(
                    (happening.from_day, happening.kind),
                    Ticked(happening.from_day, label, often=often),
                )
    count = sum(months.values())
    return first_seen(
        months,
        list(ticks.values()),
        title=_("Month in which the sign was first seen"),
        note=ngettext("%d tree", "%d trees", count) % count,
    )


def day_of(day: str | None) -> date | None:
    """A day of the facts."""
    return date.fromisoformat(day) if day else None


def half_gone(shown: Sequence[Shown]) -> list[Shown]:
    """Trees with half their bark gone or more: a trained eye decides about each."""
    return [
        one
        for one in shown
        if one.marked and not one.tree.left and one.lost_from and one.lost_from >= HALF
    ]


def by_site(shown: Sequence[Shown]) -> list[tuple[str, list[tuple[str, list[Shown]]]]]:
    """The trees with the sign under their site and how far round it goes, the farthest first."""
    found: dict[str, dict[str, list[Shown]]] = {}
    far: dict[str, float] = {}
    for one in shown:
        if one.marked:
            found.setdefault(one.tree.site.name, {}).setdefault(one.extent, []).append(one)
            far[one.extent] = max(far.get(one.extent, 0.0), one.lost_from or 0.0)
    return [
        (site, sorted(groups.items(), key=lambda group: -far[group[0]]))
        for site, groups in found.items()
    ]
