"""What a belief and its reasons are called: a table of cases, and rules for any figure."""

import re
from datetime import date

import pytest
from django.utils import translation
from hypothesis import given
from hypothesis import strategies as st

from survey.condition.models import STATES
from survey.condition.telling import (
    Between,
    Seen,
    between_sentences,
    dead_then_alive_sentence,
    decision_sentences,
    gone_then_there_sentence,
    lighter_sentence,
    look_sentences,
    look_title,
    removal_sentences,
    start_sentence,
)
from survey.condition.wording import (
    died_said,
    hundred_said,
    opening_said,
    points_said,
    range_said,
    share_said,
    share_sentence,
    strength_of,
)

NOW = date(2026, 6, 1)
FEBRUARY, MAY, JULY = date(2026, 2, 1), date(2026, 5, 1), date(2025, 7, 1)


def shares(**given):
    return {state: given.get(state, 0.0) for state in STATES}


LOOKS = [  # what was seen, its points, those of somebody having written, the words
    (
        Seen(2, "resident", FEBRUARY, "dead", bare=True, species="Linden"),
        4.2,
        0,
        (
            "Two neighbors said in February that it looked dead. Linden trees are bare in February,"
            " so this says little (+4 points)."
        ),
    ),
    (
        Seen(1, "volunteer", MAY, "dead", scratch="brown"),
        18.3,
        0,
        (
            "A trained volunteer found it dead in May. A scratch test was brown under the bark."
            " This says much for “dead” (+18 points)."
        ),
    ),
    (
        Seen(1, "resident", JULY, "dead", complaint=True),
        16.4,
        7.1,
        (
            "A neighbor said in July 2025 that it looked dead. This says something for “dead” (+9"
            " points). That somebody wrote at all counts too: people write more about trees in"
            " trouble (+7 points)."
        ),
    ),
    (
        Seen(1, "resident", JULY, "dead"),
        0.4,
        0,
        "A neighbor said in July 2025 that it looked dead. This says nearly nothing (0 points).",
    ),
    (
        Seen(1, "staff", JULY, "thriving", leaf="full"),
        -15.8,
        0,
        (
            "Somebody from staff found it thriving in July 2025. It was in full leaf. This says"
            " much for “alive” (−16 points)."
        ),
    ),
    (
        Seen(1, "volunteer", date(2026, 4, 1), "dead", may_be_bare=True, species="Hornbeam"),
        10.4,
        0,
        (
            "A trained volunteer found it dead in April. Hornbeam trees may be bare in April, and"
            " still this says much for “dead” (+10 points)."
        ),
    ),
    (
        Seen(1, "volunteer", FEBRUARY, "holding", bare=True, leaf="bare", species="Linden"),
        -11.0,
        0,
        (
            "A trained volunteer found it holding in February. It was bare. This says much for"
            " “alive” (−11 points)."
        ),
    ),
    (
        Seen(1, "resident", FEBRUARY, "dead", bare=True, species="Camphor tree"),
        2.4,
        0,
        (
            "A neighbor said in February that it looked dead. This kind of tree is bare in"
            " February, so this says little (+2 points)."
        ),
    ),
    (
        Seen(12, "resident", JULY, "stump"),
        31.0,
        0,
        "12 neighbors saw only a stump in July 2025. This nearly settles it: “gone” (+31 points).",
    ),
    (
        Seen(1, "volunteer", JULY, "sprouting", signs=3),
        1.0,
        0,
        (
            "A trained volunteer found the top dead in July 2025, but it sprouted from below. Three"
            " signs of trouble were noted. This says nearly nothing (+1 point)."
        ),
    ),
    (
        Seen(1, "resident", JULY, "", complaint=True, signs=1),
        5.0,
        5.0,
        (
            "A neighbor was worried about it in July 2025. A sign of trouble was noted. This says"
            " nearly nothing (0 points). That somebody wrote at all counts too: people write more"
            " about trees in trouble (+5 points)."
        ),
    ),
]


@pytest.mark.parametrize(("seen", "points", "worry", "words"), LOOKS)
def test_a_look_is_told_with_what_it_says(seen, points, worry, words):
    assert look_sentences(seen, points, worry, "lost", NOW) == words


def test_a_brown_scratch_is_not_excused_by_bare_months():
    seen = Seen(1, "volunteer", FEBRUARY, "dead", scratch="brown", bare=True, species="Linden")
    said = look_sentences(seen, 21.4, 0, "lost", NOW)
    assert said.endswith("This nearly settles it: “dead” (+21 points).")
    assert "bare" not in said


@pytest.mark.parametrize(
    ("seen", "title"),
    [
        (Seen(1, "resident", JULY, "slipping"), "Neighbor: “slipping”"),
        (Seen(3, "volunteer", JULY, "dead", bare=True), "3 volunteers, in a bare month: “dead”"),
        (
            Seen(1, "staff", MAY, "dead", may_be_bare=True),
            "Staff, in a month it may be bare: “dead”",
        ),
        (Seen(2, "resident", FEBRUARY, "gone", bare=True), "2 neighbors: no tree there"),
        (Seen(1, "resident", FEBRUARY, "holding", bare=True), "Neighbor: “holding”"),
        (Seen(1, "resident", JULY, "", complaint=True), "Neighbor: worried about it"),
    ],
)
def test_beside_a_bar_stand_a_few_words(seen, title):
    assert look_title(seen) == title


OPENINGS = [
    (
        shares(holding=0.22, slipping=0.49, failing=0.17, thriving=0.06, dead=0.06),
        "Perhaps slipping, could be holding or failing",
    ),
    (
        shares(slipping=0.56, holding=0.22, failing=0.22),
        "Probably slipping, could be holding or failing",
    ),
    (shares(dead=0.9, gone=0.07, failing=0.03), "Almost surely dead"),
    (shares(dead=0.02, gone=0.96, holding=0.02), "Almost surely gone"),
    (shares(dead=0.5, gone=0.2, failing=0.3), "Probably dead, could be failing"),
    (shares(thriving=0.89, holding=0.05, slipping=0.06), "Probably thriving"),
    (
        shares(thriving=0.3, holding=0.3, slipping=0.2, failing=0.2),
        "Perhaps thriving, could be holding or slipping",
    ),
]


@pytest.mark.parametrize(("believed", "words"), OPENINGS)
def test_the_opening_says_the_likeliest_and_what_else_it_could_be(believed, words):
    assert opening_said(believed) == words


@pytest.mark.parametrize(
    ("share", "low", "high", "words"),
    [
        (
            0.7,
            0.54,
            0.82,
            "about 7 in 10 trees like this are slipping or worse (somewhere between 5 and 9 in 10)",
        ),
        (
            0.97,
            0.94,
            0.985,
            "97 in 100 trees like this are slipping or worse (somewhere between 94 and 99 in 100)",
        ),
        (0.999, 0.998, 0.9995, "more than 99 in 100 trees like this are slipping or worse"),
        (0.003, 0.0015, 0.006, "fewer than 1 in 100 trees like this are slipping or worse"),
        (
            0.03,
            0.015,
            0.06,
            "3 in 100 trees like this are slipping or worse (somewhere between 1 and 6 in 100)",
        ),
        (0.98, 0.96, 0.991, "98 in 100 trees like this are slipping or worse (at least 96 in 100)"),
        (
            0.5,
            0.0,
            1.0,
            "about 5 in 10 trees like this are slipping or worse (it could be any number)",
        ),
    ],
)
def test_a_share_is_told_in_trees_with_its_range(share, low, high, words):
    assert share_sentence("worse", share, low, high) == words


DEATHS = [  # first, likeliest and last month, whether sure and gone, the words
    (
        [(2025, 4), (2025, 6), (2025, 8)],
        (True, False),
        "It died between April and August 2025, most likely about June.",
    ),
    (
        [(2024, 11), (2025, 2), (2025, 8)],
        (True, True),
        "It was lost between November 2024 and August 2025, most likely about February.",
    ),
    (
        [(2024, 9), (2024, 12), (2025, 8)],
        (False, False),
        "If so, it died between September 2024 and August 2025, most likely about December 2024.",
    ),
    ([(2025, 5)] * 3, (True, False), "It died in May 2025."),
    ([(2025, 5)] * 3, (False, True), "If so, it was lost in May 2025."),
    (
        [(2024, 3)] * 3,
        (True, False),
        "It was so already when it came on the list in March 2024.",
    ),
]


@pytest.mark.parametrize(("months", "how", "words"), DEATHS)
def test_a_death_is_dated_as_far_as_it_is_known(months, how, words):
    days = [date(*month, 1) for month in months]
    sure, gone = how
    assert died_said(*days, sure=sure, gone=gone, listed=date(2024, 3, 1)) == words


def test_silence_is_told_as_news():
    between = Between(date(2025, 9, 1), date(2026, 6, 1), 9, 9, time=4.6, silence=-5.2, removals=0)
    assert between_sentences(between, -0.6, 0.11) == (
        "Nobody looked between September 2025 and June 2026. Some trees get worse with time. Nobody"
        " complained in 9 months, and people write more about trees in trouble. That makes it 11 in"
        " 100 (−1 point)."
    )


def test_other_steps_have_their_own_sentences():
    assert removal_sentences(JULY, 40, "lost", NOW) == (
        "In July 2025 somebody wrote down that the tree was taken away. This nearly settles it:"
        " “gone” (+40 points)."
    )
    assert decision_sentences("dead", MAY, 33, "lost", NOW) == (
        "Trained staff decided in May that it is dead, and wrote down why. This nearly settles it:"
        " “dead” (+33 points)."
    )
    assert start_sentence(date(2024, 3, 1), 0.01, "lost", planted=True) == (
        "It was planted and put on the list in March 2024. Of such trees, 1 in 100 are dead or"
        " gone."
    )
    assert gone_then_there_sentence(date(2025, 3, 1), MAY, stump=True) == (
        "A stump was seen in March 2025 and a standing tree in May 2026. One of the two was about"
        " another tree."
    )
    assert "one of the two was wrong, or about another tree" in dead_then_alive_sentence(JULY, MAY)
    assert lighter_sentence(1) == "This observer's looks count less here."


@given(points=st.floats(-400, 400))
def test_the_figure_in_words_is_the_figure_rounded(points):
    said = points_said(points)
    number = re.fullmatch(r"([+−]?)(\d+) points?", said)
    signed = int(number[2]) * (-1 if number[1] == "−" else 1)
    assert abs(signed - points) <= 0.5
    assert (number[1] == "") == (signed == 0)
    assert said.endswith("point") == (abs(signed) == 1)


@given(points=st.floats(-400, 400))
def test_a_pull_and_its_opposite_are_as_strong(points):
    assert strength_of(points) == strength_of(-points)


@given(one=st.floats(0, 100), more=st.floats(0, 100))
def test_more_points_never_say_less(one, more):
    order = ["nothing", "little", "some", "much", "settles"]
    assert order.index(strength_of(one)) <= order.index(strength_of(one + more))


probabilities = st.floats(0, 1)


@given(share=probabilities)
def test_nothing_is_ever_certain_in_words(share):
    for said in (share_said(share), hundred_said(share)):
        assert "%" not in said
        assert not re.search(r"\b100 in 100|\b0 in 100|\b10 in 10\b|\b0 in 10\b", said)
        n, of = map(int, re.search(r"(\d+) in (\d+)", said).groups())
        if "than" in said:
            assert share < 0.005 if said.startswith("fewer") else share > 0.99
            continue
        assert abs(n / of - share) <= (0.05 if of == 10 else 0.0051) + 1e-9


@given(ends=st.lists(probabilities, min_size=3, max_size=3).map(sorted))
def test_a_range_in_words_holds_the_range_in_figures(ends):
    low, share, high = ends
    said = range_said(share, low, high)
    numbers = [int(n) for n in re.findall(r"\d+", said)]
    if "between" in said:
        first, last, of = numbers
        assert first / of <= low + 1e-9
        assert last / of >= high - 1e-9
        assert 0 < first < last < of
    elif said.startswith("at least"):
        assert numbers[0] / numbers[1] <= low + 1e-9
    elif said.startswith("at most"):
        assert numbers[0] / numbers[1] >= high - 1e-9


@given(
    believed=st.lists(st.floats(0.001, 1), min_size=6, max_size=6),
)
def test_every_belief_has_an_opening(believed):
    whole = sum(believed)
    told = {state: share / whole for state, share in zip(STATES, believed, strict=True)}
    said = opening_said(told)
    assert re.fullmatch(
        r"(Almost surely|Probably|Perhaps) [a-z]+(, could be [a-z]+( or [a-z]+)?)?", said
    )
    assert not ("dead" in said and "gone" in said)


KINDS = st.builds(
    Seen,
    many=st.integers(1, 12),
    kind=st.sampled_from(["resident", "volunteer", "staff"]),
    month=st.dates(date(2020, 1, 1), date(2026, 6, 1)),
    what=st.sampled_from(["", "stump", "sprouting", *STATES]),
    scratch=st.sampled_from(["", "green", "brown"]),
    leaf=st.sampled_from(["", "full", "partial", "bare"]),
    signs=st.integers(0, 12),
    complaint=st.booleans(),
    bare=st.booleans(),
    may_be_bare=st.booleans(),
    species=st.sampled_from(["", "Linden", "Silk tree"]),
)


@given(
    seen=KINDS,
    points=st.floats(-60, 60),
    worry=st.floats(-20, 20),
    claim=st.sampled_from(["lost", "worse"]),
    language=st.sampled_from(["en", "es"]),
)
def test_any_look_at_all_is_told_in_whole_sentences(seen, points, worry, claim, language):
    with translation.override(language):
        said = look_sentences(seen, points, worry, claim, NOW)
        assert look_title(seen)
    assert said.endswith(".")
    assert "%(" not in said
    assert "  " not in said
