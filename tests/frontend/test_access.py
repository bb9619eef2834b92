"""Every page × every role: closed unless this table opens it. A page missing here fails."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from frontend.handbook.chapters import CHAPTERS
from frontend.urls import urlpatterns
from survey.chores.models import Chore
from survey.condition.actions.overrule import overrule_belief
from survey.people.models import Mail, PairedWalk, PracticeRound
from survey.reports.actions import triage
from survey.survival.models import CareCompared
from survey.trees.models import Permission
from survey.workorders.models import Trial
from tests.factories import (
    NOON,
    AreaFactory,
    ContactFactory,
    LandManagerFactory,
    OrderLineFactory,
    PersonFactory,
    PhotoFactory,
    ReportFactory,
)
from tests.frontend.liaison.care_made import refused
from tests.survey import belief_rows, cause_rows

pytestmark = pytest.mark.django_db

ROLES = ["nobody", "volunteer", "crew", "staff", "liaison", "keeper"]
ALL = set(ROLES)
SIGNED_IN = ALL - {"nobody"}
DESK = {"staff", "keeper"}
LOOKERS = {"volunteer", "crew", "staff", "keeper"}
PLANTERS = {"volunteer", "staff", "keeper"}
KEEPERS = {"keeper"}

TREE, SITE, PLANTING = ({"ref": "{tree}"}, {"ref": "{site}"}, {"ref": "{planting}"})
ORDER, REPORT = {"number": "{order}"}, {"pk": "{report}"}
FINDING = {"number": "{finding}"}
DRAFT, SECRET = {"key": "nobody-knows-this"}, {"secret": "nobody-knows-this"}
PICTURE = {"photo_key": "{photo}", "size": "small"}

QUESTIONS = ["danger", "stop", "where", "elsewhere", "signs", "overall", "extent", "photos"]
QUESTIONS += ["words", "check", "sent"]

# route, method, keywords, who gets in
ACCESS = [
    # neighbors: open to all; a draft's key, a note's secret or acceptance is what opens the rest
    ("start", "get", {}, ALL),
    ("begin", "post", {}, ALL),
    *[(f"report-{name}", "get", DRAFT, ALL) for name in QUESTIONS],
    ("report-another", "post", DRAFT, ALL),
    ("report-trees", "get", DRAFT | {"site": "{site}"}, ALL),
    ("draft-photo", "get", DRAFT | PICTURE, ALL),
    ("look-up", "get", {}, ALL),
    ("note", "get", SECRET, ALL),
    ("note-again", "post", SECRET, ALL),
    ("note-answer", "post", SECRET, ALL),
    ("note-photo", "get", SECRET | PICTURE, ALL),
    ("photo", "get", PICTURE, ALL),
    # accounts
    ("sign-in", "get", {}, ALL),
    ("sign-out", "post", {}, ALL),
    ("first", "get", {}, ALL),
    ("account", "get", {}, SIGNED_IN),
    ("people", "get", {}, KEEPERS),
    ("person-new", "get", {}, KEEPERS),
    ("person", "get", {"key": "{person}"}, KEEPERS),
    ("town", "get", {}, KEEPERS),
    # training: rounds and walks are one's own and the desk's
    ("training", "get", {}, LOOKERS),
    ("practice", "get", {}, LOOKERS),
    ("practice-round", "get", {"pk": "{practice}"}, DESK),
    ("paired-walk-new", "get", {}, LOOKERS),
    ("paired-walk", "get", {"pk": "{walk}"}, DESK),
    ("paired-walk-drop", "post", {"pk": "{walk}"}, DESK),
    ("training-of", "get", {"key": "{learner}"}, DESK),
    ("observers", "get", {}, DESK),
    # the desk
    ("queue", "get", {}, DESK),
    ("desk-arrived", "get", {}, DESK),
    ("docket", "get", REPORT, DESK),
    ("quick-entry", "get", {}, DESK),
    ("decide", "post", REPORT | {"outcome": "answer"}, DESK),
    ("desk-note", "post", REPORT, DESK),
    ("place", "post", REPORT, DESK),
    ("erase", "post", REPORT, DESK),
    ("undo", "post", {"pk": "{decision}"}, DESK),
    ("photo-show", "post", {"key": "{photo}", "shown": "decline"}, DESK),
    ("turn", "get", {"pk": "{turn}"}, DESK),
    ("findings", "get", {}, DESK),
    ("findings-search", "post", {}, DESK),
    ("finding", "get", FINDING, DESK),
    ("finding-letter", "get", FINDING | {"kind": "notice"}, DESK),
    ("finding-order", "post", FINDING, DESK),
    ("finding-judge", "post", FINDING | {"word": "watched"}, DESK),
    ("operations", "get", {}, DESK),
    ("letter", "get", {"name": "{letter}"}, DESK),
    ("retry-chore", "post", {"number": "{chore}"}, DESK),
    ("called", "post", {"pk": "{mail}"}, DESK),
    ("imports", "get", {}, DESK),
    # trees and what is seen of them: the pages name no person and are open
    ("trees", "get", {}, ALL),
    ("tree", "get", TREE, ALL),
    ("plantings", "get", {}, ALL),
    ("planting", "get", PLANTING, ALL),
    ("sites", "get", {}, ALL),
    ("site", "get", SITE, ALL),
    ("look", "get", TREE, LOOKERS),
    ("wounds", "get", TREE, LOOKERS),
    ("graft", "post", TREE, LOOKERS),
    ("life", "get", TREE, LOOKERS),
    ("acceptance", "get", TREE, LOOKERS),
    ("care", "get", TREE, LOOKERS),
    ("departure", "get", TREE, LOOKERS),
    ("answer-check", "post", TREE | {"check": "ball_dry"}, LOOKERS),
    ("judge-cause", "get", TREE | {"cause": "drought"}, DESK),
    ("believe", "get", TREE, DESK),
    ("believe-withdraw", "post", TREE | {"pk": "{overruling}"}, DESK),
    ("correct-tree", "get", TREE, PLANTERS),
    ("tree-happening", "get", TREE, LOOKERS),
    ("planting-happening", "get", PLANTING, LOOKERS),
    ("site-happening", "get", SITE, LOOKERS),
    ("ground", "get", SITE, DESK),
    ("leave-end", "post", SITE | {"pk": "{leave}"}, DESK),
    ("register", "get", {}, PLANTERS),
    ("register-site", "get", {"site": "{site}"}, PLANTERS),
    ("register-tree", "get", {"site": "{site}", "planting": "{planting}"}, PLANTERS),
    ("walks", "get", {}, LOOKERS),
    ("doubts", "get", {}, LOOKERS),
    ("walk", "get", SITE, LOOKERS),
    # the handbook is open to anybody; rules of the place are kept by trained staff
    ("handbook", "get", {}, ALL),
    ("handbook-a-to-z", "get", {}, ALL),
    *[(f"handbook-{chapter.key}", "get", {}, ALL) for chapter in CHAPTERS],
    ("handbook-chapter", "get", {"name": "signs"}, ALL),
    ("handbook-cause", "get", {"code": "mower_or_trimmer"}, ALL),
    ("handbook-care-of", "get", {"code": "mulch_ring"}, ALL),
    ("handbook-entry", "get", {"shelf": "signs", "code": "bark_wound"}, ALL),
    ("handbook-local", "get", {}, DESK),
    ("handbook-local-new", "get", {"about": "sign", "code": "bark_wound"}, DESK),
    ("handbook-local-approve", "post", {"ref": "{rule}"}, DESK),
    ("handbook-local-withdraw", "post", {"ref": "{rule}"}, DESK),
    ("sun", "get", {}, ALL),
    ("language", "post", {}, ALL),
    # orders
    ("orders", "get", {}, LOOKERS),
    ("order", "get", ORDER, LOOKERS),
    ("order-sheet", "get", ORDER, LOOKERS),
    ("order-new", "get", {}, DESK),
    ("order-change", "get", ORDER, DESK),
    ("order-plan", "get", ORDER, DESK),
    ("order-done", "get", ORDER, LOOKERS),
    ("order-drop", "get", ORDER, DESK),
    ("order-dose", "get", ORDER | {"care": "water"}, DESK),
    ("fertilizer-label", "get", {}, LOOKERS),
    ("trials", "get", {}, LOOKERS),
    ("trial-new", "get", {}, DESK),
    ("trial", "get", {"ref": "{trial}"}, LOOKERS),
    ("trial-end", "get", {"ref": "{trial}"}, DESK),
    # a table of one's own is worked out for anybody
    ("own-table", "get", {}, ALL),
    # survival and trends name no person: anybody signed in
    ("survival", "get", {}, SIGNED_IN),
    ("compare", "get", {}, SIGNED_IN),
    ("care-kinds", "get", {}, SIGNED_IN),
    ("care-kind", "get", {"code": "water"}, SIGNED_IN),
    ("survival-group", "get", {"by": "planting", "key": "{planting}"}, SIGNED_IN),
    ("trends", "get", {}, SIGNED_IN),
    ("trend", "get", SITE, SIGNED_IN),
    ("trend-of", "get", {"by": "planting", "key": "{planting}"}, SIGNED_IN),
    ("dictionary", "get", {}, SIGNED_IN),
    ("downloads", "get", {}, SIGNED_IN),
    ("download", "get", {"table": "trees"}, SIGNED_IN),
]

# Open to whoever comes, and yet not there: the secret in the address is wrong, the picture is
# hidden, or the first account has been made.
NOT_THERE = {
    *(name for name, _m, kw, _w in ACCESS if "key" in kw or "secret" in kw),
    "photo",
    "first",
} - {"person", "photo-show", "trend-of", "training-of"}
# Open, with a figure to show only once something was counted.
MAY_BE_EMPTY = {"survival-group", "trend", "download"}


@pytest.fixture
def world(settings, tmp_path):
    """One of each thing that a page can be about."""
    settings.MAIL_KEPT = tmp_path
    letter = "20260616-120001-1.log"
    (tmp_path / letter).write_text("Subject: Your note\nTo: a@b.example\n\nWe come.\n")
    area = AreaFactory()
    report = ReportFactory(contact=ContactFactory())
    decided = ReportFactory()
    by = PersonFactory()
    decision = triage.set_aside_report(
        report=decided, version=0, reason="a joke", message="", by=by, at=NOON
    )
    mail = Mail.objects.create(
        key="call",
        contact=ContactFactory(email="", phone="555 0100"),
        subject="Your note",
        body="We come.",
        due_at=NOON,
        state="by_phone",
        settled_at=NOON,
    )
    chore = Chore.objects.create(
        kind="dust",
        key="1",
        state="parked",
        last_error="no ladder",
        parked_at=timezone.now(),
        due_at=timezone.now(),
        created_at=timezone.now() - timedelta(hours=1),
    )
    line = OrderLineFactory(order__area=area)
    report.site.land_manager = LandManagerFactory()
    report.site.save()
    leave = Permission.objects.create(
        land_manager=report.site.land_manager,
        care="water",
        who="volunteer",
        from_day=NOON.date(),
        to_day=NOON.date(),
    )
    learner = PersonFactory(role="volunteer", trained_on=None)
    CareCompared.objects.create(
        area=area, care="water", as_of=NOON.date(), told=refused(), computed_at=NOON
    )
    overruling = overrule_belief(
        tree=report.tree, state="failing", day=NOON.date(), reason="seen", by=by, at=NOON
    )
    return {
        "leave": leave.pk,
        "overruling": overruling.pk,
        "rule": cause_rows.local_rule(area=area).ref,
        "turn": belief_rows.turn(site=report.site).pk,
        "finding": cause_rows.finding(area=report.area, site=report.site).number,
        "tree": report.tree.ref,
        "site": report.site.ref,
        "planting": report.tree.planting.ref,
        "report": report.pk,
        "decision": decision.pk,
        "order": line.order.number,
        "trial": Trial.objects.create(
            area=area,
            question="Do rings help?",
            care="mulch_ring",
            instead="the usual care",
            lot=7,
            until=NOON.date(),
            created_by=f"person:{by.key}",
            created_at=NOON,
        ).ref,
        "photo": PhotoFactory(key=uuid.uuid4().hex).key,
        "person": by.key,
        "learner": learner.key,
        "practice": PracticeRound.objects.create(
            person=learner, answers=[], right=6, of=8, at=NOON
        ).pk,
        "walk": PairedWalk.objects.create(
            person=learner, partner=by, day=NOON.date(), where=report.site.ref, at=NOON
        ).pk,
        "mail": mail.pk,
        "chore": chore.pk,
        "letter": letter,
    }


def address(name, keywords, world):
    filled = {key: word.format(**world) for key, word in keywords.items()}
    return reverse(f"frontend:{name}", kwargs=filled)


def test_every_page_stands_in_the_table():
    named = {route.name for route in urlpatterns}
    listed = {name for name, _method, _keywords, _who in ACCESS}
    assert named - listed == set(), "pages that nobody said who may open"
    assert listed - named == set(), "pages that do not exist (any more)"


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize(
    ("name", "method", "keywords", "who"), ACCESS, ids=[row[0] for row in ACCESS]
)
def test_who_may_open_what(client, world, role, name, method, keywords, who):
    if role != "nobody":
        client.force_login(PersonFactory(sign_in=f"the-{role}", role=role))
    url = address(name, keywords, world)
    response = getattr(client, method)(url)
    if role in who:
        if name in NOT_THERE:
            assert response.status_code == 404
            return
        allowed = {200, 302, 303, 400, 422} | ({404} if name in MAY_BE_EMPTY else set())
        assert response.status_code in allowed, response.status_code
        assert not response.headers.get("Location", "").startswith("/sign-in/?")
    elif role == "nobody":
        assert response.status_code == 302
        assert response.headers["Location"].startswith("/sign-in/")
    else:
        assert response.status_code == 403


@pytest.mark.parametrize("role", ["nobody", "volunteer", "crew", "liaison"])
@pytest.mark.parametrize(
    "name", [name for name, _m, _k, who in ACCESS if who <= DESK and name != "imports"]
)
def test_no_other_method_opens_a_closed_page(client, world, role, name):
    if role != "nobody":
        client.force_login(PersonFactory(sign_in=f"the-{role}", role=role))
    keywords = next(kw for other, _m, kw, _w in ACCESS if other == name)
    for method in ("get", "head", "post", "put", "patch", "delete", "options"):
        response = getattr(client, method)(address(name, keywords, world))
        assert response.status_code in (302, 403, 405)
