"""Headers, health, proxies, files from outside, and pages for when something goes wrong."""

import io
import logging
import shutil
from collections import namedtuple

import pytest
from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, connection
from django.http import HttpResponse
from django.test import Client, RequestFactory
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from django.urls import path

from frontend import errors, health
from frontend.headers import secret_page
from frontend.proxies import TrustedProxies
from survey.chores.models import Schedule
from survey.photos.uploads import refused_files
from tests.factories import PersonFactory


def plain(request):
    return HttpResponse("fine")


@secret_page
def secret(request, key):
    return HttpResponse("secret")


def broken(request):
    raise ZeroDivisionError


def take(request):
    """Says what arrived, as a form would see it."""
    refused = [f"{r.name} {r.reason}" for r in refused_files(request)]
    kept = {name: [f.size for f in request.FILES.getlist(name)] for name in request.FILES}
    return HttpResponse(f"{request.POST['words']}|{kept}|{refused}")


urlpatterns = [
    path("plain", plain),
    path("secret/<str:key>", secret),
    path("broken", broken),
    path("take", take),
    path("livez", health.livez),
    path("readyz", health.readyz),
]
handler400, handler500 = errors.bad_request, errors.server_error
pytestmark = pytest.mark.urls(__name__)


@pytest.mark.django_db
def test_every_page_carries_the_headers_that_keep_a_browser_honest(client):
    headers = client.get("/plain").headers
    policy = dict(part.split(" ", 1) for part in headers["Content-Security-Policy"].split("; "))
    assert policy["default-src"] == policy["script-src"] == policy["style-src"] == "'self'"
    assert policy["object-src"] == policy["base-uri"] == policy["frame-ancestors"] == "'none'"
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert headers["X-Frame-Options"] == "DENY"
    assert "microphone=()" in headers["Permissions-Policy"]


@pytest.mark.django_db
def test_pages_of_somebody_signed_in_are_never_stored(client):
    assert "Cache-Control" not in client.get("/plain").headers
    client.force_login(PersonFactory())
    assert client.get("/plain").headers["Cache-Control"] == "no-store"


def test_a_page_behind_a_secret_tells_nobody_its_address(client):
    headers = client.get("/secret/abc").headers
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["Cache-Control"] == "no-store"
    assert "noindex" in headers["X-Robots-Tag"]


@pytest.mark.django_db
def test_a_machine_that_can_take_a_report_says_so_and_leaves_nothing_in_the_record(client):
    response = client.get("/readyz")
    assert (response.status_code, response.content) == (200, b"ready\n")
    assert not Schedule.objects.exists()


def test_a_machine_without_a_database_is_alive_but_not_ready(client, monkeypatch):
    def refuse():
        raise DatabaseError

    monkeypatch.setattr(connection, "cursor", refuse)
    monkeypatch.setattr(health.transaction, "atomic", connection.cursor)
    assert client.get("/livez").content == b"alive\n"
    response = client.get("/readyz")
    assert response.status_code == 503
    assert b"takes no writes" in response.content


@pytest.mark.django_db
def test_a_machine_with_a_full_disk_is_not_ready(client, monkeypatch, settings):
    Usage = namedtuple("Usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda _: Usage(10**12, 10**12, 10**6))
    response = client.get("/readyz")
    assert response.status_code == 503
    assert b"disk is nearly full" in response.content


@pytest.mark.parametrize(
    ("proxies", "claimed", "caller"),
    [
        (0, "203.0.113.9", "192.0.2.1"),
        (1, "203.0.113.9", "203.0.113.9"),
        (1, "198.51.100.7, 203.0.113.9", "203.0.113.9"),
        (2, "198.51.100.7, 203.0.113.9, 192.0.2.2", "203.0.113.9"),
        (2, "203.0.113.9", "192.0.2.1"),
        (1, "", "192.0.2.1"),
    ],
)
def test_the_callers_address_is_believed_only_from_proxies_of_our_own(
    settings, proxies, claimed, caller
):
    settings.PROXIES = proxies
    seen = {}
    request = RequestFactory().get(
        "/", REMOTE_ADDR="192.0.2.1", headers={"X-Forwarded-For": claimed, "X-Real-IP": "9.9.9.9"}
    )
    TrustedProxies(lambda r: seen.update(r.META))(request)
    assert seen["REMOTE_ADDR"] == caller
    assert "HTTP_X_FORWARDED_FOR" not in seen
    assert "HTTP_X_REAL_IP" not in seen


def photo(size, name="leaf.jpg"):
    return SimpleUploadedFile(name, b"x" * size, "image/jpeg")


@pytest.mark.django_db
def test_a_photo_beyond_the_cap_is_dropped_while_it_comes_and_the_words_are_kept(client, settings):
    settings.PHOTO_CAP = 1000
    photos = [photo(1000, "fits.jpg"), photo(200_001, "huge.jpg"), photo(5, "small.jpg")]
    said = client.post("/take", {"words": "a wound", "photo": photos}).content.decode()
    assert said == "a wound|{'photo': [1000, 5]}|['huge.jpg too_big']"


@pytest.mark.django_db
def test_a_sixth_photo_is_dropped_and_the_first_five_are_kept(client):
    photos = [photo(n, f"{n}.jpg") for n in range(1, 8)]
    said = client.post("/take", {"words": "w", "photo": photos}).content.decode()
    assert said == "w|{'photo': [1, 2, 3, 4, 5]}|['6.jpg too_many', '7.jpg too_many']"


@pytest.mark.django_db
def test_a_large_table_is_taken_only_from_somebody_signed_in(client, settings):
    settings.PHOTO_CAP, settings.TABLE_CAP = 1000, 5000
    form = {"words": "w"}
    assert "too_big" in client.post("/take", form | {"table": photo(2000)}).content.decode()
    client.force_login(PersonFactory())
    assert "'table': [2000]" in client.post("/take", form | {"table": photo(2000)}).content.decode()
    assert "too_big" in client.post("/take", form | {"table": photo(6000)}).content.decode()


@pytest.mark.django_db
def test_a_request_beyond_all_measure_is_cut_off(settings):
    settings.PHOTO_CAP, settings.REQUEST_CAP = 10_000, 100_000
    body = encode_multipart(BOUNDARY, {"words": "w", "photo": photo(1_000_000)})
    stream = io.BytesIO(body)
    sent = {"wsgi.input": stream, "CONTENT_LENGTH": str(len(body))}
    request = RequestFactory().post("/take", content_type=MULTIPART_CONTENT, **sent)
    assert request.POST["words"] == "w"
    assert not request.FILES
    assert stream.tell() < len(body)


@pytest.mark.django_db
def test_a_form_that_cannot_be_tied_to_this_browser_gives_back_what_was_typed():
    strict = Client(enforce_csrf_checks=True)
    typed = {"words": "The <b>linden</b> leans", "password": "hunter2", "csrfmiddlewaretoken": "zz"}
    response = strict.post("/plain", typed)
    assert response.status_code == 403
    page = response.content.decode()
    assert "The &lt;b&gt;linden&lt;/b&gt; leans" in page
    assert "hunter2" not in page
    assert "zz" not in page
    assert "Nothing was changed" in page


@pytest.mark.django_db
def test_a_text_of_one_megabyte_reaches_its_form(client):
    said = client.post("/take", {"words": "é" * 500_000}).content.decode()
    assert said.startswith("éé")


@pytest.mark.django_db
def test_a_form_beyond_the_limit_is_refused_with_words(client, settings):
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 1000
    response = client.post("/take", {"words": "e" * 2000})
    assert response.status_code == 413
    assert "Nothing was saved" in response.content.decode()
    assert errors.bad_request(None, RequestDataTooBig()).status_code == 413


@pytest.mark.django_db
def test_a_page_that_broke_gives_a_number_that_stands_in_the_log(client, caplog):
    client.raise_request_exception = False
    with caplog.at_level(logging.ERROR):
        response = client.get("/broken")
    assert response.status_code == 500
    (line,) = (r.getMessage() for r in caplog.records if "Page broke" in r.getMessage())
    assert line.split()[3].rstrip(",") in response.content.decode()
