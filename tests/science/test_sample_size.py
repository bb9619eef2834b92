"""Sample sizes against published tables."""

import math

import pytest

from survey.science.sample_size import BadSample, trees_to_sample


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
