"""Chores about survival: a planting is counted, then the groups it belongs to are worked out."""

from survey.chores.actions import write_chores
from survey.chores.registry import handles, heals
from survey.survival import helped, pooling, roll_up, stands, weighed, weighing
from survey.trees.models import Area


@handles("count_planting", computes=stands.count)
def count_planting(key: str, counted: stands.Count | None) -> None:
    """Something is newly known of a planting's trees: those groups that changed are asked for."""
    stands.keep(counted)


@handles("count_plantings", computes=stands.count_range)
def count_plantings(key: str, counted: stands.Count | None) -> None:
    """A new day has come, or a file: many plantings are counted with few questions."""
    stands.keep_range(counted)


@handles("roll_up_survival", computes=roll_up.work_out)
def roll_up_survival(key: str, result: roll_up.Result | None) -> None:
    """A group is kept; with the first curve of a town on a day, what rests on it is asked for."""
    roll_up.keep(result)
    if result is not None and result.by == "town":
        write_chores(_once_a_day(result.area))


@handles("pool_survival", computes=pooling.work_out)
def pool_survival(key: str, found: pooling.Leaning | None) -> None:
    """A town's groups lean on each other, so they are fitted together."""
    pooling.keep(found)


@handles("compare_care", computes=helped.work_out)
def compare_care(key: str, found: helped.Compared | None) -> None:
    """Every kind of care of an area is held against trees like those that had it."""
    helped.keep(found)


@handles("weigh_looks", computes=weighing.work_out)
def weigh_looks(key: str, found: weighing.Weighed | None) -> None:
    """Every site of an area is asked what a walk there would tell."""
    weighing.keep(found)


@handles("weigh_survival", computes=weighed.work_out)
def weigh_survival(key: str, found: weighed.Reading | None) -> None:
    """Something was learnt of an area: every group is worked out anew with all evidence weighed."""
    weighed.keep(found)


@heals
def plantings_behind_the_record():
    """Plantings counted on an earlier day, or whose trees count otherwise by now."""
    for area in Area.objects.order_by("pk"):
        if stands.is_of_another_day(area):
            yield from (("count_plantings", name) for name in stands.ranges_of(area))
        else:
            yield from (("count_planting", str(planting)) for planting in stands.behind(area))


@heals
def groups_behind_their_stands():
    """Groups whose row is missing, or rests on other stands than there are."""
    for area in Area.objects.order_by("pk"):
        for name in roll_up.out_of_date(area):
            yield "roll_up_survival", name


@heals
def towns_behind_their_stands():
    """Towns with a group that rests on another fit than its stands would give now."""
    for area in Area.objects.order_by("pk"):
        if pooling.is_behind(area):
            yield "pool_survival", str(area.pk)


@heals
def areas_behind_their_learning():
    """Areas with a group whose weighed reading rests on another learning than the newest."""
    for area in Area.objects.order_by("pk"):
        if weighed.is_behind(area):
            yield "weigh_survival", str(area.pk)


@heals
def areas_of_another_day():
    """Areas whose care was not compared on this day, or whose looks were not weighed."""
    for area in Area.objects.order_by("pk"):
        yield from _once_a_day(area)


def _once_a_day(area: Area):
    if helped.is_behind(area):
        yield "compare_care", str(area.pk)
    if weighing.is_behind(area):
        yield "weigh_looks", str(area.pk)
