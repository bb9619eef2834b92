"""What a town teaches: one trust an observer, monthly rates, factors by cohort and site, silence.

Generalised expectation-maximisation (Dempster, Laird & Rubin 1977, J. R. Stat. Soc. B 39:1): a pass
over all trees counts expected events and months at risk under what is believed, then every number
is set to what those counts and its own prior say. Rates and factors have gamma priors, so a factor
is a standardised ratio (observed over expected) shrunk to what is usual. The tables of what is said
of trees in each state are never learnt. Learning starts from the law, never at random, and the same
evidence always teaches the same, however many threads share the work.
"""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np

from survey.science.condition import compiled, smoother
from survey.science.condition.counts import Counts, Passed, count, summed
from survey.science.condition.laws import USUAL, WARM, Law
from survey.science.condition.learnt import BadLearning, Learnt
from survey.science.condition.likelihood import tables_of
from survey.science.condition.moves import factors
from survey.science.condition.prepared import CELLS, Prepared, part, prepare
from survey.science.condition.records import KINDS, NOT_SAID, Evidence
from survey.science.condition.smoother import Run, spans
from survey.science.records import Floats, Whole

ROUNDS = 25


def learn(
    evidence: Evidence,
    law: Law = USUAL,
    *,
    start: Learnt | None = None,
    rounds: int = ROUNDS,
    threads: int = 1,
    compiler: bool | None = None,
) -> Learnt:
    """What this town teaches, from the law or from an earlier learning, after so many rounds.

    `compiler` None: the compiled pass where numba is installed and the town is large.
    """
    learnt = (Learnt.usual(evidence, law) if start is None else start).reaching(evidence, law)
    learnt = with_noise(evidence, learnt, law)
    if not evidence.trees.number:
        return learnt
    prepared = prepare(evidence)
    complaints = np.bincount(
        evidence.trees.site[evidence.looks.tree[evidence.looks.complaint]],
        minlength=evidence.sites,
    )
    fast = compiled.is_worth_it(evidence.tree_months) if compiler is None else compiler
    for _ in range(rounds):
        done = counted(prepared, learnt, law, threads=threads, fast=fast)
        learnt = taught(learnt, law, prepared, done, complaints)
        learnt = replace(learnt, rho=trusted(learnt, law, evidence.observers, done.counts.right))
    return learnt


def counted(
    prepared: Prepared, learnt: Learnt, law: Law, *, threads: int = 1, fast: bool = False
) -> Passed:
    """One pass over the town."""
    tables = tables_of(learnt, law)
    if fast:
        return compiled.passed(prepared, learnt, tables, law, threads=threads)
    fallen, expected = np.empty(prepared.trees), np.empty(prepared.trees)

    def one(ends: tuple[int, int]) -> Counts:
        begin, end = ends
        run = Run(part(prepared, begin, end), learnt, tables, law)
        return count(run, tables, fallen[begin:end], expected[begin:end])

    with ThreadPoolExecutor(threads) as pool:
        parts = spans(prepared.offsets, smoother.AT_ONCE)
        counts = _added(map(one, parts) if threads == 1 else pool.map(one, parts))
    return Passed(counts, fallen, expected)


def _added(parts: Iterator[Counts]) -> Counts:
    """The counts of all parts, added in order, so that threads change no digit."""
    sums = next(parts)
    for counts in parts:
        sums.add(counts)
    return sums


def with_noise(evidence: Evidence, learnt: Learnt, law: Law) -> Learnt:
    """With the words, tests and marks of this town as what a look says that follows no table."""
    looks = evidence.looks
    heard = ~looks.sure
    who = looks.observer[heard]
    kind = evidence.observers[who]
    label = looks.label[heard]

    said = label != NOT_SAID
    observers = len(evidence.observers)
    words = _tally(who[said], label[said], observers, 6)
    by_kind = np.zeros((len(KINDS), 6))
    np.add.at(by_kind, evidence.observers, words)
    kind_noise = _shares(by_kind, law.noise_words, law.noise_prior)
    own = words + law.noise_weight * kind_noise[evidence.observers]

    scratch, leaf, signs = looks.scratch[heard], looks.leaf[heard], looks.signs[heard]
    off = looks.leaf_off[heard].astype(np.int64)
    listed = signs != NOT_SAID
    return replace(
        learnt,
        noise=own / own.sum(axis=1, keepdims=True),
        heard=np.bincount(who, minlength=observers),
        kind_noise=kind_noise,
        scratch=_shares(
            _tally(np.zeros_like(scratch), scratch, 1, 3)[:, 1:], law.noise_scratch, law.noise_prior
        )[0],
        leaf=_shares(_tally(off, leaf, 2, 4)[:, 1:], law.noise_leaf, law.noise_prior),
        signs=_shares(
            _tally(kind[listed], np.minimum(signs[listed], 3), len(KINDS), 4),
            law.noise_signs,
            law.noise_prior,
        ),
    )


def _tally(row: Whole, column: Whole, rows: int, columns: int) -> Floats:
    flat = np.bincount(row * columns + column, minlength=rows * columns)
    return flat.reshape(rows, columns).astype(np.float64)


def _shares(counts: Floats, usual: tuple[float, ...], weight: float) -> Floats:
    held = counts + weight * np.array(usual)
    return np.asarray(held / held.sum(axis=1, keepdims=True), dtype=np.float64)


def taught(
    learnt: Learnt,
    law: Law,
    prepared: Prepared,
    done: Passed,
    complaints: Whole,
) -> Learnt:
    """The next learning after one pass. `complaints`: how many were made at each site."""
    counts = done.counts
    expecting = float(done.expected @ _own(learnt, prepared))  # with all factors as they were
    learnt = _rates(learnt, law, counts)
    learnt = _groups(learnt, law, prepared, done, expecting)
    learnt = _silence(learnt, law, counts, complaints)
    return replace(
        learnt,
        start=_started(counts.start, law),
        rounds=learnt.rounds + 1,
        log_likelihood=counts.log_likelihood,
    )


def trusted(learnt: Learnt, law: Law, observers: Whole, right: Floats) -> Floats:
    """By observer: the share of looks that follow the tables, between 0 and 1 exclusive."""
    prior = np.array(law.trust)[observers]
    return np.asarray((prior[:, 0] + right) / (prior.sum(axis=1) + learnt.heard))


def _started(start: Floats, law: Law) -> Floats:
    held = start + law.start_weight * np.array(law.start)
    return np.asarray(held / held.sum(axis=1, keepdims=True))


def _own(learnt: Learnt, prepared: Prepared) -> Floats:
    return np.asarray(learnt.site[prepared.site] * learnt.cohort[prepared.cohort])


def _rates(learnt: Learnt, law: Law, counts: Counts) -> Learnt:
    """Monthly rates, then the factors of age, season and care, each given those before it."""

    def rate(usual: float | Floats, events: float | Floats, months: float | Floats) -> Floats:
        weight = law.rate_weight
        return np.asarray((weight + events) / (weight / np.asarray(usual) + months))

    def factor(usual: float, seen: float, expected: float) -> float:
        return (law.factor_weight + seen) / (law.factor_weight / usual + expected)

    cells = np.arange(CELLS)
    ages, warm, care = cells >> 2, (cells >> 1) & 1, cells & 1
    age, season = learnt.age.copy(), learnt.worse_in_season.copy()
    cared = np.array([1.0, learnt.worse_under_care])
    falling, dying, rising = factors(learnt, law)
    worse = rate(np.array(law.worse), counts.worse, counts.exposure[:3] @ falling)
    death = rate(np.array(law.death), counts.death, counts.exposure @ dying)

    # what was expected in each kind of month, were all factors 1
    to_worse, to_death = worse @ counts.exposure[:3], death @ counts.exposure
    fallen = counts.worsened + counts.died
    seasonal = law.death_follows_season

    def both() -> Floats:
        deadly = to_death * season[warm] if seasonal else to_death
        return np.asarray(to_worse * season[warm] + deadly)

    for place in (0, 2):
        others = (both() * cared[care])[ages == place].sum()
        age[place] = factor(law.age[place], fallen[ages == place].sum(), others)
    others = (to_worse + to_death if seasonal else to_worse) * age[ages] * cared[care]
    seen = fallen if seasonal else counts.worsened
    season[WARM] = factor(
        law.worse_in_season[WARM], seen[warm == WARM].sum(), others[warm == WARM].sum()
    )
    others = (both() * age[ages])[care == 1].sum()
    cared[1] = factor(law.worse_under_care, fallen[care == 1].sum(), others)

    warm, care = warm[:4], care[:4]
    season_up = learnt.better_in_season.copy()
    cared_up = np.array([1.0, learnt.better_under_care])
    better = rate(np.array(law.better), counts.better, counts.live[1:] @ rising)
    base = better @ counts.live[1:]
    others = np.where(warm == WARM, base * cared_up[care], 0.0).sum()
    season_up[WARM] = factor(law.better_in_season[WARM], counts.risen[warm == WARM].sum(), others)
    others = np.where(care == 1, base * season_up[warm], 0.0).sum()
    cared_up[1] = factor(law.better_under_care, counts.risen[care == 1].sum(), others)
    return replace(
        learnt,
        worse=worse,
        death=death,
        better=better,
        removed=float(rate(law.removed, counts.removed, counts.live.sum())),
        removal=float(rate(law.removal, counts.removal, counts.dead)),
        age=age,
        worse_in_season=season,
        better_in_season=season_up,
        worse_under_care=float(cared[1]),
        better_under_care=float(cared_up[1]),
    )


def _groups(
    learnt: Learnt,
    law: Law,
    prepared: Prepared,
    done: Passed,
    expecting: float,
) -> Learnt:
    """Factors of cohorts, then of sites: observed over expected, shrunk to 1.

    What was expected of each tree came from the rates before this round; it is scaled to what the
    new rates expect of the whole town.
    """
    falling, dying, _ = factors(learnt, law)
    counts = done.counts
    awaiting = learnt.worse @ counts.exposure[:3] @ falling + learnt.death @ counts.exposure @ dying
    scaled = done.expected * (float(awaiting) / expecting if expecting else 1.0)

    def shrunk(which: Whole, others: Floats, number: int) -> Floats:
        weight = law.group_weight
        seen = summed(which, done.fallen, number)
        awaited = summed(which, scaled * others, number)
        return np.asarray((weight + seen) / (weight + awaited))

    cohort = shrunk(prepared.cohort, learnt.site[prepared.site], len(learnt.cohort))
    site = shrunk(prepared.site, cohort[prepared.cohort], len(learnt.site))
    return replace(learnt, cohort=cohort, site=site)


def _silence(learnt: Learnt, law: Law, counts: Counts, complaints: Whole) -> Learnt:
    """How complaints depend on the state, where people look, and which removals are on record."""
    weight = law.complaints_weight
    rates = (weight * np.array(law.complaints) + counts.complaints) / (weight + counts.silent)
    rates = rates / rates[0]
    total = float(counts.watched.sum())
    town = float(complaints.sum()) / total if total else 0.0
    exposure = learnt.exposure
    if town:
        exposure = (law.exposure_weight + complaints) / (
            law.exposure_weight / town + counts.watched
        )
    removals = counts.removed + counts.removal
    weight = law.logged_weight
    return replace(
        learnt,
        complaints=rates,
        exposure=exposure,
        town_exposure=town,
        logged=(weight * law.logged + counts.logged) / (weight + removals),
    )


__all__ = ["ROUNDS", "BadLearning", "Learnt", "learn"]
