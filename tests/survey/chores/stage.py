"""The processes that are killed: a real runner or worker that stops in the middle of its work.

    python -m tests.survey.chores.stage embedded|city FOLDER

Makes a record with something to do for every kind of chore, then lets workers at it. The first
time a kind is computed, and the first time its results stand in an open transaction, the worker
leaves a mark in FOLDER and stands still; then all its processes are killed (signal 9) and the
next one starts. Prints what became of the work as JSON.
"""

import json
import os
import signal
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import django

django.setup()

# ruff: noqa: E402 - the rooms can be imported only after Django is set up
from django.core.management import call_command
from django.db import connections
from django.utils import timezone

from survey.chores import clock, registry, rounds
from survey.chores.actions import write_chore
from survey.chores.models import Chore
from survey.worker import app
from tests.survey.chores.scenarios import SCENARIOS

PATIENCE = 120  # seconds in which something must be done
FOREVER = 3600


def stand_still_once(mark: Path) -> None:
    if not mark.exists():
        mark.touch()
        time.sleep(FOREVER)


def interrupted(handler, folder: Path):
    """The same handler, standing still once after computing and once before its commit."""

    def work(key, *computed):
        handler.work(key, *computed)
        stand_still_once(folder / f"{handler.kind} before the commit")

    def computes(key):
        result = handler.computes(key)
        stand_still_once(folder / f"{handler.kind} after computing")
        return result

    return replace(handler, work=work, computes=computes if handler.computes else None)


def run_embedded() -> None:
    rounds.run_chores(threading.Event())


def run_worker() -> None:
    app.worker_main(["worker", "--concurrency=1", "--loglevel=ERROR", "--without-mingle",
                     "--without-gossip"])  # fmt: skip


def run_sweep() -> None:
    """The clock's sweep, in a hurry."""
    while True:
        clock.sweep(timezone.now())
        time.sleep(0.2)


def start(work) -> int:
    """Run `work` in a process group of its own, which can be killed as a whole."""
    connections.close_all()
    pid = os.fork()
    if pid:
        return pid
    os.setsid()
    code = 1
    try:
        work()
        code = 0
    finally:
        os._exit(code)


def kill(pid: int) -> None:
    os.killpg(pid, signal.SIGKILL)
    os.waitpid(pid, 0)


def open_chores() -> list[str]:
    """What is left to do of everything we asked for."""
    left = Chore.objects.open().filter(kind__in=SCENARIOS)
    return sorted(f"{c.kind} {c.state} {c.last_error[:300]}" for c in left)


def done_chores() -> int:
    return Chore.objects.filter(state=Chore.State.DONE).count()


def main(mode: str, folder: Path) -> dict:
    call_command("migrate", verbosity=0)
    asked = {}
    for kind, make in SCENARIOS.items():
        key, done = make()
        asked[kind] = (write_chore(kind=kind, key=key), done)
    for kind, handler in registry.handlers.items():
        registry.handlers[kind] = interrupted(handler, folder)
    clock.RING_AGAIN = timezone.timedelta(seconds=1)
    sweeper = start(run_sweep) if mode == "city" else None
    kills = 0
    try:
        while True:
            worker = start(run_worker if mode == "city" else run_embedded)
            until = time.monotonic() + PATIENCE
            seen, before = len(list(folder.iterdir())), done_chores()
            try:
                while len(list(folder.iterdir())) == seen and (left := open_chores()):
                    if (now := done_chores()) > before:
                        until, before = time.monotonic() + PATIENCE, now
                    if time.monotonic() > until:
                        return {"stuck": left, "kills": kills}
                    time.sleep(0.05)
            finally:
                time.sleep(0.1)
                kill(worker)
            if not open_chores():
                break
            kills += 1
    finally:
        if sweeper:
            kill(sweeper)
    states = Chore.objects.in_bulk([number for number, _ in asked.values()])
    return {
        "kills": kills,
        "marks": sorted(mark.name for mark in folder.iterdir()),
        "kinds": sorted(registry.handlers),
        "states": {kind: states[number].state for kind, (number, _) in asked.items()},
        "effects": {kind: bool(done()) for kind, (_, done) in asked.items()},
        # the one that was killed may be a chore that another chore wrote
        "again": {
            kind: sum(
                n - 1 for n in Chore.objects.filter(kind=kind).values_list("attempts", flat=True)
            )
            for kind in asked
        },
    }


if __name__ == "__main__":
    print(json.dumps(main(sys.argv[1], Path(sys.argv[2]))))
