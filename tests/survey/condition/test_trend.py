"""Shares by condition, month by month, against counts made by hand."""

from datetime import date

import pytest

from survey.condition import trend
from survey.condition.models import SiteMonth
from survey.condition.tasks import sites_behind_the_record
from tests.factories import LookFactory, PlantingFactory, SiteFactory, TreeFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory()


def tree_at(site, **more):
    return TreeFactory(site=site, planting=PlantingFactory(), **more)


def month_of(site, month):
    trend.keep(trend.work_out(str(site.pk)))
    return SiteMonth.objects.get(site=site, month=month)


def shares(month):
    return tuple(getattr(month, name) for name in trend.CONDITIONS)


def test_each_tree_counts_with_its_last_trained_look(site):
    one, two, three = (tree_at(site) for _ in range(3))
    LookFactory(tree=one, day=date(2025, 6, 3), condition="thriving")
    LookFactory(tree=one, day=date(2025, 8, 3), condition="slipping")
    LookFactory(tree=two, day=date(2025, 8, 5), condition="holding")
    LookFactory(tree=three, day=date(2025, 8, 9), condition="failing", trained=False)
    august = month_of(site, date(2025, 8, 1))
    assert (shares(august), august.n, august.looks) == ((0, 1, 1, 0, 0), 2, 2)
    june = SiteMonth.objects.get(site=site, month=date(2025, 6, 1))
    assert (shares(june), june.looks) == ((1, 0, 0, 0, 0), 1)


def test_a_look_counts_for_twelve_months_and_not_for_thirteen(site):
    LookFactory(tree=tree_at(site), day=date(2025, 5, 31))
    assert month_of(site, date(2026, 4, 1)).n == 1
    assert SiteMonth.objects.get(site=site, month=date(2026, 5, 1)).n == 0


def test_taking_a_dead_tree_away_does_not_look_like_recovery(site):
    tree = tree_at(site)
    LookFactory(tree=tree, day=date(2025, 7, 3), dead=True)
    LookFactory(tree=tree, day=date(2025, 9, 3), gone=True)
    LookFactory(tree=tree_at(site), day=date(2025, 9, 4), condition="thriving")
    september = month_of(site, date(2025, 9, 1))
    assert shares(september) == (1, 0, 0, 0, 1)
    assert (september.n, september.standing) == (2, 1)


def test_a_bare_tree_called_dead_in_winter_keeps_its_look_before(site):
    tree = tree_at(site, species="linden")
    LookFactory(tree=tree, day=date(2025, 9, 3), condition="holding")
    LookFactory(tree=tree, day=date(2026, 1, 10), dead=True)
    assert shares(month_of(site, date(2026, 1, 1))) == (0, 1, 0, 0, 0)
    LookFactory(tree=tree, day=date(2026, 6, 1), dead=True)
    assert shares(month_of(site, date(2026, 1, 1))) == (0, 0, 0, 0, 1)


def test_a_look_without_a_condition_does_not_count(site):
    LookFactory(tree=tree_at(site), day=date(2025, 9, 3), condition="")
    september = month_of(site, date(2025, 9, 1))
    assert (september.n, september.looks) == (0, 1)


def test_months_run_without_a_gap_to_the_towns_today(site):
    LookFactory(tree=tree_at(site), day=date(2025, 9, 3))
    trend.keep(trend.work_out(str(site.pk)))
    months = list(SiteMonth.objects.filter(site=site).values_list("month", flat=True))
    assert months[0] == date(2025, 9, 1)
    assert months[-1] == date(2026, 6, 1)
    assert len(months) == 10


def test_limits_are_those_of_wilson(site):
    # Newcombe (1998) Stat. Med. 17:857, table I, method 3: 0 of 20 and 1 of 29
    share = trend.shares_of(SiteMonth(site=site, thriving=0, holding=19, slipping=0, failing=0,
                                      dead=1, n=20))  # fmt: skip
    assert share[0].limits.low == 0
    assert share[0].limits.high == pytest.approx(0.1611, abs=5e-5)
    one = trend.shares_of(SiteMonth(site=site, thriving=1, holding=28, slipping=0, failing=0,
                                    dead=0, n=29))[0]  # fmt: skip
    assert one.limits.low == pytest.approx(0.0061, abs=5e-5)
    assert one.limits.high == pytest.approx(0.1718, abs=5e-5)


def test_the_nightly_question_finds_sites_behind_the_record(site):
    assert list(sites_behind_the_record()) == []
    LookFactory(tree=tree_at(site), day=date(2025, 9, 3))
    assert list(sites_behind_the_record()) == [("roll_up_trend", str(site.pk))]
    trend.keep(trend.work_out(str(site.pk)))
    assert list(sites_behind_the_record()) == []
    LookFactory(tree=tree_at(site), day=date(2025, 9, 9))
    assert list(sites_behind_the_record()) == [("roll_up_trend", str(site.pk))]


def test_a_new_month_asks_for_every_site(site):
    LookFactory(tree=tree_at(site), day=date(2025, 9, 3))
    trend.keep(trend.work_out(str(site.pk)))
    site.area.data_date = date(2026, 7, 1)
    site.area.save()
    assert list(sites_behind_the_record()) == [("roll_up_trend", str(site.pk))]


def test_a_site_that_is_gone_is_no_error():
    trend.keep(trend.work_out("999999"))
    assert not SiteMonth.objects.exists()


def test_a_site_of_many_trees_costs_few_questions(site, django_assert_max_num_queries):
    for _ in range(15):
        LookFactory(tree=tree_at(site), day=date(2025, 9, 3))
    with django_assert_max_num_queries(5):
        trend.work_out(str(site.pk))
