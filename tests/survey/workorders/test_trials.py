"""Side by side trials: lots, what they can tell, what they told."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.handbook.book import book
from survey.workorders.actions import create_trial, end_trial
from survey.workorders.models import TrialTree
from survey.workorders.trials import instead_said, may_be_tried, not_by_lot, standing_of
from tests.factories import (
    NOON,
    TODAY,
    AreaFactory,
    LookFactory,
    PersonFactory,
    SiteFactory,
    TreeFactory,
)

pytestmark = pytest.mark.django_db


def trees_at(*counts, **more):
    return [
        tree
        for count in counts
        for tree in TreeFactory.create_batch(count, site=SiteFactory(), **more)
    ]


def begin(trees, **more):
    fields = {
        "area": AreaFactory(),
        "question": "Do coats help?",
        "care": "whitewash",
        "instead": "usual_care",
        "until": TODAY + timedelta(days=400),
        "by": PersonFactory(),
        "at": NOON,
    }
    return create_trial(trees=trees, **fields | more)


def lots(trial):
    rows = TrialTree.objects.filter(trial=trial).select_related("tree")
    return {row.tree.ref: (row.block, row.gets_care) for row in rows}


def test_lots_are_drawn_inside_each_site_and_species_and_can_be_drawn_again():
    trees = trees_at(6, 4)
    first = begin(trees, lot=42)
    drawn = lots(first)
    blocks = {}
    for block, gets in drawn.values():
        blocks.setdefault(block, []).append(gets)
    assert sorted(map(sum, blocks.values())) == [2, 3]
    end_trial(trial=first, because="Again", by=PersonFactory(), at=NOON)
    assert lots(begin(list(reversed(trees)), lot=42)) == drawn
    assert Entry.objects.filter(act="trial.created", detail__lot=42).count() == 2


def test_a_lot_that_nobody_chose_is_kept():
    assert begin(trees_at(4)).lot > 0


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"care": "prayer"}, "care"),
        ({"question": " "}, "question"),
        ({"instead": ""}, "instead"),
        ({"instead": "bleach on the roots"}, "instead"),
        ({"instead": "remove_dead_tree"}, "instead"),
        ({"instead": "whitewash"}, "instead"),
        ({"until": TODAY + timedelta(days=27)}, "until"),
    ],
)
def test_a_trial_that_makes_no_sense_is_refused_by_field(more, field):
    with pytest.raises(ValidationError) as refused:
        begin(trees_at(4), **more)
    assert field in refused.value.message_dict


@pytest.mark.parametrize(
    ("care", "why"),
    [
        ("water", "“Water” is not tried by lot. It is known to help."),
        ("mulch_ring", "No tree goes without it"),
        ("remove_dead_tree", "Neither removing nor planting is drawn by lot"),
        ("fertilize", "can harm the next"),
        ("find_cause", "there is nothing to try"),
    ],
)
@pytest.mark.parametrize("side", ["care", "instead"])
def test_nobody_loses_by_the_lot(care, why, side):
    with pytest.raises(ValidationError) as refused:
        begin(trees_at(4), **{side: care})
    assert why in refused.value.message_dict[side][0]
    assert not TrialTree.objects.exists()


def test_each_kind_that_may_not_be_tried_has_its_reason():
    tried = {care.code for care in may_be_tried()}
    assert {"whitewash", "winter_wrap", "compost"} <= tried
    for code in book().care:
        assert bool(not_by_lot(code)) is (code not in tried)


def test_two_kinds_in_dispute_are_set_side_by_side_and_older_words_stay():
    trial = begin(trees_at(4), instead="winter_wrap")
    assert instead_said(trial) == "Winter wrap on"
    trial.instead = "nothing"
    assert instead_said(trial) == "nothing"


def test_one_tree_is_no_trial_and_a_tree_is_in_one_at_a_time():
    trees = trees_at(4)
    with pytest.raises(ValidationError, match="at least two trees"):
        begin(trees[:1] * 2)
    begin(trees)
    with pytest.raises(ValidationError, match="In another trial"):
        begin(trees[1:3])
    assert begin(trees[1:3], care="compost").pk


def test_trees_elsewhere_or_gone_are_refused():
    gone = TreeFactory(left="died", left_from=TODAY, left_to=TODAY)
    with pytest.raises(ValidationError, match="not there any more"):
        begin([*trees_at(2), gone])
    with pytest.raises(ValidationError, match="another town"):
        begin(trees_at(2), area=AreaFactory(ref="southmere", is_home=False))


def test_volunteers_draw_and_end_nothing():
    with pytest.raises(PermissionDenied):
        begin(trees_at(4), by=PersonFactory(role="volunteer"))
    with pytest.raises(PermissionDenied):
        end_trial(trial=begin(trees_at(4)), because="x", by=PersonFactory(role="crew"), at=NOON)


def test_four_trees_are_too_small_to_tell():
    standing = standing_of(begin(trees_at(4)))
    assert standing.reach.word == "too_small_to_tell"
    assert standing.result is None


def test_nothing_is_weighed_before_its_day_and_luck_is_called_luck_on_it():
    trees = trees_at(4)
    trial = begin(trees)
    for tree in trees:
        LookFactory(tree=tree, day=TODAY + timedelta(days=60), condition="holding")
    assert standing_of(trial).result is None
    assert standing_of(trial).seen(True) == (2, 2, 2)
    end_trial(trial=trial, because="Enough", by=PersonFactory(), at=NOON + timedelta(days=90))
    trial.refresh_from_db()
    assert standing_of(trial).result.word == "nothing_to_weigh"


def test_a_plain_difference_is_found_and_looks_too_soon_do_not_count():
    trees = trees_at(40)
    trial = begin(trees, lot=5)
    gets = {ref for ref, (_block, care) in lots(trial).items() if care}
    for tree in trees:
        LookFactory(tree=tree, day=TODAY + timedelta(days=10), condition="failing")
        condition = "thriving" if tree.ref in gets else "failing"
        LookFactory(tree=tree, day=TODAY + timedelta(days=40), condition=condition)
    end_trial(trial=trial, because="Enough", by=PersonFactory(), at=NOON + timedelta(days=90))
    trial.refresh_from_db()
    standing = standing_of(trial)
    assert standing.result.word == "care_better"
    assert standing.seen(True) == (20, 20, 20)
    assert standing.seen(False) == (0, 20, 20)


def test_a_dead_tree_counts_as_one_that_did_not_do_well():
    trees = trees_at(4)
    trial = begin(trees)
    dead = trees[0]
    dead.left, dead.left_from, dead.left_to = "died", TODAY, TODAY
    dead.save()
    row = next(row for row in standing_of(trial).rows if row.tree == dead)
    assert row.good is False


def test_a_trial_stands_by_the_same_number_of_questions(django_assert_num_queries):
    for count in (4, 30):
        trial = begin(trees_at(count))
        with django_assert_num_queries(3):
            standing_of(trial)
