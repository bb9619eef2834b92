"""How likely the looks and the silence of each month are, by state."""

from dataclasses import dataclass

import numpy as np

from survey.science.condition.laws import Law
from survey.science.condition.learnt import Learnt
from survey.science.condition.prepared import Prepared
from survey.science.condition.tables import noise, signals, words_by_code
from survey.science.records import Floats, Whole

FLOOR = -230.0
"""A month's evidence never puts a state lower than e to this power against the likeliest one, so
that a thousand looks that contradict each other leave numbers that a float can hold."""


@dataclass(frozen=True, eq=False)
class LookFactors:
    """Of each look, by state: `factor` how likely it is, `by_table` the part that follows the
    tables; the ratio of the two is the chance that the look was of that tree, and meant."""

    factor: Floats
    by_table: Floats


@dataclass(frozen=True, eq=False)
class Tables:
    """What looks and silence mean under one learning, looked up by code, observer and site."""

    signal: Floats
    rest: Floats
    word: Whole
    rho: Floats
    noise: Floats
    sure_trust: float
    sure_noise: Floats
    silence: Floats  # by site and season: the log chance that nobody complains, by state
    complaints: Floats
    visits: Floats  # by season
    exposed: Floats  # by site and season: complaints a month of a thriving tree


def tables_of(learnt: Learnt, law: Law) -> Tables:
    exposed = learnt.exposure[:, None] * np.array(law.visits_in_season)
    observers = len(learnt.rho)
    return Tables(
        signal=signals(law),
        rest=noise(law, learnt.scratch, learnt.leaf, learnt.signs),
        word=words_by_code(law),
        rho=learnt.rho,
        noise=np.concatenate([np.ones((observers, 1)), learnt.noise], axis=1),
        sure_trust=law.sure_trust,
        sure_noise=np.concatenate([[1.0], law.noise_words]),
        silence=-exposed[:, :, None] * learnt.complaints,
        complaints=np.log(learnt.complaints),
        visits=np.array(law.visits_in_season),
        exposed=exposed,
    )


def look_factors(prepared: Prepared, tables: Tables) -> LookFactors:
    """One row a look: rho by the tables, and 1 - rho by no table (wrong tree, spam, haste)."""
    code, who, sure = prepared.look_code, prepared.look_observer, prepared.look_sure
    rho, word = tables.rho[who], tables.word[code]
    astray = tables.noise[who, word]
    if sure.any():
        rho = np.where(sure, tables.sure_trust, rho)
        astray = np.where(sure, tables.sure_noise[word], astray)
    by_table = tables.signal[code]
    by_table *= rho[:, None]
    return LookFactors(by_table + ((1 - rho) * astray * tables.rest[code])[:, None], by_table)


def month_factors(
    prepared: Prepared, tables: Tables, looks: LookFactors, warm: Whole, site: Whole
) -> tuple[Floats, Floats]:
    """By tree-month and state: the factor, 1 for the likeliest state where there are looks; and
    the logarithm that was taken out of each month.

    Silence counts in every month: nobody complained but those who did.
    """
    quiet = np.exp(tables.silence).reshape(-1, 6)
    factor = quiet[site * 2 + warm]
    taken = np.zeros(len(factor))
    if not len(prepared.look_at):
        return factor, taken
    logs = np.log(looks.factor)
    if prepared.look_complaint.any():
        logs[prepared.look_complaint] += tables.complaints
    begins = np.flatnonzero(np.diff(prepared.look_at, prepend=-1))
    where = prepared.look_at[begins]
    summed = np.add.reduceat(logs, begins, axis=0)
    most = summed.max(axis=1)
    factor[where] *= np.exp(np.maximum(summed - most[:, None], FLOOR))
    taken[where] = most
    return factor, taken
