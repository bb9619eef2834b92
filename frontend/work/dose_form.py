"""The numbers of a dose as a form: shown and typed in the reader's units, kept in SI."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from frontend.field.lengths import LONGEST_TYPED, number_of
from survey.science import units
from survey.science.care.records import Impossible
from survey.trees.models import Tree
from survey.workorders.inputs import INPUTS, MOST_WORDS, Input
from survey.workorders.working import amount

ALL = "all"
NO_NUMBER = _("Write this as a number, like 7.5 or 7 1/2.")


class AmountField(forms.FloatField):
    """A number as a tape shows it: "3", "3.5", "3,5", "3 1/2"."""

    def __init__(self, **kwargs):
        widget = forms.TextInput(attrs={"inputmode": "decimal", "class": "is-short"})
        super().__init__(widget=widget, **kwargs)

    def to_python(self, value):
        text = str(value if value is not None else "").strip()
        if not text:
            return None
        if len(text) > LONGEST_TYPED:
            raise forms.ValidationError(NO_NUMBER)
        try:
            return number_of(text.lower())
        except ValueError:
            raise forms.ValidationError(NO_NUMBER) from None


def _rounded_inward(value: float, *, up: bool) -> float:
    """A bound to two figures, so that what is named as allowed is allowed."""
    if not value:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(abs(value))) - 1)
    count = value / step
    return (math.ceil(count - 1e-6) if up else math.floor(count + 1e-6)) * step


class DoseForm(forms.Form):
    """What may be changed about one kind of care of an order.

    A number that is left as it was shown stays what it is, rounded by nobody; one that is emptied
    goes back to what the record or the trade says.
    """

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)

    def __init__(
        self,
        *args,
        care: str,
        system: units.System,
        uses: Mapping[str, Any],
        kept: Mapping[str, Any],
        trees: Sequence[Tree],
        **kwargs,
    ):
        super().__init__(*args, **kwargs)
        self.care, self.system, self.uses, self.kept = care, system, uses, kept
        self.asked = INPUTS.get(care, ())
        self.trees = {tree.ref: tree for tree in trees}
        for one in self.asked:
            self.fields[one.name] = self._field(one)
            self.initial.setdefault(one.name, self._shown(one))
        if len(trees) > 1:
            choices = [(ALL, _("all trees")), *((tree.ref, str(tree)) for tree in trees)]
            self.fields["for_tree"] = forms.ChoiceField(
                label=_("These numbers are for"), choices=choices, initial=ALL
            )

    def _shown(self, one: Input) -> Any:
        value = self.kept.get(one.name, self.uses.get(one.name))
        if one.kind == "amount" and value is not None:
            shown = one.shown(float(value), self.system)
            return int(shown) if shown.is_integer() else shown
        if one.kind == "several" and one.name not in self.kept:
            return []
        return value

    def _field(self, one: Input) -> forms.Field:
        if one.kind == "tick":
            return forms.BooleanField(label=one.label, required=False, help_text=one.help)
        if one.kind == "words":
            return forms.CharField(
                label=one.label, required=False, max_length=MOST_WORDS, help_text=one.help
            )
        if one.kind == "choice":
            choices = [("", _("not said")), *one.choices]
            return forms.ChoiceField(label=one.label, required=False, choices=choices)
        if one.kind == "several":
            return forms.MultipleChoiceField(
                label=one.label,
                required=False,
                choices=one.choices,
                widget=forms.CheckboxSelectMultiple,
                help_text=one.help,
            )
        unit = one.reader_unit(self.system) if one.kind == "amount" else ""
        said = amount(1, unit).partition(" ")[2] if unit else ""
        label = f"{one.label}, {said}" if said else one.label
        return AmountField(label=label, required=False, help_text=one.help)

    def clean(self):
        given = super().clean()
        for one in self.asked:
            if one.name in given and given[one.name] is not None:
                self._check(one, given[one.name])
        numbers = [given.get(name) for name in ("nitrogen", "phosphate", "potash")]
        if self.care == "fertilize" and None not in numbers and sum(numbers) > 100:
            self.add_error(
                "nitrogen",
                _("The three numbers add up to more than 100. Read them on the label again."),
            )
        return given

    def _check(self, one: Input, value: Any) -> None:
        if one.kind not in ("amount", "count"):
            return
        try:
            si = self._in_si(one, value)
        except Impossible:
            self.add_error(one.name, _("This must be an ordinary number."))
            return
        if not one.least <= si <= one.most:
            low, high = self._said(one, one.least), self._said(one, one.most)
            words = {"low": low, "high": high}
            self.add_error(one.name, _("This lies between %(low)s and %(high)s.") % words)

    def _said(self, one: Input, si: float) -> str:
        if one.kind == "count":
            return f"{si:g}"
        unit = one.reader_unit(self.system)
        return amount(_rounded_inward(units.convert(si, one.unit, unit), up=si == one.least), unit)

    def _in_si(self, one: Input, value: float) -> float:
        if one.kind == "count":
            return value
        return units.from_reader(one.name, value, one.reader_unit(self.system), one.unit)

    def inputs(self) -> dict[str, Any]:
        """What was changed, in SI; None for what was taken back."""
        found: dict[str, Any] = {}
        for one in self.asked:
            typed = self.cleaned_data.get(one.name)
            before = self._shown(one)
            if typed == before or (typed in (None, "", [], False) and one.name not in self.kept):
                if one.kind == "tick" and one.name.startswith("no_") and self._answers_chips():
                    found[one.name] = bool(typed)
                continue
            if typed in (None, "", []):
                found[one.name] = None
            elif one.kind in ("amount", "count"):
                found[one.name] = self._in_si(one, typed)
            else:
                found[one.name] = typed
        return found

    def _answers_chips(self) -> bool:
        """Whether somebody answered about the load at all: then what is not ticked is a no."""
        return bool(self.cleaned_data.get("chips_from"))

    def for_trees(self) -> list[Tree] | None:
        """The trees these numbers are for; None for all of them."""
        chosen = self.cleaned_data.get("for_tree") or ALL
        return None if chosen == ALL else [self.trees[chosen]]


class OverruleForm(forms.Form):
    """Why the dose or a refusal is set aside."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    because = forms.CharField(
        label=_("Overrule it, because"),
        max_length=300,
        required=False,
        help_text=_("Everybody reads it. Empty takes it back."),
    )
