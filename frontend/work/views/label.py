"""Fertilizer from a label: what a bag put on the ground, and whether that was under or over."""

from django.shortcuts import render
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.places import home_area
from frontend.work.dosing import system_of
from frontend.work.label_form import LabelForm
from survey.handbook.book import book
from survey.people.policy import may_see_orders
from survey.workorders.feeding_told import tell_feed


@only(may_see_orders)
@require_safe
def fertilizer_label(request):
    """The numbers stand in the address, so that an answer can be sent on; nothing is kept."""
    area = home_area()
    asked = "nitrogen" in request.GET
    form = LabelForm(request.GET if asked else None, system=system_of(request.user, area))
    answer = None
    if asked and form.is_valid():
        answer = tell_feed(**form.given())
    context = {
        "area": area,
        "person": request.user,
        "nav": "orders",
        "form": form,
        "answer": answer,
        "care": book().care["fertilize"],
    }
    return render(request, "frontend/work/fertilizer_label.html", context)
