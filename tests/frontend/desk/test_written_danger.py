"""A danger that was written and not ticked, as the desk and the neighbor see it."""

import re
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from survey.reports.actions import triage
from survey.reports.models import Report
from tests.factories import NOON, AreaFactory, PersonFactory, ReportFactory

pytestmark = pytest.mark.django_db

WRITTEN = {
    "words": "Hello. The branch <b>is hanging & swinging. Bye",
    "danger": "hanging_limb",
    "danger_words": "branch <b>is hanging",
}


@pytest.fixture(autouse=True)
def area():
    return AreaFactory()


@pytest.fixture
def desk(client):
    client.force_login(PersonFactory(sign_in="desk", name="Ben Ruiz"))
    return client


def words_of(response):
    page = response.content.decode().split("<main", 1)[1]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def aside(desk, report, reason="it is a swing", version=None):
    version = report.version if version is None else version
    return desk.post(
        f"/desk/{report.pk}/no_danger/", {"no_danger-reason": reason, "version": version}
    )


def test_the_queue_shows_it_first_and_says_it_was_written(desk):
    ReportFactory(weight=9)
    ReportFactory(**WRITTEN)
    page = words_of(desk.get("/desk/"))
    assert (
        "Big branch hanging or broken overhead; written, not ticked: “branch <b>is hanging”" in page
    )
    assert page.index("Danger to people") < page.index("Heavy signs")


def test_the_docket_marks_the_words_in_the_quote_and_trusts_none_of_them(desk):
    report = ReportFactory(**WRITTEN)
    html = desk.get(f"/desk/{report.pk}/").content.decode()
    assert "The <mark>branch &lt;b&gt;is hanging</mark> &amp; swinging. Bye" in html
    assert "written, not ticked: “branch &lt;b&gt;is hanging”" in html


def test_a_ticked_danger_marks_no_words_and_is_not_set_aside_by_the_desk(desk):
    report = ReportFactory(words="The branch is hanging.", danger="hanging_limb")
    html = desk.get(f"/desk/{report.pk}/").content.decode()
    assert "<mark>" not in html
    assert "no_danger" not in html
    assert aside(desk, report).status_code == 422
    report.refresh_from_db()
    assert report.danger == "hanging_limb"


def test_the_desk_says_that_the_words_are_not_about_a_danger(desk):
    report = ReportFactory(**WRITTEN)
    page = desk.get(f"/desk/{report.pk}/").content.decode()
    assert f'action="/desk/{report.pk}/no_danger/"' in page
    assert aside(desk, report)["Location"] == f"/desk/{report.pk}/"
    page = words_of(desk.get(f"/desk/{report.pk}/"))
    assert (
        "the words are not about a danger “branch <b>is hanging” , Ben Ruiz: it is a swing" in page
    )
    assert "danger cleared" not in page
    assert not Report.objects.in_danger().exists()
    undo = re.search(r'action="(/desk/[^"]*undo[^"]*)"', desk.get("/desk/").content.decode())
    desk.post(undo.group(1))
    assert Report.objects.in_danger().get() == report


def test_without_a_reason_nothing_happens_and_the_page_says_why(desk):
    report = ReportFactory(**WRITTEN)
    page = aside(desk, report, reason="")
    assert page.status_code == 422
    assert Report.objects.in_danger().exists()


def test_a_colleague_who_was_faster_is_told_of_and_the_reason_is_kept(desk):
    report = ReportFactory(**WRITTEN)
    colleague = PersonFactory(sign_in="other")
    triage.mark_danger(
        report=report, version=report.version, danger="crack", reason="seen", by=colleague, at=NOON
    )
    page = aside(desk, report, reason="a swing, I think", version=0)
    assert page.status_code == 409
    assert Report.objects.get().danger == "crack"
    assert report.desk_notes.get().fields["no_danger-reason"] == "a swing, I think"


def test_the_queue_asks_no_more_of_the_database_for_more_written_dangers(
    desk, django_assert_max_num_queries
):
    ReportFactory(**WRITTEN)
    desk.get("/desk/")
    with CaptureQueriesContext(
        connection,
    ) as few:
        desk.get("/desk/")
    ReportFactory.create_batch(6, **WRITTEN)
    with django_assert_max_num_queries(len(few)):
        desk.get("/desk/")
