"""The ring of an order's chips as a drawing, with the numbers of its own dose."""

from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from frontend.drawings.ring_section import RingWords, ring_section
from survey.science import units
from survey.workorders.doses import CareDose
from survey.workorders.working import in_reader_units


@dataclass(frozen=True, slots=True)
class Section:
    """The drawing for a desk and for a phone, and its sentence."""

    wide: SafeString
    narrow: SafeString
    said: str


def section_of(dose: CareDose | None, system: units.System) -> Section | None:
    """The ring of the tree whose sum is shown; None where no ring is given."""
    example = dose.example if dose else None
    if example is None or example.given is None:
        return None
    area, volume = example.given["ring_area"], example.given["ring_volume"]
    outer, inner = area["outer_radius"], area["inner_radius"]
    if outer <= inner:
        return None
    trunk = 2 * example.given["inner_radius"]["trunk_radius"]
    depth = volume["depth"]
    edge = in_reader_units("outer_radius", outer, "m", system)
    gap = in_reader_units("gap", inner, "m", system)
    deep = in_reader_units("depth", depth, "m", system)
    said = _(
        "The ring from the side: chips %(depth)s deep, from %(gap)s to %(edge)s from the middle "
        "of the trunk. The flare stays in sight and nothing touches the bark."
    ) % {"depth": deep, "gap": gap, "edge": edge}
    words = RingWords(
        title=said,
        flare=_("flare in sight"),
        bark=_("nothing touches the bark"),
        chips=_("chips, %s") % deep,
        turf=_("turf"),
        soil=_("wet soil: soaked first"),
        ball=_("root ball"),
        gap=_("bare gap %s") % gap,
        edge=_("edge %s from the middle") % edge,
    )
    shape = {"outer_m": outer, "inner_m": inner, "depth_m": depth, "trunk_m": trunk}
    return Section(
        _ours(ring_section(**shape, words=words)),
        _ours(ring_section(**shape, words=words, narrow=True)),
        said,
    )


def _ours(drawn: str) -> SafeString:
    return mark_safe(drawn)  # noqa: S308 - made by this project's own pen, its words escaped
