"""Rows of belief that are valid as they stand, and how each of their rules is broken."""

from datetime import date

from survey.condition.models import Belief, Learning, Outlook, Overruling, Turn, Weight
from tests import factories as make
from tests.factories import NOON

JUNE, MAY = date(2026, 6, 1), date(2026, 5, 1)
DIGEST = "0" * 64
SHARES = {"thriving": 0.5, "holding": 0.3, "slipping": 0.1, "failing": 0.06, "dead": 0.03}


def belief(**more):
    """A tree that is probably thriving or holding."""
    tree = more.pop("tree", None) or make.TreeFactory()
    fields = {"gone": 0.01, "lost": 0.04, "month": JUNE, "looks": 3, "evidence": DIGEST}
    return Belief.objects.create(
        tree=tree, **{"learning": 1, "computed_at": NOON} | SHARES | fields | more
    )


def dated_belief(**more):
    days = {"died_from": date(2025, 4, 1), "died_about": MAY, "died_to": JUNE}
    return belief(**days | more)


def learning(**more):
    area = more.pop("area", None) or make.AreaFactory()
    fields = {"number": 1, "method": "by hand", "as_of": JUNE, "learnt": {}, "names": {}}
    fields["between_rounds"] = {}
    return Learning.objects.create(
        area=area, **fields | {"trees": 1, "looks": 1, "anew": True, "learnt_at": NOON} | more
    )


def weight(**more):
    area = more.pop("area", None) or make.AreaFactory()
    observer = more.pop("observer", None) or make.ObserverFactory()
    fields = {"kind": "volunteer", "weight": 0.8, "usual": 0.9, "looks": 12, "noise": [0.2] * 5}
    return Weight.objects.create(area=area, observer=observer, **{"learning": 1} | fields | more)


def overruling(**more):
    tree = more.pop("tree", None) or make.TreeFactory()
    fields = {"state": "holding", "day": MAY, "reason": "green under the bark", "at": NOON}
    return Overruling.objects.create(
        tree=tree, **{"by_key": "person:a", "by_name": "A"} | fields | more
    )


def withdrawn(**more):
    told = {"withdrawn_at": NOON, "withdrawn_by": "person:a", "withdrawn_reason": "wrong tree"}
    return overruling(**told | more)


def outlook(**more):
    area = more.pop("area", None) or make.AreaFactory()
    fields = {"by": "site", "key": "quarry", "label": "Quarry Green", "month": JUNE}
    figures = {"outlook": 75, "low": 69, "high": 81, "trees": 14, "standing": 13}
    return Outlook.objects.create(
        area=area,
        **fields
        | figures
        | {"looks_in_year": 60, "surveyed": True, "months": [], "learning": 1, "computed_at": NOON}
        | more,
    )


def turn(**more):
    site = more.pop("site", None) or make.SiteFactory()
    fields = {"kind": "step", "since": MAY, "before": 84, "after": 75, "p": 0.01}
    return Turn.objects.create(
        site=site, **{"rounds": 6, "looks": 60, "found_on": JUNE} | fields | more
    )


def put_aside(**more):
    told = {"put_aside_at": NOON, "put_aside_by": "person:a", "put_aside_reason": "rings ordered"}
    return turn(**told | more)


CHECKS = {
    "learning_counts_from_one": [(learning, {"number": 0})],
    "weight_kind_known": [(weight, {"kind": "crew"})],
    "weight_between_0_and_1": [
        (weight, {"weight": 0}),
        (weight, {"weight": 1}),
        (weight, {"usual": 1.2}),
    ],
    "belief_shares_are_shares": [
        *((belief, {name: -0.01}) for name in (*SHARES, "gone", "lost")),
        (belief, {"lost": 1.01}),
    ],
    "belief_death_dated_whole": [
        *((dated_belief, {name: None}) for name in ("died_from", "died_about", "died_to")),
        (dated_belief, {"died_from": date(2026, 5, 2)}),
        (dated_belief, {"died_to": date(2026, 4, 1)}),
    ],
    "belief_month_first_day": [(belief, {"month": date(2026, 6, 2)})],
    "belief_settle_known": [(belief, {"settle": "dig"})],
    "overruling_state_known": [(overruling, {"state": "asleep"})],
    "overruling_has_reason_and_author": [
        (overruling, {"reason": ""}),
        (overruling, {"by_key": ""}),
    ],
    "overruling_withdrawn_whole": [
        (withdrawn, {"withdrawn_by": ""}),
        (withdrawn, {"withdrawn_reason": ""}),
        (withdrawn, {"withdrawn_at": None}),
    ],
    "outlook_by_known": [(outlook, {"by": "street"})],
    "outlook_in_its_band": [
        (outlook, {"low": -1}),
        (outlook, {"low": 76}),
        (outlook, {"high": 74}),
        (outlook, {"high": 101}),
    ],
    "outlook_month_first_day": [(outlook, {"month": date(2026, 6, 2)})],
    "turn_kind_known": [(turn, {"kind": "up"})],
    "turn_p_is_a_share": [(turn, {"p": -0.1}), (turn, {"p": 1.1})],
    "turn_put_aside_whole": [
        (put_aside, {"put_aside_by": ""}),
        (put_aside, {"put_aside_reason": ""}),
        (put_aside, {"put_aside_at": None}),
    ],
}

UNIQUE = {
    "learning_numbered_in_area": (
        lambda: (learning(area=(area := make.AreaFactory())), learning(area=area, number=2)),
        ["number"],
    ),
    "weight_once_an_area": (
        lambda: (
            weight(observer=(who := make.ObserverFactory())),
            weight(observer=who, kind="staff"),
        ),
        ["kind"],
    ),
    "overruling_stands_once_a_tree": (
        lambda: (overruling(tree=(tree := make.TreeFactory())), withdrawn(tree=tree)),
        ["withdrawn_at", "withdrawn_by", "withdrawn_reason"],
    ),
    "outlook_once": (lambda: (outlook(), outlook(key="ferry")), ["key"]),
    "turn_stands_once_a_site": (
        lambda: (turn(site=(site := make.SiteFactory())), turn(site=site, over_on=JUNE)),
        ["over_on"],
    ),
}
