"""How fast this machine is at the work every other work rests on: `make bench`.

Prints medians for the database it is given (PostgreSQL by `make bench`; SQLite with
`python -m tests.bench` and nothing in the environment), on tables of its own that are dropped.
Parts are run alone by name, `python -m tests.bench chores`:

`chores`; `desk`; `survival`, or `survival-quick`, which leaves out the runs of lifelines that take
minutes; `town`, a million trees on PostgreSQL, or `small-town`, a tenth of it; `condition`, a
million trees believed with all evidence weighed, or `condition-quick`, 20,000 of them; `beliefs`,
the same from rows to rows on PostgreSQL, or `small-beliefs`, a tenth of it.
"""

import os
import statistics
import sys
import time

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"

import django

django.setup()

# ruff: noqa: E402 - the rooms can be imported only after Django is set up
from django.db import connection, transaction
from django.test import Client
from django.test.utils import get_runner, setup_test_environment, teardown_test_environment

from survey.chores import registry, rounds
from survey.chores.actions import write_chore, write_chores
from survey.chores.models import Chore
from tests.bench import beliefs, condition, desk, survival, town

ROUNDS = 7


@registry.handles("nothing")
def nothing(key: str) -> None: ...


def milliseconds(work, *, each: int) -> float:
    """Median over the rounds of one piece, when `work` does that many pieces."""
    took = []
    for n in range(ROUNDS):
        before = time.perf_counter()
        work(n)
        took.append((time.perf_counter() - before) * 1000 / each)
    return statistics.median(took)


def wishes(n: int) -> None:
    for k in range(100):
        with transaction.atomic():
            write_chore(kind="nothing", key=f"{n} {k}")


def a_hundred_at_once(n: int) -> None:
    with transaction.atomic():
        write_chores(("nothing", f"bulk {n} {k}") for k in range(100))


def drain(n: int) -> None:
    a_hundred_at_once(n)
    while rounds.do_due():
        pass


def on_tables_of_its_own(work) -> None:
    setup_test_environment()
    runner = get_runner(django.conf.settings)(verbosity=0, interactive=False)
    tables = runner.setup_databases()
    try:
        work()
    finally:
        runner.teardown_databases(tables)
        teardown_test_environment()


def chores() -> None:
    client = Client()
    print(f"on {connection.vendor}, medians of {ROUNDS} rounds")
    print(f"a wish with its commit     {milliseconds(wishes, each=100):8.3f} ms")
    print(f"a wish among a hundred     {milliseconds(a_hundred_at_once, each=100):8.3f} ms")
    Chore.objects.all().delete()
    print(f"a chore, wished to done    {milliseconds(drain, each=100):8.3f} ms")
    ready = milliseconds(lambda _: [client.get("/readyz") for _ in range(50)], each=50)
    print(f"/readyz through Django     {ready:8.3f} ms")


PARTS = {
    "chores": lambda: on_tables_of_its_own(chores),
    "desk": desk.main,
    "survival": survival.main,
    "survival-quick": lambda: survival.main(with_lifelines=False),
    "condition": condition.main,
    "condition-quick": lambda: condition.main(condition.SMALL),
    "town": lambda: on_tables_of_its_own(town.main),
    "small-town": lambda: on_tables_of_its_own(lambda: town.main(town.PLANTINGS // 10)),
    "beliefs": lambda: on_tables_of_its_own(beliefs.main),
    "small-beliefs": lambda: on_tables_of_its_own(lambda: beliefs.main(town.PLANTINGS // 10)),
}


def main(asked: list[str]) -> None:
    for part in asked or ["chores", "desk", "survival", "town", "condition", "beliefs"]:
        PARTS[part]()


if __name__ == "__main__":
    main(sys.argv[1:])
