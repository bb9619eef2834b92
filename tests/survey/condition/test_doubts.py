"""With each belief the look is kept that would settle most of what is not known."""

from datetime import date

import pytest

from survey.condition import beliefs, learning
from survey.condition.models import Belief
from tests.factories import AreaFactory, LookFactory, ObserverFactory, PlantingFactory, TreeFactory

pytestmark = pytest.mark.django_db


def believed(tree):
    beliefs.keep(beliefs.work_out(str(tree.pk)))
    return Belief.objects.get(tree=tree)


def learnt_area(today):
    AreaFactory()
    area = PlantingFactory().area
    area.data_date = today
    area.save()
    for tree in TreeFactory.create_batch(4):
        LookFactory(tree=tree, day=date(2024, 6, 1))
    learning.keep(learning.work_out(str(area.pk)))
    return area


def called_dead(day):
    tree = TreeFactory()
    neighbor = ObserverFactory(kind="resident")
    LookFactory(tree=tree, day=date(2024, 6, 1), condition="thriving")
    LookFactory(
        tree=tree, observer=neighbor, day=day, condition="dead", trained=False, channel="complaint"
    )
    return tree


def test_a_doubtful_tree_in_june_is_settled_by_a_trained_look_now():
    learnt_area(date(2026, 6, 16))
    belief = believed(called_dead(date(2026, 6, 10)))
    assert 0.05 < belief.lost < 0.95
    assert belief.settle in ("look", "scratch")
    assert belief.settle_month == date(2026, 6, 1)
    assert belief.settle_gain > 0.01


def test_a_tree_that_is_surely_alive_or_on_record_as_taken_away_is_no_question():
    learnt_area(date(2026, 6, 16))
    sure, gone = TreeFactory(), TreeFactory()
    for observer in ObserverFactory.create_batch(3):
        LookFactory(tree=sure, observer=observer, day=date(2026, 6, 5), condition="thriving")
    LookFactory(tree=gone, gone=True, channel="crew", day=date(2026, 5, 5))
    assert believed(sure).settle_gain < believed(called_dead(date(2026, 6, 10))).settle_gain
    assert (believed(gone).settle, believed(gone).settle_gain) == ("", 0)


def test_those_in_doubt_come_most_telling_first():
    learnt_area(date(2026, 6, 16))
    trees = [called_dead(date(2026, 6, 10)) for _ in range(2)]
    for tree in trees:
        believed(tree)
    Belief.objects.filter(tree=trees[1]).update(settle_gain=0.2)
    assert [belief.tree for belief in Belief.objects.in_doubt()] == [trees[1], trees[0]]
