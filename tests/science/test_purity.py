"""The science stands alone: it needs no framework and reads no clock, file or unseeded dice."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FILES = sorted((ROOT / "survey" / "science").rglob("*.py"))

EVERY_MODULE = """
import importlib, pkgutil, sys
import survey.science
names = [m.name for m in pkgutil.walk_packages(survey.science.__path__, "survey.science.")]
for name in names:
    importlib.import_module(name)
foreign = {"django", "rest_framework", "django_filters", "celery", "redis"} & set(sys.modules)
print(len(names), sorted(foreign))
"""


def test_every_module_loads_without_a_framework():
    done = subprocess.run(
        [sys.executable, "-c", EVERY_MODULE],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
        env={"PATH": "/usr/bin:/bin"},
    )
    count, foreign = done.stdout.split(maxsplit=1)
    assert int(count) >= 12
    assert foreign.strip() == "[]"


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_no_module_reads_a_clock_a_file_or_unseeded_dice(file):
    tree = ast.parse(file.read_text(encoding="utf-8"))
    called = {ast.unparse(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
    imported = {
        name.name.split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import)
        for name in node.names
    } | {
        (node.module or "").split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
    }
    assert not called & {"open", "date.today", "datetime.now", "np.random.seed", "print"}
    assert not imported & {"random", "os", "pathlib", "time", "django", "requests", "urllib"}
    dice = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("default_rng")
    ]
    assert all(node.args or node.keywords for node in dice)
