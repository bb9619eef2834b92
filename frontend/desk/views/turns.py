"""A site has turned down: read it, and put it aside with a reason."""

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from frontend.access import only
from frontend.places import home_area
from frontend.refusals import show_refusal
from frontend.turned import turned_at
from survey.condition.actions.turns import LONGEST, put_turn_aside
from survey.condition.models import Turn
from survey.people.policy import may_triage


class AsideForm(forms.Form):
    reason = forms.CharField(
        label=gettext_lazy("Why it can wait, or what was done"),
        max_length=LONGEST,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


@only(may_triage)
@require_http_methods(["GET", "HEAD", "POST"])
def turn(request, pk: int):
    """Take a site's turn off the desk. It comes back only when the site turns anew."""
    found = get_object_or_404(
        Turn.objects.standing().select_related("site"), pk=pk, site__area=home_area()
    )
    form = AsideForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            put_turn_aside(
                turn=found,
                reason=form.cleaned_data["reason"],
                by=request.user,
                at=home_area().now(),
            )
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, _("%s is put aside.") % found.site.name)
            return redirect("frontend:queue")
    context = {
        "nav": "queue",
        "turn": found,
        "told": turned_at(found.site),
        "form": form,
    }
    status = 422 if form.is_bound else 200
    return render(request, "frontend/desk/turn.html", context, status=status)
