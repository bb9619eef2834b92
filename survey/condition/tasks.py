"""Chores about condition."""

from survey.chores.registry import handles, heals
from survey.condition import beliefs, learning, outlooks, stale, trend
from survey.trees.models import Area


@handles("learn_area", computes=learning.work_out)
def learn_area(key: str, learned: learning.Learned | None) -> None:
    """An area's record is learnt from; every belief and outlook is asked for."""
    learning.keep(learned)


@handles("believe_tree", computes=beliefs.work_out)
def believe_tree(key: str, believed: beliefs.Believed | None) -> None:
    """Something is newly known of one tree."""
    beliefs.keep(believed)


@handles("believe_trees", computes=beliefs.work_out_range)
def believe_trees(key: str, believed: beliefs.Believed | None) -> None:
    """A new day has come, or a new learning: many trees are weighed with few questions."""
    beliefs.keep(believed)


@handles("roll_up_outlook", computes=outlooks.work_out)
def roll_up_outlook(key: str, rolled: outlooks.Rolled | None) -> None:
    """A site, planting or species is held up to all evidence, and a site to its own rounds."""
    outlooks.keep(rolled)


@handles("roll_up_trend", computes=trend.work_out)
def roll_up_trend(key: str, result) -> None:
    trend.keep(result)


@heals
def areas_to_learn_from():
    """Areas with looks, or a day, that nothing was learnt from yet."""
    for area in Area.objects.order_by("pk"):
        if learning.is_behind(area):
            yield "learn_area", str(area.pk)


@heals
def trees_whose_evidence_is_newer_than_their_belief():
    for area in Area.objects.order_by("pk"):
        yield from stale.wishes(area)


@heals
def outlooks_of_an_earlier_month_or_learning():
    for area in Area.objects.order_by("pk"):
        yield from outlooks.wishes(area)


@heals
def sites_behind_the_record():
    for site in trend.behind():
        yield "roll_up_trend", site
