"""Facts of a tree, of the ground or of the sky that close a kind of care until they change.

`Care.closed_by` names them. What the record knows is refused in time, with what opens it again;
what nobody has written down is left to the people on the spot, who read `closed_when`. Limits of
the weather are own rules of this project, where the cautions do not name them.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from survey.handbook.book import book
from survey.handbook.records import Care
from survey.trees.models import Tree
from survey.workorders.facts import Facts, Known, Sky, known_of
from survey.workorders.models import OrderLine, WorkOrder
from survey.workorders.problem import Problem, tags_of
from survey.workorders.products import sold_against_pests

LICENSED = {WorkOrder.Who.ARBORIST, WorkOrder.Who.UTILITY}
"""Local code and licensed people win: what closes work for others is only said to them."""

HAND_HEIGHT_M = 2.0
HOT_C = 32.2  # 90 °F, where the caution about heat stops work
TOO_HOT_FOR_A_COAT_C = 35.0  # 95 °F
SODDEN_M = 0.025
WET_BARK_M = 0.001
FEED_AFTER_MONTHS = 24
FOR_THE_DEAD = {
    "arborist_visit", "remove_dead_tree", "find_cause", "replace", "look_again", "soil_sample",
    "keep_clear_notice", "winter_unwrap", "remove_ties",
}  # fmt: skip
"""Care that a dead tree may still get: it finds out, takes away, or keeps people off."""
DOES_NOT_SAVE = {"whitewash"}
TOLD_ALONE = {"believed_dead", "found_failing"}
"""What is said of a tree and stops nobody: no trained look has found it dead."""
UNBENDING = {"above_hand_height", "label_not_read", "pesticide"}
"""What no reason on an order overrules."""


@dataclass(frozen=True, slots=True)
class _Case:
    """One line with all that may close it."""

    line: OrderLine
    care: Care
    facts: Facts
    sky: Sky
    day: date
    waters: bool

    @property
    def today_counts(self) -> bool:
        """Whether the weather on record is that of the day itself."""
        return self.sky.covers(self.day)


def _grafted(case: _Case) -> bool:
    """Whether it is grafted, or of a kind that often is and nobody has looked."""
    said = case.line.inputs.get("grafted")
    if said:
        return said == "yes"
    return bool(case.facts.species and case.facts.species.often_grafted)


def _half_round(case: _Case) -> bool:
    # Where nobody knows of a graft the shoots stay: what is cut cannot be put back.
    known_graft = case.line.inputs.get("grafted") == "yes"
    return case.facts.has_lost_half and not (case.care.code == "remove_suckers" and known_graft)


def _green_bark(case: _Case) -> bool:
    species = case.facts.species
    return species is not None and species.bark in ("green_photosynthetic", "peeling")


def _reaches_up(case: _Case) -> bool:
    top = case.line.inputs.get("to_m")
    return isinstance(top, int | float) and top > HAND_HEIGHT_M


def _not_dead_twice(case: _Case) -> bool:
    if case.care.code != "remove_dead_tree":
        return case.facts.is_bare(case.day)
    return not case.facts.tree.left and not case.facts.found_dead_twice


def _frozen(case: _Case) -> bool:
    mean = case.sky.mean_three_days_c
    if case.care.code == "whitewash":
        return case.today_counts and case.sky.low_c is not None and case.sky.low_c <= 0
    return case.today_counts and mean is not None and mean <= 0


def _hot(case: _Case) -> bool:
    limit = TOO_HOT_FOR_A_COAT_C if case.care.code == "whitewash" else HOT_C
    return case.today_counts and case.sky.high_c is not None and case.sky.high_c >= limit


def _sodden(case: _Case) -> bool:
    rain = case.sky.rain_two_days_m
    return case.facts.ball == "wet" or (case.today_counts and rain is not None and rain >= SODDEN_M)


def _wet_bark(case: _Case) -> bool:
    rain = case.sky.rain_that_day_m
    return case.today_counts and rain is not None and rain >= WET_BARK_M


JUDGED: dict[str, Callable[[_Case], bool]] = {
    "above_hand_height": _reaches_up,
    "ball_dry": lambda case: case.facts.ball == "dry" and not case.waters,
    "ball_rocks": lambda case: "loose_ball" in case.facts.signs,
    "ball_wet": lambda case: case.facts.ball == "wet",
    "bark_tight": lambda case: case.facts.clues.get("bark_slips") is False,
    "bark_wet": _wet_bark,
    "frozen": _frozen,
    "graft_union": _grafted,
    "green_bark": _green_bark,
    "half_round": _half_round,
    "heat": _hot,
    "label_not_read": lambda case: not case.line.inputs.get("label_read"),
    "leaf_off": _not_dead_twice,
    "newly_planted": lambda case: case.facts.age_months(case.day) < FEED_AFTER_MONTHS,
    "no_soil_test": lambda case: not case.line.inputs.get("soil_test"),
    "root_rot": lambda case: case.facts.may_rot,
    "thirsty": lambda case: case.facts.is_thirsty,
    "tie_grown_in": lambda case: "tie_cuts_in" in case.facts.signs,
    "wet_soil": _sodden,
}


def _said(code: str, care: Care) -> tuple[str, str]:
    """Why it is closed and what opens it again; `%(care)s` and `%(tags)s` stand for themselves."""
    if code == "leaf_off" and care.code != "remove_dead_tree":
        return (
            _("“%(care)s” at %(tags)s: its kind is bare then, so dead and asleep look alike."),
            _("Mark what is dead while it is in leaf, and cut only that."),
        )
    if code == "half_round" and care.code == "trim_loose_bark":
        return (
            _("Half of the bark or more may be gone at %(tags)s: an arborist decides."),
            _("Order an arborist’s visit, or make this an order for an arborist."),
        )
    return {
        "above_hand_height": (
            _("“%(care)s” at %(tags)s reaches above hand height."),
            _("Up to 6.5 ft (2 m) with both feet on the ground. Higher: an arborist."),
        ),
        "ball_dry": (
            _("“%(care)s” waits at %(tags)s: the root ball was found dry."),
            _("Soak first: put water on this order, or plan it after the ball is wet."),
        ),
        "ball_rocks": (
            _("The root ball of %(tags)s rocks: no tie comes off or gets tighter yet."),
            _("Set the tree upright first."),
        ),
        "ball_wet": (
            _("“%(care)s” waits at %(tags)s: the root ball was found wet."),
            _("Probe again. Crumbly 6 in down opens it; sticky does not."),
        ),
        "bark_tight": (
            _("“%(care)s” waits at %(tags)s: the bark does not slip."),
            _("A day in spring on which the bark slips, in an arborist’s hands."),
        ),
        "bark_wet": (_("The bark is wet: it rained."), _("A dry day.")),
        "frozen": (
            _("“%(care)s” waits: it freezes, or the ground is frozen."),
            _("Three days whose mean is above freezing; for a coat, a day without frost."),
        ),
        "graft_union": (
            _("%(tags)s may be grafted: its low shoots are another kind of tree."),
            _("Somebody trained finds no graft at the base and says so on the doses."),
        ),
        "green_bark": (
            _("“%(care)s” at %(tags)s: its bark feeds the tree or peels."),
            _("Somebody trained says why it is needed, such as burnt bark."),
        ),
        "half_round": (
            _("Half of the bark or more may be gone at %(tags)s: one to three low shoots stay."),
            _("Order “Keep low shoots” instead, and decide at the next leaf-on."),
        ),
        "heat": (_("“%(care)s” waits: it is too hot."), _("A cooler day, or the early morning.")),
        "label_not_read": (
            _("“%(care)s”: nobody has said that the product’s label was read."),
            _("Read the label on the order’s doses and say so."),
        ),
        "leaf_off": (
            _("%(tags)s was not found dead on two visits yet."),
            _("Two trained looks four weeks apart, one of them while its kind is in leaf."),
        ),
        "newly_planted": (
            _("“%(care)s” is not given at %(tags)s: in the ground under two years."),
            _("Two years after planting, and a soil test that asks for it."),
        ),
        "no_soil_test": (
            _("“%(care)s” is not given at %(tags)s: no soil test is on the order."),
            _("Order a soil sample; write its day and answer on the doses."),
        ),
        "root_rot": (
            _("“%(care)s” waits at %(tags)s: oozing bark or brackets may mean rot."),
            _("An arborist or a laboratory says that it is not rot."),
        ),
        "thirsty": (
            _("“%(care)s” is not given at %(tags)s: the tree is thirsty."),
            _("It has drunk, and its new leaves stand up by the morning."),
        ),
        "tie_grown_in": (
            _("A tie is grown into %(tags)s: nobody pulls at it."),
            _("An arborist frees it. The loose ends may be cut."),
        ),
        "wet_soil": (
            _("“%(care)s” waits at %(tags)s: the soil is sodden."),
            _("Soil that crumbles in the hand."),
        ),
    }[code]


def _dead(case: _Case) -> bool:
    return case.care.code not in FOR_THE_DEAD and case.facts.condition == "dead"


def _believed_dead(case: _Case) -> bool:
    believed = case.facts.believed in ("dead", "gone") and case.facts.condition != "dead"
    return case.care.code not in FOR_THE_DEAD and believed


def _failing(case: _Case) -> bool:
    facts = case.facts
    bad = facts.condition == "failing" or facts.has_lost_half
    return case.care.code in DOES_NOT_SAVE and bad and facts.condition != "dead"


STATE: dict[str, Callable[[_Case], bool]] = {
    "found_dead": _dead,
    "believed_dead": _believed_dead,
    "found_failing": _failing,
}
"""States of a tree that are decided upon before any care is given."""


def _state_said(code: str) -> tuple[str, str]:
    return {
        "found_dead": (
            _("A trained look found %(tags)s dead: decide first (“%(care)s”)."),
            _("Take the tree off this order, or look again and find it alive."),
        ),
        "believed_dead": (
            _("By all that was seen, %(tags)s may be dead: look first (“%(care)s”)."),
            _("A trained look that finds it alive."),
        ),
        "found_failing": (
            _("%(tags)s: failing, or half of the bark or more may be gone (“%(care)s”)."),
            _("It saves no such tree. Decide first whether the tree is kept."),
        ),
    }[code]


def closures_of(
    order: WorkOrder,
    lines: Iterable[OrderLine],
    day: date | None,
    record: Known | None = None,
) -> Iterable[Problem]:
    """What closes the care of an order's lines on a day, one problem for each fact and care.

    Without a day nothing blocks: it is said what would. What licensed people do is never blocked
    here, and neither is a line whose dose somebody trained has overruled, except where the law or
    a neck is at stake.
    """
    lines = list(lines)
    known = [line for line in lines if line.care in book().care]
    if record is None:
        record = known_of(order.area, (line.tree for line in known))
    at = day or max(order.window_from, record.today)
    sky = record.sky(at) if day else Sky()
    watered = {line.tree_id for line in lines if line.care == "water"}
    found: dict[tuple[str, str], list[_Case]] = defaultdict(list)
    for line in known:
        care = book().care[line.care]
        facts = record.facts[line.tree_id]
        case = _Case(line, care, facts, sky, at, line.tree_id in watered)
        for code in care.closed_by:
            if code in JUDGED and JUDGED[code](case):
                found[code, care.code].append(case)
        for code, so in STATE.items():
            if so(case):
                found[code, care.code].append(case)
        if sold_against_pests(str(line.inputs.get("product", ""))):
            found["pesticide", care.code].append(case)
    for (code, _care), cases in found.items():
        yield _problem(order, code, cases, day is not None)


def _problem(order: WorkOrder, code: str, cases: list[_Case], on_a_day: bool) -> Problem:
    care = cases[0].care
    trees: list[Tree] = list({case.line.tree_id: case.line.tree for case in cases}.values())
    words = {"care": _(care.label), "tags": tags_of(trees)}
    keys = tuple(case.line.pk for case in cases)
    if code == "pesticide":
        return Problem(
            code,
            True,
            _("“%(care)s”: the product is sold against pests, and so it is a pesticide in law.")
            % words,
            _("A licensed person reads the label and the owner gives leave first."),
            care.code,
            keys,
        )
    text, opens = _state_said(code) if code in STATE else _said(code, care)
    bound = any(not case.line.overruled_because for case in cases)
    # That its kind is bare is no reason against cutting what was marked in leaf.
    told = code == "leaf_off" and care.code != "remove_dead_tree"
    told = told or code in TOLD_ALONE
    blocking = (
        on_a_day
        and not told
        and (order.who not in LICENSED or code == "label_not_read")
        and (bound or code in UNBENDING)
    )
    return Problem(code, blocking, text % words, opens, care.code, keys)
