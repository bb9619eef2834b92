"""kill -9 in the middle of every kind of chore loses nothing and does nothing twice."""

import json
import os
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
import pytest

from survey.chores import registry
from tests.survey.chores.scenarios import SCENARIOS

ROOT = Path(__file__).resolve().parents[3]
STAGE = "tests.survey.chores.stage"


def perform(stage, *arguments, data, **env):
    """Run a stage in processes of its own, with the product's own settings; return its outcome."""
    done = subprocess.run(
        [sys.executable, "-m", stage, *arguments],
        cwd=ROOT,
        env={
            "PATH": os.environ["PATH"],
            "DJANGO_SETTINGS_MODULE": "survey.settings",
            "SURVEY_DATA": str(data),
            "SURVEY_CHORE_LEASE": "2",
            **env,
        },
        capture_output=True,
        text=True,
        timeout=900,
    )
    assert done.returncode == 0, done.stderr[-5000:]
    return json.loads(done.stdout.splitlines()[-1])


@contextmanager
def in_a_city():
    """The environment of a public service with a database and a doorbell of its own."""
    server, broker = os.environ["DATABASE_URL"], os.environ["REDIS_URL"]
    name = f"stage_{os.getpid()}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    try:
        yield {
            "DATABASE_URL": urlsplit(server)._replace(path=f"/{name}").geturl(),
            "REDIS_URL": urlsplit(broker)._replace(path="/7").geturl(),
            "SURVEY_SECRET_KEY": "only for this stage, and long enough to be taken for real",
            "SURVEY_HOSTS": "stage.example.org",
        }
    finally:
        with psycopg.connect(server, autocommit=True) as connection:
            connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


def assert_nothing_was_lost(outcome):
    assert "stuck" not in outcome, outcome
    assert set(outcome["states"].values()) == {"done"}, outcome["states"]
    assert [kind for kind, there in outcome["effects"].items() if not there] == []
    for kind, handler in registry.handlers.items():
        assert f"{kind} before the commit" in outcome["marks"]
        if handler.computes:
            assert f"{kind} after computing" in outcome["marks"]
        least = 2 if handler.computes else 1
        assert outcome["again"][kind] >= least, f"{kind} was killed, so it was begun again"


def test_every_kind_of_chore_is_killed_in_these_tests():
    assert set(SCENARIOS) == set(registry.handlers)


@pytest.fixture
def marks(tmp_path):
    """Where the stage leaves a mark each time it stands still to be killed."""
    folder = tmp_path / "marks"
    folder.mkdir()
    return str(folder)


def test_the_embedded_runner_is_killed_in_the_middle_of_every_kind(tmp_path, marks):
    assert_nothing_was_lost(perform(STAGE, "embedded", marks, data=tmp_path / "data"))


@pytest.mark.postgres
@pytest.mark.redis
def test_a_worker_on_real_redis_is_killed_in_the_middle_of_every_kind(tmp_path, marks):
    with in_a_city() as env:
        assert_nothing_was_lost(perform(STAGE, "city", marks, data=tmp_path / "data", **env))
