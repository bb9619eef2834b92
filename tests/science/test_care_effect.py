"""Care that goes to trees in trouble: what matching finds against what care is known to do."""

import math
from dataclasses import replace

import numpy as np
import pytest

from survey.science.survival.care_effect import care_effect
from survey.science.survival.care_sets import BadHistory, Rules, Watched, match
from tests.science.care_town import make_town, true_effect

RUNS = 5


@pytest.mark.parametrize("multiplier", [1.0, 0.6])
def test_without_matching_care_looks_harmful_and_with_matching_the_truth_is_held(multiplier):
    errors, plain, held = [], [], 0
    for seed in range(RUNS):
        town = make_town(100 + seed, multiplier=multiplier)
        found = care_effect(town.trees, seed=seed, draws=80)
        truth = true_effect(town, [one.treated for one in found.matching.sets])
        errors.append(found.effect.difference - truth)
        plain.append(found.plain.difference - truth)
        held += found.effect.low <= truth <= found.effect.high
    assert np.mean(plain) < -0.06
    assert abs(np.mean(errors)) < 0.06
    assert held >= RUNS - 1


def test_nobody_is_matched_by_what_later_looks_say():
    town = make_town(3, trees=250)
    sets = match(town.trees, Rules(), seed=0).sets
    assert len(sets) > 40
    day = town.trees[sets[30].treated].care_from
    upto = [
        replace(tree, looks=tuple(look for look in tree.looks if look[0] < day))
        for tree in town.trees
    ]
    offered = {one.treated: one.grade for one in match(upto, Rules(), seed=0).sets}
    for one in sets[:31]:
        assert offered[one.treated] == one.grade


def test_sets_are_alike_and_no_tree_is_a_control_twice():
    town, rules = make_town(4), Rules()
    found = match(town.trees, rules, seed=0)
    served = [row for one in found.sets for row in one.controls]
    assert len(served) == len(set(served))
    for one in found.sets:
        cared = town.trees[one.treated]
        for row, unseen in zip(one.controls, one.unseen[1:], strict=True):
            control = town.trees[row]
            assert (control.site, control.kind) == (cared.site, cared.kind)
            assert abs(control.planted - cared.planted) <= rules.age_months
            assert control.care_from > cared.care_to
            last = [look for look in control.looks if look[0] < cared.care_from][-1]
            assert last[1] == one.grade
            assert cared.care_from - last[0] == pytest.approx(unseen)
    worst = {row.measure: abs(row.difference) for row in found.after}
    assert worst["grade"] < 1e-9
    assert worst["age_months"] < 0.1
    assert {row.measure: row.difference for row in found.before}["in_trouble"] > 0.5


def test_too_few_trees_or_losses_get_no_figure_but_what_is_missing():
    town = make_town(5, trees=60)
    found = care_effect(town.trees, seed=0, draws=80)
    assert found.effect is None
    assert (found.p, found.change, found.plain) == (None, None, None)
    assert {one.code for one in found.missing} >= {"treated"}
    assert all(one.have < one.need for one in found.missing)
    nobody = care_effect([], seed=0, draws=80)
    assert {one.code for one in nobody.missing} == {
        "treated", "losses", "losses_without", "seen_with_care", "seen_without",
    }  # fmt: skip


def test_losses_among_trees_with_the_care_alone_say_nothing():
    trees = [
        Watched("a", "linden", 0.0, 0.0, ((9.0, 2), (26.0, 4 if n < 8 else 2)), at, at)
        for n, at in enumerate([12.0] * 25 + [math.inf] * 25)
    ]
    found = care_effect(trees, seed=0, draws=80)
    assert len(found.matching.sets) == 25
    assert (found.losses_with_care, found.losses_without) == (8, 0)
    assert [(one.code, one.have, one.need) for one in found.missing] == [("losses_without", 0, 5)]
    assert found.effect is None


def test_the_same_trees_and_seed_give_the_same_numbers():
    town = make_town(6, trees=300)
    one, other = (care_effect(town.trees, seed=1, draws=80) for _ in range(2))
    assert (one.effect, one.followed, one.p, one.change) == (
        other.effect, other.followed, other.p, other.change,
    )  # fmt: skip


@pytest.mark.parametrize(
    "wrong",
    [{"planted": math.nan}, {"looks": ((5.0, 1), (3.0, 1))}, {"looks": ((-1.0, 1),)},
     {"looks": ((1.0, 4), (2.0, 1))}, {"looks": ((1.0, 7),)}, {"care_from": 5.0, "care_to": 4.0},
     {"care_from": math.nan}],
)  # fmt: skip
def test_a_history_that_cannot_be_is_refused(wrong):
    with pytest.raises(BadHistory):
        Watched(**({"site": "a", "kind": "b", "planted": 0.0, "since": 0.0, "looks": ()} | wrong))


@pytest.mark.parametrize(
    "wrong", [{"age_months": 0}, {"horizon": math.nan}, {"controls": 0}, {"change_from": 20}]
)
def test_rules_that_nothing_can_satisfy_are_refused(wrong):
    with pytest.raises(BadHistory):
        Rules(**wrong)
