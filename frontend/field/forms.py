"""What is typed on foot: sites, plantings, trees, looks and whatever happened to them."""

import uuid

from django import forms
from django.utils.translation import gettext_lazy as _

from frontend.field.measures import GirthField, unit_of
from frontend.field.photos import PhotoField
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.people.models import Person
from survey.trees.actions.look import SeenSign
from survey.trees.dates import bounds_of
from survey.trees.models import (
    Acceptance,
    Condition,
    Happening,
    LandManager,
    Look,
    Planting,
    Precision,
    Site,
    Tree,
)
from survey.trees.species import kinds_in

BEARINGS = [
    (0, _("north")),
    (45, _("northeast")),
    (90, _("east")),
    (135, _("southeast")),
    (180, _("south")),
    (225, _("southwest")),
    (270, _("west")),
    (315, _("northwest")),
]
MOST_STEMS_ON_FOOT = 6
NOTE = 2000
NOT_SAID = ("", _("not said"))


def day_field(label, *, today, required=True, **kwargs) -> forms.DateField:
    """A day that has come already; the browser's own calendar where there is one."""
    widget = forms.DateInput(attrs={"type": "date", "max": today.isoformat()}, format="%Y-%m-%d")
    return forms.DateField(label=label, required=required, widget=widget, **kwargs)


def degrees(label) -> forms.FloatField:
    return forms.FloatField(
        label=label,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "class": "is-short"}),
    )


def words(label, most=NOTE, *, required=False, **kwargs) -> forms.CharField:
    return forms.CharField(
        label=label,
        required=required,
        max_length=most,
        widget=forms.Textarea(attrs={"rows": 3}),
        **kwargs,
    )


def line(label, most, *, required=False, **kwargs) -> forms.CharField:
    return forms.CharField(label=label, required=required, max_length=most, **kwargs)


def choice(label, choices, *, required=True, radio=False, **kwargs) -> forms.ChoiceField:
    """One of a list; as radios where all can be seen at once."""
    if not required:
        choices = [NOT_SAID, *choices]
    widget = forms.RadioSelect if radio else forms.Select
    return forms.ChoiceField(
        label=label, choices=choices, required=required, widget=widget, **kwargs
    )


class SiteForm(forms.Form):
    """A new place."""

    name = line(_("Name that people use"), 80, required=True)
    kind = choice(_("Kind of place"), Site.Kind.choices)
    land_manager = forms.ModelChoiceField(
        LandManager.objects.order_by("name"),
        label=_("Who owns the ground"),
        required=False,
        empty_label=_("not known yet"),
    )
    mowing_contractor = line(_("Who mows there"), 80)
    walk_from = line(
        _("Where the walk begins"), 120, help_text=_("For example: the gate by the school.")
    )
    latitude = degrees(_("Latitude"))
    longitude = degrees(_("Longitude"))


class PlantingForm(forms.Form):
    """A new cohort: the trees of one order in one season."""

    def __init__(self, *args, area, **kwargs):
        super().__init__(*args, **kwargs)
        today = area.today()
        self.fields["name"] = line(
            _("Name of the planting"),
            120,
            required=True,
            help_text=_("For example: Ferry Road 2025."),
        )
        self.fields["planted"] = day_field(_("Planted on or about"), today=today)
        self.fields["precision"] = choice(
            _("How well is that known?"), Precision.choices, radio=True, initial="day"
        )
        self.fields["planted_count"] = forms.IntegerField(
            label=_("How many trees"), required=False, min_value=1, max_value=100_000
        )
        self.fields["supplier"] = line(_("Nursery"), 80)
        self.fields["contractor"] = line(_("Who planted them"), 80)
        self.fields["stock_form"] = line(
            _("Sold as"), 40, help_text=_("For example: container, balled in burlap, bare root.")
        )
        self.fields["warranty_until"] = forms.DateField(
            label=_("Warranty ends"),
            required=False,
            widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        )

    def dates(self) -> dict:
        """The planting day as the action wants it."""
        given = self.cleaned_data
        start, end = bounds_of(given["planted"], given["precision"])
        return {"planted_from": start, "planted_to": end, "planted_precision": given["precision"]}


class TreeForm(forms.Form):
    """One tree, entered by somebody who stands before it."""

    repeat_key = forms.UUIDField(widget=forms.HiddenInput)
    base_photo = PhotoField(label=_("Photo of the base"))

    def __init__(self, *args, area, planting, person: Person, **kwargs):
        super().__init__(*args, **kwargs)
        metric = person.units == Person.Units.METRIC
        today = area.today()
        self.kinds = kinds_in(area)
        self.fields["repeat_key"].initial = uuid.uuid4
        self.fields["species"] = choice(
            _("Species"),
            [
                ("", _("choose")),
                *sorted(
                    ((code, str(kind.name)) for code, kind in self.kinds.items()),
                    key=lambda pair: pair[1],
                ),
            ],
        )
        self.fields["tag"] = line(_("Tag"), 30, widget=forms.TextInput(attrs={"class": "is-short"}))
        self.fields["condition"] = choice(
            _("How is it doing?"), Condition.choices, required=False, radio=True
        )
        self.fields["condition"].choices = Condition.choices
        for stem in range(1, MOST_STEMS_ON_FOOT + 1):
            self.fields[f"girth{stem}"] = GirthField(
                metric=metric,
                label=_("Girth, %(unit)s") % {"unit": unit_of(metric)}
                if stem == 1
                else _("Stem %(stem)d, %(unit)s") % {"stem": stem, "unit": unit_of(metric)},
            )
        self.fields["stems"] = forms.IntegerField(
            label=_("How many stems"),
            required=False,
            min_value=1,
            max_value=40,
            widget=forms.NumberInput(attrs={"class": "is-short", "placeholder": "1"}),
        )
        self.fields["latitude"] = degrees(_("Latitude"))
        self.fields["longitude"] = degrees(_("Longitude"))
        self.fields["street_bearing"] = forms.TypedChoiceField(
            label=_("The street is to its"),
            choices=[NOT_SAID, *BEARINGS],
            coerce=int,
            empty_value=None,
            required=False,
        )
        self.fields["landmark"] = line(
            _("Near"), 120, help_text=_("For example: third from the bus shelter.")
        )
        self.fields["registered_on"] = day_field(_("Registered on"), today=today, initial=today)
        self.fields["registered_because"] = choice(
            _("How it came onto the list"),
            Tree.Because.choices,
            initial=likely_because(planting, today),
        )
        self.fields["note"] = words(_("Note"))

    def clean(self):
        given = super().clean()
        girths = [given.get(f"girth{stem}") for stem in range(1, MOST_STEMS_ON_FOOT + 1)]
        while girths and girths[-1] is None:
            girths.pop()
        stems = given.get("stems") or max(1, len(girths))
        if len(girths) > stems:
            self.add_error("stems", _("You measured %d stems.") % len(girths))
        given["stems"], given["girths_m"] = stems, girths
        return given

    def girths(self):
        return [self[f"girth{stem}"] for stem in range(2, MOST_STEMS_ON_FOOT + 1)]


def likely_because(planting: Planting, today) -> str:
    """Written down at planting while the soil is fresh, found in a round afterwards."""
    fresh = (today - planting.planted_to).days <= 31
    return Tree.Because.PLANTING_RECORD if fresh else Tree.Because.INVENTORY


class CorrectTreeForm(forms.Form):
    """What may be mended about a tree without touching its survival."""

    def __init__(self, *args, tree: Tree, **kwargs):
        super().__init__(*args, **kwargs)
        kinds = {code: str(kind.name) for code, kind in kinds_in(tree.area).items()}
        kinds.setdefault(tree.species, tree.species)
        self.fields["species"] = choice(_("Species"), sorted(kinds.items(), key=lambda p: p[1]))
        self.fields["tag"] = line(_("Tag"), 30)
        self.fields["landmark"] = line(_("Near"), 120)
        self.fields["latitude"] = degrees(_("Latitude"))
        self.fields["longitude"] = degrees(_("Longitude"))
        self.fields["stems"] = forms.IntegerField(label=_("Stems"), min_value=1, max_value=40)
        self.fields["street_bearing"] = forms.TypedChoiceField(
            label=_("The street is to its"),
            choices=[NOT_SAID, *_bearings_with(tree.street_bearing)],
            coerce=int,
            empty_value=None,
            required=False,
        )
        self.fields["walk_order"] = forms.IntegerField(
            label=_("Place in the walk"), min_value=0, max_value=1_000_000
        )


def _bearings_with(bearing: int | None) -> list:
    """The eight winds, and an imported bearing between them."""
    if bearing is None or bearing in dict(BEARINGS):
        return BEARINGS
    return sorted([*BEARINGS, (bearing, f"{bearing}°")])


class LookForm(forms.Form):
    """What was seen of one tree: few taps where it does well, everything where it does not."""

    repeat_key = forms.UUIDField(widget=forms.HiddenInput)
    whole_photo = PhotoField(label=_("Photo of the whole tree"))
    base_photo = PhotoField(label=_("Photo of the base"))

    def __init__(self, *args, tree: Tree, person: Person, observers=(), **kwargs):
        super().__init__(*args, **kwargs)
        metric = person.units == Person.Units.METRIC
        today = tree.area.today()
        self.tree = tree
        self.fields["repeat_key"].initial = uuid.uuid4
        self.fields["presence"] = choice(
            _("Is it there?"), Look.Presence.choices, radio=True, initial="standing"
        )
        self.fields["condition"] = choice(
            _("How is it doing?"), Condition.choices, required=False, radio=True
        )
        self.fields["condition"].choices = Condition.choices
        self.fields["leaf"] = choice(_("Leaves"), Look.Leaf.choices, required=False, radio=True)
        self.fields["scratch"] = choice(
            _("Scratch test on a twig"), Look.Scratch.choices, required=False, radio=True
        )
        self.fields["signs"] = forms.MultipleChoiceField(
            label=_("What do you see?"),
            choices=[(sign.code, said(sign.label)) for sign in book().signs_for("trained")],
            widget=forms.CheckboxSelectMultiple,
            required=False,
        )
        extents = [NOT_SAID, *((e.code, said(e.label)) for e in book().extents.values())]
        sides = [NOT_SAID, *((s.code, said(s.label)) for s in book().sides.values())]
        for sign in book().signs_for("trained"):
            if sign.asks_extent:
                self.fields[f"extent_{sign.code}"] = forms.ChoiceField(
                    label=_("how far round"), choices=extents, required=False
                )
            if sign.asks_side or sign.asks_extent:
                self.fields[f"side_{sign.code}"] = forms.ChoiceField(
                    label=_("which side"), choices=sides, required=False
                )
        for stem in range(1, min(tree.stems, 40) + 1):
            self.fields[f"girth{stem}"] = GirthField(
                metric=metric,
                label=_("Girth, %(unit)s") % {"unit": unit_of(metric)}
                if tree.stems == 1
                else _("Stem %(stem)d, %(unit)s") % {"stem": stem, "unit": unit_of(metric)},
            )
        self.fields["note"] = words(_("Note"))
        self.fields["day"] = day_field(_("Day of the look"), today=today, initial=today)
        self.fields["channel"] = choice(
            _("What kind of look"),
            [
                (c, Look.Channel(c).label)
                for c in ("walk", "followup", "crew", "adopter", "registration")
            ],
            initial="crew" if person.role == Person.Role.CREW else "walk",
        )
        if observers:
            self.fields["observer"] = forms.ChoiceField(
                label=_("Who looked"), choices=observers, required=False
            )

    def clean(self):
        given = super().clean()
        count = min(self.tree.stems, 40)
        girths = [given.get(f"girth{stem}") for stem in range(1, count + 1)]
        given["girths_m"] = girths if any(girths) else []
        given["seen"] = [
            SeenSign(
                sign=code,
                extent=given.get(f"extent_{code}") or "",
                side=given.get(f"side_{code}") or "",
            )
            for code in given.get("signs", ())
        ]
        standing = given.get("presence") == Look.Presence.STANDING
        told = given.get("condition") or given.get("leaf") == Look.Leaf.BARE
        if standing and not told and "condition" not in self.errors:
            self.add_error("condition", _("Say how it is doing, or that it is bare."))
        return given

    def girths(self):
        return [self[f"girth{stem}"] for stem in range(1, min(self.tree.stems, 40) + 1)]

    def sign_rows(self):
        """The signs by the part of the tree, each with its box and its further questions."""
        boxes = {box.data["value"]: box for box in self["signs"]}
        for heading, part in (
            (_("At the base and on the trunk"), "base"),
            (_("Higher up"), "higher"),
            (_("In the soil"), "soil"),
            (_("Besides"), "end"),
        ):
            rows = [
                {
                    "box": boxes[sign.code],
                    "extent": self[f"extent_{sign.code}"] if sign.asks_extent else None,
                    "side": self[f"side_{sign.code}"]
                    if sign.asks_side or sign.asks_extent
                    else None,
                }
                for sign in book().signs_for("trained", part)
            ]
            if rows:
                yield heading, rows


class AcceptanceForm(forms.Form):
    """The look at delivery or planting."""

    base_street = choice(_("Base, street side"), Acceptance.Base.choices, radio=True)
    base_path = choice(_("Base, path side"), Acceptance.Base.choices, radio=True)
    base_left = choice(_("Base, left"), Acceptance.Base.choices, radio=True)
    base_right = choice(_("Base, right"), Acceptance.Base.choices, radio=True)
    flare = choice(_("Root flare"), Acceptance.Flare.choices, radio=True)
    ties = choice(_("Ties"), Acceptance.Ties.choices, radio=True)
    condition = choice(_("How is it doing?"), Condition.choices, radio=True)
    accepted = choice(_("Take it?"), [("yes", _("accept it")), ("no", _("refuse it"))], radio=True)
    reason = line(_("Why, if you refuse it"), 300)
    base_photo = PhotoField(label=_("Photo of the base"))
    note = words(_("Note"))

    def __init__(self, *args, area, **kwargs):
        super().__init__(*args, **kwargs)
        today = area.today()
        self.fields["day"] = day_field(_("Day of the look"), today=today, initial=today)

    def bases(self) -> dict[str, str]:
        return {
            side: self.cleaned_data[f"base_{side}"] for side in ("street", "path", "left", "right")
        }


class CareForm(forms.Form):
    """Care that a tree has had, lately or long ago."""

    def __init__(self, *args, area, **kwargs):
        super().__init__(*args, **kwargs)
        today = area.today()
        self.fields["care"] = choice(
            _("What was done"), [(c.code, said(c.label)) for c in book().care.values()]
        )
        self.fields["given"] = day_field(_("On or about"), today=today, initial=today)
        self.fields["precision"] = choice(
            _("How well is that known?"), Precision.choices, radio=True, initial="day"
        )
        self.fields["dose"] = line(_("How much"), 120)
        self.fields["by_whom"] = line(_("By whom"), 80, help_text=_("A team or a firm will do."))
        self.fields["note"] = line(_("Note"), 300)


class HappeningForm(forms.Form):
    """Something that happened on a day, or from one day to another."""

    def __init__(self, *args, area, **kwargs):
        super().__init__(*args, **kwargs)
        today = area.today()
        self.fields["kind"] = choice(_("What happened"), Happening.Kind.choices)
        self.fields["from_day"] = day_field(_("First day"), today=today, initial=today)
        self.fields["to_day"] = day_field(
            _("Last day"), today=today, required=False, help_text=_("Empty: one day only.")
        )
        self.fields["note"] = line(_("Note"), 300)


class DepartureForm(forms.Form):
    """How a tree left, and between which days."""

    left = choice(_("How did it leave?"), Tree.Left.choices, radio=True)
    why = line(_("Why, in a few words"), 300)

    def __init__(self, *args, area, **kwargs):
        super().__init__(*args, **kwargs)
        today = area.today()
        self.fields["left_from"] = day_field(
            _("First possible day"), today=today, help_text=_("The last day it was seen in place.")
        )
        self.fields["left_to"] = day_field(_("Last possible day"), today=today, initial=today)


class ReturnForm(forms.Form):
    """The tree has not left after all."""

    why = line(_("Why, in a few words"), 300, required=True)
