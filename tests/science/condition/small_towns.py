"""Invented evidence for tests, and what must be believed of it by adding up every path."""

import itertools
from dataclasses import replace

import numpy as np

from survey.science.condition.gather import joined
from survey.science.condition.laws import USUAL
from survey.science.condition.learnt import Learnt
from survey.science.condition.records import (
    DEAD,
    FAILING,
    GONE,
    NOT_SAID,
    Evidence,
    Looks,
    Trees,
    no_pairs,
)

NEW_YEAR = 2020 * 12


def column(values):
    return np.array(list(values), dtype=np.int64)


def looks_from(rows):
    """Rows of tree, month, observer, label, scratch, leaf, signs, leaf_off, complaint, sure."""
    table = np.array(rows, dtype=np.int64).reshape(-1, 10)
    table = table[np.lexsort((table[:, 1], table[:, 0]))].T
    return Looks(*table[:7], *table[7:].astype(bool))


def one_tree(rows=(), *, months=6, first=NEW_YEAR, planted=None, observers=(0, 1, 2), **more):
    """A town of one tree. `rows` are looks without their tree: month from the first on, …"""
    return town(
        [(first if planted is None else planted, first, first + months - 1, 0, 0)],
        [(0, first + month, *rest) for month, *rest in rows],
        observers=observers,
        **more,
    )


def town(trees, looks=(), *, observers=(0, 1, 2), care=(), removals=(), south=False):
    columns = np.array(trees, dtype=np.int64).T
    return Evidence(
        trees=Trees(*columns),
        looks=looks_from(looks),
        observers=column(observers),
        care=np.array(care, dtype=np.int64) if len(care) else no_pairs(),
        removals=np.array(removals, dtype=np.int64) if len(removals) else no_pairs(),
        sites=int(columns[3].max()) + 1,
        cohorts=int(columns[4].max()) + 1,
        south=south,
    )


def say(label=NOT_SAID, *, by=0, scratch=0, leaf=0, signs=NOT_SAID, off=0, worried=0, sure=0):
    """The rest of a row after its month."""
    return by, label, scratch, leaf, signs, off, worried, sure


def any_town(seed, *, trees=12, longest=40, looks=4.0, south=False):
    """A town of everything at once: late starts, care, complaints, removals, overrulings."""
    dice = np.random.default_rng(seed)
    rows, said, care, removals = [], [], [], []
    observers = dice.integers(0, 3, 6)
    for tree in range(trees):
        planted = NEW_YEAR + int(dice.integers(0, 30))
        first = planted + int(dice.integers(0, 8)) * int(dice.integers(0, 2))
        last = first + int(dice.integers(0, longest))
        rows.append((planted, first, last, dice.integers(0, 3), dice.integers(0, 2)))
        for _ in range(dice.poisson(looks)):
            label = int(dice.integers(-1, 6))
            there = label != GONE
            said.append(
                (
                    tree,
                    dice.integers(first, last + 1),
                    dice.integers(0, 6),
                    label,
                    dice.integers(0, 3) * there,
                    dice.integers(0, 4) * there,
                    dice.integers(-1, 5),
                    dice.integers(0, 2),
                    dice.random() < 0.3,
                    dice.random() < 0.05,
                )
            )
        care += [(tree, month) for month in range(first, last + 1) if dice.random() < 0.2]
        if dice.random() < 0.3:
            removals.append((tree, dice.integers(first, last + 1)))
    found = town(rows, said, observers=observers, care=care, removals=removals, south=south)
    return replace(found, looks=joined(found.looks)[0])


def any_learning(evidence, seed):
    """Numbers that no town taught, all different, within what can be learnt."""
    dice = np.random.default_rng(seed)
    usual = Learnt.usual(evidence)

    def near(value):
        return np.asarray(value) * np.exp(dice.normal(0, 0.3, np.shape(value)))

    def shares(value):
        return (found := near(value)) / found.sum(axis=-1, keepdims=True)

    return replace(
        usual,
        rho=dice.uniform(0.1, 0.97, len(usual.rho)),
        noise=shares(usual.noise),
        scratch=shares(usual.scratch),
        leaf=shares(usual.leaf),
        signs=shares(usual.signs),
        worse=near(usual.worse),
        death=near(usual.death),
        better=near(usual.better),
        removed=float(near(usual.removed)),
        removal=float(near(usual.removal)),
        age=near(usual.age),
        worse_in_season=near(usual.worse_in_season),
        better_in_season=near(usual.better_in_season),
        worse_under_care=float(near(usual.worse_under_care)),
        better_under_care=float(near(usual.better_under_care)),
        cohort=near(usual.cohort),
        site=near(usual.site),
        exposure=dice.uniform(0.01, 0.4, len(usual.site)),
        complaints=near(usual.complaints) / 1.0,
        logged=float(dice.uniform(0.1, 0.8)),
        start=shares(usual.start),
    )


def by_force(evidence, learnt, tree=0, law=USUAL):
    """Log-likelihood and monthly shares of one tree, by adding up all paths through the states.

    Written from the definition, state by state, and shares nothing with the recursions.
    """
    return enumerated(evidence, learnt, tree, law)[:2]


def enumerated(evidence, learnt, tree=0, law=USUAL):
    """The same, and the expected number of moves from each state (rows) to each other."""
    trees, looks = evidence.trees, evidence.looks
    first, last = int(trees.first[tree]), int(trees.last[tree])
    site, cohort = trees.site[tree], trees.cohort[tree]
    months = range(first, last + 1)
    cared = {(int(t), int(m)) for t, m in evidence.care}
    logs = {(int(t), int(m)) for t, m in evidence.removals}
    mine = [n for n in range(looks.number) if looks.tree[n] == tree]

    def is_warm(month):
        return (3 <= month % 12 <= 8) != evidence.south

    def seen(month, state):
        rate = learnt.exposure[site] * law.visits_in_season[is_warm(month)]
        chance = np.exp(-rate * learnt.complaints[state])
        for n in mine:
            if looks.month[n] == month:
                chance *= look_chance(n, state)
                if looks.complaint[n]:
                    chance *= learnt.complaints[state]
        if month == first and (tree, month) in logs:
            chance *= learnt.logged if state == GONE else law.unlogged_move
        return chance

    def look_chance(n, state):
        who, label, off = looks.observer[n], looks.label[n], int(looks.leaf_off[n])
        kind = evidence.observers[who]
        rho, by_table, astray = learnt.rho[who], 1.0, 1.0
        if looks.sure[n]:
            rho = law.sure_trust
        if label != NOT_SAID:
            words = law.sure_words if looks.sure[n] else law.words[kind, off]
            by_table *= words[state, label]
            astray *= law.noise_words[label] if looks.sure[n] else learnt.noise[who, label]
        if looks.scratch[n]:
            brown = law.brown[state]
            by_table *= brown if looks.scratch[n] == 2 else 1 - brown
            astray *= learnt.scratch[looks.scratch[n] - 1]
        if looks.leaf[n]:
            by_table *= law.leaf[off][state, looks.leaf[n] - 1]
            astray *= learnt.leaf[off][looks.leaf[n] - 1]
        if looks.signs[n] != NOT_SAID:
            signs = min(int(looks.signs[n]), 3)
            by_table *= law.signs[state, signs] ** 0.5
            every = law.noise_signs if looks.sure[n] else learnt.signs[kind]
            astray *= every[signs] ** 0.5
        return rho * by_table + (1 - rho) * astray

    def move(month, before, after):
        age = month - trees.planted[tree]
        factor = learnt.age[0 if age <= 12 else 1 if age <= 36 else 2]
        factor *= learnt.cohort[cohort] * learnt.site[site]
        better = learnt.better_in_season[int(is_warm(month))]
        if (tree, month) in cared:
            factor *= learnt.worse_under_care
            better *= learnt.better_under_care
        chance = np.zeros((6, 6))
        for state in range(FAILING + 1):
            if state > 0:
                chance[state, state - 1] = learnt.better[state - 1] * better
            if state < FAILING:
                season = learnt.worse_in_season[int(is_warm(month))]
                chance[state, state + 1] = learnt.worse[state] * factor * season
            chance[state, DEAD] = learnt.death[state] * factor
            chance[state, GONE] = learnt.removed
            leave = chance[state].sum()
            if leave > law.most:
                chance[state] *= law.most / leave
            chance[state, state] = 1 - chance[state].sum()
        chance[DEAD, GONE] = learnt.removal
        chance[DEAD, DEAD] = 1 - learnt.removal
        chance[GONE, GONE] = 1.0
        logged = (tree, month) in logs
        into = before != GONE and after == GONE
        if into:
            told = learnt.logged if logged else 1 - learnt.logged
        else:
            told = law.unlogged_move if logged else 1.0
        return chance[before, after] * told

    start = learnt.start[0 if first <= trees.planted[tree] else 1]
    weight = np.array([[seen(month, state) for state in range(6)] for month in months])
    moves = [
        np.array([[move(month, a, b) for b in range(6)] for a in range(6)]) for month in months[1:]
    ]
    total, shares, moved = 0.0, np.zeros((len(months), 6)), np.zeros((6, 6))
    for path in itertools.product(range(6), repeat=len(months)):
        chance = start[path[0]] * weight[0, path[0]]
        for step in range(1, len(path)):
            chance *= moves[step - 1][path[step - 1], path[step]] * weight[step, path[step]]
        total += chance
        shares[np.arange(len(path)), path] += chance
        for before, after in itertools.pairwise(path):
            moved[before, after] += chance
    return np.log(total), shares / total, moved / total
