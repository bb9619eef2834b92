"""The operations page: what waits, what is parked, letters, calls and the audit."""

from datetime import timedelta

import pytest
from django.utils import timezone

from survey.audit.log import record
from survey.audit.models import Entry
from survey.chores.actions import write_chore
from survey.chores.models import Chore
from survey.people.models import Mail
from tests.factories import NOON, AreaFactory, ContactFactory, PersonFactory, PhotoFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def area():
    return AreaFactory()


@pytest.fixture
def desk(client, settings, tmp_path):
    settings.MAIL_KEPT = tmp_path
    client.force_login(PersonFactory(name="Ben Ruiz"))
    return client


def page_of(desk, query=""):
    return desk.get(f"/desk/operations/{query}").content.decode()


def parked():
    return Chore.objects.create(
        kind="prepare_photo",
        key="81",
        state="parked",
        attempts=5,
        last_error="OSError: no room <b>left</b>\n\nline 3",
        parked_at=timezone.now(),
        due_at=timezone.now(),
        created_at=timezone.now(),
    )


def test_it_works_before_there_is_anything_and_before_there_is_a_town(client, area):
    area.delete()
    client.force_login(PersonFactory())
    assert client.get("/desk/operations/").status_code == 200


def test_work_that_waits_is_counted_by_kind_and_late_work_is_said(desk):
    write_chore(kind="send_mail", key="1", due_at=timezone.now() + timedelta(minutes=9))
    assert "The house does its work." in page_of(desk)
    write_chore(kind="match_report", key="1")
    Chore.objects.filter(kind="match_report").update(due_at=timezone.now() - timedelta(minutes=6))
    page = page_of(desk)
    assert "Work waits longer than it should." in page
    assert page.index("match_report") < page.index("send_mail")


def test_parked_work_says_why_and_is_tried_again(desk):
    chore = parked()
    page = page_of(desk)
    assert "One piece of work is parked" in page
    assert "OSError: no room &lt;b&gt;left&lt;/b&gt;" in page
    desk.post(f"/desk/operations/chores/{chore.pk}/retry/")
    again = Chore.objects.get()
    assert (again.state, again.attempts) == ("waiting", 0)
    assert Entry.objects.get().act == "chore.retried"
    gone = desk.post(f"/desk/operations/chores/{chore.pk}/retry/", follow=True)
    assert "not parked any more" in gone.content.decode()


def test_kept_letters_are_listed_and_read(desk, tmp_path):
    (tmp_path / "20260616-120001-1.log").write_text(
        "Subject: Your note\nTo: nora@pellworth.example\n"
        'Content-Type: text/plain; charset="utf-8"\n\n<script>We come.\n' + "-" * 79 + "\n"
    )
    (tmp_path / "20260616-120002-2.log").write_bytes(b"\xff\xfe broken")
    page = page_of(desk)
    assert "Your note" in page
    letter = desk.get("/desk/operations/letters/20260616-120001-1.log/").content.decode()
    assert "&lt;script&gt;We come." in letter
    assert "nora@pellworth.example" in letter


@pytest.mark.parametrize(
    "name", ["..%2Fsecret.key", "secret.key", "20260616-120001-9.log", "%00", "x" * 300]
)
def test_no_other_file_is_read(desk, tmp_path, name):
    (tmp_path / "secret.key").write_text("secret")
    assert desk.get(f"/desk/operations/letters/{name}/").status_code == 404


def test_calls_to_make_are_listed_until_somebody_called(desk):
    contact = ContactFactory(email="", phone="555 0100")
    mail = Mail.objects.create(
        key="call",
        contact=contact,
        subject="Your note",
        body="We come on Saturday.",
        due_at=NOON,
        state="by_phone",
        settled_at=NOON,
    )
    page = page_of(desk)
    assert "One call to make." in page
    assert 'href="tel:5550100"' in page
    assert "We come on Saturday." in page
    desk.post(f"/desk/operations/calls/{mail.pk}/")
    assert "Nobody has to be called." in page_of(desk)


def test_photos_that_could_not_be_read_say_why(desk):
    PhotoFactory(state="refused", refused_because="It breaks off.")
    PhotoFactory()
    page = page_of(desk)
    assert "0 ready, 1 being prepared, 1 could not be read." in page
    assert "It breaks off." in page


def test_the_audit_is_searched_by_subject_and_names_who(desk):
    by = PersonFactory(name="Cleo Marsh")
    for n in range(40):
        record("tree.seen", subject="tree:0407", by=by, at=NOON, n=n)
    record("tree.seen", subject="tree:0408", at=NOON, hostile="<b>")
    page = page_of(desk)
    assert "tree:0408" in page
    assert "&lt;b&gt;" in page
    page = page_of(desk, "?subject=tree:0407")
    assert "Cleo Marsh" in page
    assert "subject=tree:0408" not in page
    assert "1 to 30 of 40" in page
    assert "subject=tree:0407&amp;page=2" in page
    for hostile in ("?subject=%00", "?subject=" + "x" * 500, "?page=x", "?subject='--"):
        assert desk.get(f"/desk/operations/{hostile}").status_code == 200


def test_it_asks_a_bounded_number_of_questions(desk, django_assert_max_num_queries):
    for n in range(30):
        write_chore(kind="dust", key=str(n))
        record("tree.seen", subject=f"tree:{n}", at=NOON)
    with django_assert_max_num_queries(32):
        page_of(desk)
