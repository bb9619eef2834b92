"""Whether a load of wood chips may be spread: what must be asked, and what speaks against it."""

from collections.abc import Collection
from dataclasses import dataclass

from survey.science.care.facts import si
from survey.science.care.records import NotGiven, among, chosen, number

SOURCES = ("own_crew", "tree_company", "yard", "unknown")
REFUSED_FOR = (
    "source_not_known",
    "kind_not_known",
    "borers",
    "across_quarantine_line",
    "kind_barred_here",
    "glass_or_trash",
    "weed_seed",
    "sour_or_hot",
    "too_near_a_building",
)


@dataclass(frozen=True, slots=True)
class Accepted:
    """A load that may be spread, with what is still to be asked (codes)."""

    ask: tuple[str, ...] = ()


def judge_chips(
    *,
    source: str,
    species: Collection[str],
    barred: Collection[str] = (),
    quarantined: bool | None = None,
    distance_to_building_m: float | None = None,
    found: Collection[str] = (),
) -> Accepted | NotGiven:
    """Take a load of chips or not, with every reason.

    `species` are the kinds it was made of as told, `barred` those the town does not take.
    `quarantined`: it would cross a quarantine line; None means nobody asked. Five feet from a
    building is from memory, to be verified; the local fire code goes before it.
    """
    chosen("source", source, SOURCES)
    seen = set(among("found", found, REFUSED_FOR))
    if source == "unknown":
        seen.add("source_not_known")
    kinds = {kind.strip().casefold() for kind in species if kind.strip()}
    if not kinds:
        seen.add("kind_not_known")
    if kinds & {kind.strip().casefold() for kind in barred}:
        seen.add("kind_barred_here")
    if quarantined:
        seen.add("across_quarantine_line")
    ask = []
    if quarantined is None:
        ask.append("quarantine_line")
    if distance_to_building_m is None:
        ask.append("distance_to_building")
    else:
        distance = number("distance_to_building", distance_to_building_m, at_most=1e5, unit="m")
        if distance < si("chips_from_building") - 1e-9:
            seen.add("too_near_a_building")
    if seen:
        return NotGiven("mulch_ring", among("found", seen, REFUSED_FOR))
    return Accepted(tuple(ask))
