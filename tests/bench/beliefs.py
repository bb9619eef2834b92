"""What is believed of a whole town, from its rows to its rows, and how soon one look is seen in it.

The town is that of `tests.bench.town`. Needs PostgreSQL: `make bench` gives it one.
"""

import time

from django.utils import timezone

from survey.chores.actions import write_chore
from survey.condition import beliefs
from survey.condition.models import Belief, Learning, Outlook
from survey.people.models import Observer
from survey.trees.actions.look import record_look
from survey.trees.models import Look, Tree
from tests.bench import town

LOOKS = 7


def main(plantings: int = town.PLANTINGS) -> None:
    area = town.make_town(plantings)
    print(f"{Tree.objects.count():,} trees, {Look.objects.count():,} looks")
    write_chore(kind="learn_area", key=str(area.pk))
    took, memory = town.drain()
    print(f"a night from nothing {took:8.1f} s   {Belief.objects.count():,} beliefs, "
          f"{Outlook.objects.count():,} outlooks; largest runner {memory:.0f} MB")  # fmt: skip
    Learning.objects.update(looks=0)
    write_chore(kind="learn_area", key=str(area.pk))
    again, memory = town.drain()
    print(f"the night after      {again:8.1f} s   largest runner {memory:.0f} MB")
    seen = sorted(_look_until_seen(tree) for tree in Tree.objects.order_by("-pk")[:LOOKS])
    print(f"one look, written and believed {seen[LOOKS // 2] * 1000:8.0f} ms   "
          f"(middle of {LOOKS}; slowest {seen[-1] * 1000:.0f})")  # fmt: skip


def _look_until_seen(tree: Tree) -> float:
    """Seconds from somebody's sending a look to the belief that knows of it."""
    before = time.perf_counter()
    record_look(
        tree=tree,
        observer=Observer.objects.get(key="bench"),
        trained=False,
        day=town.TODAY,
        channel=Look.Channel.COMPLAINT,
        presence="standing",
        condition="dead",
        at=timezone.now(),
        by=None,
    )
    beliefs.keep(beliefs.work_out(str(tree.pk)))
    took = time.perf_counter() - before
    if Belief.objects.get(tree=tree).looks != Look.objects.filter(tree=tree).count():
        raise RuntimeError(f"The look at {tree.ref} is not in its belief.")
    return took
