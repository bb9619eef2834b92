"""Agreement of observers against published examples and an independent program."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.inter_rater import cohens_kappa

from survey.science.agreement import (
    BadRatings,
    cohen_kappa,
    crossed,
    fleiss_kappa,
    krippendorff_alpha,
    same_word,
)
from tests.science.published import rows

NAN = math.nan
COHEN_1968 = np.array([[0.44, 0.07, 0.09], [0.05, 0.20, 0.05], [0.01, 0.03, 0.06]]) * 200


def ratings(name):
    return [
        [float(said) if said else NAN for word, said in row.items() if word != "observer"]
        for row in rows(name)
    ]


@pytest.mark.parametrize(
    ("scale", "alpha", "published"),
    [
        ("nominal", 0.7434210526, 0.743),
        ("ordinal", 0.8153875038, 0.815),
        ("interval", 0.8491071429, 0.849),
    ],
)
def test_alpha_is_that_of_krippendorffs_own_example(scale, alpha, published):
    # Krippendorff 2011 to three places; the further digits: krippendorff 0.9.0 on the same data
    found = krippendorff_alpha(ratings("krippendorff_2011.csv"), scale=scale)
    assert found == pytest.approx(alpha, abs=1e-10)
    assert round(found, 3) == published


def test_alpha_of_three_coders_is_that_of_the_encyclopaedia():
    # Wikipedia, "Krippendorff's alpha": 0.691 and 0.811; further digits krippendorff 0.9.0
    told = ratings("three_coders.csv")
    assert krippendorff_alpha(told) == pytest.approx(0.6913580, abs=1e-7)
    assert krippendorff_alpha(told, scale="interval") == pytest.approx(0.8108449, abs=1e-7)


@pytest.mark.parametrize(
    ("one", "other", "alpha"),
    [("0100000010", "1110010000", 0.095238), ("aabbdcccedda", "babbbccceddd", 0.691964)],
)
def test_alpha_of_two_coders(one, other, alpha):
    # Krippendorff 2011, sections A and B: 0.095 and 0.692; further digits krippendorff 0.9.0
    assert krippendorff_alpha([[ord(c) for c in one], [ord(c) for c in other]]) == pytest.approx(
        alpha, abs=1e-6
    )


def test_kappa_is_cohens_own():
    # Cohen 1968 Psychol. Bull. 70:213 reports .492 and, weighted, .348; further digits statsmodels
    plain = cohen_kappa(COHEN_1968)
    assert plain.value == pytest.approx(0.491525, abs=1e-6)
    assert plain.error == pytest.approx(0.051002, abs=1e-6)
    weighted = cohen_kappa(COHEN_1968, weights=[[0, 1, 3], [1, 0, 6], [3, 6, 0]])
    assert weighted.value == pytest.approx(0.347826, abs=1e-6)
    assert cohen_kappa(COHEN_1968, weights="linear").value == pytest.approx(0.473684, abs=1e-6)
    assert cohen_kappa(COHEN_1968, weights="quadratic").value == pytest.approx(0.454545, abs=1e-6)


def test_kappa_by_hand():
    # 35 of 50 agree, chance makes .5 .6 + .5 .4 = .5: (.7 - .5) / .5
    found = cohen_kappa([[20, 5], [10, 15]])
    assert (found.value, found.observed, found.by_chance) == pytest.approx((0.4, 0.7, 0.5))


def test_kappa_of_fourteen_raters_is_the_published_one():
    # Wikipedia, "Fleiss' kappa": 0.210; further digits statsmodels 0.15
    counts = [[float(row[str(word)]) for word in range(1, 6)] for row in
              rows("fleiss_ten_subjects.csv")]  # fmt: skip
    assert fleiss_kappa(counts).value == pytest.approx(0.209931, abs=1e-6)


tables = st.integers(2, 5).flatmap(
    lambda k: st.lists(st.lists(st.integers(1, 30), min_size=k, max_size=k), min_size=k, max_size=k)
)


@given(tables, st.sampled_from(["all or nothing", "linear", "quadratic"]))
def test_kappa_agrees_with_an_independent_program(table, weights):
    found = cohen_kappa(table, weights=weights)
    kinds = {"all or nothing": None, "linear": "linear", "quadratic": "quadratic"}
    places = None if kinds[weights] is None else np.arange(len(table))
    theirs = cohens_kappa(np.array(table), weights=places, wt=kinds[weights])
    assert found.value == pytest.approx(theirs.kappa, abs=1e-9)
    assert found.error == pytest.approx(theirs.std_kappa, abs=1e-7)


@given(
    st.lists(st.lists(st.sampled_from([NAN, 1, 2, 3]), min_size=8, max_size=8), min_size=2,
             max_size=5),
    st.randoms(use_true_random=False),
)  # fmt: skip
def test_alpha_does_not_ask_who_said_what_and_never_passes_1(told, dice):
    found = krippendorff_alpha(told)
    columns = [list(column) for column in zip(*told, strict=True)]
    for column in columns:
        dice.shuffle(column)
    dice.shuffle(columns)
    again = krippendorff_alpha(list(zip(*columns, strict=True)))
    if found is None:
        assert again is None
    else:
        assert again == pytest.approx(found, abs=1e-12)
        assert found <= 1 + 1e-12


@given(st.lists(st.integers(1, 4), min_size=2, max_size=20).filter(lambda x: len(set(x)) > 1))
def test_full_agreement_is_1_on_every_scale(told):
    for scale in ("nominal", "ordinal", "interval"):
        assert krippendorff_alpha([told, told, told], scale=scale) == pytest.approx(1)
    assert cohen_kappa(crossed(told, told, 5)).value == pytest.approx(1)


def test_the_plain_share_has_wilsons_limits_and_leaves_out_what_was_not_said():
    # Newcombe 1998 Stat. Med. 17:857, Table I: 15 of 148 is .0624 to .1605
    one = [1.0] * 15 + [2.0] * 133 + [NAN, 3.0]
    found = same_word(one, [1.0] * 148 + [1.0, NAN])
    assert (found.agreed, found.of) == (15, 148)
    assert (round(found.low, 4), round(found.high, 4)) == (0.0624, 0.1605)


def test_where_chance_explains_everything_there_is_no_figure():
    assert same_word([NAN], [1]) is None
    assert cohen_kappa([[7, 0], [0, 0]]) is None
    assert cohen_kappa([[0, 0], [0, 0]]) is None
    assert cohen_kappa([[7]]) is None
    assert fleiss_kappa([[3, 0], [3, 0]]) is None
    assert fleiss_kappa(np.zeros((0, 2))) is None
    assert krippendorff_alpha([[1, 1, 1], [1, 1, 1]]) is None
    assert krippendorff_alpha([[1, NAN], [NAN, 2]]) is None
    assert krippendorff_alpha([[NAN, NAN], [NAN, NAN]]) is None


@pytest.mark.parametrize(
    "asked",
    [
        lambda: cohen_kappa([[1, 2, 3], [1, 2, 3]]),
        lambda: cohen_kappa([[1, -2], [1, 2]]),
        lambda: cohen_kappa([[1, NAN], [1, 2]]),
        lambda: cohen_kappa([[1, 2], [1, 2]], weights="cubic"),
        lambda: cohen_kappa([[1, 2], [1, 2]], weights=[[1, 0], [0, 1]]),
        lambda: fleiss_kappa([[3, 0], [2, 0]]),
        lambda: fleiss_kappa([[1, 0], [1, 0]]),
        lambda: fleiss_kappa([3, 0]),
        lambda: krippendorff_alpha([1, 2, 3]),
        lambda: krippendorff_alpha([[1, math.inf], [1, 2]]),
        lambda: same_word([1, 2], [1]),
        lambda: crossed([1, 2], [1, 9], 5),
        lambda: crossed([1, 2], [1, 1.5], 5),
    ],
)
def test_what_is_no_rating_is_refused(asked):
    with pytest.raises(BadRatings):
        asked()
