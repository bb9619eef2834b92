"""Save, watch or replace: reasons, years, planting windows, and what each rests on."""

from datetime import date
from typing import get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from survey.handbook.book import book
from survey.handbook.records import Mark
from survey.science.saving.facts import Facts, State
from survey.science.saving.grounds import GROUNDS, Ground
from survey.science.saving.keep import Place, choose, next_planting, years_lost
from survey.science.saving.state import judge
from survey.science.wounds.face import Wound
from survey.science.wounds.girdled import Girdled, girdled
from survey.science.wounds.outlook import WORSE, outlook_of
from tests.science.saving.test_state import calendars, looks_of_any_kind
from tests.science.saving.towns import DAY

# a machine that is busy is no failure
patient = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])

ALIVE = State("alive", ())
FALL = frozenset({10, 11, 12, 1, 2, 3})


def place(**more):
    usual = {
        "day": DAY,
        "planted_from": date(2024, 3, 1),
        "planted_to": date(2024, 3, 31),
        "planting_months": FALL,
    }
    return Place(**{**usual, **more})


def bark(hours, worse=()):
    return outlook_of(girdled([Wound(from_hour=0, to_hour=hours)]), worse)


def codes(choice):
    return [line.code for line in choice.reasons]


@pytest.mark.parametrize(
    ("state", "more", "verdict", "because"),
    [
        ("dead", {}, "replace", "dead_is_replaced"),
        ("gone", {}, "nothing_to_do", "no_tree_here"),
        ("asleep", {}, "watch", "wait_before_choosing"),
        ("cannot_tell", {}, "watch", "wait_before_choosing"),
        ("top_dead", {"grafted": True}, "replace", "shoots_are_rootstock"),
        ("top_dead", {"grafted": False}, "save", "keep_low_shoots"),
        ("top_dead", {}, "watch", "graft_not_known"),
        ("alive", {}, "nothing_to_do", "nothing_against_it"),
        ("alive", {"condition": "slipping"}, "save", "crown_slipping"),
        ("alive", {"condition": "failing"}, "watch", "crown_failing"),
        ("alive", {"bark": bark(2)}, "save", "bark_under_quarter"),
        ("alive", {"bark": bark(4)}, "save", "bark_quarter_to_half"),
        ("alive", {"bark": bark(4, ["new_tree"])}, "watch", "one_band_worse"),
        ("alive", {"bark": bark(7), "flush_on": date(2027, 5, 13)}, "watch", "decide_after_flush"),
        ("alive", {"bark": bark(7)}, "watch", "flush_is_over"),
        ("alive", {"bark": bark(7), "condition": "failing"}, "replace", "crown_failing"),
        ("alive", {"bark": bark(12)}, "replace", "bark_all_round"),
        ("alive", {"bark": bark(12)}, "replace", "too_young_to_graft"),
        ("alive", {"bark": bark(12), "planted_from": date(2010, 3, 1), "trunk_across_m": 0.2},
         "replace", "bridge_graft"),
        ("alive", {"bark": outlook_of(Girdled(0.25, 0.5, "lay", 1))}, "watch", "share_not_sure"),
        ("alive", {"bark": outlook_of(Girdled(0.5, 1, "lay", 1))}, "watch", "share_not_sure"),
    ],
)  # fmt: skip
def test_what_follows_from_what(state, more, verdict, because):
    choice = choose(State(state, ()), place(**more))
    assert choice.verdict == verdict
    assert because in codes(choice)


def test_a_cause_that_goes_on_is_stopped_first_and_before_a_new_tree():
    assert "stop_cause_first" in codes(choose(ALIVE, place(bark=bark(2), cause_goes_on=True)))
    assert "cause_not_known" in codes(choose(ALIVE, place(bark=bark(2))))
    dead = choose(State("dead", ()), place(cause_goes_on=True))
    assert "cause_before_new_tree" in codes(dead)


def test_green_leaves_on_a_girdled_trunk_are_spoken_of():
    assert "green_with_girdle" in codes(choose(ALIVE, place(bark=bark(12))))
    assert "green_with_girdle" not in codes(choose(ALIVE, place(bark=bark(2))))


def test_replacing_loses_the_years_it_stood_and_those_to_establish_again():
    # two and a half years, and half a year to two years for two inches across
    low, high = years_lost(date(2024, 3, 1), date(2024, 3, 1), date(2026, 9, 1))
    assert low == pytest.approx(2.5 + 0.5, abs=0.01)
    assert high == pytest.approx(2.5 + 2.0, abs=0.01)
    with pytest.raises(ValueError, match="in order"):
        years_lost(date(2027, 1, 1), date(2027, 1, 1), date(2026, 9, 1))


def test_the_next_planting_window():
    assert next_planting(date(2026, 9, 1), FALL) == date(2026, 10, 1)
    assert next_planting(date(2026, 11, 9), FALL) == date(2026, 11, 9)
    assert next_planting(date(2026, 12, 9), frozenset({4})) == date(2027, 4, 1)
    assert next_planting(date(2026, 12, 9), frozenset()) is None


def test_every_ground_is_in_the_handbook_or_marked():
    for code, ground in GROUNDS.items():
        assert all(source in book().sources for source in ground.sources), code
        assert ground.mark is None or ground.mark in get_args(Mark)
    with pytest.raises(ValueError, match="names a source"):
        Ground()


places = st.builds(
    place,
    bark=st.one_of(
        st.none(),
        st.builds(
            lambda low, more, worse: outlook_of(Girdled(low, min(1, low + more), "lay", 1), worse),
            st.sampled_from([0.1, 0.25, 0.5, 1]),
            st.sampled_from([0, 0.25, 0.5]),
            st.sets(st.sampled_from(WORSE)),
        ),
    ),
    condition=st.sampled_from(["", "thriving", "slipping", "failing", "dead"]),
    cause_goes_on=st.sampled_from([None, True, False]),
    grafted=st.sampled_from([None, True, False]),
    trunk_across_m=st.sampled_from([None, 0.03, 0.2]),
)


@patient
@given(st.lists(looks_of_any_kind, max_size=5), calendars, places, st.sampled_from([None, 0.5, 1]))
def test_every_line_that_can_be_said_names_its_ground(looks, calendar, where, believed):
    state = judge(Facts(DAY, calendar, tuple(looks), believed_dead=believed))
    choice = choose(state, where)
    for line in [*state.lines, *state.contradictions, *choice.reasons]:
        assert line.code in GROUNDS
    for need in [*state.needs, *choice.needs]:
        assert need.code in GROUNDS


@patient
@given(st.lists(looks_of_any_kind, max_size=5), calendars, places)
def test_what_sleeps_or_is_not_known_is_never_replaced(looks, calendar, where):
    state = judge(Facts(DAY, calendar, tuple(looks)))
    if state.name in ("asleep", "cannot_tell"):
        assert choose(state, where).verdict == "watch"
