"""The form to measure the wounds of a tree: one set of fields for each wound, as many as needed."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field

from django import forms
from django.utils.translation import gettext as _t
from django.utils.translation import gettext_lazy as _

from frontend.field.forms import choice, day_field, words
from frontend.field.lengths import HourField, LengthField
from frontend.field.measures import unit_of
from frontend.field.photos import PhotoField
from frontend.field.wound_faults import faults_of
from survey.causes.actions.measure_wound import MOST_WOUNDS, MeasuredWound
from survey.causes.wound_words import REFUSED, percent
from survey.causes.wounds import SeenWound
from survey.people.models import Person
from survey.science.wounds.face import HOURS, Wound
from survey.trees.measured import WoundMeasure
from survey.trees.models import Condition, Look, Tree

TAPE = ("width", "girth")
PLACE = ("from_hour", "to_hour")
NAMES = {
    "width": _("How wide, %(unit)s"),
    "girth": _("Trunk round, %(unit)s"),
    "from_hour": _("From hour"),
    "to_hour": _("To hour"),
    "all_round": _("All the way round"),
    "low_edge_m": _("Lower edge above the soil, %(unit)s"),
    "length_m": _("How tall, %(unit)s"),
    "rim": _("Its rim"),
    "wood_shows": _("Bare wood shows"),
    "closed": _("It has closed"),
    "stem": _("Which stem"),
}
SAYS_SOMETHING = (*TAPE, *PLACE, "all_round", "low_edge_m", "length_m", "wood_shows")


@dataclass
class Row:
    """The bound fields of one wound, and the wound it measures again, if any."""

    number: int
    before: SeenWound | None
    fields: dict = field(default_factory=dict)

    def __getattr__(self, name):
        try:
            return self.fields[name]
        except KeyError:
            raise AttributeError(name) from None


class WoundsForm(forms.Form):
    """A look that measures wounds. `before` are the wounds of the last measured look: they come
    first, in that order, and each is measured again or has closed."""

    repeat_key = forms.UUIDField(widget=forms.HiddenInput)
    rows = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=MOST_WOUNDS)
    base_photo = PhotoField(label=_("Photo of the wound"))
    asks = False  # whether something does not agree, and nobody has said yet that it is so

    def __init__(
        self,
        *args,
        tree: Tree,
        person: Person,
        count: int,
        before: Sequence[SeenWound] = (),
        numbers: dict[int, int] | None = None,
        **kwargs,
    ):
        super().__init__(*args, **kwargs)
        self.tree, self.before = tree, list(before)
        self.count = max(1, min(MOST_WOUNDS, max(count, len(self.before))))
        self.numbers = numbers or {}
        self.metric = person.units == Person.Units.METRIC
        self.fields["repeat_key"].initial = uuid.uuid4
        self.fields["rows"].initial = self.count
        for n in range(1, self.count + 1):
            self._add_wound(n)
        self.fields["condition"] = choice(
            _("How is the tree doing?"), Condition.choices, required=False, radio=True
        )
        self.fields["condition"].choices = Condition.choices
        self.fields["leaf"] = choice(_("Leaves"), Look.Leaf.choices, required=False, radio=True)
        self.fields["scratch"] = choice(
            _("Scratch test on a twig"), Look.Scratch.choices, required=False, radio=True
        )
        self.fields["shoots"] = forms.BooleanField(
            label=_("Shoots come from the base"), required=False
        )
        self.fields["note"] = words(_("Note"))
        self.fields["as_it_is"] = forms.BooleanField(
            label=_("Yes, save it as it is"), required=False
        )
        self.fields["day"] = day_field(
            _("Day of the look"), today=tree.area.today(), initial=tree.area.today()
        )

    def _add_wound(self, n: int) -> None:
        unit = {"unit": unit_of(self.metric)}
        for name in ("width", "girth", "low_edge_m", "length_m"):
            self._add(n, name, LengthField(metric=self.metric, label=NAMES[name] % unit))
        for name in PLACE:
            self._add(n, name, HourField(label=NAMES[name]))
        for name in ("all_round", "wood_shows", "closed"):
            self._add(n, name, forms.BooleanField(label=NAMES[name], required=False))
        self._add(
            n, "rim", choice(NAMES["rim"], WoundMeasure.Rim.choices, initial="unseen", radio=True)
        )
        self.fields[f"rim_{n}"].required = False
        if self.tree.stems > 1:
            stems = [(str(stem), str(stem)) for stem in range(1, self.tree.stems + 1)]
            self._add(n, "stem", choice(NAMES["stem"], stems, initial="1"))
            if n <= len(self.before):
                self.fields[f"stem_{n}"].initial = str(self.before[n - 1].measure.stem)

    def _add(self, n: int, name: str, made: forms.Field) -> None:
        made.told_of = _t("Wound %(n)d: %(field)s") % {"n": n, "field": made.label}
        self.fields[f"{name}_{n}"] = made

    def wounds(self):
        """The rows, as the page lays them out."""
        for n in range(1, self.count + 1):
            before = self.before[n - 1] if n <= len(self.before) else None
            names = [name for name in NAMES if f"{name}_{n}" in self.fields]
            yield Row(n, before, {name: self[f"{name}_{n}"] for name in names})

    def clean(self):
        given = super().clean()
        given["measured"], given["places"], closed = [], [], []
        self.odd: list[str] = []
        girths: dict[int, float] = {}
        numbers = dict(self.numbers)
        for n in range(1, self.count + 1):
            before = self.before[n - 1] if n <= len(self.before) else None
            if given.get(f"closed_{n}"):
                closed.append(n)
                continue
            if not self._says_something(given, n):
                if before is not None and not self._is_wrong(n):
                    self.add_error(f"width_{n}", _("Measure it again, or tick that it has closed."))
                continue
            self._measured(given, n, before, girths, numbers)
        if not given["measured"] and not any(self._is_wrong(n) for n in range(1, self.count + 1)):
            if closed:
                self.add_error(
                    "closed_1", _("If every wound has closed, write down a plain look instead.")
                )
            else:
                self.add_error("width_1", REFUSED["nothing_measured"])
        if closed:
            said = ", ".join(str(n) for n in closed)
            given["note"] = _t("Closed: wound %s.") % said + " " + given.get("note", "")
        told = given.get("condition") or given.get("leaf") == Look.Leaf.BARE
        if not told and "condition" not in self.errors:
            self.add_error("condition", _("Say how it is doing, or that it is bare."))
        if self.odd and not given.get("as_it_is"):
            self.asks = True
            for said in self.odd:
                self.add_error("as_it_is", said)
        return given

    def _is_wrong(self, n: int) -> bool:
        return any(f"{name}_{n}" in self.errors for name in NAMES)

    def _says_something(self, given, n: int) -> bool:
        return any(given.get(f"{name}_{n}") not in (None, False, "") for name in SAYS_SOMETHING)

    def _measured(self, given, n: int, before, girths: dict, numbers: dict) -> None:
        """One wound as the action takes it; an empty girth is that of the wound above."""
        stem = int(given.get(f"stem_{n}") or 1)
        girth = given.get(f"girth_{n}")
        if girth is None and given.get(f"width_{n}") is not None:
            girth = girths.get(stem)
        elif girth is not None:
            girths[stem] = girth
        start, end = given.get(f"from_hour_{n}"), given.get(f"to_hour_{n}")
        if given.get(f"all_round_{n}"):
            start, end = 0.0, HOURS
        elif start is not None and end is not None and start % HOURS == end % HOURS:
            self.add_error(f"to_hour_{n}", REFUSED["same_hour"])
            start = end = None
        if start is not None:
            start %= HOURS
        if end == 0:
            end = HOURS
        if before is not None and before.measure.stem == stem:
            number = before.measure.number
        else:
            number = numbers[stem] = numbers.get(stem, 0) + 1
        self._tell_faults(given, n, girth, start, end)
        if self._is_wrong(n):
            return
        wound = Wound(given.get(f"width_{n}"), girth, start, end)
        if wound.disagrees:
            self.odd.append(_odd_said(n, wound))
        given["places"].append(n)
        given["measured"].append(
            MeasuredWound(
                stem=stem,
                number=number,
                girth_m=girth,
                width_m=given.get(f"width_{n}"),
                from_hour=start,
                to_hour=end,
                low_edge_m=given.get(f"low_edge_m_{n}"),
                length_m=given.get(f"length_m_{n}"),
                wood_shows=given.get(f"wood_shows_{n}") or None,
                rim=given.get(f"rim_{n}") or "unseen",
            )
        )

    @property
    def shows_confirm(self) -> bool:
        """Whether the box that confirms what does not agree stands on the page."""
        return self.asks or bool(self.data.get("as_it_is"))

    def _tell_faults(self, given, n: int, girth, start, end) -> None:
        """Everything at fault with one wound. What could not be read is told already: that it is
        missing is not told on top."""
        unread = [name for name in (*TAPE, *PLACE) if f"{name}_{n}" in self.errors]
        faults = faults_of(
            width=given.get(f"width_{n}"),
            girth=girth,
            from_hour=start,
            to_hour=end,
            low_edge_m=given.get(f"low_edge_m_{n}"),
            length_m=given.get(f"length_m_{n}"),
        )
        for name, why in faults.items():
            follows = name == "width" and given.get(f"width_{n}") is None and unread
            if f"{name}_{n}" not in self.errors and not follows:
                self.add_error(f"{name}_{n}", why)

    def names_of_errors(self) -> dict[str, str]:
        """How the action's keys, by row in the order given, are called in this form."""
        fields = {"width": "width", "girth": "girth", "from_hour": "from_hour", "stem": "stem"}
        fields |= {"to_hour": "to_hour", "low_edge_m": "low_edge_m", "length_m": "length_m"}
        fields["number"] = "width"
        return {
            f"{theirs}_{row}": f"{ours}_{n}"
            for row, n in enumerate(self.cleaned_data.get("places", ()))
            for theirs, ours in fields.items()
        }


def _odd_said(n: int, wound: Wound) -> str:
    """What the tape and the clock say of one wound, and the question."""
    hours = (wound.span_hours or 0.0) / HOURS
    told = {"n": n, "tape": percent(wound.share), "hours": percent(hours)}
    if hours == 1:
        return (
            _t(
                "These do not agree: wound %(n)d goes all the way round, and its tape says "
                "%(tape)s. Save it as it is?"
            )
            % told
        )
    return (
        _t(
            "These do not agree: the hours of wound %(n)d say %(hours)s of the way round, its tape "
            "says %(tape)s. Save it as it is?"
        )
        % told
    )
