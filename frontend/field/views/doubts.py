"""A walk to the trees of which one look would settle most, with what to do at each."""

import math
from dataclasses import dataclass

from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.field.doubts import look_query, settled_said, waiting_said
from frontend.field.telling import minutes_asked, minutes_said
from frontend.places import area_of, asked
from survey.condition.doubt_walks import TIMES, SiteDoubts, Stop, Waiting
from survey.handbook.book import book
from survey.people.policy import counts_as_trained, may_look, may_triage
from survey.reports.models import Report
from survey.trees.models import Area, Look, Site, Tree
from survey.trees.species import kinds_in
from survey.workorders.doubts import Doubts, doubts_to_settle

CAUTIONS = ("road", "danger_open")


@dataclass(frozen=True, slots=True)
class _Stop:
    """One tree of the list: what it is, what to do there, and whether it was looked at today."""

    stop: Stop
    kind: str
    seen: bool


@dataclass(frozen=True, slots=True)
class _Visit:
    """One site of the walk, as it is said."""

    site: Site
    stops: list[_Stop]
    minutes: int
    said: str
    more: int
    turned: bool


@dataclass(frozen=True, slots=True)
class _Later:
    said: str
    trees: tuple[Tree, ...]
    more: int


@dataclass(frozen=True, slots=True)
class _Photo:
    """A tree that a photo would settle, and the note whose sender may be asked; None without."""

    tree: Tree
    report: Report | None


@only(may_look)
@require_safe
def doubts(request):
    """Which trees to look at in the time there is, in walking order; what had better wait; and for
    the desk, of which trees a neighbor's photo would do."""
    area = area_of(request)
    minutes = minutes_asked(request)
    ref = asked(request, "site")
    site = get_object_or_404(Site, area=area, ref=ref) if ref else None
    found = doubts_to_settle(area, minutes=minutes, site=site)
    walk = found.walk
    context = {
        "area": area,
        "person": request.user,
        "nav": "walks",
        "minutes": minutes,
        "long": minutes_said(minutes),
        "choices": [(choice, minutes_said(choice)) for choice in TIMES],
        "site": site,
        "sites": sorted({*walk.choices, *([site] if site else [])}, key=lambda one: one.name),
        "walk": walk,
        "whole": math.ceil(walk.minutes),
        "said": settled_said(walk.listed, walk.unsure, walk.settled),
        "visits": _visits(area, found),
        "query": look_query(minutes, ref, "" if area.is_home else area.ref),
        "later": [_later(one) for one in found.later],
        "photos": _photos(area, found) if may_triage(request.user) else [],
        "closed": found.closed,
        "trained": counts_as_trained(request.user, area.today()),
        "unplaced": found.unplaced,
    }
    context |= _handbook()
    return render(request, "frontend/field/doubts.html", context)


def _visits(area: Area, found: Doubts) -> list[_Visit]:
    kinds = kinds_in(area)
    trees = [stop.tree for one in found.walk.sites for stop in one.stops]
    today = Look.objects.standing_record().filter(tree__in=trees, day=area.today())
    seen = set(today.values_list("tree", flat=True))

    def told(one: SiteDoubts) -> _Visit:
        stops = [
            _Stop(
                stop,
                kinds[stop.tree.species].name if stop.tree.species in kinds else stop.tree.species,
                stop.tree.pk in seen,
            )
            for stop in one.stops
        ]
        return _Visit(
            site=one.site,
            stops=stops,
            minutes=math.ceil(one.minutes),
            said=settled_said(one.listed, one.unsure, one.settled),
            more=one.listed - len(stops),
            turned=one.is_turned,
        )

    return [told(one) for one in found.walk.sites]


def _later(one: Waiting) -> _Later:
    return _Later(waiting_said(one), one.named, one.trees - len(one.named))


def _photos(area: Area, found: Doubts) -> list[_Photo]:
    """Each tree with the newest note about it that is not decided yet; the desk is the home
    town's."""
    if not area.is_home:
        return [_Photo(tree, None) for tree in found.photos]
    open_ = [Report.State.NEW, Report.State.ASKED]
    notes = Report.objects.filter(tree__in=found.photos, state__in=open_, danger="")
    newest = {note.tree_id: note for note in notes.order_by("submitted_at", "pk")}
    return [_Photo(tree, newest.get(tree.pk)) for tree in found.photos]


def _handbook() -> dict:
    """How a scratch test is done, and what to keep away from."""
    known = book()
    return {
        "scratch": known.practice["scratch_part"],
        "no_trunk": known.advice["no_scratch_trunk"],
        "cautions": [known.cautions[code] for code in CAUTIONS],
    }
