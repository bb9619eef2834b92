"""The range that stands beside a belief, held against what became of trees in invented towns.

A long run, kept out of the everyday tests; `make simulate` prints its table.
"""

import numpy as np

from survey.condition.why import SLACK
from tests.simulate.condition_town import judged, together

KINDS = ("base", "hard", "shifted", "complaints")
ENOUGH = 80  # trees of a tenth, below which its own chance is wider than the range


def test_of_trees_told_alike_as_many_were_lost_as_the_range_allows(capsys):
    towns = [judged(kind, range(100, 104), ["all weighed"])["all weighed"] for kind in KINDS]
    trees, said, seen = together(towns).tenths.T
    off = 10 * np.log10(seen / (1 - seen) * (1 - said) / said)
    with capsys.disabled():
        print("\nP(lost) by tenths: trees, said, seen, odds off in points")  # noqa: T201
        for row in zip(trees, said, seen, off, strict=True):
            print("  {:6.0f}  {:.3f}  {:.3f}  {:+.1f}".format(*row))  # noqa: T201
    enough = trees >= ENOUGH
    assert enough.sum() >= 8
    assert np.abs(off[enough]).max() < SLACK
