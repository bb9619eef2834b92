"""Signing in and out, one's own account, and everybody's."""

import pytest
from django.conf import settings as conf
from django.contrib.auth.hashers import PBKDF2PasswordHasher
from django.test import Client
from redis.exceptions import ConnectionError as RedisConnectionError

from frontend.accounts import throttle
from frontend.accounts.views import first_page_of
from survey.people.models import Person
from survey.trees.models import Area
from tests.factories import PASSWORD, AreaFactory, PersonFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def area():
    return AreaFactory()


def sign_in(client, name="desk", password=PASSWORD, **more):
    return client.post("/sign-in/", {"sign_in": name, "password": password, **more})


def body_of(response):
    """The page without what is different in every page: the form's token."""
    lines = response.content.decode().splitlines()
    return [line for line in lines if "csrfmiddlewaretoken" not in line]


@pytest.mark.parametrize(
    ("role", "first"),
    [
        ("staff", "/desk/"),
        ("keeper", "/desk/"),
        ("liaison", "/survival/"),
        ("crew", "/orders/"),
        ("volunteer", "/orders/"),
    ],
)
def test_signing_in_leads_to_where_the_work_is(client, area, role, first):
    PersonFactory(sign_in="desk", role=role)
    response = sign_in(client)
    assert (response.status_code, response.headers["Location"]) == (302, first)


def test_a_sign_in_name_is_known_whatever_its_letters(client, area):
    PersonFactory(sign_in="desk")
    assert sign_in(client, " Desk ").status_code == 302


def test_the_session_gets_a_new_key_at_signing_in(client, area):
    PersonFactory(sign_in="desk")
    session = client.session
    session["seen"] = "before"
    session.save()
    before = session.session_key
    sign_in(client)
    assert client.session.session_key != before


@pytest.mark.parametrize(
    ("wanted", "leads"),
    [
        ("/desk/operations/?subject=x", "/desk/operations/?subject=x"),
        ("https://evil.example/", "/desk/"),
        ("//evil.example/", "/desk/"),
        ("/\\evil.example", "/desk/"),
        ("javascript:alert(1)", "/desk/"),
        ("", "/desk/"),
    ],
)
def test_next_leads_only_to_pages_of_this_house(client, area, wanted, leads):
    PersonFactory(sign_in="desk")
    response = sign_in(client, next=wanted)
    assert response.headers["Location"] == leads
    page = Client().get("/sign-in/", {"next": wanted}).content.decode()
    assert "evil.example" not in page
    assert "javascript:" not in page


def test_wrong_unknown_and_closed_get_one_answer(area):
    PersonFactory(sign_in="desk")
    PersonFactory(sign_in="gone", is_active=False)
    lost = PersonFactory(sign_in="lost")
    lost.set_unusable_password()
    lost.save()
    wrong = sign_in(Client(), "desk", "not the password")
    assert wrong.status_code == 403
    pages = [
        body_of(sign_in(Client(), name, password))
        for name, password in (
            ("desk", "x"), ("nobody", "x"), ("gone", PASSWORD), ("lost", PASSWORD)
        )
    ]  # fmt: skip
    names = ("desk", "nobody", "gone", "lost")
    alike = [
        [line.replace(f'value="{name}"', "") for line in page]
        for name, page in zip(names, pages, strict=True)
    ]
    assert alike.count(alike[0]) == 4


def test_an_unknown_name_costs_one_password_check_like_a_known_one(area, monkeypatch, settings):
    """Time is the work of the hasher: it must run once whether or not there is such an account."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.PBKDF2PasswordHasher"]
    for name, active in (("desk", True), ("gone", False)):
        person = PersonFactory(sign_in=name, is_active=active)
        person.set_password(PASSWORD)
        person.save()
    runs = []
    real = PBKDF2PasswordHasher.encode

    def counted(self, password, salt, iterations=None):
        runs.append(iterations or self.iterations)
        return real(self, password, salt, iterations)

    monkeypatch.setattr(PBKDF2PasswordHasher, "encode", counted)
    costs = {}
    for name in ("desk", "nobody", "gone"):
        runs.clear()
        sign_in(Client(), name, "not the password")
        costs[name] = list(runs)
    assert costs["desk"] == costs["nobody"] == costs["gone"]
    assert len(costs["desk"]) == 1


@pytest.mark.parametrize("name", ["desk", "nobody"])
def test_guessing_is_slowed_for_names_that_exist_and_names_that_do_not(area, name):
    PersonFactory(sign_in="desk")
    for _ in range(throttle.TRIES_HERE):
        assert sign_in(Client(), name, "guess").status_code == 403
    slowed = sign_in(Client(), name, PASSWORD)
    assert slowed.status_code == 429
    assert slowed.headers["Retry-After"] == "900"
    elsewhere = Client(REMOTE_ADDR="192.0.2.7")
    expected = 302 if name == "desk" else 403
    assert sign_in(elsewhere, name, PASSWORD).status_code == expected, "nobody is locked out"


def test_one_address_that_tries_many_names_is_slowed(area):
    for n in range(throttle.TRIES_AN_ADDRESS):
        sign_in(Client(), f"name{n}", "guess")
    assert sign_in(Client(), "another", "guess").status_code == 429


def test_slips_do_not_add_up_over_right_passwords(client, area):
    PersonFactory(sign_in="desk")
    for _ in range(3):
        for _ in range(throttle.TRIES_HERE - 1):
            sign_in(client, "desk", "slip")
        assert sign_in(client).status_code == 302


@pytest.mark.parametrize("hostile", ["\x00", "a" * 5000, "\u202edesk", "desk'--", "de\nsk"])
def test_hostile_names_are_just_wrong(client, area, hostile):
    assert sign_in(client, hostile).status_code in (200, 403)
    assert "_auth_user_id" not in client.session


def test_signing_out_is_a_form_and_clears_what_the_browser_kept(client, area):
    client.force_login(PersonFactory())
    assert client.get("/sign-out/").status_code == 405
    response = client.post("/sign-out/")
    assert response.headers["Clear-Site-Data"] == '"cache", "storage"'
    assert client.get("/account/").status_code == 302


def test_forms_need_their_token(area):
    PersonFactory(sign_in="desk")
    strict = Client(enforce_csrf_checks=True)
    assert sign_in(strict).status_code == 403
    assert "_auth_user_id" not in strict.session


def test_a_closed_account_is_signed_out_at_its_next_click(client, area):
    person = PersonFactory()
    client.force_login(person)
    Person.objects.filter(pk=person.pk).update(is_active=False)
    assert client.get("/account/").status_code == 302


def test_a_changed_role_counts_at_the_next_click(client, area):
    person = PersonFactory(role="staff")
    client.force_login(person)
    assert client.get("/desk/").status_code == 200
    Person.objects.filter(pk=person.pk).update(role="volunteer")
    assert client.get("/desk/").status_code == 403


# ------------------------------------------------------------------------------ the first one


NEW = {"sign_in": "ada", "name": "Ada Osei", "password": PASSWORD}


def test_the_first_account_is_made_on_a_page_that_is_gone_afterwards(client, settings):
    settings.CITY = False
    assert client.get("/first/").status_code == 200
    assert "/first/" in client.get("/sign-in/").content.decode()
    response = client.post("/first/", NEW)
    assert (response.status_code, response.headers["Location"]) == (302, "/town/")
    assert client.get("/town/").status_code == 200
    assert Client().get("/first/").status_code == 404
    assert Client().post("/first/", NEW | {"sign_in": "eve"}).status_code == 404
    assert Person.objects.get().role == "keeper"


def test_what_is_wrong_with_the_first_account_is_said_and_the_rest_kept(client, settings):
    settings.CITY = False
    page = client.post("/first/", NEW | {"password": "short"}).content.decode()
    assert 'value="Ada Osei"' in page
    assert "short" not in page.replace("Short", "").replace("too short", "")
    assert not Person.objects.exists()


def test_on_a_public_service_no_stranger_makes_the_first_account(client, settings):
    settings.CITY, settings.DEBUG = True, False
    page = client.get("/first/").content.decode()
    assert "first_account" in page
    assert "<input" not in page.split("<main")[1]
    assert client.post("/first/", NEW).status_code == 403
    assert not Person.objects.exists()


TOWN = {
    "name": "Birchfield",
    "latitude": "-33.5",
    "longitude": "150.1",
    "radius_km": "5",
    "time_zone": "Australia/Sydney",
    "emergency_number": "000",
    "hazard_line": "555 0111",
}


def test_the_town_is_named_once_and_corrected_later(client):
    keeper = PersonFactory(role="keeper")
    assert first_page_of(keeper) == "/town/"
    client.force_login(keeper)
    assert client.post("/town/", TOWN).status_code == 302
    area = Area.objects.get()
    assert (area.name, area.hemisphere, area.radius_m) == ("Birchfield", "south", 5000)
    assert client.post("/town/", TOWN | {"hazard_line": "555 0999"}).status_code == 302
    area.refresh_from_db()
    assert area.hazard_line == "555 0999"
    assert Area.objects.count() == 1


@pytest.mark.parametrize(
    "wrong",
    [
        {"latitude": "91"},
        {"longitude": "nan"},
        {"radius_km": "0"},
        {"time_zone": "../etc/passwd"},
        {"name": ""},
        {"name": "\x00"},
        {"emergency_number": ""},
    ],
)
def test_a_town_that_cannot_be_is_refused_with_what_was_typed(client, wrong):
    client.force_login(PersonFactory(role="keeper"))
    response = client.post("/town/", TOWN | wrong)
    assert response.status_code == 200
    assert "555 0111" in response.content.decode()
    assert not Area.objects.exists()


# --------------------------------------------------------------------------------- accounts


def test_a_keeper_makes_changes_and_closes_an_account(client, area):
    client.force_login(PersonFactory(role="keeper"))
    given = {"role": "volunteer", "email": "", "trained_on": "2026-03-01", "qualified_until": ""}
    assert client.post("/people/new/", NEW | given).status_code == 302
    person = Person.objects.get(sign_in="ada")
    assert str(person.trained_on) == "2026-03-01"
    assert "Ada Osei" in client.get("/people/").content.decode()
    changed = given | {"name": "Ada O.", "role": "crew", "is_active": "on"}
    assert client.post(f"/people/{person.key}/", changed).status_code == 302
    person.refresh_from_db()
    assert (person.name, person.role) == ("Ada O.", "crew")
    del changed["is_active"]
    client.post(f"/people/{person.key}/", changed)
    person.refresh_from_db()
    assert not person.is_active
    assert sign_in(Client(), "ada").status_code == 403


def test_a_refused_account_says_why_at_its_field(client, area):
    keeper = PersonFactory(role="keeper")
    client.force_login(keeper)
    page = client.post(
        f"/people/{keeper.key}/", {"name": "K", "role": "staff", "is_active": "on"}
    ).content.decode()
    assert "last one" in page
    given = {"role": "volunteer", "trained_on": "31.12.2025"}
    page = client.post("/people/new/", NEW | given).content.decode()
    assert "31.12.2025" in page
    assert Person.objects.count() == 1


def test_extra_fields_change_nothing(client, area):
    person = PersonFactory(role="volunteer")
    client.force_login(person)
    given = {"form": "settings", "own-name": "Eve", "own-units": "us", "own-language": "en"}
    client.post("/account/", given | {"own-role": "keeper", "role": "keeper"})
    person.refresh_from_db()
    assert (person.name, person.role) == ("Eve", "volunteer")


def test_a_new_password_keeps_this_browser_and_ends_the_others(client, area):
    person = PersonFactory()
    client.force_login(person)
    other = Client()
    other.force_login(person)
    given = {"form": "password", "old": PASSWORD, "password": "another good password"}
    assert client.post("/account/", given).status_code == 302
    assert client.get("/account/").status_code == 200
    assert other.get("/account/").status_code == 302


def test_own_language_is_kept_in_a_cookie(client, area):
    client.force_login(PersonFactory())
    given = {"form": "settings", "own-name": "A", "own-units": "metric", "own-language": "es"}
    client.post("/account/", given)
    assert client.cookies[conf.LANGUAGE_COOKIE_NAME].value == "es"
    assert client.get("/account/").headers["Content-Language"] == "es"


def test_people_get_in_when_the_cache_is_out_of_reach(client, area, monkeypatch):
    def broken(*_args, **_kwargs):
        raise RedisConnectionError

    PersonFactory(sign_in="desk")
    for name in ("get_many", "add", "incr", "delete"):
        monkeypatch.setattr(throttle.cache, name, broken, raising=False)
    assert sign_in(client, password="wrong").status_code == 403
    assert sign_in(client).status_code == 302


def test_a_keeper_trains_nobody_on_a_day_to_come(client, area):
    client.force_login(PersonFactory(role="keeper"))
    whom = PersonFactory(sign_in="ines", role="volunteer", trained_on=None)
    given = {"name": "Ines", "role": "volunteer", "is_active": "on", "trained_on": "2026-06-17"}
    page = client.post(f"/people/{whom.key}/", given)
    assert "That day has not come yet." in page.content.decode()
    assert 'value="2026-06-17"' in page.content.decode()
    client.post(f"/people/{whom.key}/", given | {"trained_on": "2026-06-16"})
    whom.refresh_from_db()
    assert str(whom.trained_on) == "2026-06-16"
