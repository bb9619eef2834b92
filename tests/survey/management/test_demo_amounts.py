"""The demo towns hold as much as they promise, and their sheet opens the door."""

import io
import re
from datetime import date

import pytest
from django.contrib.auth import authenticate
from django.core.management import CommandError, call_command
from django.db.models import Q
from django.test import override_settings
from PIL import Image

from survey.management.demo.people import PASSWORD
from survey.management.demo.pictures import SIZE, SMALL
from survey.people.models import Person
from survey.photos.models import Photo
from survey.reports.keys import digest
from survey.reports.models import Report
from survey.trees.models import (
    Area,
    Happening,
    Look,
    Planting,
    Site,
    Tree,
    Weather,
)

TODAY = date(2026, 6, 16)


def _trees(**where):
    return Tree.objects.filter(area__ref="pellworth", **where)


def _reports(**where):
    return Report.objects.filter(area__ref="pellworth", **where)


@pytest.fixture
def pellworth(demo):
    return Area.objects.get(ref="pellworth")


class TestHowMuch:
    def test_the_town_is_as_large_as_promised(self, pellworth):
        assert Site.objects.filter(area=pellworth).count() >= 6
        assert Planting.objects.filter(area=pellworth).count() >= 14
        assert _trees().count() >= 420
        assert _reports().count() >= 1200
        assert Look.objects.filter(tree__area=pellworth).count() >= 4000
        assert 250 <= Photo.objects.count() <= 400

    def test_the_looks_span_three_years_up_to_this_month(self, pellworth):
        days = Look.objects.filter(tree__area=pellworth).order_by("day").values_list("day")
        assert days.first()[0] < date(2023, 7, 1)
        assert days.last()[0] >= date(2026, 6, 1)

    def test_every_day_has_its_weather(self, pellworth):
        days = Weather.objects.filter(area=pellworth)
        assert days.count() == (TODAY - date(2021, 1, 1)).days + 1
        assert days.filter(low_c__lt=0).exists()
        summer = days.filter(day__month__in=[6, 7, 8])
        winter = days.filter(day__month__in=[12, 1, 2])
        rainy = Q(rain_mm__gt=1)
        assert summer.filter(rainy).count() * 3 < winter.filter(rainy).count()

    def test_every_channel_presence_and_condition_occurs(self, pellworth):
        looks = Look.objects.filter(tree__area=pellworth)
        assert set(looks.values_list("channel", flat=True)) == set(Look.Channel.values)
        assert {"standing", "gone", "not_seen"} <= set(looks.values_list("presence", flat=True))
        assert set(looks.values_list("condition", flat=True)) == {
            "",
            "thriving",
            "holding",
            "slipping",
            "failing",
            "dead",
        }

    def test_what_befell_the_town_is_written_down(self, demo):
        kinds = set(Happening.objects.values_list("kind", flat=True))
        assert {
            "mowing",
            "new_contractor",
            "stake_off",
            "irrigation_off",
            "frost",
            "storm",
            "heat",
            "digging",
            "watering",
        } <= kinds

    def test_the_towns_are_invented_and_say_so(self, demo):
        assert all(Area.objects.values_list("invented", flat=True))
        assert "invented" in demo["said"]

    def test_the_second_town_lies_in_the_south_on_a_day_of_its_own(self, demo):
        south = Area.objects.get(ref="southmere")
        assert south.hemisphere == "south"
        assert south.latitude < 0
        assert south.data_date != TODAY
        assert Tree.objects.filter(area=south).count() >= 40
        trained = Look.objects.trained()
        in_july = trained.filter(tree__area=south, day__month=7, presence="standing")
        in_january = trained.filter(tree__area=south, day__month=1, presence="standing")
        assert set(in_july.values_list("leaf", flat=True)) == {"bare"}
        assert "full" in set(in_january.values_list("leaf", flat=True))


class TestPhotos:
    def test_every_photo_opens_in_both_sizes_and_all_are_small(self, demo):
        media = demo["data"] / "media"
        for photo in Photo.objects.all():
            for name, size in ((photo.picture.name, SIZE), (photo.small.name, SMALL)):
                with Image.open(media / name) as picture:
                    picture.load()
                    assert (picture.format, picture.size) == ("JPEG", size)
        files = [path for path in media.rglob("*") if path.is_file()]
        assert len(files) == 2 * Photo.objects.count()
        assert sum(path.stat().st_size for path in files) < 10_000_000

    def test_photos_of_undecided_reports_stay_hidden(self, demo):
        undecided = Photo.objects.filter(reports__state__in=["new", "asked"])
        assert undecided.exists()
        assert not undecided.exclude(shown="hidden").exists()
        shown = set(Photo.objects.values_list("shown", flat=True))
        assert shown == set(Photo.Shown.values)

    def test_a_photo_belongs_to_a_report_or_to_a_look(self, demo):
        assert not Photo.objects.filter(reports=None, looks=None).exists()


class TestTheSheet:
    def test_everybody_on_it_can_sign_in_and_there_is_one_for_each_role(self, demo):
        sheet = (demo["data"] / "demo-sign-ins.txt").read_text()
        assert sheet in demo["said"]
        names = re.findall(r"^  ([a-z]+) +[A-Z]", sheet, re.MULTILINE)
        assert f'"{PASSWORD}"' in sheet
        people = [authenticate(sign_in=name, password=PASSWORD) for name in names]
        assert {person.role for person in people} == set(Person.Role.values)
        assert any(person.qualified_until for person in people)
        others = Person.objects.exclude(sign_in__in=names)
        assert others.exists()
        assert not any(p.check_password(PASSWORD) for p in others)

    def test_its_link_opens_an_answered_report(self, demo):
        (secret,) = re.findall(r"/note/([0-9A-Za-z_-]+)/", demo["said"])
        report = Report.objects.get(secret_digest=digest(secret))
        assert report.state == "answered"

    def test_nobody_has_more_than_a_first_name(self, demo):
        assert all(len(name.split()) == 1 for name in Person.objects.values_list("name", flat=True))

    def test_a_second_load_is_refused_or_quietly_skipped(self, demo):
        before = Report.objects.count()
        with pytest.raises(CommandError, match="empty"):
            call_command("load_demo", stdout=io.StringIO())
        out = io.StringIO()
        call_command("load_demo", "--if-empty", stdout=out)
        assert "nothing was loaded" in out.getvalue()
        assert "walker" in out.getvalue()
        assert Report.objects.count() == before

    def test_the_sheet_shown_later_leads_to_where_the_server_is_now(self, demo):
        out = io.StringIO()
        with override_settings(PUBLIC_ADDRESS="http://127.0.0.1:9123"):
            call_command("load_demo", "--if-empty", stdout=out)
        call_command("load_demo", "--if-empty", stdout=io.StringIO())  # and back
        assert "  http://127.0.0.1:9123/note/" in out.getvalue()
        assert out.getvalue().count("http") == 1
