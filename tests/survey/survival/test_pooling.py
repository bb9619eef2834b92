"""Leaning on the town, and the forecast, from stands to every group's row."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from survey.chores.models import Chore
from survey.survival import pooling, roll_up, stands
from survey.survival.models import Group, Stand
from survey.survival.tasks import towns_behind_their_stands
from tests.factories import LookFactory, ObserverFactory, PlantingFactory, SiteFactory, TreeFactory


def plant(name, trees, lost, day=date(2024, 11, 5), site=None):
    """A planting seen alive in June 2025 and again in June 2026, but for those lost by then."""
    planting = PlantingFactory(name=name, planted_from=day, planted_to=day)
    site = site or SiteFactory()
    observer = ObserverFactory()
    for n, tree in enumerate(TreeFactory.create_batch(
        trees, planting=planting, site=site, planted_from=day, planted_to=day, registered_on=day
    )):  # fmt: skip
        LookFactory(tree=tree, observer=observer, day=date(2025, 6, 3))
        LookFactory(tree=tree, observer=observer, day=date(2026, 6, 3), dead=n < lost)
    return planting


@pytest.fixture
def town(db):
    site = SiteFactory()
    sad, happy, few = plant("Sad", 30, 12, site=site), plant("Happy", 40, 2), plant("Few", 6, 2)
    roll_up.catch_up(sad.area)
    return sad.area, sad, happy, few


def group(planting):
    return Group.objects.get(by="planting", key=planting.ref)


def test_the_pooled_figure_lies_between_the_raw_one_and_the_town(town):
    _, sad, happy, few = town
    whole = Group.objects.get(by="town").figures.get(curve="loss", milestone="12").at_most
    for planting in (sad, happy, few):
        raw = group(planting).figures.get(curve="loss", milestone="12")
        told = group(planting).pooled["figures"]["12"]
        assert told["low"] < told["share"] < told["high"]
        # at 12 months every loss lies between two looks: the raw estimate is a range
        ends = sorted([raw.at_least, raw.at_most, whole])
        assert ends[0] - 0.02 <= told["share"] <= ends[-1] + 0.02
    assert (
        group(sad).pooled["figures"]["12"]["share"] < group(happy).pooled["figures"]["12"]["share"]
    )
    assert group(few).pooled["own_share"] < group(happy).pooled["own_share"] < 1
    assert "second_summer" in group(sad).pooled["figures"]


def test_the_forecast_counts_the_trees_that_may_still_stand(town):
    _, _, happy, few = town
    told = group(happy).forecast
    # planted in November 2024: the second summer ends on 30 September 2026, 22 months on
    assert (told["milestone"], told["age"], told["by"]) == ("second_summer", 22, "2026-09-30")
    assert told["trees"] == 38
    assert 30 <= told["low"] <= told["stand"] <= told["high"] <= 38
    assert told["replacements"] == [38 - told["high"], 38 - told["low"]]
    ages = [row[0] for row in told["path"]]
    assert ages == [19, 25, 31, 37, 43, 49]
    shares = [row[1] for row in told["path"]]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] == pytest.approx(group(happy).curves["loss"][-1][1], abs=1e-4)
    assert all(low <= share <= high for _, share, low, high in told["path"])
    assert group(few).forecast == {}  # four trees are too few to speak of


def test_nothing_is_behind_until_a_stand_changes(town):
    area, sad, *_ = town
    assert not pooling.is_behind(area)
    assert list(towns_behind_their_stands()) == []
    before = list(Group.objects.order_by("pk").values("pooled", "forecast"))
    pooling.keep(pooling.work_out(str(area.pk)))
    assert list(Group.objects.order_by("pk").values("pooled", "forecast")) == before
    LookFactory(tree=sad.trees.last(), day=date(2026, 6, 3), gone=True)
    stands.keep(stands.count(str(sad.pk)))
    assert list(towns_behind_their_stands()) == [("pool_survival", str(area.pk))]


def test_a_fit_is_wished_for_after_a_wait_that_grows_with_the_town(town, monkeypatch):
    area, *_ = town
    Chore.objects.all().delete()
    pooling.ask(area)
    assert Chore.objects.get(kind="pool_survival").due_at <= timezone.now()
    Chore.objects.all().delete()
    monkeypatch.setattr(pooling, "STANDS_A_SECOND", 1)
    pooling.ask(area)
    wait = Chore.objects.get(kind="pool_survival").due_at - timezone.now()
    assert timedelta(0) < wait <= timedelta(seconds=Stand.objects.count())


def test_a_town_without_trees_in_the_rates_leans_on_nothing(db):
    planting = PlantingFactory()
    TreeFactory(planting=planting, registered_because="report")
    roll_up.catch_up(planting.area)
    assert group(planting).pooled.keys() == {"fit"}
    assert group(planting).forecast == {}
    assert not pooling.is_behind(planting.area)


def test_an_area_that_is_gone_is_no_error(db):
    pooling.keep(pooling.work_out("999999"))
