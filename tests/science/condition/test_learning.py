"""What a town teaches: events counted as enumerated, and who can be trusted found out."""

import json
from dataclasses import replace

import numpy as np
import pytest

from survey.science.condition import smoother
from survey.science.condition.chain import posterior
from survey.science.condition.laws import USUAL
from survey.science.condition.learning import counted, learn, taught, trusted, with_noise
from survey.science.condition.learnt import BadLearning, Learnt, complaint_rate
from survey.science.condition.prepared import prepare
from survey.science.condition.records import DEAD, GONE, HOLDING, THRIVING
from tests.science.condition.small_towns import (
    NEW_YEAR,
    any_learning,
    any_town,
    enumerated,
    one_tree,
    say,
    town,
)


def counts_of(evidence, learnt, **more):
    done = counted(prepare(evidence), learnt, USUAL, **more)
    return done.counts, done.fallen, done.expected


def nudged(learnt, name, place, by):
    value = np.array(getattr(learnt, name), dtype=float)
    if value.ndim == 0:
        return replace(learnt, **{name: float(value) + by})
    value[place] += by
    return replace(learnt, **{name: value})


def slope(evidence, learnt, name, place=()):
    """Of the log-likelihood along the logarithm of one number, by differences."""
    value = float(np.asarray(getattr(learnt, name))[place])
    step = value * 1e-5
    ends = [
        posterior(evidence, nudged(learnt, name, place, by)).log_likelihood.sum()
        for by in (step, -step)
    ]
    return (ends[0] - ends[1]) / 2e-5


def test_expected_events_are_the_slopes_of_the_log_likelihood():
    """Fisher's identity (Dempster, Laird & Rubin 1977): along the logarithm of a rate the slope is
    the expected events less those awaited in staying. Differences share nothing with the counts.
    """
    evidence = any_town(11, trees=25, looks=6.0)
    learnt = any_learning(evidence, 11)
    counts, _, _ = counts_of(evidence, learnt)
    # a removed or removed-dead tree: events less months at risk times the odds of not staying
    gone = slope(evidence, learnt, "removal")
    stay = counts.dead - counts.removal
    assert gone == pytest.approx(
        counts.removal - stay * learnt.removal / (1 - learnt.removal), abs=1e-4
    )
    for site in range(evidence.sites):
        visits = slope(evidence, learnt, "exposure", (site,))
        made = evidence.looks.complaint & (evidence.trees.site[evidence.looks.tree] == site)
        # the rate itself cancels out of each complaint, so only the silence has a slope
        assert visits == pytest.approx(-learnt.exposure[site] * counts.watched[site], abs=1e-4)
        assert made.sum() >= 0
    for state in range(6):
        worry = slope(evidence, learnt, "complaints", (state,))
        awaited = learnt.complaints[state] * counts.silent[state]
        assert worry == pytest.approx(counts.complaints[state] - awaited, abs=1e-4)
    logs = slope(evidence, learnt, "logged")
    # a tree removed in its very first month has a log without a move
    assert logs == pytest.approx(
        counts.logged
        + first_month_logs(evidence, learnt)
        - (counts.removed + counts.removal - counts.logged) * learnt.logged / (1 - learnt.logged),
        abs=1e-3,
    )


def first_month_logs(evidence, learnt):
    found = posterior(evidence, learnt)
    return sum(
        found.smoothed[found.offsets[tree], GONE]
        for tree, month in evidence.removals
        if month == evidence.trees.first[tree]
    )


@pytest.mark.parametrize("seed", range(4))
def test_expected_moves_are_those_of_all_paths_added_up(seed):
    evidence = any_town(seed + 40, trees=2, longest=5, looks=5.0)
    learnt = any_learning(evidence, seed)
    counts, fallen, _ = counts_of(evidence, learnt)
    each = [enumerated(evidence, learnt, tree)[2] for tree in range(2)]
    moved = sum(each)
    assert counts.worse == pytest.approx(np.diag(moved, 1)[:3], abs=1e-12)
    assert counts.better == pytest.approx(np.diag(moved, -1)[:3], abs=1e-12)
    assert counts.death == pytest.approx(moved[:4, DEAD], abs=1e-12)
    assert counts.removed == pytest.approx(moved[:4, GONE].sum(), abs=1e-12)
    assert counts.removal == pytest.approx(moved[DEAD, GONE], abs=1e-12)
    assert fallen == pytest.approx(
        [np.diag(one, 1)[:3].sum() + one[:4, DEAD].sum() for one in each], abs=1e-12
    )


def test_counts_by_kind_of_month_and_by_tree_add_up():
    evidence = any_town(13, trees=30)
    learnt = any_learning(evidence, 13)
    counts, fallen, expected = counts_of(evidence, learnt)
    assert counts.worsened.sum() == pytest.approx(counts.worse.sum())
    assert counts.died.sum() == pytest.approx(counts.death.sum())
    assert counts.risen.sum() == pytest.approx(counts.better.sum())
    assert fallen.sum() == pytest.approx(counts.worse.sum() + counts.death.sum())
    months = evidence.tree_months - evidence.trees.number
    found = posterior(evidence, learnt)
    last = found.offsets[1:] - 1
    kept = np.delete(found.smoothed, last, axis=0)
    assert counts.live.sum() + counts.dead + kept[:, GONE].sum() == pytest.approx(months)
    assert counts.start.sum() == pytest.approx(evidence.trees.number)
    assert (expected > 0).sum() == (np.diff(evidence.offsets) > 1).sum()


def test_threads_and_parts_change_nothing(monkeypatch):
    evidence = any_town(14, trees=60)
    whole = learn(evidence, rounds=3)
    monkeypatch.setattr(smoother, "AT_ONCE", 100)
    parts = learn(evidence, rounds=3)
    threads = learn(evidence, rounds=3, threads=3)
    for name, value in parts.as_dict().items():
        assert np.asarray(getattr(whole, name)) == pytest.approx(np.asarray(value), abs=1e-10)
        assert threads.as_dict()[name] == value


def test_learning_raises_what_it_is_meant_to_raise():
    """The log-likelihood alone may fall in a round, because what was held before counts too."""
    evidence = any_town(15, trees=80, looks=8.0)
    before = posterior(evidence, learn(evidence, rounds=0)).log_likelihood.sum()
    after = posterior(evidence, learn(evidence, rounds=12)).log_likelihood.sum()
    assert after > before


def test_learning_that_goes_on_ends_where_learning_at_once_ends():
    evidence = any_town(16, trees=30)
    at_once = learn(evidence, rounds=6)
    in_two = learn(evidence, rounds=2, start=learn(evidence, rounds=4))
    assert in_two.as_dict() == at_once.as_dict()
    long = learn(evidence, rounds=60)
    longer = learn(evidence, rounds=20, start=long)
    assert longer.rho == pytest.approx(long.rho, abs=1e-3)
    assert longer.worse == pytest.approx(long.worse, rel=1e-2)


def crowd(spam, honest=(THRIVING, HOLDING)):
    """Twenty trees that trained people see to be well, a neighbour who agrees and one who calls
    every tree dead; ten looks each."""
    trees = [(NEW_YEAR, NEW_YEAR, NEW_YEAR + 23, 0, 0) for _ in range(20)]
    looks = [
        (tree, NEW_YEAR + month, *say(honest[tree % 2], by=0))
        for tree in range(20)
        for month in (4, 8, 12, 16, 20)
    ]
    looks += [(tree, NEW_YEAR + 10, *say(honest[tree % 2], by=1)) for tree in range(10)]
    looks += [(tree, NEW_YEAR + 10, *say(spam, by=2)) for tree in range(10)]
    return town(trees, looks, observers=(2, 0, 0, 0))


def test_spam_loses_its_weight_by_itself_and_a_newcomer_has_their_kinds():
    evidence = crowd(DEAD)
    learnt = learn(evidence)
    assert learnt.rho[1] > 0.8
    assert learnt.rho[2] < 0.45
    assert learnt.rho[3] == pytest.approx(0.75)  # 3 of 4: the kind's own mean
    assert learnt.heard.tolist() == [100, 10, 10, 0]
    # and then says next to nothing, where a newcomer is heard
    spam, newcomer = (
        posterior(one_tree([(5, *say(DEAD, by=who))], observers=evidence.observers), learnt).lost[5]
        for who in (2, 3)
    )
    assert spam < newcomer / 3


def test_a_grudge_against_one_tree_is_outweighed():
    evidence = crowd(DEAD)
    learnt = learn(evidence)
    angry = one_tree(
        [(1, *say(HOLDING, by=0)), (9, *say(HOLDING, by=0))]
        + [(month, *say(DEAD, by=2)) for month in range(2, 9)],
        months=12,
        observers=evidence.observers,
    )
    assert posterior(angry, learnt).lost[-1] < 0.15


def test_trust_lies_between_0_and_1_with_one_look_or_a_thousand():
    evidence = crowd(DEAD)
    learnt = with_noise(evidence, Learnt.usual(evidence), USUAL)
    for right in (np.zeros(4), learnt.heard.astype(float)):
        rho = trusted(learnt, USUAL, evidence.observers, right)
        assert ((rho > 0) & (rho < 1)).all()


def test_overrulings_teach_nothing_about_who_laid_them_down():
    ruled = one_tree([(2, *say(DEAD, by=2, sure=1)), (3, *say(DEAD, by=0))])
    learnt = learn(ruled, rounds=3)
    assert learnt.heard.tolist() == [1, 0, 0]
    assert learnt.rho[2] == pytest.approx(0.95)  # 38 of 40


def test_where_nobody_complains_silence_says_nothing():
    evidence = one_tree([(2, *say(DEAD))])
    assert complaint_rate(evidence) == 0.0
    learnt = learn(evidence, rounds=3)
    assert learnt.exposure.tolist() == [0.0]
    assert np.isfinite(posterior(evidence, learnt).log_likelihood).all()


def test_a_silent_site_is_learnt_to_be_silent():
    """The same deaths at two sites; at one of them neighbours come when a tree is dead."""
    trees = [(NEW_YEAR, NEW_YEAR, NEW_YEAR + 47, site, 0) for site in (0, 1) for _ in range(30)]
    looks = [
        (tree, NEW_YEAR + month, *say(DEAD if tree % 3 == 0 and month > 20 else THRIVING, by=0))
        for tree in range(60)
        for month in (2, 14, 26, 38)
    ]
    looks += [
        (tree, NEW_YEAR + month, *say(DEAD, by=1, worried=1))
        for tree in range(0, 30, 3)
        for month in (28, 33)
    ]
    evidence = town(trees, looks, observers=(2, 0))
    learnt = learn(evidence)
    assert learnt.exposure[0] > 3 * learnt.exposure[1]
    assert learnt.complaints[DEAD] > 6
    assert complaint_rate(evidence) == pytest.approx(20 / (60 * 48 * 1.25))


def test_nobody_to_learn_from_teaches_nothing():
    nothing = any_town(1).of_trees([])
    learnt = learn(nothing)
    assert learnt.worse.tolist() == list(USUAL.worse)
    assert learnt.rho == pytest.approx(USUAL.mean_trust[nothing.observers])


def test_one_round_moves_every_rate_towards_what_was_seen():
    evidence = any_town(17, trees=40)
    learnt = with_noise(evidence, Learnt.usual(evidence), USUAL)
    done = counted(prepare(evidence), learnt, USUAL)
    counts = done.counts
    complaints = np.bincount(
        evidence.trees.site[evidence.looks.tree[evidence.looks.complaint]],
        minlength=evidence.sites,
    )
    after = taught(learnt, USUAL, prepare(evidence), done, complaints)
    # (3 + events) / (3 / usual + months)
    assert after.removal == pytest.approx((3 + counts.removal) / (3 / 0.05 + counts.dead))
    assert after.removed == pytest.approx((3 + counts.removed) / (3 / 0.0005 + counts.live.sum()))
    assert after.logged == pytest.approx(
        (0.9 + counts.logged) / (3 + counts.removed + counts.removal)
    )
    started = counts.start + 20 * np.array(USUAL.start)
    assert after.start == pytest.approx(started / started.sum(axis=1, keepdims=True))
    assert after.age[1] == 1.0
    assert after.complaints[0] == 1.0
    assert after.worse_in_season[0] == after.better_in_season[0] == 1.0
    assert after.rounds == 1


def test_what_was_learnt_is_stored_and_read_back_to_the_last_digit():
    learnt = learn(any_town(18), rounds=2)
    text = json.dumps(learnt.as_dict())
    again = Learnt.from_dict(json.loads(text))
    assert again.as_dict() == learnt.as_dict()
    nobody = Learnt.usual(any_town(1, looks=0.0).of_trees([]))
    emptied = replace(nobody, rho=np.zeros(0), noise=np.zeros((0, 6)), heard=np.zeros(0, int))
    assert Learnt.from_dict(emptied.as_dict()).noise.shape == (0, 6)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d.pop("rho"),
        lambda d: d.update(more=1),
        lambda d: d.update(noise=[[0.5]]),
        lambda d: d.update(worse=[0.1, 0.1]),
        lambda d: d.update(worse=[0.1, -0.1, 0.1]),
        lambda d: d.update(removed=float("nan")),
        lambda d: d.update(start=3.0),
        lambda d: d.update(exposure=[0.1]),
        lambda d: d.update(rho=["much"]),
        lambda d: d.update(age=[[1.0], [1.0, 2.0]]),
        lambda d: d.update(logged=None),
        lambda d: d.update(rho=0.5),
        lambda d: d.update(cohort=1.0),
    ],
)
def test_stored_numbers_that_cannot_be_are_refused(spoil):
    stored = Learnt.usual(any_town(18)).as_dict()
    spoil(stored)
    with pytest.raises(BadLearning):
        Learnt.from_dict(stored)
