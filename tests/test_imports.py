"""Imports run one way, and each contract is seen to break when it is violated."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SEEDS = {  # a forbidden import for each contract: where, what
    "The two front rooms stand on the domain and never on each other": (
        "api/seeded.py", "frontend.headers",
    ),
    "Domain rooms look down only": ("survey/audit/seeded.py", "survey.trees.models"),
    "Nobody below the front doors imports the list of all tables": (
        "survey/trees/seeded.py", "survey.models",
    ),
    "Inside a room: actions, then tasks, then tables, then questions": (
        "survey/people/queries.py", "survey.people.actions",
    ),
    "Inside the chores room": ("survey/chores/queries.py", "survey.chores.clock"),
    "The science knows no framework": ("survey/science/seeded.py", "django"),
    "The handbook knows no framework": ("survey/handbook/seeded.py", "rest_framework"),
    "The domain knows no web interface": ("survey/people/seeded.py", "rest_framework"),
    "Migrations import no room: yesterday's steps must still run tomorrow": (
        "survey/migrations/0099_seeded.py", "survey.trees.models",
    ),
}  # fmt: skip


@pytest.fixture
def copy(tmp_path):
    """The code and its contracts, to be spoilt."""
    for name in ("survey", "api", "frontend"):
        ignored = shutil.ignore_patterns("__pycache__", "static", "templates", "data")
        shutil.copytree(ROOT / name, tmp_path / name, ignore=ignored)
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def contracts(folder):
    """Each contract and whether it is kept, and all that was said."""
    done = subprocess.run(
        [Path(sys.executable).with_name("lint-imports"), "--no-cache"],
        cwd=folder,
        env={"PATH": os.environ["PATH"], "PYTHONPATH": str(folder), "COLUMNS": "400"},
        capture_output=True,
        text=True,
    )
    verdicts = dict(re.findall(r"^(.+) (KEPT|BROKEN)$", done.stdout, re.MULTILINE))
    assert verdicts, done.stdout + done.stderr
    return verdicts, done.stdout


def test_every_contract_is_kept_and_none_is_without_a_seed():
    verdicts, said = contracts(ROOT)
    assert set(verdicts.values()) == {"KEPT"}, said
    assert set(verdicts) == set(SEEDS)


def test_every_contract_breaks_on_a_forbidden_import(copy):
    for place, module in SEEDS.values():
        with (copy / place).open("a") as file:
            file.write(f"\nimport {module}\n")
    verdicts, _ = contracts(copy)
    assert {name for name, verdict in verdicts.items() if verdict == "KEPT"} == set()


def test_a_room_that_nobody_placed_is_refused(copy):
    (copy / "survey" / "cellar").mkdir()
    (copy / "survey" / "cellar" / "__init__.py").touch()
    verdicts, said = contracts(copy)
    assert verdicts["Domain rooms look down only"] == "BROKEN"
    assert "survey.cellar" in said


def test_the_science_loads_without_django():
    code = """
import importlib, pkgutil, sys
import survey.science as room
names = [m.name for m in pkgutil.walk_packages(room.__path__, room.__name__ + ".")]
for name in names:
    importlib.import_module(name)
assert len(names) > 1
loaded = [m for m in ("django", "celery", "rest_framework") if m in sys.modules]
assert not loaded, loaded
"""
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        capture_output=True,
        text=True,
        env={"PATH": os.environ["PATH"]},
    )
    assert done.returncode == 0, done.stderr
