"""Every combination of what a look can say, in every month: the whole table, not samples of it."""

from datetime import date
from itertools import product

from survey.science.saving.facts import Seen
from survey.science.saving.state import judge
from tests.science.saving.towns import BUCKEYE, JACARANDA, LINDEN, LIVE_OAK, dead_visit, facts

PRESENCES = ["standing", "sprouting", "stump", "gone", "not_seen"]
LEAVES = ["", "full", "partial", "bare"]
SCRATCHES = ["", "green", "brown"]
CONDITIONS = ["", "holding", "failing", "dead"]
MONTHS = range(1, 13)
CALENDARS = [LINDEN, JACARANDA, BUCKEYE, LIVE_OAK]


def every_look(year):
    said = product(PRESENCES, LEAVES, SCRATCHES, CONDITIONS, [False, True], [False, True], MONTHS)
    for presence, leaf, scratch, condition, trained, shoots, month in said:
        yield Seen(
            day=date(year, month, 20), presence=presence, leaf=leaf, scratch=scratch,
            condition=condition, trained=trained, shoots=shoots, photo=True,
        )  # fmt: skip


def test_no_single_look_of_any_kind_in_any_month_condemns():
    states = set()
    for look, calendar in product(every_look(2026), CALENDARS):
        day = date(2026, look.day.month, 25)
        states.add(judge(facts(look, day=day, calendar=calendar)).name)
    assert states == {"gone", "asleep", "cannot_tell", "alive", "top_dead"}


def test_a_second_look_confirms_only_as_the_rule_says():
    first = dead_visit("2026-07-01", photo=True)
    for second in every_look(2026):
        if second.day <= first.day:
            continue
        state = judge(facts(first, second, day=date(2026, 12, 31)))
        confirms = (
            second.presence == "standing"
            and second.leaf in ("", "bare")
            and second.scratch == "brown"
            and second.condition == "dead"
            and second.trained
            and not second.shoots
            and second.day.month in (8, 9)  # a linden's growing months, four weeks after the first
        )
        assert (state.name == "dead") == confirms, second


def test_any_sign_of_life_after_two_visits_takes_dead_back():
    visits = [dead_visit("2026-06-20", photo=True), dead_visit("2026-07-25")]
    for later in every_look(2026):
        if later.day <= visits[1].day or later.presence not in ("standing", "sprouting"):
            continue
        state = judge(facts(*visits, later, day=date(2026, 12, 31)))
        life = (
            later.scratch == "green"
            or later.shoots
            or later.presence == "sprouting"
            or later.leaf in ("full", "partial")
            or (
                later.condition in ("holding", "failing")
                and (later.trained or later.day.month in (8, 9))
            )
        )
        assert (state.name == "dead") != life, later
