"""Whatever is sent: a clear message, everything typed kept, nothing half-written."""

import tracemalloc
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from redis.exceptions import ConnectionError as RedisGone

from frontend.neighbor import limits
from survey.chores.models import Chore
from survey.people.models import Contact
from survey.photos.models import Photo
from survey.reports.models import Draft, Report
from tests.factories import SiteFactory
from tests.pictures import HTML, SVG, picture, pixel_bomb

pytestmark = pytest.mark.django_db


def upload(data, name="tree.jpg"):
    return SimpleUploadedFile(name, data, "image/jpeg")


def answers():
    return Draft.objects.get().answers


# words, days and places ---------------------------------------------------------------------------


def test_a_report_without_a_place_never_gets_further(neighbor, tree):
    neighbor.begins()
    neighbor.send(f"/report/{neighbor.key}/where/")
    assert neighbor.page.status_code == 400
    assert neighbor.title.startswith("Error:")
    neighbor.send(f"/report/{neighbor.key}/where/elsewhere/", landmark="  \n ")
    assert "Say where it is" in neighbor.html
    neighbor.open(f"/report/{neighbor.key}/check/")
    assert "/where/" in neighbor.url


def test_a_tree_that_is_not_there_is_refused(neighbor, tree):
    neighbor.begins()
    neighbor.send(f"/report/{neighbor.key}/where/at/ferry-road/", tree="nobody")
    assert neighbor.page.status_code == 400
    assert "tree" not in answers()


def test_a_future_day_is_refused_and_everything_typed_is_kept(neighbor, tree):
    neighbor.answers_up_to_photos(tree).send()
    neighbor.send(words="Leaves hang", month="June", day="17", year="2026", contact="a@x.example")
    assert "That day has not come yet" in neighbor.html
    for kept in ("Leaves hang", 'value="17"', "a@x.example"):
        assert kept in neighbor.html
    # and again after the page was closed and opened
    reopened = neighbor.open(f"/report/{neighbor.key}/words/").html
    assert "Leaves hang" in reopened
    assert 'value="17"' in reopened
    neighbor.open(f"/report/{neighbor.key}/check/")
    assert neighbor.url.endswith("/words/")


@pytest.mark.parametrize(
    ("month", "day", "year", "seen"),
    [
        ("6", "1", "2026", "2026-06-01"),
        ("06", "01", "", "2026-06-01"),
        ("june", "1", "2026", "2026-06-01"),
        ("Jun.", "1", "2026", "2026-06-01"),
        ("junio", "1", "2026", "2026-06-01"),
        ("", "", "", "2026-06-16"),
    ],
)
def test_days_are_read_as_people_write_them(neighbor, tree, month, day, year, seen):
    neighbor.answers_up_to_photos(tree).send()
    neighbor.send(words="", month=month, day=day, year=year)
    assert answers()["seen_on"] == seen


@pytest.mark.parametrize(
    ("month", "day", "year"),
    [
        ("13", "1", "2026"),
        ("2", "30", "2026"),
        ("June", "", "2026"),
        ("x", "y", "z"),
        ("6", "1", "9" * 400),
        ("6", "-1", "2026"),
        ("٦", "١", "٢٠٢٦٠"),
        ("6", "1", "0026"),
        ("\x00", "1", "2026"),
    ],
)
def test_what_is_no_day_is_refused(neighbor, tree, month, day, year):
    neighbor.answers_up_to_photos(tree).send()
    neighbor.send(words="Leaves hang", month=month, day=day, year=year)
    assert neighbor.page.status_code == 400
    assert "Leaves hang" in neighbor.html
    assert "seen_on" not in answers()


def test_a_megabyte_of_text_gets_a_clear_message_and_is_all_kept(neighbor, tree):
    long = "The bark is gone. " * 58_000
    neighbor.answers_up_to_photos(tree).send()
    neighbor.send(words=long, contact="a@x.example")
    assert neighbor.page.status_code == 400
    assert "we can take 4,000" in neighbor.html
    assert long.strip() in neighbor.html
    assert answers()["words"] == long
    assert long.strip() in neighbor.open(f"/report/{neighbor.key}/words/").html
    neighbor.send(words="Short", contact="a@x.example")
    assert neighbor.url.endswith("/check/")


def test_a_text_beyond_all_bounds_is_cut_and_says_so(neighbor, tree):
    neighbor.answers_up_to_photos(tree).send()
    neighbor.send(words="a" * 2_500_000)
    assert "That text was more than we can keep" in neighbor.html
    assert len(answers()["words"]) == 2_000_000


@pytest.mark.parametrize("contact", ["call me", "ann@", "12345", "<script>@x"])
def test_a_way_to_answer_that_leads_nowhere_is_refused_and_kept(neighbor, tree, contact):
    neighbor.answers_up_to_photos(tree).send()
    neighbor.send(words="Leaves hang", contact=contact)
    assert neighbor.page.status_code == 400
    assert "Leaves hang" in neighbor.html
    assert answers()["contact"] == contact


def test_a_report_that_says_nothing_asks_for_a_few_words(neighbor, tree):
    neighbor.begins().picks(tree).send().send(picture="cannot_tell").send()
    neighbor.send(words="")
    assert "Tell us in a few words what you see." in neighbor.html


@pytest.mark.parametrize(
    "point",
    [
        {"latitude": "48.85", "longitude": "2.35"},
        {"latitude": "nan", "longitude": "2"},
        {"latitude": "1e999", "longitude": "2"},
        {"latitude": "36.62"},
        {"latitude": "' OR 1=1", "longitude": "x"},
        {"latitude": "95", "longitude": "-34.91"},
    ],
)
def test_a_position_that_cannot_be_is_refused_and_the_words_stay(neighbor, area, point):
    neighbor.begins()
    neighbor.send(f"/report/{neighbor.key}/where/", **point)
    assert neighbor.page.status_code == 400
    neighbor.send(f"/report/{neighbor.key}/where/elsewhere/", landmark="by the well", **point)
    assert neighbor.page.status_code == 400
    assert "by the well" in neighbor.html
    assert "latitude" not in answers()


def test_a_place_far_outside_says_how_far(neighbor, area):
    neighbor.begins()
    neighbor.send(f"/report/{neighbor.key}/where/", latitude="48.85", longitude="2.35")
    assert "miles from Pellworth" in neighbor.html


def test_a_position_inside_sorts_the_places_by_nearness(neighbor, area):
    SiteFactory(area=area, name="Alder Row", latitude=36.66)
    SiteFactory(area=area, name="Zinnia Row", latitude=36.6201)
    neighbor.begins()
    html = neighbor.send(
        f"/report/{neighbor.key}/where/", latitude="36.62", longitude="-34.91"
    ).html
    assert html.index("Zinnia Row") < html.index("Alder Row")


HOSTILE = [
    "'; DROP TABLE survey_report; --",
    '"><script>alert(1)</script>',
    "<img src=x onerror=alert(1)>",
    "{{ 7|add:7 }}{% debug %}",
    "javascript:alert(1)",
    "\u202eevil",
    "𝒯𝓇𝑒𝑒 🌳",
    "a\x00b",
    "%00%0d%0aSet-Cookie: x=1",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_shown_as_text_and_nothing_else(neighbor, tree, text):
    neighbor.begins()
    neighbor.send(f"/report/{neighbor.key}/where/elsewhere/", landmark=text)
    neighbor.send(signs=["something_else"]).send(picture="slipping").send()
    neighbor.send(words=text)
    pages = [neighbor.html, neighbor.send().html]
    pages.append(neighbor.open(neighbor.link("Follow this report")).html)
    for html in pages:
        assert "<script>alert" not in html
        assert "<img src=x" not in html
    assert Report.objects.get().words == text.replace("\x00", "")


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_searches_find_nothing_and_break_nothing(neighbor, tree, text):
    neighbor.begins()
    neighbor.page = neighbor.client.get(f"/report/{neighbor.key}/where/", {"q": text})
    assert neighbor.page.status_code == 200
    assert "<script>alert" not in neighbor.html


@pytest.mark.parametrize("name", ["signs", "picture", "extent", "side"])
def test_codes_that_nobody_offered_are_refused(neighbor, tree, name):
    neighbor.begins().picks(tree)
    if name != "signs":
        neighbor.send(signs=["bark_sunken"])
    if name in ("extent", "side"):
        neighbor.send(picture="slipping")
    neighbor.send(**{"extent": "all_round", "side": "street", name: "<b>nonsense"})
    assert neighbor.page.status_code == 400
    assert neighbor.title.startswith("Error:")


# photos -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (SVG, "not a photo we can open"),
        (HTML, "not a photo we can open"),
        (picture()[:-500], "broken or cut off"),
        (pixel_bomb(), "too many pixels"),
        (picture() + HTML, "something besides a photo"),
        (b"\x00\x00\x00\x18ftypheic" + bytes(40), "HEIC"),
    ],
)
def test_a_refused_photo_says_why_and_costs_nothing_else(neighbor, tree, data, said):
    neighbor.answers_up_to_photos(tree)
    neighbor.send(photo_whole=upload(picture()), photo_base=upload(data))
    assert neighbor.page.status_code == 400
    assert said in neighbor.html
    assert neighbor.title.startswith("Error:")
    assert Photo.objects.get().part == "whole"
    assert neighbor.url.endswith("/photos/")
    neighbor.send()  # going on without it
    assert neighbor.url.endswith("/words/")


def test_an_empty_photo_is_said_to_be_empty(neighbor, tree):
    neighbor.answers_up_to_photos(tree)
    neighbor.send(photo_whole=upload(b""))
    assert "empty" in neighbor.html


def test_a_sixth_photo_is_refused_and_five_are_kept(neighbor, tree):
    neighbor.answers_up_to_photos(tree)
    neighbor.send(photo_other=[upload(picture()) for _ in range(4)])
    neighbor.open(f"/report/{neighbor.key}/photos/")
    neighbor.send(photo_other=[upload(picture()) for _ in range(2)])
    assert "Up to 5 photos" in neighbor.html
    assert Photo.objects.count() == 5


def test_a_photo_can_be_taken_out_again(neighbor, tree):
    neighbor.answers_up_to_photos(tree).send(photo_whole=upload(picture()))
    neighbor.open(f"/report/{neighbor.key}/photos/")
    neighbor.send(drop=Photo.objects.get().key)
    assert not Photo.objects.exists()
    assert neighbor.url.endswith("/photos/")


class Flood:
    """A form with one huge file, made while it is read, so that the test holds none of it."""

    BOUNDARY = "flood"

    def __init__(self, size):
        self.head = (
            f'--{self.BOUNDARY}\r\nContent-Disposition: form-data; name="photo_whole"; '
            'filename="big.jpg"\r\nContent-Type: image/jpeg\r\n\r\n'
        ).encode() + b"\xff\xd8\xff\xe0"
        self.tail = f"\r\n--{self.BOUNDARY}--\r\n".encode()
        self.left = size
        self.length = len(self.head) + size + len(self.tail)

    def read(self, count=65536):
        if self.head:
            part, self.head = self.head[:count], self.head[count:]
            return part
        if self.left:
            part = bytes(min(count, self.left))
            self.left -= len(part)
            return part
        part, self.tail = self.tail[:count], self.tail[count:]
        return part

    readline = read  # Django asks for it, and never uses it on a form


def test_a_photo_of_two_hundred_megabytes_is_refused_at_the_cap(neighbor, tree, settings, tmp_path):
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path / "coming")
    Path(settings.FILE_UPLOAD_TEMP_DIR).mkdir()
    neighbor.answers_up_to_photos(tree)
    flood = Flood(200 * 1024**2)
    tracemalloc.start()
    neighbor.page = neighbor.client.generic(
        "POST",
        neighbor.url,
        **{
            "wsgi.input": flood,
            "CONTENT_TYPE": f"multipart/form-data; boundary={Flood.BOUNDARY}",
            "CONTENT_LENGTH": str(flood.length),
        },
    )
    _now, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert neighbor.page.status_code == 400
    assert "up to 15 MB" in neighbor.html
    assert peak < 20 * 1024**2
    on_disk = sum(f.stat().st_size for f in Path(tmp_path).rglob("*") if f.is_file())
    assert on_disk <= 16 * 1024**2
    assert not Photo.objects.exists()


# sessions, keys and limits ------------------------------------------------------------------------


def test_a_browser_that_lost_its_cookies_half_way_loses_nothing(neighbor, tree):
    neighbor.answers_up_to_photos(tree)
    fresh = type(neighbor)()
    fresh.open(neighbor.url).send()
    fresh.send(words="From another browser").send()
    assert Report.objects.get().words == "From another browser"


@pytest.mark.parametrize("key", ["x", "x" * 43, "../../etc/passwd", "%00", "é" * 43])
def test_an_unknown_key_gets_a_kind_page_that_begins_again(neighbor, area, key):
    page = Client().get(f"/report/{key}/words/")
    if "/" not in key:
        assert "Please begin again" in page.content.decode()
    assert page.status_code == 404


def test_typing_into_a_draft_that_is_gone_is_told_so(neighbor, tree):
    neighbor.answers_up_to_photos(tree).send()
    Draft.objects.all().delete()
    neighbor.send(words="x")
    assert neighbor.page.status_code == 404
    assert neighbor.heading == "This report is not here any more"


def test_nothing_is_written_when_the_last_step_fails(neighbor, tree, monkeypatch):
    neighbor.answers_all(tree, contact="a@x.example")
    before = Chore.objects.count()

    def fails(**_kwargs):
        raise RuntimeError("the disk is full")

    monkeypatch.setattr("survey.reports.actions.intake.write_chore", fails)
    neighbor.client.raise_request_exception = False
    neighbor.send()
    assert neighbor.page.status_code == 500
    assert not Report.objects.exists()
    assert not Contact.objects.exists()
    assert Chore.objects.count() == before
    monkeypatch.undo()
    neighbor.send(f"/report/{neighbor.key}/check/")
    assert neighbor.heading == "Thank you. We have it."


def test_a_shared_network_with_thirty_reports_an_hour_gets_through(neighbor, tree):
    for _n in range(30):
        neighbor.answers_all(tree).send()
        assert neighbor.heading == "Thank you. We have it."
    assert Report.objects.count() == 30


def test_too_many_reports_are_asked_to_wait_and_nothing_typed_is_lost(neighbor, tree, monkeypatch):
    monkeypatch.setattr("frontend.neighbor.views.sending.SENDING", limits.Limit("send", 1))
    neighbor.answers_all(tree).send()
    neighbor.answers_all(tree, words="The second one").send()
    assert neighbor.page.status_code == 429
    assert 0 < int(neighbor.page.headers["Retry-After"]) <= 3600
    assert "Everything you told us is kept." in neighbor.html
    assert Draft.objects.get().answers["words"] == "The second one"
    assert "The second one" in neighbor.open(neighbor.link("Go on")).html


def test_even_a_page_that_cannot_be_taken_keeps_its_words(neighbor, tree, monkeypatch):
    neighbor.answers_up_to_photos(tree).send()
    monkeypatch.setattr("frontend.neighbor.drafts.POSTING", limits.Limit("post", 0))
    neighbor.send(words="Do not lose this", contact="a@x.example")
    assert neighbor.page.status_code == 429
    assert answers()["words"] == "Do not lose this"


def test_other_networks_are_not_kept_waiting(area, monkeypatch):
    monkeypatch.setattr("frontend.neighbor.views.start.BEGINNING", limits.Limit("begin", 1))
    statuses = [
        Client(REMOTE_ADDR=address).post("/report/", {"danger": "none"}).status_code
        for address in ("192.0.2.1", "192.0.2.77", "198.51.100.1")
    ]
    assert statuses == [302, 429, 302]


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("192.0.2.77", "192.0.2.0/24"),
        ("::ffff:192.0.2.77", "192.0.2.0/24"),
        ("2001:db8:1:203::7", "2001:db8:1:200::/56"),
        ("", "unknown"),
        ("unix:", "unknown"),
    ],
)
def test_a_network_is_named_by_its_prefix(address, network):
    assert limits.network_of(address) == network


def test_reports_are_taken_while_the_cache_is_out_of_reach(neighbor, tree, monkeypatch):
    def gone(*_args, **_kwargs):
        raise RedisGone

    monkeypatch.setattr(limits.cache, "add", gone)
    neighbor.answers_all(tree).send()
    assert Report.objects.count() == 1


def test_a_report_with_an_odd_method_is_refused(neighbor, area):
    assert Client().put("/report/").status_code == 405
    assert Client().delete("/").status_code == 405
