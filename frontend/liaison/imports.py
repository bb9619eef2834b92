"""Bringing in files: choose the kind, try it, keep it."""

from django import forms
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from frontend.access import only
from frontend.places import area_of
from survey.exports.dictionary import meaning_of, type_of
from survey.exports.intake import bring_in
from survey.exports.kinds import IMPORTS
from survey.exports.reading import UnreadableFile
from survey.people.policy import may_import

LARGEST = 20 * 1024 * 1024
SHOWN = 200


class ImportForm(forms.Form):
    kind = forms.ChoiceField(
        label=_("What is in the file"),
        choices=[(name, kind.table.title) for name, kind in IMPORTS.items()],
        widget=forms.RadioSelect,
    )
    file = forms.FileField(
        label=_("The file"),
        help_text=_("A CSV file of at most 20 MB. For larger ones there is a command."),
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.txt,text/csv"}),
    )
    keep_good = forms.BooleanField(
        label=_("Keep the good rows even if some are bad"),
        required=False,
        help_text=_("Without this, one bad row keeps the whole file out."),
    )

    def clean_file(self):
        file = self.cleaned_data["file"]
        if file.size > LARGEST:
            raise forms.ValidationError(
                _("This file is larger than 20 MB. Cut it in two, or ask whoever keeps the server.")
            )
        return file


@require_http_methods(["GET", "HEAD", "POST"])
@only(may_import)
def imports(request):
    """A trial lists every bad row and keeps nothing; the second button does the same and keeps."""
    area = area_of(request)
    form = ImportForm(request.POST or None, request.FILES or None)
    outcome, unreadable = None, ""
    trial = "keep" not in request.POST
    if request.method == "POST" and form.is_valid():
        kind = IMPORTS[form.cleaned_data["kind"]]
        try:
            outcome = bring_in(
                kind,
                form.cleaned_data["file"].file,
                area=area,
                at=area.now(),
                by=request.user,
                dry_run=trial,
                keep_good=form.cleaned_data["keep_good"],
            )
        except UnreadableFile as trouble:
            unreadable = str(trouble)
    context = {
        "area": area,
        "nav": "survival",
        "form": form,
        "outcome": outcome,
        "unreadable": unreadable,
        "trial": trial,
        "problems": outcome.problems[:SHOWN] if outcome else [],
        "hidden": max(0, outcome.bad_rows - SHOWN) if outcome else 0,
        "kinds": [
            {
                "table": kind.table,
                "columns": [
                    {"column": c, "type": type_of(c), "meaning": meaning_of(c)}
                    for c in kind.table.columns
                ],
            }
            for kind in IMPORTS.values()
        ],
    }
    bad = form.errors or unreadable or (outcome and outcome.bad_rows and not outcome.saved)
    return render(request, "frontend/liaison/imports.html", context, status=422 if bad else 200)
