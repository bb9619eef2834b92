"""What one look says of each state, looked up: every look has one of a few thousand codes."""

from functools import lru_cache

import numpy as np

from survey.science.condition.laws import Law
from survey.science.condition.records import GONE, KINDS, LEAF, NOT_SAID, SCRATCH, Looks
from survey.science.records import Floats, Whole

SURE = len(KINDS)
"""The place, after the kinds of observers, of what an authorised person laid down."""

MANY_SIGNS = 3
SHAPE = (len(KINDS) + 1, 2, 7, len(SCRATCH), len(LEAF), MANY_SIGNS + 2)
"""Kind, season of leaf, word (0: none), scratch, leaf, signs (0: not asked)."""


def codes_of(looks: Looks, observers: Whole) -> Whole:
    """The code of each look; words and marks out of their range raise `ValueError`."""
    kind = np.where(looks.sure, SURE, observers[looks.observer])
    signs = np.clip(looks.signs, NOT_SAID, MANY_SIGNS) + 1
    places = (kind, looks.leaf_off.astype(np.int64), looks.label + 1)
    return np.asarray(np.ravel_multi_index((*places, looks.scratch, looks.leaf, signs), SHAPE))


@lru_cache(maxsize=8)
def signals(law: Law) -> Floats:
    """By code and state: how likely a look by the tables would say that."""
    words = np.ones((len(KINDS) + 1, 2, 7, 6))
    words[:SURE, :, 1:] = np.swapaxes(law.words, 2, 3)
    words[SURE, :, 1:] = law.sure_words.T
    brown = np.array(law.brown)
    scratch = np.stack([np.ones(6), 1 - brown, brown])
    leaf = np.ones((2, len(LEAF), 6))
    leaf[:, 1:] = np.swapaxes(law.leaf, 1, 2)
    signs = np.ones((MANY_SIGNS + 2, 6))
    signs[1:] = law.signs.T**law.signs_power
    table = (
        words[:, :, :, None, None, None]
        * scratch[None, None, None, :, None, None]
        * leaf[None, :, None, None, :, None]
        * signs[None, None, None, None, None, :]
    )
    return _still(table.reshape(-1, 6))


@lru_cache(maxsize=8)
def words_by_code(_: Law) -> Whole:
    """By code: the place of the word said, 0 where none was."""
    return _still(np.unravel_index(np.arange(np.prod(SHAPE)), SHAPE)[2])


def noise(law: Law, scratch: Floats, leaf: Floats, signs: Floats) -> Floats:
    """By code, but for the word: how likely a look that follows no table says the rest.

    `scratch`, `leaf` (by season) and `signs` (by kind) are shares of what was seen in the town.
    """
    by_scratch = np.concatenate([[1.0], scratch])
    by_leaf = np.concatenate([np.ones((2, 1)), leaf], axis=1)
    every = np.vstack([signs, np.array(law.noise_signs)])
    by_signs = np.concatenate([np.ones((len(KINDS) + 1, 1)), every**law.signs_power], axis=1)
    table = (
        by_scratch[None, None, None, :, None, None]
        * by_leaf[None, :, None, None, :, None]
        * by_signs[:, None, None, None, None, :]
        * np.ones((1, 1, 7, 1, 1, 1))
    )
    return np.asarray(table.reshape(-1), dtype=np.float64)


def _still(table: np.ndarray) -> np.ndarray:
    table.setflags(write=False)
    return table


__all__ = ["GONE", "SHAPE", "SURE", "codes_of", "noise", "signals", "words_by_code"]
