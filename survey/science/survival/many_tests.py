"""Many questions asked at once: p values corrected for how many there were.

Asked of twenty pairs of sites, a test at 5 % finds one difference where there is none. Holm's rule
keeps the chance of even one such false finding at 5 %; Benjamini and Hochberg's keeps their share
among what is found, which suits long lists that somebody goes through.
"""

from collections.abc import Sequence

import numpy as np

from survey.science.records import Floats, Whole


class BadP(ValueError):
    """A p value is not a number between 0 and 1."""


def holm(ps: Sequence[float]) -> list[float]:
    """Each p value corrected by Holm's rule, in the order given; none is lowered.

    Source: Holm 1979 Scand. J. Stat. 6:65-70. Valid however the questions depend on each other.
    """
    given = _checked(ps)
    many = len(given)
    order = np.argsort(given, kind="stable")
    raised = np.maximum.accumulate(given[order] * (many - np.arange(many)))
    return _put_back(raised, order)


def benjamini_hochberg(ps: Sequence[float]) -> list[float]:
    """Each p value corrected by Benjamini and Hochberg's rule, in the order given.

    Source: Benjamini & Hochberg 1995 J. R. Stat. Soc. B 57:289-300. Marking those up to 0.05 keeps
    the expected share of false marks at 5 %, for questions that do not speak against each other.
    """
    given = _checked(ps)
    many = len(given)
    order = np.argsort(given, kind="stable")
    raised = given[order] * many / np.arange(1, many + 1)
    return _put_back(np.minimum.accumulate(raised[::-1])[::-1], order)


def _checked(ps: Sequence[float]) -> Floats:
    given = np.asarray(list(ps), dtype=np.float64)
    if not ((given >= 0) & (given <= 1)).all():
        raise BadP("A p value lies between 0 and 1.")
    return given


def _put_back(corrected: Floats, order: Whole) -> list[float]:
    answers = np.empty(len(corrected))
    answers[order] = np.minimum(corrected, 1.0)
    return [float(answer) for answer in answers]
