"""Rows that jobs compute, for tests that only read them."""

from datetime import date

from survey.condition import learning
from survey.condition.models import Learning, SiteMonth
from survey.survival.models import Figure, Group
from tests.factories import NOON, TODAY


def survival_group(planting, **changes) -> Group:
    """A group of ten trees of which two were lost, with one figure."""
    fields = {
        "area": planting.area,
        "by": "planting",
        "key": planting.ref,
        "label": planting.name,
        "as_of": TODAY,
        "counts": {
            "registered": 10,
            "in_rates": 10,
            "excluded": {},
            "planted": 10,
            "late": 0,
            "median_gap_days": 200,
            "unseen_over_a_year": 1,
            "newest_look": "2026-05-01",
            "from_age": 0,
        },
        "method": "counted by hand",
        "evidence": "0" * 64,
        "computed_at": NOON,
        **changes,
    }
    group = Group.objects.create(**fields)
    Figure.objects.create(
        group=group,
        curve="loss",
        milestone="12",
        age_months=12,
        at_risk=10,
        events=2,
        at_least=0.8,
        at_most=0.8,
        low=0.49,
        high=0.94,
        count_alive=8,
        count_lost=2,
        count_unknown=0,
    )
    return group


def trend_month(site) -> SiteMonth:
    return SiteMonth.objects.create(
        site=site,
        month=date(2026, 5, 1),
        thriving=3,
        holding=4,
        slipping=2,
        failing=0,
        dead=1,
        n=10,
        standing=10,
        looks=10,
    )


def learning_of(area) -> Learning:
    """What an area's record teaches, learnt and kept."""
    learning.keep(learning.work_out(str(area.pk)))
    return Learning.objects.newest_of(area)
