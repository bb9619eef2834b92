"""A group's page prints on one sheet of letter paper, in both languages, with 9 pt as the floor."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client

import frontend
from survey.survival.models import Group
from tests.factories import AreaFactory, PersonFactory
from tests.frontend.liaison.made import STATES, with_weighed, year
from tests.launch import ROOT

STATIC = (Path(frontend.__file__).parent / "static" / "frontend").as_uri()
NINE_POINTS = 12  # CSS pixels
WIDTHS = [1440, 390, 320]
BOTH = "everything, both readings"
PRINTED = [
    "too few",
    "all lost",
    "count first",
    "starts late",
    "removed for other reasons",
    "with a forecast",
    "everything",
    "a large town",
    BOTH,
]
"""States whose pages differ in what stands on them; `everything` is the longest there is."""


@pytest.fixture
def seen(db, tmp_path):
    """What Chromium saw of the page of every state in both languages."""
    AreaFactory()
    client = Client()
    client.force_login(PersonFactory(role="liaison", name="Inés"))
    for state in PRINTED:
        Group.objects.all().delete()
        if state in ("everything", BOTH):
            year()
        made = with_weighed("everything") if state == BOTH else STATES[state]()
        for language in ("en", "es"):
            client.cookies[settings.LANGUAGE_COOKIE_NAME] = language
            page = client.get(f"/survival/{made.by}/{made.key}/").content.decode()
            page = re.sub(r"/static/frontend/([a-z-]+)(\.\w{8,})?\.css", rf"{STATIC}/\1.css", page)
            name = f"{state.replace(' ', '-')}-{language}.html"
            (tmp_path / name).write_text(page, encoding="utf-8")
    told = subprocess.run(
        [sys.executable, "-m", "tests.frontend.liaison.on_paper", str(tmp_path)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
        timeout=240,
    )
    return json.loads(told.stdout)


def test_every_state_prints_on_one_sheet_and_fits_every_screen(seen):
    assert len(seen) == 2 * len(PRINTED)
    for name, found in seen.items():
        assert found["pages"] == 1, name
        assert found["letter"], name
        assert found["smallest"] >= NINE_POINTS - 0.05, (name, found["words"])
        assert not found["cut"], name
        for width, limit in zip(found["wide"], WIDTHS, strict=True):
            assert width <= limit, (name, limit)
