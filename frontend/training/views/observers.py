"""What a look of each observer counts: for the desk alone, by name or by day, never by weight."""

from collections import defaultdict
from datetime import date
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.db.models import Count, F, Max, Q
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.places import asked, home_area
from frontend.training.telling import weights_said
from survey.condition.models import Weight
from survey.condition.weights import FEWEST_LOOKS, usual_weights
from survey.people.models import Observer
from survey.people.policy import counts_as_trained, may_see_observers

A_PAGE = 50
ORDERS = {
    "name": (F("person__name").asc(nulls_last=True), "pk"),
    "last": (F("last").desc(nulls_last=True), F("person__name").asc(nulls_last=True), "pk"),
}


def name_of(observer: Observer) -> str:
    """Who it is, without a neighbor's contact: an account's name, or the house's own number."""
    if observer.person is not None:
        return observer.person.name
    if observer.key == "neighbor:unsigned":
        return _("neighbors who left no name")
    if observer.key.startswith("neighbor:"):
        return _("neighbor %s") % observer.key.removeprefix("neighbor:")
    return observer.key


def kind_of(observer: Observer, today: date) -> str:
    """Neighbor, volunteer, staff or crew as of today; who still learns is said to learn."""
    person = observer.person
    learns = observer.kind == Observer.Kind.VOLUNTEER and person is not None
    if learns and not counts_as_trained(person, today):
        return _("volunteer, not signed off")
    return str(observer.get_kind_display())


@never_cache
@require_safe
@only(may_see_observers)
def observers(request):
    """Everybody who has looked at a tree of this town, with what their looks count in words."""
    area = home_area()
    order = asked(request, "order")
    order = order if order in ORDERS else "name"
    kind = asked(request, "kind")
    kind = kind if kind in Observer.Kind.values else ""
    here = Q(looks__tree__area=area, looks__superseded_by=None)
    rows = (
        Observer.objects.filter(**({"kind": kind} if kind else {}))
        .annotate(seen=Count("looks", filter=here), last=Max("looks__day", filter=here))
        .filter(seen__gt=0)
        .select_related("person")
        .order_by(*ORDERS[order])
    )
    page = Paginator(rows, A_PAGE).get_page(asked(request, "page"))
    weights = defaultdict(list)
    for weight in Weight.objects.filter(area=area, observer__in=[row.pk for row in page]):
        weights[weight.observer_id].append(weight)
    usual = usual_weights(area)
    for row in page:
        row.name = name_of(row)
        row.kind_said = kind_of(row, area.today())
        row.counts = weights_said(weights[row.pk], row.seen, usual)
    context = {
        "page": page,
        "order": order,
        "kind": kind,
        "kinds": Observer.Kind.choices,
        "fewest": FEWEST_LOOKS,
        "weighed": Weight.objects.filter(area=area).exists(),
        "query": urlencode({"order": order, "kind": kind}),
        "nav": "people",
    }
    return render(request, "frontend/training/observers.html", context)
