"""Sides of the trunk: words, compass and the tree's street, and which of them the sun finds.

The sunny sides are those that the load of the sun gives for the latitude. This is the only place
where causes meet the sun.
"""

import re
from collections.abc import Iterable

from survey.causes.words import folded
from survey.science.sun.heat import faces_the_sun

POINTS = "n nne ne ene e ese se sse s ssw sw wsw w wnw nw nnw"
BEARINGS = {name: step * 22.5 for step, name in enumerate(POINTS.split())}
"""Degrees from north of the sixteen points of the compass."""
EVENING = range(247, 294)
"""Bearings of the evening sun: due west, half a step of the compass to either side."""

TOWARD_POLE = 45.0
"""Degrees from the nearer pole within which a side never has the sun when it is strong."""

TROPIC = 23.5
"""Degrees from the equator within which each side has the noon sun for a part of the year."""

COMPASS = re.compile(
    r"\b(north|south|east|west|northeast|northwest|southeast|southwest|north-?\s?east|north-?\s?west"
    r"|south-?\s?east|south-?\s?west)(?:ern|ward)?[\s-]+(?:side|facing|face|half)\b"
    r"|\b(?:facing|faces)\s+(?:the\s+)?(north|south|east|west)\b"
    r"|\b(?:lado|cara|costado|hacia\s+el|mira\s+al)\s+(norte|sur|este|oeste|noreste|noroeste|sureste"
    r"|suroeste|poniente|oriente)\b"
)
COMPASS_WORDS = {
    "norte": "n", "sur": "s", "este": "e", "oeste": "w", "poniente": "w", "oriente": "e",
    "noreste": "ne", "noroeste": "nw", "sureste": "se", "suroeste": "sw",
}  # fmt: skip


def bearing_of(side: str, street_bearing: float | None) -> float | None:
    """Degrees from north of a side; None where the words do not tell.

    A compass word tells by itself. The street side is known if the tree's street is, and a
    building is taken to stand across from the street.
    """
    word = folded(side).replace("-", "").replace(" ", "")
    word = COMPASS_WORDS.get(word, word)
    for long, short in (("north", "n"), ("south", "s"), ("east", "e"), ("west", "w")):
        word = word.replace(long, short)
    if word in BEARINGS:
        return BEARINGS[word]
    if street_bearing is None or side not in ("street", "building"):
        return None
    return (street_bearing + (180.0 if side == "building" else 0.0)) % 360.0


def sides_facing(bearing: float, latitude: float | None) -> Iterable[tuple[str, bool]]:
    """The clues that a side of this bearing makes known at this latitude.

    East is neither sunny nor shaded; the shaded side is the one toward the nearer pole.
    """
    yield "west_side", round(bearing) % 360 in EVENING
    if latitude is None:
        return
    sunny = faces_the_sun(bearing, latitude)
    yield "sunny_side", sunny
    from_pole = abs((bearing - (0.0 if latitude > 0 else 180.0) + 180.0) % 360.0 - 180.0)
    yield "shaded_side", not sunny and from_pole <= TOWARD_POLE and abs(latitude) > TROPIC


def compass_in(words: str, latitude: float | None) -> Iterable[tuple[str, bool]]:
    """The side that the words name by the compass, if they name just one."""
    found = {
        bearing
        for match in COMPASS.finditer(folded(words))
        for name in match.groups()
        if name and (bearing := bearing_of(name, None)) is not None
    }
    if len(found) == 1:
        yield from sides_facing(found.pop(), latitude)
