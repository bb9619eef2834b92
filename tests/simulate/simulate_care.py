"""How often the limits of a care comparison hold the truth, and how often chance passes for help.

Care goes to trees in trouble. `make simulate` prints, for care that does nothing and for care that
makes losses 0.6 times as frequent: the truth, the matched and the unmatched figure, coverage,
and the share of runs in which the permutation test says 5 % or less. The last line breaks the first
assumption on purpose: who gave care saw more than the record says.
"""

import numpy as np
import pytest

from survey.science.survival.care_effect import care_effect
from tests.science.care_town import make_town, true_effect

RUNS = 200


@pytest.mark.parametrize(("multiplier", "sees_truth"), [(1.0, False), (0.6, False), (1.0, True)])
def test_matching_holds_the_truth_that_the_plain_comparison_turns_round(
    multiplier, sees_truth, capsys
):
    rows = []
    for seed in range(RUNS):
        town = make_town(5000 + seed, multiplier=multiplier, sees_truth=sees_truth)
        found = care_effect(town.trees, seed=seed, draws=200)
        assert found.missing == ()
        truth = true_effect(town, [one.treated for one in found.matching.sets])
        held = found.effect.low <= truth <= found.effect.high
        rows.append((truth, found.effect.difference, found.plain.difference, held, found.p <= 0.05))
    truth, matched, plain, covered, rejected = np.mean(np.array(rows, dtype=float), axis=0)
    with capsys.disabled():
        print(  # noqa: T201 - the table is what this is run for
            f"\nlosses x{multiplier}, care by {'true state' if sees_truth else 'last look'}: truth "
            f"{truth:+.3f}, matched {matched:+.3f}, unmatched {plain:+.3f}, held in {covered:.3f}, "
            f"test at 5 % rejects {rejected:.3f}"
        )
    assert plain < truth - 0.05
    if sees_truth:
        assert matched < truth  # what nobody wrote down cannot be matched on
        return
    assert covered >= 0.90  # a nominal 0.95 less three standard errors of 200 runs
    assert abs(matched - truth) < 0.02
    if multiplier == 1.0:
        assert rejected <= 0.07
