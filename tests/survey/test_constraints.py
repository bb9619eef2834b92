"""Every rule that one row can say is held by the database: each is broken here by a raw write.

A CHECK that comes out NULL passes, so every rule about columns that may be empty is broken with
an empty one too.
"""

from datetime import UTC, date, datetime
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import DatabaseError, IntegrityError, connection, transaction
from django.db.models import UniqueConstraint

from survey.audit.log import record
from survey.audit.models import Entry
from survey.chores.models import Chore, Schedule
from survey.condition.models import SiteMonth
from survey.people.models import Mail
from survey.reports.models import Decision, DeskNote, Reply, ReportSign
from survey.survival.models import CareCompared, Figure, Group, LooksWeighed, Stand
from survey.trees.models import (
    Acceptance,
    Area,
    CareGiven,
    Happening,
    LocalSpecies,
    LookSign,
    Permission,
    StemMeasure,
    Weather,
)
from tests import factories as make
from tests.survey import belief_rows, cause_rows, training_rows

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 6, 16, 12, tzinfo=UTC)
DAY = date(2026, 6, 1)
BEFORE = date(2026, 5, 1)


def permission(**more):
    manager = more.pop("land_manager", None) or make.LandManagerFactory()
    fields = {"care": "water", "who": "crew", "from_day": BEFORE, "to_day": DAY}
    return Permission.objects.create(land_manager=manager, **fields | more)


def weather(**more):
    area = more.pop("area", None) or make.AreaFactory()
    return Weather.objects.create(area=area, **{"day": DAY, "low_c": 4, "high_c": 19} | more)


def local_species(**more):
    return LocalSpecies.objects.create(
        area=make.AreaFactory(), **{"code": "rowan", "name": "rowan"} | more
    )


def happening(**more):
    place = more or {"site": make.SiteFactory()}
    return Happening.objects.create(
        kind="mowing", from_day=DAY, to_day=DAY, entered_at=NOW, **place
    )


def care(**more):
    fields = {"care": "water", "given_from": DAY, "given_to": DAY, "given_precision": "day"}
    return CareGiven.objects.create(tree=make.TreeFactory(), entered_at=NOW, **fields | more)


def acceptance():
    sides = dict.fromkeys(("base_street", "base_path", "base_left", "base_right"), "whole")
    return Acceptance.objects.create(
        look=make.LookFactory(), flare="visible", ties="none", accepted=True, **sides
    )


def chore(**more):
    return Chore.objects.create(
        **{"kind": "a", "key": str(uuid4()), "due_at": NOW, "created_at": NOW} | more
    )


def claimed_chore():
    return chore(state="claimed", claimed_by=uuid4(), lease_until=NOW)


def mail(**more):
    return Mail.objects.create(
        **{"key": str(uuid4()), "subject": "s", "body": "b", "due_at": NOW} | more
    )


def decision(**more):
    return Decision.objects.create(
        report=make.ReportFactory(),
        outcome="answer",
        at=NOW,
        by="person:x",
        reason="asleep",
        **more,
    )


def site_month(**more):
    counts = dict.fromkeys(("thriving", "holding", "slipping", "failing", "dead"), 1)
    site = more.pop("site", None) or make.SiteFactory()
    return SiteMonth.objects.create(
        site=site, **{"month": DAY, "n": 5, "standing": 5, "looks": 5} | counts | more
    )


def stand(**more):
    planting = more.pop("planting", None) or make.PlantingFactory()
    fields = {"species": "linden", "year": 2023, "trees": 3, "fates": {"fates": [], "gaps": []}}
    return Stand.objects.create(
        area=planting.area,
        planting=planting,
        site=more.pop("site", None) or make.SiteFactory(),
        counted_on=DAY,
        evidence="0",
        **fields | more,
    )


def group(**more):
    fields = {"by": "planting", "key": "a", "label": "A", "as_of": DAY, "method": "m"}
    return Group.objects.create(
        area=make.AreaFactory(), evidence="0", computed_at=NOW, **fields | more
    )


def figure(**more):
    fields = {"curve": "loss", "milestone": "12", "age_months": 12, "at_risk": 9, "events": 1}
    counts = {"count_alive": 8, "count_lost": 1, "count_unknown": 0}
    limits = {"at_least": 0.7, "at_most": 0.8, "low": 0.6, "high": 0.9}
    return Figure.objects.create(
        group=more.pop("group", None) or group(), **fields | counts | limits | more
    )


def care_compared(**more):
    area = more.pop("area", None) or make.AreaFactory()
    fields = {"care": "water", "as_of": DAY, "told": {}, "computed_at": NOW}
    return CareCompared.objects.create(area=area, **fields | more)


def looks_weighed(**more):
    fields = {"as_of": DAY, "trees": 9, "see": 8}
    return LooksWeighed.objects.create(site=make.SiteFactory(), **fields | more)


def photo(**more):
    return make.PhotoFactory(**more)


def ready_photo():
    return photo(state="ready", picture="p.jpg", small="s.jpg", width=4, height=3)


def done_order():
    return make.WorkOrderFactory(state="done", done_on=DAY, done_by="Team A")


def given_line():
    given = care()
    return make.OrderLineFactory(outcome="given", given=given, tree=given.tree)


def left_tree():
    return make.TreeFactory(left="died", left_from=BEFORE, left_to=DAY)


def joined_report():
    return make.ReportFactory(state="joined", joined_to=make.ReportFactory())


def cleared_report():
    return make.ReportFactory(danger="limb", danger_cleared_at=NOW, danger_cleared_by="person:x")


def itself(row):
    return row.pk


def break_points(factory):
    return [
        (factory, {"latitude": None, "longitude": 1.0}),
        (factory, {"latitude": 1.0, "longitude": None}),
        (factory, {"latitude": 90.5}),
        (factory, {"latitude": -90.5}),
        (factory, {"longitude": 180.5}),
        (factory, {"longitude": -180.5}),
    ]


def break_dates(factory, prefix):
    start, end, known = f"{prefix}_from", f"{prefix}_to", f"{prefix}_precision"
    return [
        (factory, {start: DAY, end: BEFORE, known: "month"}),
        (factory, {start: BEFORE, end: DAY, known: "day"}),
        (factory, {known: "week"}),
        (factory, {known: ""}),
    ]


# name of the rule -> ways to break it: what makes a valid row, and what is then written into it
CHECKS = {
    "chore_state_known": [(chore, {"state": "lost"})],
    "chore_named": [(chore, {"kind": ""}), (chore, {"key": ""})],
    "chore_leased_while_claimed": [
        (chore, {"state": "claimed"}),
        (chore, {"state": "claimed", "claimed_by": uuid4()}),
        (chore, {"state": "claimed", "lease_until": NOW}),
        (chore, {"claimed_by": uuid4()}),
        (chore, {"lease_until": NOW}),
    ],
    "chore_done_says_when": [(chore, {"state": "done"}), (chore, {"done_at": NOW})],
    "chore_parked_says_when_and_why": [
        (chore, {"state": "parked"}),
        (chore, {"state": "parked", "parked_at": NOW}),
        (chore, {"state": "parked", "last_error": "no"}),
        (chore, {"parked_at": NOW}),
    ],
    "schedule_kind_named": [(lambda: Schedule.objects.create(kind="a"), {"kind": ""})],
    "person_role_known": [
        (make.PersonFactory, {"role": "boss"}),
        (make.PersonFactory, {"role": ""}),
    ],
    "person_units_known": [(make.PersonFactory, {"units": "cubits"})],
    "person_has_names": [
        (make.PersonFactory, {"sign_in": ""}),
        (make.PersonFactory, {"name": ""}),
        (make.PersonFactory, {"key": ""}),
    ],
    "observer_kind_known": [(make.ObserverFactory, {"kind": "robot"})],
    "observer_has_key": [(make.ObserverFactory, {"key": ""})],
    "contact_erased_means_empty": [(make.ContactFactory, {"erased_at": NOW})],
    "contact_says_how_until_erased": [(make.ContactFactory, {"email": "", "phone": ""})],
    "mail_state_known": [(mail, {"state": "lost", "settled_at": NOW})],
    "mail_settled_unless_waiting": [(mail, {"state": "sent"}), (mail, {"settled_at": NOW})],
    "photo_state_known": [(photo, {"state": "lost"})],
    "photo_shown_known": [(photo, {"shown": "all"})],
    "photo_part_known": [(photo, {"part": "leaf"})],
    "photo_ready_has_copies": [
        (photo, {"state": "ready"}),
        (ready_photo, {"picture": ""}),
        (ready_photo, {"small": ""}),
        (ready_photo, {"width": None}),
        (ready_photo, {"width": 0}),
        (ready_photo, {"height": None}),
        (ready_photo, {"height": 0}),
    ],
    "photo_refused_says_why": [(photo, {"state": "refused"})],
    "photo_accepted_is_ready": [(photo, {"shown": "accepted"})],
    "area_hemisphere_known": [(make.AreaFactory, {"hemisphere": "east"})],
    "area_point_on_earth": [
        (make.AreaFactory, {"latitude": 91.0}),
        (make.AreaFactory, {"latitude": -91.0}),
        (make.AreaFactory, {"longitude": 181.0}),
        (make.AreaFactory, {"longitude": -181.0}),
    ],
    "area_has_size": [(make.AreaFactory, {"radius_m": 0}), (make.AreaFactory, {"radius_m": -1})],
    "land_manager_kind_known": [(make.LandManagerFactory, {"kind": "king"})],
    "permission_days_ordered": [(permission, {"from_day": DAY, "to_day": BEFORE})],
    "permission_who_known": [(permission, {"who": "nobody"})],
    "permission_names_care": [(permission, {"care": ""})],
    "site_kind_known": [(make.SiteFactory, {"kind": "moon"})],
    "site_has_name": [(make.SiteFactory, {"name": ""})],
    "site_point_on_earth": break_points(make.SiteFactory),
    "local_species_has_names": [(local_species, {"code": ""}), (local_species, {"name": ""})],
    "weather_rain_not_negative": [(weather, {"rain_mm": -0.1})],
    "weather_eto_not_negative": [(weather, {"eto_mm": -0.1})],
    "weather_low_below_high": [(weather, {"low_c": 20})],
    "planting_days_ordered": break_dates(make.PlantingFactory, "planted"),
    "planting_has_name": [(make.PlantingFactory, {"name": ""})],
    "planting_warranty_after_planting": [
        (make.PlantingFactory, {"warranty_until": date(2023, 11, 13)})
    ],
    "tree_planting_dated": [
        (make.TreeFactory, {"planted_to": date(2023, 11, 13)}),
        (make.TreeFactory, {"planted_to": date(2023, 11, 15)}),
        (make.TreeFactory, {"planted_precision": "week"}),
        (make.TreeFactory, {"planted_precision": ""}),
    ],
    "tree_registered_after_planting": [(make.TreeFactory, {"registered_on": date(2023, 11, 13)})],
    "tree_because_known": [(make.TreeFactory, {"registered_because": "whim"})],
    "tree_point_on_earth": break_points(make.TreeFactory),
    "tree_stems_one_to_forty": [
        (make.TreeFactory, {"stems": 0}),
        (make.TreeFactory, {"stems": 41}),
    ],
    "tree_street_bearing_in_circle": [(make.TreeFactory, {"street_bearing": 360})],
    "tree_has_species": [(make.TreeFactory, {"species": ""})],
    "tree_not_its_own_replacement": [(make.TreeFactory, {"replaces": itself})],
    "tree_left_has_bounds": [
        (make.TreeFactory, {"left": "died"}),
        (left_tree, {"left": ""}),
        (left_tree, {"left": "sold"}),
        (left_tree, {"left_from": None}),
        (left_tree, {"left_to": None}),
        (left_tree, {"left_from": DAY, "left_to": BEFORE}),
        (left_tree, {"left_from": date(2023, 11, 13)}),
        (make.TreeFactory, {"left_from": DAY, "left_to": DAY}),
    ],
    "look_channel_known": [(make.LookFactory, {"channel": "rumor"})],
    "look_presence_known": [(make.LookFactory, {"presence": "maybe", "condition": ""})],
    "look_condition_known": [(make.LookFactory, {"condition": "fine"})],
    "look_condition_needs_a_standing_tree": [
        (make.LookFactory, {"presence": presence})
        for presence in ("stump", "gone", "not_seen", "never_planted")
    ],
    "look_leaf_known": [(make.LookFactory, {"leaf": "green"})],
    "look_scratch_known": [(make.LookFactory, {"scratch": "red"})],
    "look_leaf_and_scratch_need_a_tree": [
        (make.LookFactory, {"presence": "gone", "condition": "", "leaf": "full"}),
        (make.LookFactory, {"presence": "not_seen", "condition": "", "scratch": "brown"}),
    ],
    "look_repeat_key_not_empty": [(make.LookFactory, {"repeat_key": ""})],
    "look_not_its_own_correction": [(make.LookFactory, {"supersedes": itself})],
    "look_sign_named": [
        (lambda: LookSign.objects.create(look=make.LookFactory(), sign="a"), {"sign": ""})
    ],
    "stem_measure_possible": [
        (lambda: StemMeasure.objects.create(look=make.LookFactory(), girth_m=0.2), bad)
        for bad in (
            {"girth_m": 0},
            {"girth_m": -0.1},
            {"girth_m": 20.1},
            {"height_m": -0.1},
            {"height_m": 3.1},
        )
    ],
    "stem_measure_counts_from_one": [
        (lambda: StemMeasure.objects.create(look=make.LookFactory(), girth_m=0.2), {"stem": 0})
    ],
    "acceptance_sides_known": [
        (acceptance, {side: "odd"})
        for side in ("base_street", "base_path", "base_left", "base_right")
    ],
    "acceptance_flare_and_ties_known": [
        (acceptance, {"flare": "odd"}),
        (acceptance, {"ties": "odd"}),
    ],
    "acceptance_refusal_has_reason": [(acceptance, {"accepted": False})],
    "happening_has_one_place": [
        (happening, {"site": None}),
        (happening, {"tree": lambda row: make.TreeFactory().pk}),
        (happening, {"planting": lambda row: make.PlantingFactory().pk}),
    ],
    "happening_days_ordered": [(happening, {"to_day": BEFORE})],
    "happening_has_kind": [(happening, {"kind": ""})],
    "care_given_dated": break_dates(care, "given"),
    "care_given_named": [(care, {"care": ""})],
    "stand_has_trees": [(stand, {"trees": 0})],
    "care_compared_names_care": [(care_compared, {"care": ""})],
    "looks_weighed_sees_some_of_its_trees": [
        (looks_weighed, {"see": 0}),
        (looks_weighed, {"see": 10}),
    ],
    "site_month_first_day": [(site_month, {"month": date(2026, 6, 2)})],
    "site_month_adds_up": [(site_month, {"n": 6}), (site_month, {"dead": 2})],
    "report_state_known": [(make.ReportFactory, {"state": "lost"})],
    "report_came_known": [(make.ReportFactory, {"came": "by pigeon"[:8]})],
    "report_joined_names_the_other": [
        (make.ReportFactory, {"state": "joined"}),
        (joined_report, {"joined_to": None}),
        (joined_report, {"state": "new"}),
    ],
    "report_not_joined_to_itself": [(joined_report, {"joined_to": itself})],
    "report_says_where": [(make.ReportFactory, {"tree": None, "site": None})],
    "report_cleared_danger_was_danger": [
        (make.ReportFactory, {"danger_cleared_at": NOW, "danger_cleared_by": "person:x"}),
        (cleared_report, {"danger_cleared_by": ""}),
        (cleared_report, {"danger_cleared_at": None}),
        (cleared_report, {"danger": ""}),
    ],
    "report_numbered_from_one": [(make.ReportFactory, {"number": 0})],
    "report_point_on_earth": break_points(
        lambda: make.ReportFactory(latitude=36.6, longitude=-34.9)
    ),
    "report_sign_named": [
        (
            lambda: ReportSign.objects.create(report=make.ReportFactory(), sign="a"),
            {"sign": ""},
        )
    ],
    "decision_outcome_known": [(decision, {"outcome": "shrug"})],
    "decision_has_reason_and_author": [(decision, {"reason": ""}), (decision, {"by": ""})],
    "decision_undone_names_who": [
        (decision, {"undone_at": NOW}),
        (decision, {"undone_by": "person:x"}),
        (decision, {"undone_at": datetime(2026, 6, 15, tzinfo=UTC), "undone_by": "person:x"}),
    ],
    "reply_has_words": [
        (
            lambda: Reply.objects.create(report=make.ReportFactory(), words="yes", at=NOW),
            {"words": ""},
        )
    ],
    "survival_group_by_known": [(group, {"by": "mood"})],
    "survival_group_reading_known": [(group, {"reading": "guess"})],
    "figure_curve_known": [(figure, {"curve": "bell"})],
    "figure_bounds_ordered_or_withheld": [
        (figure, {"at_least": None}),
        (figure, {"at_most": None}),
        (figure, {"low": None}),
        (figure, {"high": None}),
        (figure, dict.fromkeys(("at_least", "at_most", "low", "high"))),
        (figure, {"low": -0.1}),
        (figure, {"high": 1.1}),
        (figure, {"low": 0.75}),
        (figure, {"at_least": 0.85}),
        (figure, {"high": 0.75}),
    ],
    "order_numbered_from_one": [(make.WorkOrderFactory, {"number": 0})],
    "order_state_known": [(make.WorkOrderFactory, {"state": "lost"})],
    "order_who_known": [(make.WorkOrderFactory, {"who": "anyone"})],
    "order_window_ordered": [(make.WorkOrderFactory, {"window_to": BEFORE})],
    "order_says_why": [(make.WorkOrderFactory, {"why": ""})],
    "order_planned_has_day": [(make.WorkOrderFactory, {"state": "planned"})],
    "order_done_says_when_and_by_whom": [
        (make.WorkOrderFactory, {"state": "done"}),
        (done_order, {"done_on": None}),
        (done_order, {"done_by": ""}),
        (done_order, {"state": "confirmed", "confirmed_at": NOW, "done_on": None}),
    ],
    "order_confirmed_has_moment": [
        (done_order, {"state": "confirmed"}),
        (done_order, {"confirmed_at": NOW}),
    ],
    "order_dropped_says_why": [
        (make.WorkOrderFactory, {"state": "dropped"}),
        (make.WorkOrderFactory, {"state": "dropped", "dropped_at": NOW}),
        (make.WorkOrderFactory, {"state": "dropped", "dropped_because": "no"}),
        (make.WorkOrderFactory, {"dropped_because": "no"}),
        (make.WorkOrderFactory, {"dropped_at": NOW}),
    ],
    "order_line_names_care": [(make.OrderLineFactory, {"care": ""})],
    "order_line_given_is_recorded": [
        (make.OrderLineFactory, {"outcome": "given"}),
        (make.OrderLineFactory, {"outcome": "lost"}),
        (given_line, {"given": None}),
        (given_line, {"outcome": "open"}),
        (given_line, {"outcome": "not_done"}),
    ],
}

CHECKS |= belief_rows.CHECKS
CHECKS |= training_rows.CHECKS
CHECKS |= cause_rows.CHECKS

BROKEN_CHECKS = [
    pytest.param(name, maker, bad, id=f"{name}-{number}")
    for name, ways in CHECKS.items()
    for number, (maker, bad) in enumerate(ways, start=1)
]


@pytest.mark.parametrize(("name", "maker", "bad"), BROKEN_CHECKS)
def test_the_database_refuses_a_row_that_breaks_a_check(name, maker, bad):
    row = maker()
    values = {field: value(row) if callable(value) else value for field, value in bad.items()}
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        type(row).objects.filter(pk=row.pk).update(**values)


# name of the rule -> makes two rows, the second of which is then given these values of the first
UNIQUE = {
    "chore_waits_once": (lambda: (chore(), chore()), ["kind", "key"]),
    "chore_claimed_once": (
        lambda: (claimed_chore(), claimed_chore()),
        ["kind", "key"],
    ),
    "area_one_home": (
        lambda: (
            make.AreaFactory(),
            Area.objects.create(ref="b", name="B", latitude=1, longitude=1, is_home=False),
        ),
        ["is_home"],
    ),
    "permission_once": (
        lambda: (permission(), permission(care="berm")),
        ["land_manager", "care", "who", "from_day"],
    ),
    "site_name_once_an_area": (lambda: (make.SiteFactory(), make.SiteFactory()), ["name"]),
    "local_species_once": (
        lambda: (local_species(), local_species(code="elm", name="elm")),
        ["code"],
    ),
    "weather_once_a_day": (lambda: (weather(), weather(day=BEFORE)), ["day"]),
    "planting_name_once_an_area": (
        lambda: (make.PlantingFactory(), make.PlantingFactory()),
        ["name"],
    ),
    "tree_tag_once_an_area": (lambda: (make.TreeFactory(), make.TreeFactory()), ["tag"]),
    "look_sign_once": (
        lambda: (
            LookSign.objects.create(look=(look := make.LookFactory()), sign="a"),
            LookSign.objects.create(look=look, sign="b"),
        ),
        ["sign"],
    ),
    "stem_measure_once": (
        lambda: (
            StemMeasure.objects.create(look=(look := make.LookFactory()), girth_m=0.2),
            StemMeasure.objects.create(look=look, girth_m=0.2, stem=2),
        ),
        ["stem"],
    ),
    "stand_once": (
        lambda: (
            stand(planting=(of := make.PlantingFactory()), site=(at := make.SiteFactory())),
            stand(planting=of, site=at, species="hornbeam"),
        ),
        ["species"],
    ),
    "site_month_once": (
        lambda: (
            site_month(site=(site := make.SiteFactory())),
            site_month(site=site, month=BEFORE),
        ),
        ["month"],
    ),
    "report_number_once_a_day": (lambda: (make.ReportFactory(), make.ReportFactory()), ["number"]),
    "report_sign_once": (
        lambda: (
            ReportSign.objects.create(report=(report := make.ReportFactory()), sign="a"),
            ReportSign.objects.create(report=report, sign="b"),
        ),
        ["sign"],
    ),
    "desk_note_once": (
        lambda: (
            DeskNote.objects.create(
                report=(report := make.ReportFactory()),
                person=make.PersonFactory(),
                touched_at=NOW,
            ),
            DeskNote.objects.create(report=report, person=make.PersonFactory(), touched_at=NOW),
        ),
        ["person"],
    ),
    "care_compared_once": (
        lambda: (
            care_compared(area=(area := make.AreaFactory())),
            care_compared(area=area, care="mulch_ring"),
        ),
        ["care"],
    ),
    "survival_group_once": (lambda: (group(), group(key="b")), ["key"]),
    "figure_once": (
        lambda: (figure(group=(of := group())), figure(group=of, milestone="24")),
        ["milestone"],
    ),
    "order_number_once": (lambda: (make.WorkOrderFactory(), make.WorkOrderFactory()), ["number"]),
    "order_line_once": (
        lambda: (
            make.OrderLineFactory(order=(order := make.WorkOrderFactory())),
            make.OrderLineFactory(order=order, care="berm"),
        ),
        ["tree", "care"],
    ),
}


UNIQUE |= belief_rows.UNIQUE
UNIQUE |= training_rows.UNIQUE
UNIQUE |= cause_rows.UNIQUE


@pytest.mark.parametrize("name", UNIQUE)
def test_the_database_refuses_a_second_row_of_the_same_name(name):
    maker, fields = UNIQUE[name]
    first, second = maker()
    same = {field: getattr(first, field) for field in fields}
    told = name if connection.vendor == "postgresql" else "UNIQUE|" + name
    with pytest.raises(IntegrityError, match=told), transaction.atomic():
        type(second).objects.filter(pk=second.pk).update(**same)


def test_an_empty_tag_may_be_worn_by_many_trees():
    make.TreeFactory(tag="")
    assert make.TreeFactory(tag="").pk


@pytest.mark.parametrize("field", ["who", "act", "subject"])
def test_an_audit_line_without_a_name_is_refused(field):
    line = Entry(**{"at": NOW, "who": "nobody", "act": "a", "subject": "b"} | {field: ""})
    with pytest.raises(IntegrityError, match="audit_names_who_and_what"), transaction.atomic():
        Entry.objects.bulk_create([line])


@pytest.mark.parametrize(
    "statement",
    ["UPDATE survey_entry SET act = 'x' WHERE id = %s", "DELETE FROM survey_entry WHERE id = %s"],
)
def test_an_audit_line_is_neither_changed_nor_deleted_even_by_raw_sql(statement):
    line = record("tree.registered", subject="tree:x", at=NOW)
    with (
        pytest.raises(DatabaseError),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement, [line.pk])
    assert Entry.objects.get(pk=line.pk).act == "tree.registered"


@pytest.mark.parametrize("act", [lambda e: e.save(), lambda e: e.delete()])
def test_an_audit_line_refuses_the_easy_ways_too(act):
    line = record("tree.registered", subject="tree:x", at=NOW)
    with pytest.raises(TypeError, match="never"):
        act(line)
    with pytest.raises(TypeError, match="never"):
        Entry.objects.update(act="x")
    with pytest.raises(TypeError, match="never"):
        Entry.objects.filter(pk=line.pk).delete()


def test_every_rule_of_every_table_is_broken_here():
    named = {
        rule.name: isinstance(rule, UniqueConstraint)
        for table in apps.get_app_config("survey").get_models()
        for rule in table._meta.constraints
    }
    checks = {name for name, unique in named.items() if not unique} - {"audit_names_who_and_what"}
    assert checks == CHECKS.keys()
    assert {name for name, unique in named.items() if unique} == UNIQUE.keys()
