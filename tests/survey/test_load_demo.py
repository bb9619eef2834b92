"""The demo is loaded only where it may be, and comes out the same every time."""

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.test import override_settings

from survey.management.demo.pictures import draw
from survey.management.demo.plan import FIXTURES
from survey.management.demo.town import TOWNS, build_town
from survey.trees.models import (
    Area,
)


class TestLoading:
    @pytest.mark.django_db
    def test_a_citys_own_database_is_left_alone_unless_told_so(self):
        with (
            override_settings(DATABASE_URL="postgres://city/trees"),
            pytest.raises(CommandError, match="--yes-invented"),
        ):
            call_command("load_demo", stdout=io.StringIO())
        assert not Area.objects.exists()

    @pytest.mark.parametrize("name", TOWNS)
    def test_the_same_plan_gives_the_same_town_in_another_process(self, name):
        told = subprocess.run(
            [
                sys.executable,
                "-c",
                (
                    "import django; django.setup();"
                    "from survey.management.demo.town import build_town;"
                    f"print(build_town({name!r}).digest())"
                ),
            ],
            cwd=Path(FIXTURES).parent.parent,
            env={**os.environ, "PYTHONHASHSEED": "7", "DJANGO_SETTINGS_MODULE": "tests.settings"},
            capture_output=True,
            text=True,
            check=True,
        )
        assert told.stdout.strip() == build_town(name).digest()

    def test_the_same_scene_gives_the_same_bytes(self):
        town = build_town("southmere")
        scene = next(photo for look in town.looks for photo in look.photos).scene
        assert draw(scene) == draw(scene)
