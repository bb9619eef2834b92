"""What is usual among observers of one kind."""

import pytest

from survey.condition.models import Weight
from survey.condition.weights import usual_weights
from tests.factories import AreaFactory, ObserverFactory

pytestmark = pytest.mark.django_db


def weigh(area, value, kind="volunteer", looks=9):
    Weight.objects.create(
        area=area,
        observer=ObserverFactory(),
        kind=kind,
        weight=value,
        usual=0.9,
        looks=looks,
        noise=[],
        learning=1,
    )


def test_the_middle_one_of_those_with_looks_enough_is_usual():
    area, other = AreaFactory(), AreaFactory(ref="southmere", name="S", is_home=False)
    for value in (0.5, 0.6, 0.7, 0.8, 0.9):
        weigh(area, value)
    weigh(area, 0.01, looks=4)
    weigh(other, 0.01)
    assert usual_weights(area) == {"volunteer": 0.7}


def test_a_few_others_are_no_crowd():
    area = AreaFactory()
    for value in (0.5, 0.6, 0.7, 0.8):
        weigh(area, value, kind="resident")
    assert usual_weights(area) == {}
