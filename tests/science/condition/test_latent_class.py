"""The static latent-class model against the anaesthetists of 1979."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.science.condition.latent_class import (
    BadVotes,
    Votes,
    latent_class,
    static_latent_class,
)
from survey.science.condition.records import (
    DEAD,
    HOLDING,
    NOT_SAID,
    THRIVING,
    Evidence,
    Looks,
    Trees,
    no_pairs,
)
from tests.science.published import rows

COLUMNS = {
    "observer_1_first": 0, "observer_1_second": 0, "observer_1_third": 0,
    "observer_2": 1, "observer_3": 2, "observer_4": 3, "observer_5": 4,
}  # fmt: skip

# Dawid & Skene 1979, Table 2, to two places; four places computed from the same ratings.
TABLES = [
    [[.8895, .1105, 0, 0], [.0706, .8764, .0530, 0], [0, .3388, .6612, 0], [0, 0, .5556, .4444]],
    [[.8342, .1658, 0, 0], [.0527, .6329, .3143, 0], [0, 0, 1, 0], [0, 0, 0, 1]],
    [[1, 0, 0, 0], [.1064, .7883, .1053, 0], [0, .4037, .1988, .3976], [0, 0, .6667, .3333]],
    [[.9444, .0556, 0, 0], [.0537, .8426, .1037, 0], [0, 0, .8012, .1988], [0, 0, .3333, .6667]],
    [[1, 0, 0, 0], [.1590, .7345, .1064, 0], [0, .2091, .7909, 0], [0, 0, .3333, .6667]],
]  # fmt: skip


def anaesthetists():
    told = [
        (int(row["patient"]) - 1, observer, int(row[name]) - 1)
        for row in rows("anaesthetists_1979.csv")
        for name, observer in COLUMNS.items()
    ]
    return np.array(told).T


@pytest.fixture(scope="module")
def fitted():
    return latent_class(Votes.of(*anaesthetists(), 4))


def test_the_anaesthetists_come_out_as_published(fitted):
    # Dawid & Skene 1979: class shares .40 .42 .11 .07
    assert np.round(fitted.shares, 2).tolist() == [0.40, 0.42, 0.11, 0.07]
    assert fitted.shares == pytest.approx([0.3996, 0.4220, 0.1118, 0.0667], abs=5e-5)
    assert fitted.tables == pytest.approx(np.array(TABLES), abs=5.1e-5)
    assert fitted.log_likelihood == pytest.approx(-192.8908811, abs=1e-6)


def test_the_doubtful_patients_are_the_published_ones(fitted):
    # Dawid & Skene 1979, Table 4: 7 is .98 .02, 35 .95 .05, 38 .02 .98; further digits computed
    expected = {
        7: (0.9810, 0.0190, 0, 0), 30: (0.9991, 0.0009, 0, 0), 35: (0, 0.9480, 0.0520, 0),
        38: (0, 0.0212, 0.9788, 0), 42: (0.9998, 0.0002, 0, 0), 2: (0, 0, 0, 1),
        11: (0, 0, 0, 1), 36: (0, 0, 0, 1), 3: (0, 1, 0, 0), 12: (0, 0, 1, 0),
    }  # fmt: skip
    for patient, posterior in expected.items():
        assert fitted.posterior[patient - 1] == pytest.approx(posterior, abs=5.1e-5), patient


def test_the_way_there_rises_and_starts_from_the_votes(fitted):
    # computed once by an independent program from the same start
    assert fitted.path[:3] == pytest.approx((-205.09114, -194.55095, -193.15945), abs=1e-5)
    assert (np.diff(fitted.path) > -1e-9).all()
    assert fitted.converged
    assert fitted.moved < 1e-10


def test_a_fit_cut_short_does_not_call_itself_converged():
    found = latent_class(Votes.of(*anaesthetists(), 4), rounds=4)
    assert len(found.path) == 4
    assert not found.converged


def test_neither_the_order_of_labels_nor_that_of_ratings_changes_the_answer(fitted):
    item, observer, label = anaesthetists()
    turned = np.array([2, 0, 3, 1])
    order = np.random.default_rng(1).permutation(len(item))
    other = latent_class(Votes.of(item[order], observer[order], turned[label[order]], 4))
    assert other.posterior[:, turned] == pytest.approx(fitted.posterior, abs=1e-8)
    assert other.tables[:, turned][:, :, turned] == pytest.approx(fitted.tables, abs=1e-8)


def test_pseudo_counts_leave_nothing_impossible_and_still_rise():
    found = latent_class(Votes.of(*anaesthetists(), 4), pseudo=0.5, share_pseudo=1.0)
    assert found.converged
    assert (np.diff(found.objective) > -1e-9).all()
    assert (found.tables > 0).all()
    assert (found.posterior > 0).all()


@given(
    st.lists(
        st.tuples(st.integers(0, 6), st.integers(0, 3), st.integers(0, 2)), min_size=1, max_size=60
    ),
    st.sampled_from([0.0, 0.3]),
)
@settings(max_examples=60, deadline=None)
def test_every_round_raises_the_objective_and_rows_sum_to_1(told, pseudo):
    found = latent_class(Votes.of(*np.array(told).T, 3), pseudo=pseudo, rounds=60)
    assert (np.diff(found.objective) > -1e-8).all()
    assert found.posterior.sum(axis=1) == pytest.approx(1)
    assert found.tables.sum(axis=2) == pytest.approx(1)
    assert found.shares.sum() == pytest.approx(1)


@pytest.mark.parametrize(
    "asked",
    [
        lambda: Votes.of([0], [0], [3], 3),
        lambda: Votes.of([-1], [0], [0], 3),
        lambda: Votes.of([0, 1], [0], [0], 3),
        lambda: latent_class(Votes.of([], [], [], 3)),
        lambda: latent_class(Votes.of([0], [0], [0], 3), pseudo=-1),
        lambda: latent_class(Votes.of([0], [0], [0], 3), rounds=0),
        lambda: static_latent_class(town([(0, 1, 0, 0)]), window=0),
    ],
)
def test_what_is_no_vote_is_refused(asked):
    with pytest.raises(BadVotes):
        asked()


def town(told, trees=3):
    """Looks as (tree, month, observer, label) at trees watched from month 0 to 24."""
    columns = np.array(told, dtype=np.int64).reshape(-1, 4).T
    nothing = np.zeros(columns.shape[1], dtype=np.int64)
    never = np.zeros(columns.shape[1], dtype=bool)
    zero = np.zeros(trees, dtype=np.int64)
    return Evidence(
        trees=Trees(zero, zero, zero + 24, zero, zero),
        looks=Looks(*columns, nothing, nothing, nothing - 1, never, never, never),
        observers=np.zeros(4, dtype=np.int64),
        care=no_pairs(),
        removals=no_pairs(),
        sites=1,
        cohorts=1,
    )


def test_the_last_looks_speak_for_a_tree():
    told = static_latent_class(
        town([(0, 1, 0, THRIVING), (0, 2, 1, THRIVING), (0, 24, 0, DEAD), (0, 24, 1, DEAD),
              (1, 3, 0, HOLDING), (1, 4, 1, HOLDING)])
    )  # fmt: skip
    assert told[0].argmax() == DEAD
    assert told[1].argmax() == HOLDING
    assert told.sum(axis=1) == pytest.approx(1)


def test_a_tree_that_nobody_graded_gets_what_trees_are_like():
    graded = [(0, 1, 0, THRIVING), (1, 3, 0, THRIVING), (2, 3, 1, NOT_SAID)]
    told = static_latent_class(town(graded))
    assert told[2].argmax() == THRIVING
    assert told[2].max() < told[0].max()


def test_a_town_without_a_single_label_knows_nothing():
    assert static_latent_class(town([(0, 1, 0, NOT_SAID)])) == pytest.approx(np.full((3, 6), 1 / 6))
