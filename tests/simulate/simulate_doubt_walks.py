"""Whether an hour's walk by the list settles more than an hour's walk as it comes.

A long run, kept out of the everyday tests; `make simulate` prints the figures. In each invented
town somebody walks an hour, in June or in December, and looks at trees with every fault that
walkers have; then all is weighed anew and held against what is true.
"""

from collections.abc import Callable

import numpy as np
import pytest

from tests.simulate.doubt_walk import Walked, as_it_comes, by_the_list, town, walk

JUNE, DECEMBER = 66, 72
HOUR = 60.0
TOWNS = {("base", JUNE): 8, ("base", DECEMBER): 8, ("hard", JUNE): 6, ("complaints", JUNE): 6}
WALKS = 4


@pytest.fixture(scope="module")
def walked() -> dict[tuple[str, int], dict[Callable, list[Walked]]]:
    found = {}
    for (kind, months), many in TOWNS.items():
        towns = [town(kind, seed, months) for seed in range(many)]
        found[kind, months] = {
            plan: [
                walk(before, plan, HOUR, WALKS * seed + again)
                for seed, before in enumerate(towns)
                for again in range(WALKS)
            ]
            for plan in (by_the_list, as_it_comes)
        }
    return found


@pytest.fixture
def tell(capsys):
    """Puts a line on the terminal: the figures are what this is run for."""

    def line(text: str) -> None:
        with capsys.disabled():
            print(text)  # noqa: T201

    return line


def fell(walks: list[Walked]) -> np.ndarray:
    return np.array([one.fell for one in walks])


def mean(walks: list[Walked], name: str) -> float:
    return float(np.mean([getattr(one, name) for one in walks]))


def test_the_figures_are_told(walked, tell):
    tell("\nan hour's walk: stops, fall of the Brier score, sure of (expected), of these right")
    for (kind, months), plans in walked.items():
        for plan, walks in plans.items():
            score, error = fell(walks).mean(), fell(walks).std(ddof=1) / np.sqrt(len(walks))
            tell(
                f"  {kind:<10} month {months % 12 or 12:2d} {plan.__name__:<11}"
                f" {mean(walks, 'stops'):5.1f}  {score:.5f} +- {error:.5f}"
                f"  {mean(walks, 'sure'):4.1f} ({mean(walks, 'sure_expected'):4.1f})"
                f"  {mean(walks, 'right'):4.1f}"
            )


@pytest.mark.parametrize("asked", TOWNS)
def test_the_list_settles_at_least_twice_as_much_as_walking_as_it_comes(walked, asked):
    listed, random = (fell(walked[asked][plan]) for plan in (by_the_list, as_it_comes))
    error = np.hypot(listed.std(ddof=1), 2 * random.std(ddof=1)) / np.sqrt(len(listed))
    assert listed.mean() - 2 * random.mean() > 2 * error


@pytest.mark.parametrize("asked", TOWNS)
def test_nearly_all_that_one_is_sure_of_afterwards_is_so(walked, asked):
    walks = walked[asked][by_the_list]
    assert mean(walks, "right") / mean(walks, "sure") > 0.93


@pytest.mark.parametrize("asked", [one for one in TOWNS if one[0] != "complaints"])
def test_the_list_says_of_how_many_one_will_be_sure(walked, asked):
    """Where nobody ever walks, a town's losses are known too poorly to say it so well."""
    walks = walked[asked][by_the_list]
    assert mean(walks, "sure") == pytest.approx(mean(walks, "sure_expected"), rel=0.2)
