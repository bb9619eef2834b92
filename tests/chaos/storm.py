"""The processes of the storm: runners that are killed all the time while work keeps coming.

    python -m tests.chaos.storm embedded|city KILLS

Prints as JSON how many chores were written, done, lost and done twice.
"""

import json
import random
import sys
import time

import django

django.setup()

# ruff: noqa: E402 - the rooms can be imported only after Django is set up
from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.db import transaction
from django.utils import timezone

from survey.chores import clock, registry
from survey.chores.actions import write_chore
from survey.chores.models import Chore
from tests.survey.chores.stage import kill, run_embedded, run_sweep, run_worker, start

RUNNERS = 3
PATIENCE = 180


@registry.handles("leave_a_trace")
def leave_a_trace(key: str) -> None:
    """A second commit for one key would break the primary key, and the chore would be parked."""
    Session.objects.create(session_key=key, session_data="", expire_date=timezone.now())
    time.sleep(0.02)


def write_some(written: list[str], dice: random.Random) -> None:
    """A few wishes, some of them taken back with their transaction."""
    for _ in range(5):
        key = f"trace{len(written):06d}"
        with transaction.atomic():
            write_chore(kind="leave_a_trace", key=key)
            if dice.random() < 0.2:
                transaction.set_rollback(True)
                continue
        written.append(key)


def main(mode: str, kills: int) -> dict:
    call_command("migrate", verbosity=0)
    clock.RING_AGAIN = timezone.timedelta(seconds=1)
    dice = random.Random(7)
    work = run_worker if mode == "city" else run_embedded
    written: list[str] = []
    runners = [start(work) for _ in range(RUNNERS)]
    sweeper = start(run_sweep) if mode == "city" else None
    try:
        for _ in range(kills):
            write_some(written, dice)
            time.sleep(dice.uniform(0.05, 0.5 if mode == "embedded" else 3))
            victim = dice.randrange(RUNNERS)
            kill(runners[victim])
            runners[victim] = start(work)
        until = time.monotonic() + PATIENCE
        while Chore.objects.open().exists() and time.monotonic() < until:
            time.sleep(0.2)
    finally:
        for pid in [*runners, *([sweeper] if sweeper else [])]:
            kill(pid)
    traces = set(Session.objects.values_list("session_key", flat=True))
    return {
        "kills": kills,
        "written": len(written),
        "lost": sorted(set(written) - traces),
        "never asked for": sorted(traces - set(written)),
        "not done": list(Chore.objects.open().values_list("key", "state", "last_error")),
        "begun": sum(Chore.objects.values_list("attempts", flat=True)),
    }


if __name__ == "__main__":
    print(json.dumps(main(sys.argv[1], int(sys.argv[2]))))
