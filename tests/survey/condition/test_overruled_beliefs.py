"""An overruling decides what is believed, until it is taken back."""

from datetime import date

import pytest

from survey.condition import beliefs, learning
from survey.condition.actions.overrule import overrule_belief, withdraw_overruling
from survey.condition.models import Belief, State
from tests.factories import NOON, TODAY, LookFactory, ObserverFactory, PersonFactory, TreeFactory

pytestmark = pytest.mark.django_db


def believed(tree):
    beliefs.keep(beliefs.work_out(str(tree.pk)))
    return Belief.objects.get(tree=tree)


@pytest.fixture
def thriving():
    """A tree that three trained people found thriving, two of them this month."""
    tree = TreeFactory()
    days = (date(2025, 6, 3), date(2026, 6, 3), date(2026, 6, 10))
    for observer, day in zip(ObserverFactory.create_batch(3), days, strict=True):
        LookFactory(tree=tree, observer=observer, day=day, condition="thriving")
    learning.keep(learning.work_out(str(tree.area_id)))
    return tree


@pytest.mark.parametrize("state", State.values)
def test_it_wins_over_trained_looks_of_the_same_month_and_leaves_no_trace_when_taken_back(
    thriving, state
):
    before, somebody = believed(thriving), PersonFactory()
    made = overrule_belief(
        tree=thriving, state=state, day=TODAY, reason="I stood there.", by=somebody, at=NOON
    )
    assert getattr(believed(thriving), state) > 0.95
    withdraw_overruling(overruling=made, reason="Wrong tree.", by=somebody, at=NOON)
    assert believed(thriving).shares == pytest.approx(before.shares, abs=1e-12)
