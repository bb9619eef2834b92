"""Houses to look at, and a browser to look with."""

import os
import subprocess
import sys

import pytest
from playwright.sync_api import sync_playwright

from tests.browser.house import House, copied, drop_database, new_database
from tests.browser.windows import chromium
from tests.launch import ROOT, embedded


def pytest_collection_modifyitems(items):
    for item in items:
        if item.path.is_relative_to(ROOT / "tests" / "browser"):
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="package")
def browser():
    """One Chromium for all of these tests, gone before any other test begins."""
    with sync_playwright() as play:
        opened = chromium(play)
        yield opened
        opened.close()


@pytest.fixture(scope="package")
def static(tmp_path_factory):
    """Style sheets and scripts as they are served in use: gathered, named by content, packed."""
    folder = tmp_path_factory.mktemp("static")
    gather = [sys.executable, "manage.py", "collectstatic", "--noinput", "--verbosity", "0"]
    done = subprocess.run(
        gather, cwd=ROOT, env=embedded() | {"SURVEY_DATA": str(folder)}, capture_output=True,
        text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return folder / "static"


@pytest.fixture(scope="package")
def empty_house(static, tmp_path_factory):
    """The folder of a house that nobody has entered yet."""
    house = House(tmp_path_factory.mktemp("empty") / "data", static)
    house.manage("migrate", "--verbosity", "0")
    return house.folder


@pytest.fixture
def embedded_house(empty_house, static, tmp_path):
    """A new house on one machine: SQLite, no broker."""
    house = House(copied(empty_house, tmp_path / "data"), static)
    house.start()
    yield house
    house.stop()


@pytest.fixture
def city_house(static, tmp_path):
    """A new house in a city: PostgreSQL, Redis, a Celery worker and a clock."""
    servers = {name: os.environ.get(name, "") for name in ("DATABASE_URL", "REDIS_URL")}
    assert all(servers.values()), "Run it with servers: python tests/launch.py tests/browser"
    mine = new_database(servers["DATABASE_URL"])
    redis = servers["REDIS_URL"].rpartition("/")[0] + "/9"  # no other test rings there
    house = House(tmp_path / "data", static, services={"DATABASE_URL": mine, "REDIS_URL": redis})
    try:
        house.manage("migrate", "--verbosity", "0")
        house.start()
        yield house
    finally:
        house.stop()
        drop_database(mine, servers["DATABASE_URL"])


@pytest.fixture(scope="package")
def pellworth(empty_house, static, tmp_path_factory):
    """The demo town, all its work done."""
    house = House(copied(empty_house, tmp_path_factory.mktemp("demo") / "data"), static)
    house.manage("load_demo")
    house.start()
    house.wait_for_work(seconds=300)
    yield house
    house.stop()
