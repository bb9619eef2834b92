"""Accounts: who makes them, who changes them, and how sessions end."""

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from io import StringIO

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.core.management import CommandError, call_command
from django.db import connections

from survey.audit.models import Entry
from survey.people import actions
from survey.people.models import Mail, Person
from tests.factories import NOON, PASSWORD, AreaFactory, ContactFactory, PersonFactory

pytestmark = pytest.mark.django_db


def first(**changed):
    given = {
        "sign_in": "Ada",
        "name": "Ada Osei",
        "role": "keeper",
        "password": PASSWORD,
        "by": None,
        "at": NOON,
    }
    return actions.create_account(**given | changed)


def change(person, by, **changed):
    given = {
        "name": person.name,
        "email": person.email,
        "role": person.role,
        "trained_on": person.trained_on,
        "qualified_until": person.qualified_until,
        "is_active": person.is_active,
    }
    return actions.change_account(person=person, by=by, at=NOON, **given | changed)


@pytest.fixture
def keeper():
    return PersonFactory(sign_in="keeper", role="keeper")


def test_the_first_account_keeps_the_others_and_is_the_only_one_nobody_makes():
    with pytest.raises(ValidationError):
        first(role="staff")
    person = first()
    assert person.sign_in == "ada"
    assert person.check_password(PASSWORD)
    line = Entry.objects.get()
    assert (line.act, line.who, line.detail["role"]) == ("account.made", "nobody", "keeper")
    with pytest.raises(PermissionDenied):
        first(sign_in="bob")


@pytest.mark.parametrize(
    ("field", "changed"),
    [
        ("password", {"password": "short"}),
        ("password", {"password": "password1234"}),
        ("password", {"password": "ada osei ada osei", "name": "ada osei ada osei"}),
        ("sign_in", {"sign_in": "  "}),
        ("sign_in", {"sign_in": "x" * 61}),
        ("name", {"name": ""}),
        ("email", {"email": "not an address"}),
        ("role", {"role": "owner"}),
    ],
)
def test_what_cannot_be_an_account_is_refused_at_its_field(keeper, field, changed):
    with pytest.raises(ValidationError) as told:
        first(by=keeper, **changed)
    assert field in told.value.message_dict
    assert Person.objects.count() == 1


def test_a_sign_in_name_is_given_once_whatever_its_letters(keeper):
    first(by=keeper)
    with pytest.raises(ValidationError) as told:
        first(by=keeper, sign_in=" ADA ")
    assert "sign_in" in told.value.message_dict


@pytest.mark.parametrize("role", ["volunteer", "crew", "staff", "liaison"])
def test_only_a_keeper_makes_and_changes_accounts(role):
    by = PersonFactory(role=role)
    with pytest.raises(PermissionDenied):
        first(by=by)
    with pytest.raises(PermissionDenied):
        change(by, by, role="keeper")


def test_a_changed_role_is_written_to_the_audit_with_what_was_before(keeper):
    person = PersonFactory(role="volunteer", trained_on=None)
    change(person, keeper, role="staff", trained_on=date(2026, 1, 2))
    line = Entry.objects.about(f"person:{person.key}").get()
    assert line.who == f"person:{keeper.key}"
    assert (line.detail["before"]["role"], line.detail["after"]["role"]) == ("volunteer", "staff")
    assert line.detail["after"]["trained_on"] == "2026-01-02"


def test_the_last_keeper_stays(keeper):
    for taken in ({"role": "staff"}, {"is_active": False}):
        with pytest.raises(ValidationError):
            change(keeper, keeper, **taken)
    other = PersonFactory(role="keeper")
    change(other, keeper, role="staff")
    keeper.refresh_from_db()
    assert (keeper.role, keeper.is_active) == ("keeper", True)


def test_closing_an_account_ends_its_sessions_for_good(client, keeper):
    person = PersonFactory()
    client.force_login(person)
    assert client.get("/account/").status_code == 200
    cookies = client.cookies.output()
    change(person, keeper, is_active=False)
    person.refresh_from_db()
    assert not person.has_usable_password()
    with pytest.raises(ValidationError) as told:
        change(person, keeper, is_active=True)
    assert list(told.value.message_dict) == ["password"]
    person.refresh_from_db()
    change(person, keeper, is_active=True, password="three other words here")
    assert client.cookies.output() == cookies
    response = client.get("/account/")
    assert response.status_code == 302, "the old session must not come back to life"


def test_own_settings_and_password():
    person = PersonFactory()
    actions.change_own_settings(by=person, name="Ben", units="metric", language="es")
    person.refresh_from_db()
    assert (person.name, person.units, person.language) == ("Ben", "metric", "es")
    for wrong in ({"units": "stones"}, {"language": "xx"}, {"name": " "}):
        given = {"name": "Ben", "units": "us", "language": "en"} | wrong
        with pytest.raises(ValidationError) as told:
            actions.change_own_settings(by=person, **given)
        assert list(told.value.message_dict) == list(wrong)
    with pytest.raises(ValidationError) as told:
        actions.change_own_password(by=person, old="wrong", new="another good password", at=NOON)
    assert list(told.value.message_dict) == ["old"]
    with pytest.raises(ValidationError) as told:
        actions.change_own_password(by=person, old=PASSWORD, new="short", at=NOON)
    assert list(told.value.message_dict) == ["password"]
    actions.change_own_password(by=person, old=PASSWORD, new="another good password", at=NOON)
    person.refresh_from_db()
    assert person.check_password("another good password")


# ---------------------------------------------------------------------------- by command


def command(monkeypatch, typed, **options):
    monkeypatch.setattr("sys.stdin", StringIO(typed))
    out = StringIO()
    call_command("first_account", sign_in="ada", name="Ada Osei", stdout=out, **options)
    return out.getvalue()


def test_the_command_makes_the_first_account_from_standard_input(monkeypatch):
    said = command(monkeypatch, f"{PASSWORD}\n")
    assert "ada" in said
    assert PASSWORD not in said
    person = Person.objects.get()
    assert (person.role, person.check_password(PASSWORD)) == ("keeper", True)


def test_the_command_says_what_is_wrong_and_makes_nothing(monkeypatch):
    with pytest.raises(CommandError, match="password"):
        command(monkeypatch, "short\n")
    assert not Person.objects.exists()
    PersonFactory()
    with pytest.raises(CommandError, match="already"):
        command(monkeypatch, f"{PASSWORD}\n")


# ---------------------------------------------------------------------- contacts and calls


def letter_to(contact, state="waiting"):
    return Mail.objects.create(
        key=f"test:{contact.pk}:{state}",
        contact=contact,
        subject="Your note",
        body="We come.",
        due_at=NOON,
        state=state,
        settled_at=None if state == "waiting" else NOON,
    )


def test_erasing_leaves_no_address_in_rows_or_letters(settings, tmp_path):
    settings.MAIL_KEPT = tmp_path
    contact = ContactFactory(email="Nora@pellworth.example", phone="555 0100")
    waiting, to_call = letter_to(contact), letter_to(contact, "by_phone")
    for number, to in ((1, "nora@pellworth.example"), (2, "oli@pellworth.example")):
        (tmp_path / f"20260616-12000{number}-{number}.log").write_text(
            f"Subject: Your note\nTo: {to}\n\nWe come.\n{'-' * 79}\n"
        )
    (tmp_path / "nora@pellworth.example.txt").write_text("not a letter of ours")
    actions.erase_contact(contact=contact, at=NOON, by=PersonFactory())
    contact.refresh_from_db()
    assert (contact.email, contact.phone, contact.erased_at) == ("", "", NOON)
    for mail, state in ((waiting, "withdrawn"), (to_call, "unreachable")):
        mail.refresh_from_db()
        assert mail.state == state
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "20260616-120002-2.log",
        "nora@pellworth.example.txt",
    ]
    assert "nora" not in str(Entry.objects.get().detail).lower()
    actions.erase_contact(contact=contact, at=NOON, by=PersonFactory())
    assert Entry.objects.count() == 1


def test_only_the_desk_erases_and_settles_calls():
    contact = ContactFactory(phone="555 0100")
    crew = PersonFactory(role="crew")
    mail = letter_to(contact, "by_phone")
    with pytest.raises(PermissionDenied):
        actions.erase_contact(contact=contact, at=NOON, by=crew)
    with pytest.raises(PermissionDenied):
        actions.settle_call(mail=mail, at=NOON, by=crew)
    actions.settle_call(mail=mail, at=NOON, by=PersonFactory())
    actions.settle_call(mail=mail, at=NOON, by=PersonFactory())
    mail.refresh_from_db()
    assert mail.state == "sent"
    assert Entry.objects.filter(act="mail.told_by_phone").count() == 1


def test_nobody_is_trained_on_a_day_to_come(keeper):
    person = PersonFactory(role="volunteer", trained_on=None)
    ahead = date(2026, 6, 18)
    with pytest.raises(ValidationError) as told:
        change(person, keeper, trained_on=ahead)
    assert "trained_on" in told.value.message_dict
    with pytest.raises(ValidationError):
        first(by=keeper, sign_in="new", role="volunteer", trained_on=ahead)
    person.refresh_from_db()
    assert person.trained_on is None


# ------------------------------------------------------------------------------ many at once


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("emptied_audit")
def test_two_strangers_at_the_same_moment_make_one_first_account():
    AreaFactory()
    start = threading.Barrier(4)

    def one(n):
        try:
            start.wait(20)
            first(sign_in=f"person{n}")
        except PermissionDenied:
            return False
        else:
            return True
        finally:
            connections.close_all()

    with ThreadPoolExecutor(4) as pool:
        made = list(pool.map(one, range(4)))
    assert sorted(made) == [False, False, False, True]
    assert Person.objects.count() == 1


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("emptied_audit")
def test_two_keepers_who_demote_each_other_at_once_leave_one_keeper():
    keepers = PersonFactory.create_batch(2, role="keeper")
    start = threading.Barrier(2)

    def demote(n):
        try:
            start.wait(20)
            change(keepers[1 - n], keepers[n], role="staff")
        except (ValidationError, PermissionDenied):
            return False
        else:
            return True
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as pool:
        done = list(pool.map(demote, range(2)))
    assert Person.objects.filter(role="keeper").count() == 1, done
