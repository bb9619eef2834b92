"""What a coat or fertilizer was made of, asked once for all trees of an order that got it."""

from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from frontend.work.dose_form import AmountField
from survey.science import units
from survey.workorders.actions import Coat, Feed
from survey.workorders.doses import CareDose
from survey.workorders.inputs import PRODUCTS, SIDES_SAID
from survey.workorders.models import OrderLine
from survey.workorders.working import UNIT_SAID, amount

LOWEST_COAT_M, HIGHEST_COAT_M = -0.1, 10.0
"""As low and as high as the record takes a coat."""


def planned_coat(dose: CareDose | None) -> Mapping[str, Any]:
    """Sides, heights (m) and coats that the order has worked, for whoever reports it done."""
    if dose is None or not dose.lines:
        return {}
    return (dose.example or dose.lines[0]).uses


def short(value: float) -> float | int:
    """A number as people type it, to three figures."""
    read = float(f"{value:.3g}")
    return int(read) if read.is_integer() else read


NEEDED = _("This is needed where it was done.")


class PutOn(ABC):
    """Fields of one kind of care, added to the form that reports an order done."""

    care = ""
    needed: tuple[str, ...] = ()

    def __init__(
        self,
        form: forms.Form,
        lines: Sequence[OrderLine],
        system: units.System,
        planned: Mapping[str, Any],
    ):
        self.form, self.lines, self.system, self.planned = form, lines, system, planned
        self.kept: dict[str, Any] = dict(lines[0].inputs)
        self.names = list(self.add())
        self.told_needed()

    @abstractmethod
    def add(self) -> Iterator[str]:
        """Adds its fields to the form, and tells their names."""

    def field(self, name: str, field: forms.Field) -> str:
        field.required = False
        self.form.fields[name] = field
        return name

    @property
    def fields(self):
        return [self.form[name] for name in self.names]

    def told_needed(self) -> None:
        """No field that is asked for after all is called optional on the page."""
        for name in self.needed:
            self.form.fields[name].is_needed = True

    def was_given(self, given: dict) -> bool:
        return any(self.form.outcome_of(line, given) == "given" for line in self.lines)

    def check(self, given: dict) -> None:
        """Whatever was put on is named; what was not done asks nothing."""
        if not self.was_given(given):
            return
        for name in self.needed:
            if name not in self.form.errors and given.get(name) in (None, "", []):
                self.form.add_error(name, NEEDED)


class CoatFields(PutOn):
    care = "whitewash"
    title = _("The coat")
    needed = ("coat_product", "coat_color", "coat_to")

    def add(self):
        unit = units.reader_unit("m", self.system, name="outer_radius")
        said = UNIT_SAID[unit]
        default = self.kept.get("product") or PRODUCTS.get(self.kept.get("paint", ""), "")
        yield self.field(
            "coat_product",
            forms.CharField(label=_("Product, as on the label"), max_length=120, initial=default),
        )
        yield self.field(
            "coat_color", forms.CharField(label=_("Color"), max_length=40, initial=_("white"))
        )
        for name, label in (
            ("from", _("From this height, %(unit)s")),
            ("to", _("Up to this height, %(unit)s")),
        ):
            planned = self.planned.get(f"{name}_m")
            shown = None if planned is None else short(units.convert(planned, "m", unit))
            yield self.field(
                f"coat_{name}", AmountField(label=label % {"unit": said}, initial=shown)
            )
        yield self.field(
            "coat_sides",
            forms.MultipleChoiceField(
                label=_("Which sides"),
                choices=list(SIDES_SAID.items()),
                widget=forms.CheckboxSelectMultiple,
                initial=self.planned.get("sides"),
                help_text=_("As planned; tick what was coated in fact. None ticked: all round."),
            ),
        )
        yield self.field(
            "coat_coats",
            forms.IntegerField(
                label=_("Coats"), min_value=1, max_value=5, initial=self.planned.get("coats", 1)
            ),
        )

    def check(self, given: dict) -> None:
        super().check(given)
        if not self.was_given(given):
            return
        unit = units.reader_unit("m", self.system, name="outer_radius")
        least, most = (units.convert(bound, "m", unit) for bound in (LOWEST_COAT_M, HIGHEST_COAT_M))
        for name in ("coat_from", "coat_to"):
            value = given.get(name)
            if value is not None and not least <= value <= most:
                words = {"low": amount(least, unit), "high": amount(most, unit)}
                self.form.add_error(name, _("This lies between %(low)s and %(high)s.") % words)
        low, high = given.get("coat_from") or 0.0, given.get("coat_to")
        if (
            high is not None
            and high <= low
            and not {"coat_from", "coat_to"} & self.form.errors.keys()
        ):
            words = {"from": amount(low, unit), "to": amount(high, unit)}
            self.form.add_error(
                "coat_to",
                _("The coat has to end above where it begins: %(from)s to %(to)s.") % words,
            )

    def result(self, given: dict, many: int) -> dict:
        unit = units.reader_unit("m", self.system, name="outer_radius")
        return {
            "coat": Coat(
                product=given["coat_product"],
                color=given["coat_color"],
                from_m=units.convert(given["coat_from"] or 0.0, unit, "m"),
                to_m=units.convert(given["coat_to"], unit, "m"),
                sides=given["coat_sides"],
                coats=given["coat_coats"] or 1,
            )
        }


class FeedFields(PutOn):
    care = "fertilize"
    title = _("The fertilizer")
    needed = (
        "feed_product",
        "feed_nitrogen",
        "feed_phosphate",
        "feed_potash",
        "feed_mass",
        "feed_used",
        "feed_area",
    )

    def add(self):
        mass, area = ("lb", "ft2") if self.system == "us" else ("kg", "m2")
        yield self.field(
            "feed_product",
            forms.CharField(
                label=_("Product, as on the label"),
                max_length=120,
                initial=self.kept.get("product", ""),
            ),
        )
        for name, label in (
            ("nitrogen", _("First number: nitrogen")),
            ("phosphate", _("Second number: phosphate")),
            ("potash", _("Third number: potash")),
        ):
            yield self.field(f"feed_{name}", AmountField(label=label, initial=self.kept.get(name)))
        yield self.field(
            "feed_mass", AmountField(label=_("What the full bag weighs, %s") % UNIT_SAID[mass])
        )
        yield self.field(
            "feed_used",
            AmountField(
                label=_("How much of it was used, in percent"),
                initial=100,
                help_text=_("For all trees together."),
            ),
        )
        yield self.field(
            "feed_area", AmountField(label=_("Ground at each tree, %s") % UNIT_SAID[area])
        )
        yield self.field("feed_slow", forms.BooleanField(label=_("The label says slow release")))

    def check(self, given: dict) -> None:
        super().check(given)
        used = given.get("feed_used")
        if used is not None and not 0 < used <= 100:
            self.form.add_error("feed_used", _("This lies between 0 and 100."))

    def result(self, given: dict, many: int) -> dict:
        mass, area = ("lb", "ft2") if self.system == "us" else ("kg", "m2")
        used = units.convert(given["feed_mass"], mass, "kg") * given["feed_used"] / 100
        return {
            "feed": Feed(
                product=given["feed_product"],
                nitrogen=given["feed_nitrogen"],
                phosphate=given["feed_phosphate"],
                potash=given["feed_potash"],
                mass_kg=used / many,
                area_m2=units.convert(given["feed_area"], area, "m2"),
                slow_release=given["feed_slow"],
            )
        }
