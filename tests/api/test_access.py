"""One table for all access: every route, every kind of person."""

import uuid

import pytest
from django.urls import get_resolver

from tests.factories import (
    LookFactory,
    OrderLineFactory,
    ReportFactory,
)
from tests.survey.belief_rows import outlook
from tests.survey.cause_rows import finding
from tests.survey_rows import learning_of, survival_group, trend_month

pytestmark = pytest.mark.django_db
ROLES = ["nobody", "volunteer", "crew", "staff", "liaison", "keeper"]

REPORT = {"landmark": "by the third bench", "words": "The bark is cut", "signs": ["bark_wound"]}
DECISION = {"version": 0, "reason": "seen on the photo", "message": "Thank you, we looked."}
ALL = [200] * 6
DESK = [403, 403, 403, 200, 403, 200]
WORKERS = [403, 200, 200, 200, 403, 200]
SIGNED_IN = [403, 200, 200, 200, 200, 200]

ACCESS = [  # route, method, path, body, answers for the six kinds of people
    ("site-list", "get", "sites/", None, ALL),
    ("site-detail", "get", "sites/{site}/", None, ALL),
    ("planting-list", "get", "plantings/", None, ALL),
    ("planting-detail", "get", "plantings/{planting}/", None, ALL),
    ("tree-list", "get", "trees/", None, ALL),
    ("tree-detail", "get", "trees/{tree}/", None, ALL),
    ("tree-looks", "get", "trees/{tree}/looks/", None, ALL),
    ("tree-why", "get", "trees/{tree}/why/", None, ALL),
    ("tree-causes", "get", "trees/{tree}/causes/", None, WORKERS),
    ("causes", "post", "causes/", {"signs": ["wilting"]}, ALL),
    ("tree-saving", "get", "trees/{tree}/saving/", None, ALL),
    ("report-list", "get", "reports/", None, DESK),
    ("report-list", "post", "reports/", REPORT, [201] * 6),
    ("report-detail", "get", "reports/{report}/", None, DESK),
    ("report-causes", "get", "reports/{report}/causes/", None, DESK),
    ("report-answer", "post", "reports/{report}/answer/", DECISION, DESK),
    ("report-ask", "post", "reports/{report}/ask/", DECISION, DESK),
    ("report-join", "post", "reports/{report}/join/", DECISION | {"other": "{other}"}, DESK),
    ("report-set-aside", "post", "reports/{report}/set-aside/", DECISION, DESK),
    ("order-list", "get", "orders/", None, WORKERS),
    ("order-detail", "get", "orders/{order}/", None, WORKERS),
    ("order-doses", "get", "orders/{order}/doses/", None, WORKERS),
    ("order-refusals", "get", "orders/{order}/refusals/?day=2026-06-20", None, WORKERS),
    ("finding-list", "get", "findings/", None, DESK),
    ("finding-detail", "get", "findings/{finding}/", None, DESK),
    ("survival-list", "get", "survival/", None, SIGNED_IN),
    ("survival-detail", "get", "survival/{group}/", None, SIGNED_IN),
    ("survival-csv", "get", "survival.csv?by=planting", None, SIGNED_IN),
    ("trend-list", "get", "trends/", None, SIGNED_IN),
    ("trend-detail", "get", "trends/{month}/", None, SIGNED_IN),
    ("outlook-list", "get", "outlooks/", None, SIGNED_IN),
    ("outlook-detail", "get", "outlooks/{outlook}/", None, SIGNED_IN),
    ("doubts", "get", "walks/doubts/", None, WORKERS),
    ("handbook", "get", "handbook/", None, ALL),
    ("handbook-shelf", "get", "handbook/causes/", None, ALL),
    ("handbook-entry", "get", "handbook/causes/mower_or_trimmer/", None, ALL),
    ("learning-list", "get", "learnings/", None, ALL),
    ("learning-detail", "get", "learnings/{learning}/", None, ALL),
]


@pytest.fixture
def rows():
    look = LookFactory()
    line = OrderLineFactory(tree=look.tree)
    report, other = ReportFactory(tree=look.tree), ReportFactory(tree=look.tree)
    return {
        "site": look.tree.site.ref,
        "planting": look.tree.planting.ref,
        "tree": look.tree.ref,
        "report": report.pk,
        "other": other.pk,
        "order": line.order.pk,
        "finding": finding(area=look.tree.area).pk,
        "group": survival_group(look.tree.planting).pk,
        "month": trend_month(look.tree.site).pk,
        "outlook": outlook(area=look.tree.area).pk,
        "learning": learning_of(look.tree.area).pk,
    }


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize(
    ("route", "method", "path", "body", "answers"), ACCESS, ids=[f"{a[1]} {a[2]}" for a in ACCESS]
)
def test_who_may_do_what(client_as, rows, role, route, method, path, body, answers):
    body = body and {
        name: value.format(**rows) if isinstance(value, str) else value
        for name, value in body.items()
    }
    if route == "report-list" and method == "post":
        body["client_ref"] = str(uuid.uuid4())
    response = getattr(client_as(role), method)(
        f"/api/v1/{path.format(**rows)}", body, format="json"
    )
    assert response.status_code == answers[ROLES.index(role)], getattr(response, "data", "")


def test_every_route_stands_in_the_table():
    named = {
        pattern.name
        for included in get_resolver("api.urls").url_patterns
        for pattern in getattr(included, "url_patterns", [included])
    }
    assert named - {"schema", "docs"} == {row[0] for row in ACCESS}
