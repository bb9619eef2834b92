"""Walk lists: the trees of a site in walking order, without those near an open danger."""

from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import Count, Min, OuterRef, Q, Subquery
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.believed import offer_in_short
from frontend.field.history import age_said
from frontend.field.telling import minutes_asked, minutes_said, see_said, walk_said
from frontend.places import area_of
from survey.condition.models import Belief
from survey.people.policy import may_look
from survey.reports.models import Report
from survey.survival.models import LooksWeighed
from survey.survival.weighing import MINUTES
from survey.trees.models import Area, Look, Site, Tree
from survey.trees.species import kinds_in
from survey.workorders.holds import holds_in
from survey.workorders.models import OrderLine, WorkOrder

A_YEAR = timedelta(days=365)
MOST_SETTLED = 10  # trees of a site that one look would settle, on the page
MOST_READ = 2000  # of a town, most telling first; a town has time for few of them


@dataclass(slots=True)
class Stretch:
    """Trees one after another that are all open, or all closed by the same danger."""

    danger: Report | None
    trees: list[Tree] = field(default_factory=list)


def _stretches(trees: list[Tree], held: dict[int, Report]) -> list[Stretch]:
    stretches: list[Stretch] = []
    for tree in trees:
        danger = held.get(tree.pk)
        if not stretches or stretches[-1].danger != danger:
            stretches.append(Stretch(danger))
        stretches[-1].trees.append(tree)
    return stretches


def next_on_walk(tree: Tree) -> Tree | None:
    """The next tree in walking order that nobody is kept away from."""
    holds = holds_in(tree.area)
    onward = (
        Tree.objects.in_place()
        .filter(site=tree.site_id)
        .filter(
            Q(walk_order__gt=tree.walk_order)
            | Q(walk_order=tree.walk_order, tag__gt=tree.tag)
            | Q(walk_order=tree.walk_order, tag=tree.tag, pk__gt=tree.pk)
        )
        .order_by("walk_order", "tag", "pk")
    )
    return next((other for other in onward if holds.on_tree(other) is None), None)


@only(may_look)
@require_safe
def walks(request):
    """Which site to walk: those that tell most for the minutes come first, and after them those
    that nobody has looked at for longest. Nobody is sent to a site with an open danger."""
    area = area_of(request)
    minutes = minutes_asked(request)
    today = area.today()
    seen = Look.objects.standing_record().trained().filter(tree__site=OuterRef("pk"))
    sites = list(
        Site.objects.filter(area=area)
        .annotate(
            standing=Count("trees", filter=Q(trees__left=""), distinct=True),
            fresh=Count(
                "trees",
                filter=Q(trees__left="") & Q(trees__in=_lately_seen(area, today)),
                distinct=True,
            ),
            last=Subquery(seen.order_by("-day").values("day")[:1]),
        )
        .filter(standing__gt=0)
    )
    holds = holds_in(area)
    closed = holds.closed_sites(area)
    weighed = _weighed(area, minutes)
    doubtful = _settled_by_a_look(Belief.objects.filter(tree__area=area))
    for site in sites:
        site.danger = holds.on_site(site)
        site.partly_closed = site.pk in closed
        site.age = age_said(site.last, today)
        site.waiting = site.standing - site.fresh
        site.settle = [] if site.danger or site.partly_closed else doubtful.get(site.pk, [])
        site.walk = None if site.danger or site.partly_closed else weighed.get(site.pk)
    sites.sort(key=lambda site: (site.last or date.min, site.name))
    offered = sorted((site for site in sites if site.walk), key=lambda site: -site.walk.worth)
    context = {"area": area, "person": request.user, "nav": "walks"}
    context |= {
        "minutes": minutes,
        "choices": [(choice, minutes_said(choice)) for choice in MINUTES],
        "offered": offered,
        "sites": [site for site in sites if not site.walk],
        "weighed": bool(weighed),
        "unplaced": holds.unplaced,
    }
    return render(request, "frontend/field/walks.html", context)


@dataclass(frozen=True, slots=True)
class _Walk:
    """What a walk of so many minutes tells, as said, and how much for each of them."""

    worth: float
    said: str
    see: str


def _weighed(area: Area, minutes: int) -> dict[int, _Walk]:
    """By site, the walk that was weighed for so many minutes."""
    found = {}
    rows = LooksWeighed.objects.filter(site__area=area).order_by("pk")
    for row in rows.iterator(chunk_size=500):
        walk = row.walks.get(str(minutes))
        if walk:
            said = (walk_said(walk), see_said(row.trees, row.see, walk))
            found[row.site_id] = _Walk(walk["gain"] / walk["minutes"], *said)
    return found


@dataclass(frozen=True, slots=True)
class _Doubt:
    """A tree that one look would settle, and which look."""

    tree: Tree
    look: str


def _settled_by_a_look(beliefs) -> dict[int, list[_Doubt]]:
    """By site, the trees still in place of which one look would tell most, most telling first.

    What cannot be settled before the tree is in leaf comes last: nobody should go for it now.
    """
    rows = beliefs.in_doubt().filter(tree__left="").select_related("tree")[:MOST_READ]
    found: dict[int, list[_Doubt]] = {}
    for later in (False, True):
        for belief in rows:
            if (belief.settle == Belief.Settle.LEAF) is later:
                doubts = found.setdefault(belief.tree.site_id, [])
                if len(doubts) < MOST_SETTLED:
                    doubts.append(_Doubt(belief.tree, offer_in_short(belief)))
    return found


def _lately_seen(area, today: date):
    """Trees with a trained look in the last twelve months."""
    looks = Look.objects.standing_record().trained().exclude(presence=Look.Presence.NOT_SEEN)
    return looks.filter(tree__area=area, day__gt=today - A_YEAR).values("tree")


@only(may_look)
@require_safe
def walk(request, ref):
    """One site's trees in walking order, with closed stretches where a danger is open."""
    site = get_object_or_404(Site.objects.select_related("area", "land_manager"), ref=ref)
    today = site.area.today()
    minutes = minutes_asked(request)
    weighed = LooksWeighed.objects.filter(site=site).first()
    telling = set((weighed.walks.get(str(minutes)) or {}).get("refs", ())) if weighed else set()
    kinds = kinds_in(site.area)
    trees = list(site.trees.in_place().with_last_trained_look().order_by("walk_order", "tag", "pk"))
    waiting = dict(
        OrderLine.objects.filter(
            tree__site=site,
            order__state=WorkOrder.State.DONE,
            outcome=OrderLine.Outcome.GIVEN,
            look=None,
            order__look_due__lte=today,
        )
        .values_list("tree")
        .annotate(number=Min("order__number"))
    )
    for tree in trees:
        tree.kind_name = kinds[tree.species].name if tree.species in kinds else tree.species
        tree.age = age_said(tree.gauge_day, today)
        tree.order_number = waiting.get(tree.pk)
        tree.tells = tree.ref in telling and tree.gauge_day != today
    doubts = _settled_by_a_look(Belief.objects.filter(tree__site=site)).get(site.pk, [])
    looks = {doubt.tree.pk: doubt.look for doubt in doubts}
    for tree in trees:
        tree.settle = looks.get(tree.pk, "")
    holds = holds_in(site.area)
    held = holds.on_any(trees)
    ahead = [tree for tree in trees if tree.pk not in held]
    context = {
        "area": site.area,
        "person": request.user,
        "nav": "walks",
        "site": site,
        "stretches": _stretches(trees, held),
        "count": len(trees),
        "closed": len(held),
        "first": next((tree for tree in ahead if tree.gauge_day != today), None),
        "today_count": sum(tree.gauge_day == today for tree in trees),
        "settling": sum(bool(tree.settle) for tree in ahead),
        "telling": sum(tree.tells for tree in ahead),
        "long": minutes_said(minutes),
        "site_danger": holds.on_site(site),
        "unplaced": holds.unplaced,
    }
    return render(request, "frontend/field/walk.html", context)
