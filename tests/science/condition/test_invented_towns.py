"""Invented towns are what they say they are, and two of them keep an eye on the model."""

import numpy as np
import pytest

from survey.exports.town_folder import evidence_of, read_town
from survey.exports.town_truth import read_truth
from survey.science.condition.judging import judge
from survey.science.condition.learning import learn
from survey.science.condition.records import DEAD, GONE, NOT_SAID
from survey.science.condition.whole_town import believe
from tests.simulate.condition_town import judged, together
from tests.simulate.invented_lives import AGES, Lives, grow
from tests.simulate.invented_looks import COMPLAINT, CREW, SPAM_UNIFORM
from tests.simulate.invented_town import KINDS_OF_TOWN, invent, write

SMALL = {"trees": 160, "sites": 4, "months": 54, "cohorts": (2, 10, 14, 22)}


@pytest.mark.parametrize("kind", KINDS_OF_TOWN)
def test_a_town_can_be_written_and_read_back_whole(kind, tmp_path):
    invented = invent(kind, 3, **SMALL)
    write(invented, tmp_path)
    town = read_town(tmp_path)
    assert town == invented.town
    truth = read_truth(tmp_path, town)
    for name in ("state", "died", "registered", "survival", "outlook"):
        assert (getattr(truth, name) == getattr(invented.truth, name)).all(), name
    assert np.allclose(truth.survival_share, invented.truth.survival_share, atol=1e-6)
    assert np.allclose(truth.outlook_value, invented.truth.outlook_value, atol=1e-6)
    assert {tuple(row) for row in truth.residents} == {
        tuple(row) for row in invented.truth.residents
    }


def test_the_same_seed_is_the_same_town_and_another_is_not():
    assert invent("hard", 5, **SMALL).town == invent("hard", 5, **SMALL).town
    assert invent("hard", 5, **SMALL).town != invent("hard", 6, **SMALL).town


def test_expected_survival_is_what_many_trees_come_to():
    dice = np.random.default_rng(11)
    grown = grow(Lives(), dice, trees=12_000, sites=3, cohorts=(2, 20), months=60, south=False)
    for cohort in range(2):
        mine = np.flatnonzero(grown.cohort == cohort)
        for age in (12, 24, 36):
            alive = (grown.state[mine, grown.planted[mine] + age] < DEAD).mean()
            expected = grown.survival[cohort, AGES.index(age)]
            assert abs(alive - expected) < 4 * np.sqrt(expected * (1 - expected) / len(mine))


def test_the_dead_stay_dead_and_the_gone_stay_gone():
    state = invent("shifted", 2, **SMALL).grown.state
    dead = state >= DEAD
    assert (dead[:, 1:] >= dead[:, :-1]).all()
    assert ((state[:, 1:] == GONE) >= (state[:, :-1] == GONE)).all()


def test_every_fault_is_in_a_hard_town():
    invented = invent("hard", 1)
    said, people, grown = invented.said, invented.people, invented.grown
    truth = grown.state[said.seen, said.month]
    spam = people.type[said.person] >= SPAM_UNIFORM
    residents = people.kind[said.person] == 0
    assert 0.2 < spam[residents].mean() < 0.5
    wrong = said.tree != said.seen
    assert 0.02 < wrong.mean() < 0.1
    assert (grown.site[said.tree] == grown.site[said.seen]).all()
    honest = ~spam & (said.channel != CREW)
    assert ((said.label == GONE) & (truth < DEAD) & honest).any()
    assert ((said.label == DEAD) & (truth < DEAD) & honest).sum() > 20
    complaints = said.channel == COMPLAINT
    assert truth[complaints].mean() > truth[~complaints & (said.channel != CREW)].mean()
    gone = ((grown.state[:, -1] == GONE) & (invented.registered >= 0)).sum()
    logged = len(np.unique(said.tree[said.channel == CREW]))
    assert 0 < logged < gone
    keys = list(zip(said.tree, said.month, said.person, strict=True))
    assert len(set(keys)) < len(keys)
    assert (invented.registered > grown.planted).any()
    assert ((invented.registered == -1) & (grown.state[:, -1] >= DEAD)).any()
    care = grown.cared[(grown.state == 2) | (grown.state == 3)].mean()
    assert care > 2 * grown.cared[grown.state == 0].mean()
    evidence = evidence_of(invented.town)
    assert evidence.looks.number < 4.5 * evidence.trees.number


def test_flat_towns_are_flat_and_southern_ones_turn_the_year():
    flat = invent("flat", 4)
    values, months = flat.truth.outlook_value, flat.truth.outlook[:, 1]
    early = values[months < np.median(months)].mean()
    assert abs(early - values[months >= np.median(months)].mean()) < 2
    assert (flat.truth.died == NOT_SAID).all()
    south = invent("southern", 4)
    assert south.town.south
    assert south.town.species["species_A"].is_leaf_off(6)
    assert not south.town.species["species_A"].is_leaf_off(0)
    assert not south.town.species["species_D"].is_leaf_off(6)


@pytest.fixture(scope="module")
def two_towns():
    return {
        kind: judged(kind, [21], ["last report", "majority of 3", "all weighed"], **SMALL)
        for kind in ("base", "hard")
    }


def test_on_two_small_towns_it_is_much_nearer_the_truth_than_the_last_report(two_towns):
    for kind, methods in two_towns.items():
        ours, last = methods["all weighed"], methods["last report"]
        assert ours.mean("brier") < 0.75 * last.mean("brier"), kind
        assert ours.mean("log_score") < 0.6 * last.mean("log_score"), kind
        assert ours.mean("death_mae") < last.mean("death_mae"), kind


def test_on_two_small_towns_its_bands_hold_most_of_the_truth(two_towns):
    ours = together(methods["all weighed"] for methods in two_towns.values())
    assert ours.mean("survival_cover") >= 0.75
    assert 0.8 <= ours.mean("outlook_cover") <= 1.0
    assert ours.mean("death_cover") >= 0.8
    assert ours.calibration_error < 0.08


def test_believing_twice_is_believing_the_same():
    invented = invent("base", 8, **SMALL)
    evidence = evidence_of(invented.town)
    one, two = (
        judge(believe(evidence, learn(evidence)), invented.truth, months=54) for _ in range(2)
    )
    assert one == two or all(
        a == b or (np.isnan(a) and np.isnan(b))
        for a, b in zip(one.values(), two.values(), strict=True)
    )
