"""Doses as pages print them: worked lines, trees one by one, what to mind, what is refused."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.utils.dates import MONTHS
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.work.reading import CarePart
from survey.science import units
from survey.science.care.chips import judge_chips
from survey.science.care.facts import si
from survey.science.care.records import Buy, Impossible, NotGiven
from survey.trees.measured import CoatGiven
from survey.trees.models import Area, Tree
from survey.workorders import working
from survey.workorders.doses import CareDose, Worked
from survey.workorders.feeding_told import tell_feed
from survey.workorders.inputs import CHIPS_FROM, SIDES_SAID, input_of
from survey.workorders.models import OrderLine
from survey.workorders.not_given import WOUNDS
from survey.workorders.problem import tags_of
from survey.workorders.sun_side import coat_months
from survey.workorders.wordings import DUE, impossible_said, notes_said, reasons_said

STANDING = {
    "leave_gap",
    "keep_flare_in_sight",
    "little_on_the_ball",
    "onto_wet_soil",
    "probe_the_ball_first",
    "onto_the_ball",
    "not_on_the_bark",
    "no_soil_on_trunk",
    "open_in_wet_season",
    "under_the_mulch",
    "off_the_trunk",
    "do_not_dig_in",
    "by_hand_no_tiller",
    "no_weed_killer",
    "keep_low_branches",
    "snap_while_soft",
    "clear_of_the_bark",
    "look_twice_a_year",
    "clear_mulch_away",
    "in_slow_passes",
    "water_in",
}
"""Notes that the handbook's own words on the care say already, on every order."""

COVERED = {
    "chips": ("Wood chips of known source and kind", "Chips for the ring", "Chips"),
    "compost": ("Ripe compost",),
    "soil": ("Soil",),
    "paint": ("White interior latex, new",),
    "wire_cloth": ("Wire cloth",),
}
"""Materials of the handbook that the amounts name already."""

KEY_LINES = {
    "water": ("each_dose",),
    "mulch_ring": ("ring_area", "ring_volume"),
    "turf_back": ("ring_area",),
    "compost": ("ring_volume",),
    "berm": ("basin_holds", "soil_volume"),
    "whitewash": ("coat_area", "coats_of_mix"),
    "fertilize": ("product_for_rate",),
    "flush_soil": ("flush_water",),
    "trunk_guard": ("guard_length",),
    "remove_suckers": ("shoots_removed",),
    "keep_low_shoots": ("shoots_kept_most",),
    "trim_loose_bark": ("girdled_share",),
}
"""The lines by which a dose is known: bold on the page, one a tree in the list of trees."""


def system_of(person, area: Area) -> units.System:
    """The units a reader sees: their own, or the town's for whoever has none."""
    wanted = getattr(person, "units", "") or area.units
    return "metric" if wanted == "metric" else "us"


@dataclass(slots=True)
class EachTree:
    """One tree of a care: its trunk and its own dose, or why it gets none."""

    tree: Tree
    trunk: str
    amounts: list[str]
    refused: str = ""
    assumed: bool = False


@dataclass(slots=True)
class Sum:
    """One kind of care worked like a sum."""

    code: str
    example: Tree | None = None
    lines: list[tuple[working.Told, bool]] = field(default_factory=list)
    minding: list[str] = field(default_factory=list)
    dates: list[tuple[str, date]] = field(default_factory=list)
    each: list[EachTree] = field(default_factory=list)
    refused: list[tuple[str, list[Tree]]] = field(default_factory=list)
    overruled: list[tuple[str, list[Tree]]] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)
    given: int = 0
    how: list[str] = field(default_factory=list)
    """What a crew needs beside the amounts: sides, heights, mix. It stands on the sheet too."""
    unmeasured: list[Tree] = field(default_factory=list)
    """Trees with a wound that nobody has measured, so that nothing is left out for it."""
    rules: list[tuple[str, str, bool]] = field(default_factory=list)

    @property
    def differs(self) -> bool:
        """Whether the trees get different amounts, so that each must be told."""
        told = {(tuple(row.amounts), row.refused) for row in self.each}
        return len(told) > 1


def sum_of(dose: CareDose, system: units.System) -> Sum:
    """A kind of care as the page prints it, in the reader's units."""
    found = Sum(dose.care, given=len(dose.doses))
    bold = KEY_LINES.get(dose.care, ())
    example = dose.example
    if example is not None and example.given is not None:
        found.example = example.line.tree
        for step in example.given.steps:
            told = working.told(step, system, together=dose.together(step.code))
            found.lines.append((told, step.code in bold))
        found.minding = notes_said(
            tuple(note for note in example.given.notes if note not in STANDING)
        )
        if dose.care == "whitewash":
            found.how = _coat_said(dose, system)
            found.minding += [*found.how, *_of_the_sun(example)]
            found.unmeasured = [
                worked.line.tree
                for worked in dose.doses
                if WOUNDS & worked.facts.signs.keys() and not worked.facts.wounds
            ]
        found.dates = [(str(DUE[due.code]), due.on) for due in example.given.dates]
        found.assumed = _assumed(example)
    found.each = [_each(worked, bold, system) for worked in dose.lines]
    refused: dict[str, list[Tree]] = {}
    overruled: dict[str, list[Tree]] = {}
    for worked, row in zip(dose.lines, found.each, strict=True):
        if row.refused:
            refused.setdefault(row.refused, []).append(worked.line.tree)
        if worked.line.overruled_because:
            overruled.setdefault(worked.line.overruled_because, []).append(worked.line.tree)
    found.refused, found.overruled = list(refused.items()), list(overruled.items())
    chosen = example.uses.get("preset") if example else None
    found.rules = [
        (str(_preset_said(rule.code)), _range(rule, system), rule.code == chosen)
        for rule in dose.rules
    ]
    return found


def _of_the_sun(example: Worked) -> list[str]:
    """In which months the sun asks for a coat there."""
    area = example.line.order.area
    latitude = example.line.tree.latitude
    latitude = area.latitude if latitude is None else latitude
    months = coat_months(latitude, area.last_frost_month)
    words = {"months": ", ".join(str(MONTHS[month]) for month in months)}
    return [_("By the sun at this latitude it does most in: %(months)s.") % words]


def _coat_said(dose: CareDose, system: units.System) -> list[str]:
    """Sides, heights, coats and mix; with its trees where they are not all coated alike."""
    alike: dict[str, list[Tree]] = {}
    for worked in dose.doses:
        uses = worked.uses
        words = {
            "sides": ", ".join(str(SIDES_SAID[side]) for side in uses["sides"]),
            "from": working.in_reader_units("outer_radius", uses["from_m"], "m", system),
            "to": working.in_reader_units("outer_radius", uses["to_m"], "m", system),
            "paint": working.plain(si("coat_parts_paint")),
            "water": working.plain(si("coat_parts_water")),
            "coats": ngettext("%(n)d coat", "%(n)d coats", uses["coats"]) % {"n": uses["coats"]},
        }
        said = _(
            "Sides: %(sides)s. From %(from)s to %(to)s high, %(coats)s, "
            "paint %(paint)s to water %(water)s."
        )
        alike.setdefault(said % words, []).append(worked.line.tree)
    if len(alike) < 2:
        return list(alike)
    return [f"{tags_of(trees)}: {said}" for said, trees in alike.items()]


def _preset_said(code: str):
    preset = input_of("water", "preset")
    return dict(preset.choices).get(code, code) if preset else code


def _range(rule, system: units.System) -> str:
    low = working.in_reader_units("week_water", rule.week_low_m3, "m3/week", system)
    high = working.in_reader_units("week_water", rule.week_high_m3, "m3/week", system)
    if low == high:
        return high
    return _("%(low)s to %(high)s") % {"low": low.split(" ")[0], "high": high}


def _assumed(worked: Worked) -> list[str]:
    found = []
    for name in worked.assumed:
        one = input_of(worked.line.care, name)
        if one is not None and one.kind in ("amount", "count"):
            found.append(str(one.label))
    return found


def _each(worked: Worked, bold: Sequence[str], system: units.System) -> EachTree:
    girth = worked.uses.get("girth")
    row = EachTree(
        tree=worked.line.tree,
        trunk=working.in_reader_units("girth", float(girth), "m", system) if girth else "",
        amounts=[],
        assumed="girth" in worked.assumed,
    )
    if worked.closed:
        row.refused = _("closed for danger")
    elif worked.impossible is not None:
        row.refused = impossible_of(worked.line.care, worked.impossible, system)
    elif isinstance(worked.dose, NotGiven):
        row.refused = reasons_said(worked.dose.because)
    elif worked.given is not None:
        row.amounts = [
            working.in_reader_units(step.code, step.value, step.unit, system)
            for step in worked.given.steps
            if step.code in bold
        ]
    return row


def impossible_of(care: str, error: Impossible, system: units.System) -> str:
    """A measure that cannot be, with its name and its bound in the reader's units."""
    one = input_of(care, error.field)
    text = impossible_said(error.code)
    if error.limit is not None and error.unit:
        words = {
            "text": text,
            "limit": working.in_reader_units(error.field, error.limit, error.unit, system),
        }
        text = _("%(text)s The bound is %(limit)s.") % words
    return f"{one.label}: {text}" if one is not None else text


def sums_of(
    parts: Iterable[CarePart], doses: Mapping[str, CareDose], system: units.System
) -> dict[str, Sum]:
    return {part.code: sum_of(doses[part.code], system) for part in parts if part.code in doses}


def to_bring(
    parts: Iterable[CarePart], doses: Mapping[str, CareDose], system: units.System
) -> list[tuple[str, str]]:
    """What an order takes along: amounts as people buy them, then the tools, each once."""
    added: dict[tuple[str, str], float] = {}
    for dose in doses.values():
        for buy in dose.buys:
            added[buy.code, buy.unit] = added.get((buy.code, buy.unit), 0.0) + buy.value
    bought = [Buy(code, value, unit) for (code, unit), value in added.items()]
    rows = []
    for buy in bought:
        for what, said in working.shopping_said([buy], system):
            much = said
            if buy.code == "chips":
                words = {"much": said, "percent": working.plain(si("mulch_settling") * 100)}
                # The ring above says less: what is bought must be told to be more, and why.
                much = _("%(much)s (with %(percent)s%% more, for a heap sinks)") % words
            rows.append((what, much))
    bought_already = {word for code, _unit in added for word in COVERED.get(code, ())}
    tools = dict.fromkeys(
        _(material)
        for part in parts
        if part.care
        for material in part.care.materials
        if material not in bought_already
    )
    return rows + [(tool, "") for tool in tools]


@dataclass(frozen=True, slots=True)
class Chips:
    """What was asked about a load of chips, and whether it may come."""

    source: str
    species: str
    refused: str
    ask: tuple[str, ...]
    accepted: bool


def chips_of(dose: CareDose | None) -> Chips | None:
    """The answers about the chips of an order's mulch ring; None without one."""
    if dose is None or not dose.lines:
        return None
    kept = dose.lines[0].line.inputs
    said = dict(CHIPS_FROM).get(kept.get("chips_from", ""), "")
    species = str(kept.get("chips_of", ""))
    if not said and not species:
        ask = (_("Where do they come from?"), _("Of which trees are they?"), *_rest(kept, ()))
        return Chips("", "", "", ask, accepted=False)
    found = []
    if kept.get("no_borers") is False:
        found.append("borers")
    if kept.get("no_glass") is False:
        found.append("glass_or_trash")
    judged = judge_chips(
        source=kept.get("chips_from", "unknown"),
        species=species.split(","),
        quarantined={True: False, False: True}.get(kept.get("no_quarantine")),
        distance_to_building_m=kept.get("building"),
        found=found,
    )
    refused = isinstance(judged, NotGiven)
    ask = _rest(kept, () if isinstance(judged, NotGiven) else judged.ask)
    return Chips(
        source=str(said),
        species=species,
        refused=reasons_said(judged.because) if isinstance(judged, NotGiven) else "",
        ask=ask,
        accepted=not refused and not ask,
    )


def _rest(kept: Mapping[str, object], asked: tuple[str, ...]) -> tuple[str, ...]:
    """The questions about a load that nobody has answered yet."""
    questions = {
        "quarantine_line": _("From this side of every quarantine line?"),
        "distance_to_building": _("How far is the nearest building?"),
    }
    open_ = [questions[code] for code in asked]
    if "no_borers" not in kept:
        open_.append(_("Any of it from trees with borers?"))
    if "no_glass" not in kept:
        open_.append(_("Glass, trash, weed seed?"))
    return tuple(open_)


def coat_said(coat: CoatGiven, system: units.System) -> str:
    """A coat as it was put on: product, color, heights and sides."""
    words = {
        "what": f"{coat.product}, {coat.color}",
        "from": working.in_reader_units("outer_radius", coat.from_m, "m", system),
        "to": working.in_reader_units("outer_radius", coat.to_m, "m", system),
        "sides": ", ".join(str(SIDES_SAID[side]) for side in coat.sides if side in SIDES_SAID)
        or _("all round"),
    }
    return _("%(what)s, %(from)s to %(to)s, %(sides)s") % words


def put_on_said(line: OrderLine, system: units.System) -> str:
    """What a line of a done order put on the tree: the coat, or the nitrogen and its word."""
    if line.given is None:
        return ""
    coat, feed = getattr(line.given, "coat", None), getattr(line.given, "feed", None)
    if coat is not None:
        return coat_said(coat, system)
    if feed is not None:
        years = max(0, (line.given.given_from - line.tree.planted_to).days) / 365.2425
        told = tell_feed(
            numbers=(
                feed.nitrogen_share * 100,
                feed.phosphate_share * 100,
                feed.potash_share * 100,
            ),
            mass_kg=feed.mass_kg,
            used_share=1.0,
            area_m2=feed.area_m2,
            slow_release=feed.slow_release,
            years_planted=years,
            system=system,
        )
        rate = next(one.one for one in told.lines if one.code == "nitrogen_rate")
        words = {"what": feed.product, "rate": rate, "word": told.word}
        return _("%(what)s: nitrogen %(rate)s. %(word)s.") % words
    return ""
