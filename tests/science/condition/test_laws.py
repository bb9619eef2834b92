"""What the model takes for granted hangs together."""

import numpy as np
import pytest

from survey.science.condition.laws import USUAL
from survey.science.condition.outlook import WEIGHTS, chances_to_stand
from survey.science.condition.records import DEAD, FAILING, GONE
from survey.science.condition.tables import SHAPE, signals


def test_every_table_of_chances_adds_to_one():
    for table in (USUAL.words, USUAL.sure_words, USUAL.leaf, USUAL.signs, np.array(USUAL.start)):
        assert table.sum(axis=-1) == pytest.approx(1.0, abs=1e-12)
    for row in (USUAL.noise_words, USUAL.noise_scratch, USUAL.noise_leaf, USUAL.noise_signs):
        assert sum(row) == pytest.approx(1.0)


def test_the_words_are_those_of_the_assumed_table():
    # assumptions of this tool without a published source; the figures of the row are stated here
    # once more so that nobody changes them unawares
    assert USUAL.words[0, :, :4, DEAD].tolist() == [
        [0.01, 0.015, 0.03, 0.12],
        [0.25, 0.28, 0.33, 0.42],
    ]
    assert USUAL.words[:, :, DEAD, DEAD].tolist() == [[0.86, 0.75], [0.93, 0.86], [0.97, 0.94]]
    assert USUAL.words[:, 0, GONE, GONE].tolist() == [0.86, 0.94, 0.97]
    assert (USUAL.words[:, :, : FAILING + 1, GONE] == 0.005).all()


def test_no_word_is_likelier_of_another_state_than_of_its_own():
    """So a look never speaks against what it says: each column is greatest on the diagonal."""
    for table in (*USUAL.words.reshape(-1, 6, 6), USUAL.sure_words):
        assert (table.argmax(axis=0) == np.arange(6)).all()


def test_a_brown_scratch_speaks_for_death_and_a_green_one_for_life():
    brown = np.array(USUAL.brown)
    assert (brown[DEAD] > brown[: FAILING + 1]).all()
    assert (1 - brown[DEAD] < 1 - brown[: FAILING + 1]).all()


def test_nothing_in_the_law_can_be_changed_in_place():
    with pytest.raises(ValueError, match="read-only"):
        USUAL.words[0, 0, 0, 0] = 1.0


def test_what_a_look_left_out_says_nothing():
    nothing = signals(USUAL).reshape(*SHAPE, 6)[:, :, 0, 0, 0, 0]
    assert (nothing == 1.0).all()


def test_the_outlook_counts_how_many_of_a_hundred_still_stand_two_summers_on():
    # the figures that the truth of the towns in fixtures/towns is told in, by another program
    assert WEIGHTS == (94.0, 89.0, 74.0, 48.0, 0.0, 0.0)
    lives = np.random.default_rng(8)
    for state, chance in enumerate(chances_to_stand()[:4]):
        assert abs(_lived(lives, state, 20_000) - chance) < 0.012


def _lived(dice, state, trees):
    """Trees thrown month by month, from a random month of the year on."""
    now, month = np.full(trees, state), dice.integers(0, 12, trees)
    for _ in range(24):
        month = (month + 1) % 12
        warm = (month >= 3) & (month <= 8)
        alive = now < DEAD
        at = np.minimum(now, FAILING)
        better = np.array([0, *USUAL.better])[at] * np.where(warm, USUAL.better_in_season[1], 1)
        worse = np.array([*USUAL.worse, 0])[at] * np.where(warm, USUAL.worse_in_season[1], 1)
        dies = np.array(USUAL.death)[at] + USUAL.removed
        chance = dice.random(trees)
        step = np.where(chance < better, -1, np.where(chance < better + worse, 1, 0))
        fell = (chance >= better + worse) & (chance < better + worse + dies)
        now = np.where(alive & fell, DEAD, np.where(alive, now + step, now))
    return (now < DEAD).mean()
