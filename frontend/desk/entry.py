"""A report typed in for somebody who called, wrote or sent a picture: everything on one page."""

import uuid

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from frontend.access import only
from frontend.context import home_area
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.people.policy import may_triage
from survey.photos.intake import ACCEPTED_TYPES, size_refusal
from survey.photos.uploads import refused_files
from survey.reports.actions.drafts import add_photo, open_draft, start_draft
from survey.reports.actions.intake import enter_report_for_caller
from survey.reports.answers import MOST_LANDMARK, MOST_PHOTOS, MOST_WORDS, how_to_answer, too_long
from survey.reports.models import Report
from survey.reports.reference import report_name
from survey.trees.models import Site, Tree

CAME = (
    (Report.Came.CALL, gettext_lazy("A call")),
    (Report.Came.PICTURE, gettext_lazy("A forwarded picture")),
    (Report.Came.LETTER, gettext_lazy("A letter or e-mail")),
)


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self):
        super().__init__(format="%Y-%m-%d")


class EntryForm(forms.Form):
    """What a caller says, in the order in which callers say it. Only the place must be given."""

    client_ref = forms.UUIDField(widget=forms.HiddenInput)
    photos_kept = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)
    came = forms.ChoiceField(
        label=gettext_lazy("How it came"), choices=CAME, widget=forms.RadioSelect
    )
    tag = forms.CharField(label=gettext_lazy("Tag on the tree"), required=False, max_length=30)
    site = forms.ModelChoiceField(
        Site.objects.none(),
        label=gettext_lazy("Street or place"),
        required=False,
        to_field_name="ref",
        empty_label=gettext_lazy("not known"),
    )
    landmark = forms.CharField(
        label=gettext_lazy("Close to what"), required=False, max_length=MOST_LANDMARK
    )
    danger = forms.ChoiceField(label=gettext_lazy("Danger to people"), required=False)
    signs = forms.MultipleChoiceField(
        label=gettext_lazy("What was seen"), required=False, widget=forms.CheckboxSelectMultiple
    )
    extent = forms.ChoiceField(label=gettext_lazy("How far round"), required=False)
    side = forms.ChoiceField(label=gettext_lazy("Which side"), required=False)
    picture = forms.ChoiceField(label=gettext_lazy("All in all"), required=False)
    words = forms.CharField(
        label=gettext_lazy("Their words"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    seen_on = forms.DateField(label=gettext_lazy("Seen on"), widget=DayInput)
    contact = forms.CharField(label=gettext_lazy("How to answer"), required=False, max_length=200)

    def __init__(self, *args, area, **kwargs):
        super().__init__(*args, **kwargs)
        self.area = area
        known = book()
        self.fields["site"].queryset = Site.objects.filter(area=area).order_by("name")
        for name, none, records in (
            ("danger", gettext_lazy("nobody is in danger"), known.dangers),
            ("extent", gettext_lazy("not said"), known.extents),
            ("side", gettext_lazy("not said"), known.sides),
            ("picture", gettext_lazy("not said"), known.picture_scale),
        ):
            self.fields[name].choices = [
                ("", none),
                *((code, said(record.label)) for code, record in records.items()),
            ]
        self.fields["signs"].choices = [
            (sign.code, said(sign.label)) for sign in known.signs_for("neighbor")
        ]

    def clean_words(self):
        words = self.cleaned_data["words"]
        if len(words) > MOST_WORDS:
            raise ValidationError(too_long(words))
        return words

    def clean_seen_on(self):
        day = self.cleaned_data["seen_on"]
        if day > self.area.today():
            raise ValidationError(_("That day has not come yet. When was it seen?"))
        return day

    def clean_contact(self):
        self.email, self.phone = how_to_answer(self.cleaned_data["contact"])
        return self.cleaned_data["contact"]

    def clean(self):
        cleaned = super().clean()
        self.tree = None
        tag = cleaned.get("tag", "")
        if tag:
            self.tree = (
                Tree.objects.in_place()
                .select_related("site")
                .filter(area=self.area, tag__iexact=tag)
                .first()
            )
            if self.tree is None:
                self.add_error(
                    "tag", _("No tree here has that tag. Clear it, or write where the tree is.")
                )
        elif not cleaned.get("site") and not cleaned.get("landmark") and "landmark" in cleaned:
            self.add_error("landmark", _("Say where: a tag, a street, or something close by."))
        return cleaned

    def answers(self) -> dict:
        """The answers as the action takes them."""
        typed = self.cleaned_data
        return {
            "tree": self.tree,
            "site": typed["site"],
            "landmark": typed["landmark"],
            "danger": typed["danger"],
            "signs": tuple(typed["signs"]),
            "extent": typed["extent"],
            "side": typed["side"],
            "picture": typed["picture"],
            "words": typed["words"],
            "seen_on": typed["seen_on"],
            "email": self.email,
            "phone": self.phone,
        }


def _keep_photos(request, area):
    """Take the photos in; those that came keep their place while the form is mended.

    Returns the draft that holds them (or None), its key, and what was refused.
    """
    key = request.POST.get("photos_kept", "")[:64]
    draft = open_draft(key)
    refused = [
        size_refusal().messages[0]
        if file.reason == "too_big"
        else _("Up to %d photos can go with one report.") % MOST_PHOTOS
        for file in refused_files(request)
    ]
    for file in request.FILES.getlist("photos"):
        if draft is None:
            draft, key = start_draft(area=area, at=timezone.now(), answers={})
        try:
            add_photo(draft=draft, file=file, part="other", at=timezone.now())
        except ValidationError as trouble:
            refused.append(trouble.messages[0])
    return draft, key if draft else "", refused


@only(may_triage)
@require_http_methods(["GET", "HEAD", "POST"])
def quick_entry(request):
    """Write a call down while it lasts; sending it twice makes one report."""
    area = home_area()
    if area is None:
        raise Http404
    draft, refused = None, []
    if request.method == "POST":
        draft, key, refused = _keep_photos(request, area)
        posted = request.POST.copy()
        posted["photos_kept"] = key
        form = EntryForm(posted, area=area)
        if form.is_valid() and not refused:
            try:
                report = enter_report_for_caller(
                    client_ref=form.cleaned_data["client_ref"],
                    area=area,
                    came=form.cleaned_data["came"],
                    by=request.user,
                    at=area.now(),
                    photos=tuple(draft.photos.order_by("pk")) if draft else (),
                    **form.answers(),
                )
            except ValidationError as trouble:
                for name, said_so in trouble.message_dict.items():
                    form.add_error(name if name in form.fields else None, said_so)
            else:
                if draft:
                    draft.delete()
                messages.success(
                    request,
                    _("Written down as %(name)s. Tell the caller that name.")
                    % {"name": report_name(report)},
                )
                return redirect("frontend:docket", report.pk)
    else:
        form = EntryForm(
            area=area,
            initial={
                "client_ref": uuid.uuid4(),
                "came": Report.Came.CALL,
                "seen_on": area.today(),
                "site": request.GET.get("site"),
                "tag": request.GET.get("tag"),
            },
        )
        form.fields["tag"].widget.attrs["autofocus"] = True  # the caller is talking already
    return render(
        request,
        "frontend/desk/entry.html",
        {
            "area": area,
            "person": request.user,
            "nav": "queue",
            "form": form,
            "refused": refused,
            "kept": draft.photos.count() if draft else 0,
            "accepted": ACCEPTED_TYPES,
            "most": MOST_PHOTOS,
        },
        status=400 if form.errors or refused else 200,
    )
