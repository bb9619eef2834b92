"""Who owns the ground of a site, and what they have allowed there."""

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST

from frontend.access import only
from frontend.field.errors import put_errors
from frontend.field.forms import choice, line
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.people.policy import may_plan_work
from survey.trees.actions.ground import end_leave, give_leave, name_owner
from survey.trees.models import LandManager, Permission, Site


class OwnerForm(forms.Form):
    """Somebody on the list, or somebody new."""

    owner = forms.ModelChoiceField(
        LandManager.objects.order_by("name"),
        label=gettext_lazy("Somebody on the list"),
        required=False,
        empty_label=gettext_lazy("somebody new"),
    )
    name = line(gettext_lazy("Or a new name"), 80)
    kind = choice(gettext_lazy("What they are"), LandManager.Kind.choices, radio=True)
    phone = line(gettext_lazy("Phone"), 40, widget=forms.TextInput(attrs={"type": "tel"}))

    def clean(self):
        given = super().clean()
        if given.get("owner"):  # what is asked of somebody new does not matter then
            self.errors.pop("kind", None)
        return given


class LeaveForm(forms.Form):
    """What is allowed, to whom, and how long."""

    def __init__(self, *args, today, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["cares"] = forms.MultipleChoiceField(
            label=_("What they allow"),
            choices=[
                (care.code, said(care.label))
                for care in book().care.values()
                if care.needs_permission
            ],
            widget=forms.CheckboxSelectMultiple,
            error_messages={"required": _("Choose what is allowed.")},
        )
        self.fields["who"] = choice(_("To whom"), Permission.Who.choices, radio=True)
        for name, label in (("from_day", _("From")), ("to_day", _("Until"))):
            self.fields[name] = forms.DateField(
                label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
            )
        self.fields["from_day"].initial = today
        self.fields["letter"] = line(
            _("Where it is written"), 120, help_text=_("For example: letter of March 3.")
        )


@only(may_plan_work)
@require_http_methods(["GET", "HEAD", "POST"])
def ground(request, ref):
    """Say who owns the ground; write down what they allow."""
    site = get_object_or_404(Site.objects.select_related("area", "land_manager"), ref=ref)
    today, owner = site.area.today(), site.land_manager
    asked = request.POST.get("form", "")
    owner_form = OwnerForm(
        request.POST if asked == "owner" else None, initial={"owner": owner, "kind": "city"}
    )
    leave_form = LeaveForm(request.POST if asked == "leave" else None, today=today)
    act = {"by": request.user, "at": site.area.now()}
    if asked == "owner" and owner_form.is_valid():
        try:
            owner = name_owner(site=site, **owner_form.cleaned_data, **act)
        except ValidationError as refused:
            put_errors(owner_form, refused)
        else:
            messages.success(request, _("%s owns this ground.") % owner)
            return redirect("frontend:ground", site.ref)
    if asked == "leave" and owner and leave_form.is_valid():
        try:
            give_leave(owner=owner, **leave_form.cleaned_data, **act)
        except ValidationError as refused:
            put_errors(leave_form, refused)
        else:
            messages.success(request, _("The leave is written down."))
            return redirect("frontend:ground", site.ref)
    leaves = owner.permissions.order_by("-to_day", "care") if owner else ()
    context = {
        "area": site.area,
        "person": request.user,
        "nav": "sites",
        "site": site,
        "form": leave_form if asked == "leave" else owner_form,
        "owner_form": owner_form,
        "leave_form": leave_form,
        "leaves": leaves,
        "others": owner.sites.exclude(pk=site.pk).count() if owner else 0,
        "today": today,
    }
    return render(request, "frontend/field/ground.html", context)


@only(may_plan_work)
@require_POST
def end(request, ref, pk):
    """A leave ends today."""
    site = get_object_or_404(Site.objects.select_related("area"), ref=ref)
    leave = get_object_or_404(Permission, pk=pk, land_manager=site.land_manager)
    try:
        end_leave(leave=leave, on=site.area.today(), by=request.user, at=site.area.now())
    except ValidationError as refused:
        messages.error(request, refused.messages[0])
    else:
        messages.success(request, _("That leave ends today."))
    return redirect("frontend:ground", site.ref)
