"""In an invented town, an hour's walk by the list settles more than one as it comes."""

import numpy as np
import pytest

from tests.simulate.doubt_walk import as_it_comes, by_the_list, town, walk

HOUR, JUNE = 60.0, 66


@pytest.fixture(scope="module")
def before():
    return town("base", 3, JUNE)


@pytest.fixture(scope="module")
def walked(before):
    return {
        plan: [walk(before, plan, HOUR, seed) for seed in range(8)]
        for plan in (by_the_list, as_it_comes)
    }


def test_the_list_settles_more_than_a_walk_as_it_comes(walked):
    listed, random = ([one.fell for one in walked[p]] for p in (by_the_list, as_it_comes))
    assert np.mean(listed) > 2 * np.mean(random)
    assert np.mean(listed) > 0.001


def test_of_so_many_one_is_sure_as_was_said_and_nearly_always_rightly(walked):
    walks = walked[by_the_list]
    sure, expected, right = (
        sum(getattr(one, name) for one in walks) for name in ("sure", "sure_expected", "right")
    )
    assert sure == pytest.approx(expected, rel=0.35)
    assert right >= 0.9 * sure


def test_nobody_walks_to_a_tree_on_record_as_taken_away_and_none_twice(before):
    dice = np.random.default_rng(0)
    for plan in (by_the_list, as_it_comes):
        trees = [tree for tree, _look in plan(before, HOUR, dice)]
        assert len(trees) > 5
        assert len(set(trees)) == len(trees)
        assert before.in_place[trees].all()
    assert plan(before, 5.0, dice) == []
