"""Valid rows of causes, wounds, doses and trials, and how each of their rules is broken."""

from datetime import date

from survey.causes.models import ClueNoted, Finding, LocalRule, Verdict
from survey.trees.measured import CoatGiven, FeedGiven, WoundMeasure
from survey.trees.models import CareGiven
from survey.workorders.models import Trial, TrialTree
from tests import factories as make
from tests.factories import NOON

JUNE, MAY = date(2026, 6, 1), date(2026, 5, 1)
STAMP = "0" * 64


def finding(**more):
    area = more.pop("area", None) or make.AreaFactory()
    fields = {"number": 1, "sign": "bark_wound", "follows": "site", "subject": "quarry-green"}
    counts = {"with_sign": 13, "of_trees": 14, "chance": 0.001, "after_many": 0.01}
    days = {"found_on": MAY, "weighed_on": JUNE, "evidence": STAMP}
    return Finding.objects.create(area=area, **fields | counts | days | more)


def judged(**more):
    told = {"state": "confirmed", "judged_at": NOON, "judged_by": "person:a", "reason": "seen"}
    return finding(**told | more)


def verdict(**more):
    tree = more.pop("tree", None) or make.TreeFactory()
    fields = {"cause": "mower_or_trimmer", "was": "confirmed", "said": "possible", "reason": "seen"}
    return Verdict.objects.create(tree=tree, **fields | {"day": JUNE, "by": "a", "at": NOON} | more)


def withdrawn_verdict(**more):
    return verdict(**{"withdrawn_at": NOON, "withdrawn_by": "person:a"} | more)


def local_rule(**more):
    area = more.pop("area", None) or make.AreaFactory()
    fields = {"about": "cause", "code": "drought", "text": "Clay cracks here.", "source": "Gardens"}
    return LocalRule.objects.create(
        area=area, **fields | {"proposed_by": "person:a", "proposed_at": NOON} | more
    )


def weighed_rule(**more):
    return local_rule(**{"clue": "grass_to_trunk", "weight": 1} | more)


def approved_rule(**more):
    return local_rule(**{"approved_by": "person:b", "approved_at": NOON} | more)


def withdrawn_rule(**more):
    told = {"withdrawn_by": "b", "withdrawn_at": NOON, "withdrawn_because": "wrong"}
    return local_rule(**told | more)


def clue(**more):
    fields = {"clue": "grass_to_trunk", "so": True, "day": JUNE, "by": "person:a", "at": NOON}
    place = {} if "tree" in more else {"tree": make.TreeFactory()}
    return ClueNoted.objects.create(**place | fields | more)


def wound(**more):
    look = more.pop("look", None) or make.LookFactory()
    fields = {"girth_m": 0.24, "width_m": 0.08, "from_hour": 10, "to_hour": 14}
    return WoundMeasure.objects.create(look=look, **fields | more)


def taped(**more):
    return wound(**{"from_hour": None, "to_hour": None} | more)


def placed(**more):
    return wound(**{"girth_m": None, "width_m": None} | more)


def care(code="whitewash"):
    return CareGiven.objects.create(
        tree=make.TreeFactory(),
        care=code,
        given_from=MAY,
        given_to=MAY,
        given_precision="day",
        entered_at=NOON,
    )


def coat(**more):
    fields = {"care": care(), "product": "white interior latex", "color": "white", "to_m": 1.5}
    return CoatGiven.objects.create(**fields | more)


def feed(**more):
    label = {"nitrogen_share": 0.04, "phosphate_share": 0.06, "potash_share": 0.03}
    fields = {"care": care("fertilize"), "product": "meal", "mass_kg": 4.0, "area_m2": 2.6}
    return FeedGiven.objects.create(**fields | label | more)


def trial(**more):
    area = more.pop("area", None) or make.AreaFactory()
    fields = {"question": "Do coats help?", "care": "whitewash", "instead": "nothing", "lot": 7}
    who = {"created_by": "person:a", "created_at": NOON, "until": JUNE}
    return Trial.objects.create(area=area, **fields | who | more)


def ended_trial(**more):
    return trial(**{"ended_at": NOON, "ended_because": "too few trees"} | more)


def trial_tree(**more):
    fields = {"trial": more.pop("trial", None) or trial(), "tree": make.TreeFactory()}
    return TrialTree.objects.create(**fields | {"gets_care": True} | more)


def overruled(**more):
    return make.OrderLineFactory(**{"overruled_because": "clay", "overruled_by": "a"} | more)


def in_words(**more):
    return make.ReportFactory(**{"danger": "wire", "danger_words": "sparks"} | more)


CHECKS = {
    "finding_numbered_from_one": [(finding, {"number": 0})],
    "finding_names_sign_and_subject": [(finding, {"sign": ""}), (finding, {"subject": ""})],
    "finding_follows_known": [(finding, {"follows": "moon"})],
    "finding_counts_trees": [(finding, {"with_sign": 15})],
    "finding_chances_are_chances": [
        (finding, {"chance": -0.1}),
        (finding, {"chance": 1.1}),
        (finding, {"after_many": -0.1}),
        (finding, {"after_many": 1.1}),
    ],
    "finding_state_known": [(judged, {"state": "guilty"})],
    "finding_judged_says_why_and_by_whom": [
        (judged, {"judged_at": None}),
        (judged, {"judged_by": ""}),
        (judged, {"reason": ""}),
        (judged, {"state": "open"}),
    ],
    "finding_days_ordered": [(finding, {"weighed_on": date(2026, 4, 30)})],
    "verdict_known": [(verdict, {"was": "guessed"})],
    "verdict_said_known": [(verdict, {"said": "certain"})],
    "verdict_names_cause_reason_and_author": [
        (verdict, {"cause": ""}),
        (verdict, {"reason": ""}),
        (verdict, {"by": ""}),
    ],
    "verdict_withdrawn_names_who": [
        (verdict, {"withdrawn_by": "a"}),
        (withdrawn_verdict, {"withdrawn_by": ""}),
    ],
    "local_rule_about_known": [(local_rule, {"about": "moon"})],
    "local_rule_says_what_and_whence": [
        (local_rule, {"code": ""}),
        (local_rule, {"text": ""}),
        (local_rule, {"source": ""}),
        (local_rule, {"proposed_by": ""}),
    ],
    "local_rule_weighs_a_clue_or_nothing": [
        (local_rule, {"clue": "grass_to_trunk"}),
        (local_rule, {"weight": 1}),
        (weighed_rule, {"weight": 0}),
        (weighed_rule, {"weight": 4}),
        (weighed_rule, {"weight": -4}),
        (weighed_rule, {"about": "sign"}),
        (weighed_rule, {"weight": None}),
    ],
    "local_rule_approved_by_a_second": [
        (approved_rule, {"approved_by": "person:a"}),
        (approved_rule, {"approved_by": ""}),
        (local_rule, {"approved_by": "person:b"}),
    ],
    "local_rule_withdrawn_says_why": [
        (withdrawn_rule, {"withdrawn_by": ""}),
        (withdrawn_rule, {"withdrawn_because": ""}),
        (local_rule, {"withdrawn_because": "wrong"}),
        (local_rule, {"withdrawn_by": "a"}),
    ],
    "clue_at_a_tree_or_a_site": [
        (clue, {"tree": None}),
        (clue, {"site": lambda row: make.SiteFactory()}),
    ],
    "clue_named_and_signed": [(clue, {"clue": ""}), (clue, {"by": ""})],
    "wound_counts_from_one": [(wound, {"stem": 0}), (wound, {"number": 0})],
    "wound_is_measured_or_placed": [
        (taped, {"width_m": None}),
        (placed, {"from_hour": None, "to_hour": None}),
    ],
    "wound_no_wider_than_girth": [
        (wound, {"width_m": 0.25}),
        (wound, {"width_m": 0}),
        (wound, {"girth_m": None}),
        (wound, {"girth_m": 20.1}),
    ],
    "wound_hours_on_the_clock": [
        (wound, {"from_hour": -1}),
        (wound, {"from_hour": 12}),
        (wound, {"to_hour": 0}),
        (wound, {"to_hour": 25}),
        (wound, {"from_hour": None}),
        (wound, {"to_hour": None}),
    ],
    "wound_heights_possible": [
        (wound, {"low_edge_m": -0.1}),
        (wound, {"low_edge_m": 31}),
        (wound, {"length_m": 0}),
        (wound, {"length_m": 31}),
    ],
    "wound_rim_known": [(wound, {"rim": "pretty"})],
    "coat_names_product_and_color": [(coat, {"product": ""}), (coat, {"color": ""})],
    "coat_parts_and_heights_possible": [
        (coat, {"water_parts": -1}),
        (coat, {"paint_parts": 0}),
        (coat, {"coats": 0}),
        (coat, {"from_m": -0.2}),
        (coat, {"to_m": 0}),
        (coat, {"to_m": 11}),
    ],
    "feed_names_product": [(feed, {"product": ""})],
    "feed_label_adds_up": [
        (feed, {"nitrogen_share": 0.92}),
        (feed, {"nitrogen_share": -0.01}),
        (feed, {"phosphate_share": -0.01}),
        (feed, {"potash_share": -0.01}),
    ],
    "feed_amounts_possible": [(feed, {"mass_kg": 0}), (feed, {"area_m2": 0})],
    "trial_says_what_is_asked": [
        (trial, {"question": ""}),
        (trial, {"care": ""}),
        (trial, {"instead": ""}),
        (trial, {"created_by": ""}),
    ],
    "trial_ended_says_why": [
        (ended_trial, {"ended_because": ""}),
        (trial, {"ended_because": "tired"}),
    ],
    "order_line_overruled_names_who": [
        (overruled, {"overruled_by": ""}),
        (overruled, {"overruled_because": ""}),
    ],
    "report_danger_words_mark_a_danger": [(in_words, {"danger": ""})],
    "area_climate_and_units_known": [
        (make.AreaFactory, {"climate": "lunar"}),
        (make.AreaFactory, {"units": "cubits"}),
    ],
    "area_frost_months_on_the_calendar": [
        (make.AreaFactory, {"last_frost_month": 0}),
        (make.AreaFactory, {"last_frost_month": 13}),
        (make.AreaFactory, {"first_frost_month": 0}),
        (make.AreaFactory, {"first_frost_month": 13}),
    ],
}

UNIQUE = {
    "finding_number_once": (
        lambda: (
            finding(area=(area := make.AreaFactory())),
            finding(area=area, number=2, sign="b"),
        ),
        ["number"],
    ),
    "finding_once": (
        lambda: (
            finding(area=(area := make.AreaFactory())),
            finding(area=area, number=2, subject="mill-steps"),
        ),
        ["subject"],
    ),
    "verdict_one_in_force": (
        lambda: (
            verdict(tree=(tree := make.TreeFactory())),
            verdict(tree=tree, cause="drought"),
        ),
        ["cause"],
    ),
    "wound_once": (
        lambda: (wound(look=(look := make.LookFactory())), wound(look=look, number=2)),
        ["number"],
    ),
    "trial_tree_once": (
        lambda: (trial_tree(trial=(of := trial())), trial_tree(trial=of)),
        ["tree"],
    ),
}
