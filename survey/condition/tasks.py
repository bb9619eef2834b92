"""Chores about condition."""

from survey.chores.registry import handles, heals
from survey.condition import trend


@handles("roll_up_trend", computes=trend.work_out)
def roll_up_trend(key: str, result) -> None:
    trend.keep(result)


@heals
def sites_behind_the_record():
    for site in trend.behind():
        yield "roll_up_trend", site
