"""Sample sizes against published tables."""

import itertools
import math

import pytest

from survey.science.sample_size import BadSample, trees_to_sample, trees_to_sample_by_site


def test_the_island_example():
    # Cochran 1977, section 4.4 (attribution remembered): p 0.5, d 0.05, z 2, N 3200: 355.654
    assert trees_to_sample(margin=0.05, z=2) == 400
    assert trees_to_sample(margin=0.05, z=2, population=3200) == 356


@pytest.mark.parametrize(("margin", "trees"), [(0.05, 385), (0.10, 97), (0.03, 1068)])
def test_an_endless_population_at_95_percent(margin, trees):
    # z 1.959964: 384.1459, 96.0365, 1067.0719, rounded up (computed)
    assert trees_to_sample(margin=margin) == trees


@pytest.mark.parametrize(
    ("population", "printed"),
    [(10, 10), (50, 44), (100, 80), (110, 86), (220, 140), (250, 152), (500, 217), (1200, 291),
     (2800, 338), (9000, 368)],
)  # fmt: skip
def test_within_a_tree_of_the_most_used_table(population, printed):
    # Krejcie & Morgan 1970, Educ. Psychol. Meas. 30:607: rounded to nearest there, up here
    found = trees_to_sample(margin=0.05, population=population, z=math.sqrt(3.841))
    assert printed <= found <= printed + 1


def test_rounding_is_always_up():
    # the same formula gives 44.343 for 50 and 217.473 for 500 (computed)
    assert trees_to_sample(margin=0.05, population=50, z=math.sqrt(3.841)) == 45
    assert trees_to_sample(margin=0.05, population=500, z=math.sqrt(3.841)) == 218


def test_never_more_than_there_are_and_never_none():
    assert trees_to_sample(margin=0.001, population=7) == 7
    assert trees_to_sample(margin=0.5, population=7, share=0) == 1


@pytest.mark.parametrize(
    "wrong",
    [{"margin": 0}, {"margin": 1}, {"margin": -0.1}, {"margin": math.nan},
     {"margin": 0.1, "share": 1.2}, {"margin": 0.1, "level": 1}, {"margin": 0.1, "population": 0}],
)  # fmt: skip
def test_impossible_wishes_are_refused(wrong):
    with pytest.raises(BadSample):
        trees_to_sample(**wrong)


Z = 1.959964


@pytest.mark.parametrize("population", [10, 50, 500, 3200])
def test_one_site_needs_what_the_plain_rule_says(population):
    [here] = trees_to_sample_by_site(margin=0.05, populations=[population])
    assert here == trees_to_sample(margin=0.05, population=population)


def variance(sizes, populations, shares):
    """Of the share of all trees, by the formula for one site at a time (Cochran 1977, 5.6)."""
    trees = sum(populations)
    return sum(
        (here / trees) ** 2 * (here - size) / here * here * p * (1 - p) / (here - 1) / size
        for size, here, p in zip(sizes, populations, shares, strict=True)
        if here > 1
    )


@pytest.mark.parametrize(
    ("populations", "shares", "margin"),
    [((12, 30), (0.5, 0.5), 0.15), ((8, 20), (0.9, 0.6), 0.12), ((1, 15, 6), (0.5, 0.8, 0.5), 0.2)],
)
def test_no_other_choice_of_sizes_meets_the_margin_with_fewer_trees(populations, shares, margin):
    found = trees_to_sample_by_site(margin=margin, populations=populations, shares=shares)
    assert Z * math.sqrt(variance(found, populations, shares)) <= margin
    fewest = min(
        sum(sizes)
        for sizes in itertools.product(*(range(1, here + 1) for here in populations))
        if Z * math.sqrt(variance(sizes, populations, shares)) <= margin
    )
    assert sum(found) <= fewest + 1  # whole trees: the rule may miss the very best by one


def test_sites_are_seen_as_their_trees_are_spread_when_nothing_is_expected():
    found = trees_to_sample_by_site(margin=0.05, populations=[100, 200, 400])
    assert found == sorted(found)
    assert found[2] / found[0] == pytest.approx(4, rel=0.06)
    assert sum(found) - trees_to_sample(margin=0.05, population=700) in (0, 1, 2)


def test_a_site_whose_share_is_sure_needs_one_tree_and_the_doubtful_one_the_rest():
    sure, doubtful = trees_to_sample_by_site(margin=0.1, populations=[50, 50], shares=[1, 0.5])
    assert sure == 1
    assert doubtful > 10
    assert trees_to_sample_by_site(margin=0.1, populations=[50, 9], shares=[0, 1]) == [1, 1]


@pytest.mark.parametrize(
    "wrong",
    [{"populations": []}, {"populations": [0]}, {"margin": 0}, {"margin": math.nan}, {"level": 1},
     {"shares": [0.5, 0.5]}, {"shares": [1.5]}, {"shares": [math.nan]}],
)  # fmt: skip
def test_impossible_wishes_for_sites_are_refused(wrong):
    with pytest.raises(BadSample):
        trees_to_sample_by_site(**({"margin": 0.1, "populations": [20]} | wrong))
