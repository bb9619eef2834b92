"""The ring in section is drawn to scale, for a desk and for a phone."""

import re
from xml.etree import ElementTree

import pytest

from frontend.drawings.ring_section import RingWords, ring_section

WORDS = RingWords(
    title="The ring <from> the side",
    flare="flare & more",
    bark="nothing touches it",
    chips="chips, 3 in",
    turf="turf",
    soil="wet soil",
    ball="root ball",
    gap="bare gap 6 in",
    edge="edge 3 ft",
)
RING = {"outer_m": 0.9144, "inner_m": 0.1524, "depth_m": 0.0762, "trunk_m": 0.061}


def drawn(**changes):
    return ring_section(**RING | changes, words=WORDS)


def heap(svg):
    """Left and right end and height of the first heap of chips, in pixels."""
    path = re.search(r'class="d-mid" d="(M[^"]+)"', svg).group(1)
    numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*", path)]
    xs, ys = numbers[0::2], numbers[1::2]
    return min(xs), max(xs), max(ys) - min(ys)


@pytest.mark.parametrize("narrow", [False, True])
def test_it_is_sound_and_says_its_sentence(narrow):
    svg = ElementTree.fromstring(drawn(narrow=narrow))
    assert svg.get("role") == "img"
    assert svg.find("{http://www.w3.org/2000/svg}title").text == WORDS.title
    texts = [node.text for node in svg.iter("{http://www.w3.org/2000/svg}text")]
    assert (WORDS.edge in texts) is not narrow  # on a phone the page says it below


def test_width_and_depth_share_one_scale():
    left, right, deep = heap(drawn())
    scale = (right - left) / (RING["outer_m"] - RING["inner_m"])
    assert deep / scale == pytest.approx(RING["depth_m"], abs=0.012)
    _, _, deeper = heap(drawn(depth_m=2 * RING["depth_m"]))
    assert deeper == pytest.approx(2 * deep, rel=0.1)


@pytest.mark.parametrize("depth", [0.0, 0.5])
@pytest.mark.parametrize("outer", [0.16, 15.0])
def test_the_ends_of_what_may_be_typed_can_be_drawn(depth, outer):
    ElementTree.fromstring(drawn(depth_m=depth, outer_m=outer))
