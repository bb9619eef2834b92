"""The numbers of a dose that a person may change, kind of care by kind of care.

Kept with the line in SI, shown and typed in the reader's units. A number that nobody typed comes
from the record of the tree, else from the figures of the trade; the page says which.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from django.utils.translation import gettext_lazy as _

from survey.science import units

Kind = Literal["amount", "count", "choice", "several", "words", "tick"]
Choices = tuple[tuple[str, Any], ...]

SIDES_SAID: dict[str, Any] = {
    "n": _("north"),
    "ne": _("northeast"),
    "e": _("east"),
    "se": _("southeast"),
    "s": _("south"),
    "sw": _("southwest"),
    "w": _("west"),
    "nw": _("northwest"),
}
CHIPS_FROM: dict[str, Any] = {
    "own_crew": _("our own crew"),
    "tree_company": _("a tree company"),
    "yard": _("a yard"),
    "unknown": _("nobody knows"),
}
PRODUCTS: dict[str, Any] = {
    "interior_latex": _("white interior latex"),
    "exterior_latex": _("white exterior latex"),
    "oil_paint": _("oil paint"),
    "enamel": _("enamel"),
    "old_paint": _("old leftover paint"),
    "pest_repellent": _("sold against pests"),
}
PRESETS_SAID: dict[str, Any] = {
    "minnesota": _("Minnesota, by size class"),
    "energy": _("eXtension, 1.5 gal an inch"),
    "florida": _("Florida, 2 to 3 gal an inch"),
    "florida_copy": _("Florida, the copy with 4 gal an inch"),
    "florida_survival": _("Florida, to survive only"),
    "georgia": _("Georgia, 5 to 7.5 gal an inch a week"),
    "california": _("California, 5 gal two to four times"),
    "sacramento": _("Sacramento, 10 to 15 gal a week"),
    "missouri": _("Missouri, an inch a week"),
}


@dataclass(frozen=True, slots=True)
class Input:
    """One number, choice or word. Bounds in SI; `unit` is the SI unit of an amount."""

    name: str
    label: Any
    kind: Kind = "amount"
    unit: str = "m"
    least: float = 0.0
    most: float = 100.0
    choices: Choices = ()
    help: Any = ""
    read_as: str = ""  # the name by which `units` finds the reader's unit

    def reader_unit(self, system: units.System) -> str:
        return units.reader_unit(self.unit, system, name=self.read_as or self.name)

    def shown(self, value: float, system: units.System) -> float:
        """A kept value in the reader's unit, short enough to be typed."""
        read = units.convert(value, self.unit, self.reader_unit(system))
        return float(f"{read:.3g}")


GIRTH = Input(
    "girth",
    _("Trunk, all the way round"),
    most=5,
    least=0.01,
    help=_("Half a foot above the ground. As measured last; else a trunk of 2 in (5 cm)."),
)
RADIUS = Input("outer_radius", _("Edge, from the middle of the trunk"), least=0.1, most=15)
GAP = Input("gap", _("Bare gap, from the bark"), most=1)
DEPTH = Input("depth", _("How deep"), most=0.5)
PRODUCT = Input(
    "product", _("What the label calls it"), "words", help=_("Name and maker, as on the label.")
)
LABEL_READ = Input("label_read", _("Somebody read the whole label"), "tick")

INPUTS: dict[str, tuple[Input, ...]] = {
    "water": (
        GIRTH,
        Input("canopy_diameter", _("Crown, from edge to edge"), most=40),
        Input(
            "plant_factor",
            _("Plant factor"),
            unit="1",
            most=1,
            help=_("Share of what the air takes that this kind needs: 0.2 little, 0.5, 0.8 much."),
        ),
        Input("eto", _("What the air takes in a week (ETo)"), unit="m/week", most=0.2),
        Input("rain", _("Rain of a week that reached the roots"), unit="m/week", most=1),
        Input(
            "by",
            _("How it is given"),
            "choice",
            choices=(
                ("hand", _("by hand")),
                ("drip", _("drip")),
                ("overhead", _("from above")),
            ),
        ),
        Input("preset", _("Rule for young trees"), "choice", choices=tuple(PRESETS_SAID.items())),
    ),
    "mulch_ring": (
        GIRTH,
        RADIUS,
        GAP,
        DEPTH,
        Input("chips_from", _("Chips come from"), "choice", choices=tuple(CHIPS_FROM.items())),
        Input("chips_of", _("Chips of which trees"), "words", help=_("Kinds, with commas.")),
        Input("no_borers", _("None from trees with borers"), "tick"),
        Input("no_quarantine", _("From this side of every quarantine line"), "tick"),
        Input("no_glass", _("No glass, trash or weed seed"), "tick"),
        Input("building", _("Nearest building"), most=1000),
    ),
    "turf_back": (GIRTH, RADIUS),
    "compost": (GIRTH, RADIUS, GAP, DEPTH),
    "berm": (
        Input("radius", _("From the middle to the inner foot"), least=0.1, most=3),
        Input("berm_height", _("How high"), most=0.5),
    ),
    "whitewash": (
        GIRTH,
        Input("from_m", _("From this height"), most=5),
        Input("to_m", _("Up to this height"), least=0.05, most=10),
        Input(
            "sides",
            _("Which sides"),
            "several",
            choices=tuple(SIDES_SAID.items()),
            help=_("None ticked: the sides that the sun burns at this latitude."),
        ),
        Input("coats", _("Coats"), "count", least=1, most=2),
        Input("paint", _("Kind of paint"), "choice", choices=tuple(PRODUCTS.items())),
        PRODUCT,
        LABEL_READ,
    ),
    "trunk_guard": (GIRTH, Input("snow", _("Snow in a usual winter"), most=5, read_as="depth")),
    "fertilize": (
        Input("root_zone_radius", _("Root zone, from the middle"), least=0.1, most=50),
        Input("nitrogen", _("Label: first number"), "count", most=100),
        Input("phosphate", _("Label: second number"), "count", most=100),
        Input("potash", _("Label: third number"), "count", most=100),
        Input("rate", _("Nitrogen wanted"), unit="kg/m2", most=0.1),
        Input("slow_release", _("Slow release, says the label"), "tick"),
        Input("soil_test", _("Soil test: day and answer"), "words"),
        PRODUCT,
        LABEL_READ,
    ),
    "remove_suckers": (
        Input("from_root", _("Shoots from the roots"), "count", most=200),
        Input("from_base", _("Shoots from the base"), "count", most=200),
        Input("below_graft", _("Shoots from below a graft"), "count", most=200),
        Input("top_dead", _("The top is dead"), "tick"),
        Input(
            "grafted",
            _("Is it grafted?"),
            "choice",
            choices=(("no", _("no")), ("yes", _("yes")), ("unknown", _("nobody knows"))),
        ),
    ),
    "flush_soil": (
        GIRTH,
        RADIUS,
        Input("depth", _("How much water, as a depth"), most=0.5),
    ),
}
INPUTS["keep_low_shoots"] = INPUTS["remove_suckers"]

MOST_WORDS = 120


def input_of(care: str, name: str) -> Input | None:
    return next((one for one in INPUTS.get(care, ()) if one.name == name), None)


def is_sound(care: str, kept: Mapping[str, Any]) -> bool:
    """Whether what is kept with a line can be one of its inputs: names, kinds and bounds."""
    for name, value in kept.items():
        one = input_of(care, name)
        if one is None or not _fits(one, value):
            return False
    return True


def _fits(one: Input, value: Any) -> bool:
    if one.kind == "tick":
        return isinstance(value, bool)
    if one.kind == "words":
        return isinstance(value, str) and len(value) <= MOST_WORDS
    if one.kind == "choice":
        return value in dict(one.choices)
    if one.kind == "several":
        return isinstance(value, list) and set(value) <= set(dict(one.choices))
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return one.least <= value <= one.most
