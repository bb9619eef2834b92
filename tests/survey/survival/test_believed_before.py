"""What was believed of a tree before its care: nothing seen in that month or later plays a part."""

from datetime import date

import numpy as np
import pytest

from survey.condition import learning
from survey.science.survival.care_sets import FAILING, HOLDING, LOST, SLIPPING, THRIVING
from survey.survival import helped
from survey.survival.believed_before import DAYS_A_MONTH, START, beliefs_of
from survey.survival.helped import ALIKE_IN_BELIEF, ALIKE_IN_LOOKS, care_helped, watched_trees
from survey.survival.models import CareCompared
from survey.trees.models import Look
from tests.factories import LookFactory, ObserverFactory, PlantingFactory, SiteFactory, TreeFactory
from tests.survey.survival.test_helped import TOWN, give, planting

pytestmark = pytest.mark.django_db
WATER = "water"
mulched = planting  # the fixture of fifty trees of which half were mulched


@pytest.fixture
def trees():
    """Twelve trees of a planting, seen in May 2024 and 2025 by two people; all get water in 2025.

    The first two were slipping, the third was found dead twice, the others were thriving.
    """
    site, of = SiteFactory(), PlantingFactory()
    made = TreeFactory.create_batch(12, planting=of, site=site)
    for observer in ObserverFactory.create_batch(2):
        for n, tree in enumerate(made):
            look = {"tree": tree, "observer": observer}
            LookFactory(**look, day=date(2024, 5, 3), condition="thriving", leaf="full")
            found = "slipping" if n < 2 else "dead" if n == 2 else "thriving"
            leaf = "partial" if n < 2 else "bare" if n == 2 else "full"
            LookFactory(**look, day=date(2025, 5, 3), condition=found, leaf=leaf)
    for tree in made:
        give(tree, date(2025, 6, 10), WATER)
    return made


def before(trees, day):
    """By tree: the grade and the age of what is known just before a day."""
    area = trees[0].area
    members = sorted(trees, key=lambda tree: tree.ref)
    known = beliefs_of(area).of([tree.pk for tree in members], watched_trees(area, WATER, TOWN))
    state = known.just_before(np.arange(len(members)), (day - START).days / DAYS_A_MONTH)
    return {
        tree.pk: (grade, age)
        for tree, grade, age in zip(members, state.grade, state.age, strict=True)
    }


def learn(trees):
    learning.keep(learning.work_out(str(trees[0].area_id)))


def test_nothing_is_believed_before_anything_was_learnt(trees):
    assert beliefs_of(trees[0].area) is None


def test_the_likeliest_grade_is_that_of_the_looks_before(trees):
    learn(trees)
    found = before(trees, date(2025, 6, 10))
    assert [found[tree.pk][0] for tree in trees[:3]] == [SLIPPING, SLIPPING, LOST]
    assert {found[tree.pk][0] for tree in trees[3:]} <= {THRIVING, HOLDING}


def test_a_look_in_the_month_of_the_care_or_later_changes_nothing(trees):
    learn(trees)
    day = date(2025, 6, 10)
    once = before(trees, day)
    for later in (date(2025, 6, 9), date(2025, 6, 20), date(2025, 8, 1)):
        LookFactory(
            tree=trees[3], observer=ObserverFactory(), day=later, condition="dead", trained=False,
            scratch="brown", leaf="bare",
        )  # fmt: skip
    assert before(trees, day) == once
    # but it is known by the next care
    assert before(trees, date(2025, 9, 10))[trees[3].pk][0] == LOST


def test_neighbors_are_heard_too_and_the_age_stays_that_of_the_last_trained_look(trees):
    learn(trees)
    day = date(2025, 6, 10)
    grade, age = before(trees, day)[trees[4].pk]
    assert grade <= HOLDING
    for observer in ObserverFactory.create_batch(6):
        LookFactory(
            tree=trees[4], observer=observer, day=date(2025, 5, 20), condition="failing",
            leaf="partial", trained=False,
        )  # fmt: skip
    worse, still = before(trees, day)[trees[4].pk]
    assert worse in (SLIPPING, FAILING)
    assert still == age == pytest.approx(38 / DAYS_A_MONTH)


def test_of_a_tree_that_was_not_on_the_list_yet_nothing_is_known(trees):
    learn(trees)
    found = before(trees, date(2023, 11, 20))
    assert all(np.isnan(grade) for grade, _ in found.values())


def test_trees_are_matched_by_belief_once_something_was_learnt_and_it_is_said(mulched):
    area = mulched.area

    def told():
        helped.keep(helped.work_out(str(area.pk)))
        return CareCompared.objects.get(area=area, care="mulch_ring").told

    assert told()["assumptions"][0] == ALIKE_IN_LOOKS
    learning.keep(learning.work_out(str(area.pk)))
    found = told()
    assert found["assumptions"][0] == ALIKE_IN_BELIEF
    assert found["matched"] == 25
    assert (found["losses_with_care"], found["losses_without"]) == (0, 12)
    again = care_helped(area, "mulch_ring", before=beliefs_of(area).of)
    assert again.effect.difference == pytest.approx(found["effect"]["difference"])
    # what comes later plays no part in who is matched with whom
    Look.objects.filter(day__gt=date(2024, 6, 30)).delete()
    sooner = care_helped(area, "mulch_ring", before=beliefs_of(area).of)
    assert sooner.matching.sets == again.matching.sets
