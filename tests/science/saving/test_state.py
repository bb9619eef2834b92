"""The table of situations: what may be said of a tree, and above all what may not."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from survey.science.saving.facts import Facts, Seen
from survey.science.saving.state import judge
from tests.science.saving.towns import (
    BUCKEYE,
    DAY,
    JACARANDA,
    LINDEN,
    LINDEN_SOUTH,
    LIVE_OAK,
    PALO_VERDE,
    dead_visit,
    facts,
    seen,
)

# a machine that is busy is no failure
patient = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])

TWO = (dead_visit("2026-07-01", trained=False, photo=True), dead_visit("2026-08-10"))


def codes(state):
    return [line.code for line in state.lines]


def test_two_visits_four_weeks_apart_in_the_growing_season_are_dead():
    state = judge(facts(*TWO))
    assert state.name == "dead"
    assert (state.lines[0].day, state.lines[0].other) == (date(2026, 7, 1), date(2026, 8, 10))
    assert state.needs == ()
    assert state.look_by is None


@pytest.mark.parametrize(
    ("looks", "missing"),
    [
        # one visit only
        ([dead_visit("2026-08-10", photo=True)], "second_visit"),
        # 27 days apart
        ([dead_visit("2026-07-14", photo=True), dead_visit("2026-08-10")], "second_visit"),
        # the second visitor is not trained
        ([dead_visit("2026-07-01", photo=True), dead_visit("2026-08-10", trained=False)],
         "second_visit"),
        # the second visitor called it dead and scratched nothing
        ([dead_visit("2026-07-01", photo=True), dead_visit("2026-08-10", scratch="")],
         "second_visit"),
        # brown on a twig and nothing said of the whole tree
        ([dead_visit("2026-07-01", photo=True), dead_visit("2026-08-10", condition="")],
         "second_visit"),
        # nobody took a photo of twigs and base
        ([dead_visit("2026-07-01"), dead_visit("2026-08-10")], "photo"),
    ],
)  # fmt: skip
def test_whatever_the_rule_still_lacks_is_named(looks, missing):
    state = judge(facts(*looks))
    assert state.name == "cannot_tell"
    assert missing in [need.code for need in state.needs]


def test_exactly_four_weeks_are_enough_and_a_day_less_is_not():
    first = date(2026, 7, 1)
    for days, name in ((27, "cannot_tell"), (28, "dead")):
        second = (first + timedelta(days=days)).isoformat()
        looks = (dead_visit("2026-07-01", photo=True), dead_visit(second))
        assert judge(facts(*looks)).name == name


def test_the_second_visit_is_asked_of_a_trained_person_from_four_weeks_on():
    need = judge(facts(dead_visit("2026-08-20", photo=True))).needs[0]
    assert need.code == "second_visit"
    assert need.trained
    assert need.from_day == date(2026, 9, 17)


def test_a_second_visit_that_would_fall_into_sleep_waits_for_the_next_growing_season():
    state = judge(facts(dead_visit("2026-09-20", photo=True), day=date(2026, 9, 25)))
    assert state.needs[0].from_day == date(2027, 6, 12)


def test_parts_scratched_in_order_count_as_a_whole_check():
    brown = (("twig", "brown"), ("branch", "brown"), ("trunk", "brown"))
    looks = [
        dead_visit("2026-07-01", photo=True),
        dead_visit("2026-08-10", condition="", scratch="", scratched=brown),
    ]
    assert judge(facts(*looks)).name == "dead"
    looks[1] = dead_visit("2026-08-10", condition="", scratch="", scratched=brown[:2])
    assert judge(facts(*looks)).name == "cannot_tell"
    green = (("twig", "brown"), ("branch", "green"))
    looks[1] = dead_visit("2026-08-10", condition="", scratch="", scratched=green)
    assert judge(facts(*looks)).name == "alive"


def test_winter_looks_never_condemn():
    looks = [
        dead_visit("2025-12-01", photo=True),
        dead_visit("2026-01-10", photo=True),
        dead_visit("2026-03-20", photo=True),
    ]
    state = judge(facts(*looks, day=date(2026, 3, 21)))
    assert state.name == "cannot_tell"
    assert codes(state) == ["looked_while_bare"]
    assert state.needs[0].code == "look_in_leaf"
    assert state.needs[0].from_day == date(2026, 6, 12)
    # and they do not count as the first of the two visits later on
    assert judge(facts(*looks, dead_visit("2026-07-10"))).name == "cannot_tell"


def test_a_bare_linden_in_january_is_asleep():
    state = judge(facts(seen("2026-01-10", leaf="bare"), day=date(2026, 1, 10)))
    assert state.name == "asleep"
    assert state.waits_until == date(2026, 6, 12)
    assert codes(state) == ["bare_window", "winter_look_proves_nothing"]


def test_late_but_inside_six_weeks_is_asleep_still():
    calendar = type(LINDEN)(LINDEN.hemisphere, LINDEN.bare)  # no shoulder months
    state = judge(facts(seen("2026-05-20", leaf="bare"), day=date(2026, 5, 20), calendar=calendar))
    assert (state.name, codes(state)[0]) == ("asleep", "late_window")


def test_a_jacaranda_bare_in_april_is_no_dead_tree():
    state = judge(facts(seen("2026-04-10", leaf="bare"), day=date(2026, 4, 20), calendar=JACARANDA))
    assert state.name == "asleep"
    looks = (dead_visit("2026-03-01", photo=True), dead_visit("2026-04-10", photo=True))
    state = judge(facts(*looks, day=date(2026, 4, 20), calendar=JACARANDA))
    assert state.name == "cannot_tell"


def test_a_buckeye_bare_in_august_is_asleep():
    looks = (dead_visit("2026-07-10", photo=True), dead_visit("2026-08-20"))
    assert judge(facts(*looks, calendar=BUCKEYE)).name == "cannot_tell"
    state = judge(facts(seen("2026-08-20", leaf="bare"), calendar=BUCKEYE))
    assert state.name == "asleep"


def test_a_tree_that_drops_its_leaves_in_drought_waits_for_rain():
    bare = seen("2026-08-20", leaf="bare")
    state = judge(facts(bare, calendar=PALO_VERDE, dry_from=date(2026, 6, 1)))
    assert (state.name, state.waits_until) == ("asleep", None)
    assert codes(state) == ["drops_in_drought"]
    rained = judge(
        facts(bare, calendar=PALO_VERDE, dry_from=date(2026, 6, 1), dry_to=date(2026, 8, 25))
    )
    assert rained.waits_until == date(2026, 10, 6)
    looks = (dead_visit("2026-07-01", photo=True), dead_visit("2026-08-10"))
    assert judge(
        facts(*looks, calendar=PALO_VERDE, dry_from=date(2026, 6, 1))
    ).name == "cannot_tell"  # fmt: skip


def test_looks_that_came_too_early_ask_for_one_now_and_not_for_a_first_scratch():
    state = judge(facts(dead_visit("2026-06-05"), day=date(2026, 6, 16)))
    assert (state.name, codes(state)) == ("cannot_tell", ["looked_too_early"])
    assert [need.code for need in state.needs] == ["look_in_leaf"]
    assert state.needs[0].from_day == date(2026, 6, 16)


def test_peers_in_leaf_late_put_off_the_first_day_that_counts():
    late = type(LINDEN)(LINDEN.hemisphere, LINDEN.bare, LINDEN.shoulder, False, date(2026, 6, 1))
    assert LINDEN.is_growing(date(2026, 7, 1))
    assert not late.is_growing(date(2026, 7, 1))
    assert late.is_growing(date(2026, 7, 13))
    assert judge(facts(*TWO, calendar=late)).name == "cannot_tell"


def test_after_a_frost_spring_growth_is_waited_for():
    # late frost in May: what was seen in June is explained by it
    looks = (dead_visit("2026-06-15", photo=True), dead_visit("2026-07-14"))
    assert judge(facts(*looks)).name == "dead"
    frosty = judge(facts(*looks, frozen_on=date(2026, 5, 20)))
    assert frosty.name == "cannot_tell"
    # an evergreen browned by a winter frost
    looks = (dead_visit("2026-04-02", photo=True), dead_visit("2026-05-01"))
    state = judge(
        facts(*looks, day=date(2026, 5, 2), calendar=LIVE_OAK, frozen_on=date(2026, 1, 5))
    )
    assert state.name == "cannot_tell"
    assert "looked_after_frost_or_drought" in codes(state)
    assert state.waits_until == date(2026, 5, 13)


def test_an_evergreen_bare_in_summer_is_news():
    state = judge(facts(seen("2026-08-20", leaf="bare"), calendar=LIVE_OAK))
    assert state.name == "cannot_tell"
    assert state.needs[0].code == "scratch_twigs"
    assert judge(facts(*TWO, calendar=LIVE_OAK)).name == "dead"


def test_green_twigs_mean_alive_and_never_saved():
    state = judge(facts(seen("2026-09-01", leaf="bare", scratch="green")))
    assert state.name == "alive"
    assert codes(state)[:2] == ["scratch_green", "green_is_not_saved"]
    assert state.look_by is not None


def test_green_in_winter_means_alive_in_winter():
    state = judge(facts(seen("2026-01-10", leaf="bare", scratch="green"), day=date(2026, 1, 12)))
    assert state.name == "alive"
    assert state.look_by == date(2026, 7, 11)


def test_a_tree_in_trouble_is_looked_at_again_within_eight_weeks():
    leaf = seen("2026-07-16", leaf="full")
    assert judge(facts(leaf, in_trouble=True)).look_by == date(2026, 9, 10)
    late = judge(facts(seen("2026-06-16", leaf="full"), in_trouble=True))
    assert late.overdue
    assert late.look_by == date(2026, 9, 15)


def test_no_look_is_planned_into_the_bare_months():
    for month in range(6, 10):
        state = judge(facts(seen(f"2026-0{month}-20", leaf="full"), day=date(2026, 9, 28)))
        assert not LINDEN.is_asleep(state.look_by)


def test_alive_in_september_and_bare_in_january_is_asleep():
    looks = (seen("2026-09-10", leaf="full"), seen("2027-01-10", leaf="bare"))
    state = judge(facts(*looks, day=date(2027, 1, 12)))
    assert state.name == "asleep"
    assert "alive_before" in codes(state)


def test_top_dead_and_sprouting_is_a_state_of_its_own():
    state = judge(facts(seen("2026-08-01", presence="sprouting", leaf="partial")))
    assert state.name == "top_dead"
    assert codes(state) == ["sprouts_below", "roots_alive"]


def test_sprouting_seen_in_winter_does_not_call_the_top_dead():
    state = judge(facts(seen("2026-02-01", presence="sprouting"), day=date(2026, 2, 3)))
    assert state.name == "cannot_tell"
    assert "sprouts_seen_asleep" in codes(state)


def test_shoots_at_the_base_keep_a_tree_from_being_called_dead():
    shoots = seen("2026-08-15", leaf="bare", shoots=True)
    assert judge(facts(*TWO, shoots)).name != "dead"
    sprouting = seen("2026-08-20", presence="sprouting")
    assert judge(facts(*TWO, sprouting)).name == "top_dead"


def test_leaves_after_two_dead_visits_bring_it_back_and_are_told():
    state = judge(facts(*TWO, seen("2026-08-25", leaf="partial")))
    assert state.name == "alive"
    assert "dead_then_alive" in [line.code for line in state.contradictions]


def test_green_and_dead_in_one_look_is_alive_and_told():
    state = judge(facts(seen("2026-08-10", scratch="green", condition="dead", leaf="bare")))
    assert state.name == "alive"
    assert [line.code for line in state.contradictions] == ["green_and_dead"]


def test_looks_of_one_day_that_disagree_are_told():
    looks = (dead_visit("2026-08-10"), seen("2026-08-10", leaf="full"))
    state = judge(facts(*looks))
    assert state.name == "alive"
    assert "dead_and_alive_on_one_day" in [line.code for line in state.contradictions]


def test_belief_decides_nothing_and_is_told_where_it_says_otherwise():
    bare = seen("2026-01-10", leaf="bare")
    state = judge(facts(bare, day=date(2026, 1, 12), believed_dead=0.97))
    assert state.name == "asleep"
    assert [line.code for line in state.contradictions] == ["belief_says_dead"]
    state = judge(facts(*TWO, believed_dead=0.02))
    assert state.name == "dead"
    assert [line.code for line in state.contradictions] == ["belief_says_alive"]


def test_gone_trees_need_no_decision():
    assert judge(facts(seen("2026-08-10", presence="gone"))).name == "gone"
    assert judge(facts(seen("2026-08-10", leaf="full"), left=True)).name == "gone"
    back = judge(facts(seen("2026-07-10", presence="gone"), seen("2026-08-10", leaf="full")))
    assert back.name == "alive"
    assert "gone_then_there" in [line.code for line in back.contradictions]


def test_never_looked_at_is_not_known():
    state = judge(facts())
    assert state.name == "cannot_tell"
    assert state.needs[0].code == "first_look"
    assert judge(facts(seen("2026-08-01", presence="not_seen"))).needs[0].code == "first_look"


def test_a_look_after_the_day_is_refused():
    with pytest.raises(ValueError, match="after the day"):
        facts(seen("2026-09-02"))
    with pytest.raises(ValueError, match="between 0 and 1"):
        facts(believed_dead=1.2)


looks_of_any_kind = st.builds(
    Seen,
    day=st.dates(date(2024, 10, 1), DAY),
    presence=st.sampled_from(["standing", "standing", "standing", "sprouting", "not_seen", "gone"]),
    leaf=st.sampled_from(["", "full", "partial", "bare", "bare"]),
    scratch=st.sampled_from(["", "green", "brown", "brown"]),
    condition=st.sampled_from(["", "holding", "failing", "dead", "dead"]),
    trained=st.booleans(),
    photo=st.booleans(),
    shoots=st.booleans(),
)
calendars = st.sampled_from([LINDEN, LINDEN_SOUTH, JACARANDA, BUCKEYE, LIVE_OAK, PALO_VERDE])


@patient
@given(st.lists(looks_of_any_kind, max_size=6), calendars)
def test_looks_of_bare_months_alone_never_lead_to_dead(looks, calendar):
    asleep = [look for look in looks if calendar.is_asleep(look.day)]
    assert judge(Facts(DAY, calendar, tuple(asleep))).name != "dead"


@patient
@given(st.lists(looks_of_any_kind, max_size=6), calendars)
def test_dead_always_rests_on_two_visits_of_the_growing_season(looks, calendar):
    state = judge(Facts(DAY, calendar, tuple(looks)))
    if state.name != "dead":
        return
    visits = state.lines[0]
    assert visits.other - visits.day >= timedelta(weeks=4)
    assert calendar.is_growing(visits.day)
    assert calendar.is_growing(visits.other)
    assert any(look.trained and look.day == visits.other and look.scratch == "brown"
               for look in looks)  # fmt: skip
    for look in looks:
        if look.day >= visits.day:
            assert look.scratch != "green" or look.presence == "not_seen"
            assert not look.shoots or look.presence == "not_seen"


@patient
@given(st.lists(looks_of_any_kind, max_size=6), calendars, st.randoms(use_true_random=False))
def test_the_order_of_looks_does_not_matter(looks, calendar, dice):
    shuffled = list(looks)
    dice.shuffle(shuffled)
    assert judge(Facts(DAY, calendar, tuple(looks))) == judge(Facts(DAY, calendar, tuple(shuffled)))


@patient
@given(st.lists(looks_of_any_kind, max_size=6), calendars)
def test_every_state_says_why_and_every_open_one_what_is_needed_and_when(looks, calendar):
    state = judge(Facts(DAY, calendar, tuple(looks)))
    assert state.lines
    if state.name == "cannot_tell":
        assert state.needs
    if state.name in ("cannot_tell", "alive", "top_dead"):
        assert state.look_by >= DAY


def _moved(day):
    """The same day of the month half a year later."""
    month = day.month + 6
    return date(day.year + (month > 12), (month - 1) % 12 + 1, min(day.day, 28))


mid_month = st.builds(date, st.just(2025), st.integers(1, 12), st.integers(1, 28))


@patient
@given(
    st.lists(st.tuples(mid_month, looks_of_any_kind), max_size=5),
    st.builds(date, st.just(2026), st.integers(1, 8), st.integers(16, 22)),
)
def test_the_hemispheres_mirror(rows, day):
    # half a year is 181 to 184 days: whether a look is late may differ by three days, and only that
    late = {"look_overdue", "look_again"}
    looks = []
    for when, look in rows:
        looks.append(type(look)(when.replace(day=15), look.presence, look.leaf, look.scratch,
                                look.condition, look.trained, look.photo, look.shoots))  # fmt: skip
    south = [
        type(look)(_moved(look.day), look.presence, look.leaf, look.scratch, look.condition,
                   look.trained, look.photo, look.shoots)
        for look in looks
    ]  # fmt: skip
    one = judge(Facts(day, LINDEN, tuple(looks)))
    other = judge(Facts(_moved(day), LINDEN_SOUTH, tuple(south)))
    assert one.name == other.name
    for said in ("lines", "needs"):
        north_codes, south_codes = (
            [told.code for told in getattr(state, said) if told.code not in late]
            for state in (one, other)
        )
        assert north_codes == south_codes


def test_a_contradiction_is_over_after_a_year_or_by_a_later_trained_look():
    old = (
        dead_visit("2024-04-10"),
        seen("2024-06-10", leaf="full"),
        seen("2026-08-10", leaf="full"),
    )
    state = judge(facts(*old))
    assert [line.code for line in state.contradictions] == ["dead_then_alive"]
    assert state.settled == state.contradictions
    called = seen("2026-06-10", condition="dead", trained=False)
    untrained = seen("2026-07-10", leaf="full", trained=False)
    assert judge(facts(called, untrained)).settled == ()
    trained = judge(facts(called, seen("2026-07-10", leaf="full", trained=True)))
    assert trained.settled == trained.contradictions != ()


def test_an_old_contradiction_hides_no_new_one():
    looks = (
        dead_visit("2023-06-10"),
        seen("2023-07-10", leaf="full"),
        seen("2026-07-01", condition="dead", trained=False),
        seen("2026-08-01", leaf="full", trained=False),
    )
    state = judge(facts(*looks))
    open_still = [line for line in state.contradictions if line not in state.settled]
    assert [(line.day.year, line.other.year) for line in open_still] == [(2026, 2026)]


def test_who_saw_it_alive_is_kept_and_a_trained_look_goes_first():
    word = seen("2026-08-10", condition="holding", trained=False, neighbor=True)
    state = judge(facts(word))
    assert state.seen_by == "neighbor"
    assert state.lines[0].code == "neighbor_saw_alive"
    both = judge(facts(word, seen("2026-08-10", condition="holding", trained=True)))
    assert both.seen_by == "trained"
    crew = judge(facts(seen("2026-08-10", condition="holding", trained=False)))
    assert crew.seen_by == "somebody"
