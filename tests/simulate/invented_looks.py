"""Who looks at invented trees, when, and what they say: with every fault that people have.

People see the state through noise of their own, keep a wrong opinion of a tree, follow who spoke
before, look at the neighboring tree, take a bare crown for a dead one, and some write nonsense.
Complaints come where trees are bad and where people look.
"""

from dataclasses import dataclass, replace

import numpy as np

from survey.science.condition.records import DEAD, GONE
from tests.simulate.invented_lives import Grown, warmth

RESIDENT, VOLUNTEER, STAFF = range(3)
CAREFUL, AVERAGE, NOISY, SPAM_UNIFORM, SPAM_FIXED = range(5)
TYPES = ("careful", "average", "noisy", "spam_uniform", "spam_fixed")
CHANNELS = ("registration", "survey", "adopter", "complaint", "crew")
REGISTRATION, SURVEY, ADOPTER, COMPLAINT, CREW = range(5)
SIGNS = ("dieback", "wilting", "discoloured_leaves", "bark_wound", "fungus", "dry_soil")
SPREAD = np.array([[0.42, 0.62, 1.0, 1, 1], [0.33, 0.45, 0.7, 1, 1], [0.28, 0.4, 0.6, 1, 1]])
"""Noise of what is seen, in states, by kind and type."""

FULL_LEAF = ((0.87, 0.1), (0.74, 0.21), (0.42, 0.48), (0.1, 0.55), (0.02, 0.07))
"""In leaf: the share seen in full leaf and in part of it, by state; the rest is bare."""

SIGN_COUNT = (0.22, 0.36, 0.75, 1.05, 1.0, 0.0)


@dataclass(frozen=True, slots=True)
class Watch:
    """How a town is watched. Chances are by month, or by look; tuples by kind of observer."""

    residents: int = 90
    volunteers: int = 8
    staff: int = 2
    types: tuple[tuple[float, ...], ...] = (
        (0.14, 0.48, 0.26, 0.07, 0.05),
        (0.6, 0.35, 0.05, 0.0, 0.0),
        (0.95, 0.05, 0.0, 0.0, 0.0),
    )
    bare_called_dead: tuple[tuple[float, float], ...] = ((3.0, 5.0), (1.2, 18.0), (1.0, 40.0))
    dead_missed: tuple[tuple[float, float], ...] = ((2.0, 14.0), (1.2, 24.0), (1.0, 40.0))
    wrong_tree: tuple[float, float, float] = (0.04, 0.015, 0.005)
    false_gone: tuple[float, float, float] = (0.01, 0.005, 0.002)
    follows: float = 0.08  # says again what the last look said
    harsh: float = 0.1  # a share of people sees everything half a state worse, another better
    keeps_opinion: float = 0.15  # of person and tree: a fixed error of one state
    scratches: tuple[float, float, float] = (0.04, 0.3, 0.6)
    survey_months: tuple[int, ...] = (5, 8)  # of the year, from 0
    surveyed: float = 0.6
    surveyed_in_winter: float = 0.1
    covered: float = 0.87
    late: float = 0.4
    late_by: float = 12.0
    dead_registered: float = 0.3
    because_of_trouble: float = 0.0  # of late trees: listed when somebody saw that it was bad
    look_at_registration: float = 0.83
    adopted: float = 0.15
    adopter_looks: float = 0.15
    complaints: tuple[float, ...] = (0.01, 0.01, 0.025, 0.06, 0.09, 0.03)
    warm_complaints: float = 0.25
    site_exposure: float = 0.85
    tree_exposure: float = 0.0
    year_exposure: float = 0.0
    silent_sites: float = 0.0  # share of sites in which next to nobody writes
    removal_logged: float = 0.35
    logged_late: tuple[float, ...] = (1.0,)  # shares of logs that come 0, 1, 2 … months late
    twice: float = 0.02
    care_logged: float = 0.85
    kept: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class People:
    kind: np.ndarray
    type: np.ndarray
    false_dead: np.ndarray
    misses: np.ndarray
    leaning: np.ndarray
    spread: np.ndarray
    favorite: np.ndarray  # the word of those who always write the same
    active: np.ndarray
    home: np.ndarray  # the site near which a resident lives


@dataclass(frozen=True, slots=True, eq=False)
class Said:
    """Looks in order of time, as columns; `seen` is the tree really looked at."""

    tree: np.ndarray
    seen: np.ndarray
    month: np.ndarray
    day: np.ndarray
    person: np.ndarray
    channel: np.ndarray
    label: np.ndarray
    scratch: np.ndarray
    leaf: np.ndarray
    signs: np.ndarray


def gather_people(watch: Watch, sites: int, dice: np.random.Generator) -> People:
    kind = np.repeat(np.arange(3), [watch.residents, watch.volunteers, watch.staff])
    n = len(kind)
    type_ = np.array([dice.choice(5, p=watch.types[k]) for k in kind])
    active = dice.gamma(0.9, 1.0, n) * np.where(type_ >= SPAM_UNIFORM, 1.8, 1.0)
    return People(
        kind=kind,
        type=type_,
        false_dead=np.array([dice.beta(*watch.bare_called_dead[k]) for k in kind]),
        misses=np.array([dice.beta(*watch.dead_missed[k]) for k in kind]),
        leaning=dice.choice(
            [-0.6, 0.0, 0.6], size=n, p=[watch.harsh / 2, 1 - watch.harsh, watch.harsh / 2]
        ),
        spread=SPREAD[kind, type_],
        favorite=dice.choice(6, size=n, p=[0.25, 0.1, 0.1, 0.15, 0.35, 0.05]),
        active=active + 0.05,
        home=dice.integers(0, sites, n),
    )


def register(watch: Watch, grown: Grown, dice: np.random.Generator) -> np.ndarray:
    """The month in which each tree comes on the list, -1 if it never does."""
    trees, months = grown.state.shape
    late = dice.random(trees) < watch.late
    month = grown.planted + np.where(
        late, 1 + dice.exponential(watch.late_by, trees).astype(int), 0
    )
    trouble = late & (dice.random(trees) < watch.because_of_trouble)
    for tree in np.flatnonzero(trouble):
        bad = np.flatnonzero(np.isin(grown.state[tree], (2, 3)))
        month[tree] = bad[bad > grown.planted[tree]][:1].sum() or months
    there = month < months
    then = grown.state[np.arange(trees), np.minimum(month, months - 1)]
    listed = there & (
        (then < DEAD) | ((then == DEAD) & (dice.random(trees) < watch.dead_registered))
    )
    return np.where(listed, month, -1)


def look(
    watch: Watch,
    grown: Grown,
    people: People,
    registered: np.ndarray,
    bare: np.ndarray,
    dice: np.random.Generator,
    *,
    south: bool,
) -> Said:
    """Every look that is taken. `bare`: trees by month of the year, whether it may stand bare."""
    events = _events(watch, grown, people, registered, dice, south)
    tree, month, person, channel = events
    kept = (dice.random(len(tree)) < watch.kept) | np.isin(channel, (REGISTRATION, CREW))
    tree, month, person, channel = (column[kept] for column in (tree, month, person, channel))
    day = dice.integers(1, 29, len(tree))
    order = np.lexsort((day, month))
    tree, month, person, channel, day = (
        column[order] for column in (tree, month, person, channel, day)
    )
    seen = _really_seen(watch, grown, people.kind[person], tree, channel, dice)
    state = grown.state[seen, month].astype(int)
    leafless = bare[seen, month % 12]
    label = _words(watch, people, tree, person, state, leafless, len(grown.site), dice)
    label = _followed(watch, tree, month, channel, label, dice)
    label = np.where(channel == CREW, GONE, label)
    spam = people.type[person] >= SPAM_UNIFORM
    away = (label == GONE) | (channel == CREW)
    return Said(
        tree=tree,
        seen=seen,
        month=month,
        day=day,
        person=person,
        channel=channel,
        label=label,
        scratch=np.where(
            away, 0, _scratched(watch, grown, people, person, seen, month, spam, dice)
        ),
        leaf=np.where(away, 0, _leaf(state, leafless, spam, dice)),
        signs=np.where(
            channel == CREW,
            0,
            np.minimum(dice.poisson(np.array(SIGN_COUNT)[np.where(spam, 0, state)]), 5),
        ),
    )


def _events(
    watch: Watch,
    grown: Grown,
    people: People,
    registered: np.ndarray,
    dice: np.random.Generator,
    south: bool,
) -> tuple[np.ndarray, ...]:
    """Who looks at which listed tree in which month, and why."""
    trees, months = grown.state.shape
    sites = int(grown.site.max()) + 1
    rows: list[tuple[np.ndarray, ...]] = []

    def add(tree: np.ndarray, month, person, channel: int) -> None:
        rows.append(tuple(np.broadcast_arrays(tree, month, person, channel)))

    crowd = [np.flatnonzero(people.kind == kind) for kind in range(3)]
    weights = [people.active[who] / people.active[who].sum() for who in crowd]
    trained = dice.choice([VOLUNTEER, STAFF], size=trees, p=[0.82, 0.18])
    who = np.where(
        trained == VOLUNTEER,
        dice.choice(crowd[VOLUNTEER], size=trees, p=weights[VOLUNTEER]),
        dice.choice(crowd[STAFF], size=trees, p=weights[STAFF]),
    )
    first = np.flatnonzero((registered >= 0) & (dice.random(trees) < watch.look_at_registration))
    add(first, registered[first], who[first], REGISTRATION)

    exposure = np.exp(dice.normal(0, watch.site_exposure, sites) - watch.site_exposure**2 / 2)
    exposure = np.where(dice.random(sites) < watch.silent_sites, 0.08 * exposure, exposure)
    own = np.exp(dice.normal(0, watch.tree_exposure, trees) - watch.tree_exposure**2 / 2)
    by_year = np.exp(dice.normal(0, watch.year_exposure, months // 12 + 1))
    adopter = np.where(
        dice.random(trees) < watch.adopted,
        dice.choice(crowd[RESIDENT], size=trees, p=weights[RESIDENT]),
        -1,
    )
    near = [
        people.active[crowd[RESIDENT]] * np.where(people.home[crowd[RESIDENT]] == site, 12.0, 1.0)
        for site in range(sites)
    ]
    lam = np.array(watch.complaints)
    winter = 1 if not south else 7
    for month in range(months):
        listed = np.flatnonzero((registered >= 0) & (registered < month))
        if not len(listed):
            continue
        chance = watch.surveyed * (month % 12 in watch.survey_months)
        if month % 12 in ((winter - 2) % 12, winter - 1):
            chance = watch.surveyed_in_winter / 2
        for site in np.flatnonzero(dice.random(sites) < chance):
            kind = VOLUNTEER if dice.random() < 0.83 else STAFF
            mine = listed[grown.site[listed] == site]
            mine = mine[dice.random(len(mine)) < watch.covered]
            add(mine, month, dice.choice(crowd[kind], p=weights[kind]), SURVEY)
        cared = listed[(adopter[listed] >= 0) & (dice.random(len(listed)) < watch.adopter_looks)]
        add(cared, month, adopter[cared], ADOPTER)
        rate = (
            lam[grown.state[listed, month]]
            * exposure[grown.site[listed]]
            * own[listed]
            * by_year[month // 12]
            * (1 + watch.warm_complaints * warmth(month, south))
        )
        wrote = np.repeat(listed, dice.poisson(rate))
        people_near = [
            dice.choice(crowd[RESIDENT], p=near[site] / near[site].sum())
            for site in grown.site[wrote]
        ]
        add(wrote, month, np.array(people_near, dtype=int), COMPLAINT)
    gone = (grown.state == GONE) & (np.roll(grown.state, 1, axis=1) != GONE)
    gone[:, 0] = False
    for tree, month in zip(*np.nonzero(gone), strict=True):
        month_written = month + int(dice.choice(len(watch.logged_late), p=watch.logged_late))
        logged = dice.random() < watch.removal_logged and 0 <= registered[tree] <= month
        if logged and month_written < months:
            add(np.array([tree]), month_written, dice.choice(crowd[STAFF]), CREW)
    columns = [np.concatenate(column).astype(int) for column in zip(*rows, strict=True)]
    again = dice.random(len(columns[0])) < watch.twice
    return tuple(np.concatenate([column, column[again]]) for column in columns)


def _really_seen(
    watch: Watch,
    grown: Grown,
    kind: np.ndarray,
    tree: np.ndarray,
    channel: np.ndarray,
    dice: np.random.Generator,
) -> np.ndarray:
    """The tree itself, or one of the three nearest of its site that stood planted by then."""
    wrong = dice.random(len(tree)) < np.array(watch.wrong_tree)[kind]
    wrong &= ~np.isin(channel, (REGISTRATION, CREW))
    seen = tree.copy()
    for row in np.flatnonzero(wrong):
        one = tree[row]
        beside = np.flatnonzero(
            (grown.site == grown.site[one]) & (grown.planted <= grown.planted[one])
        )
        beside = beside[beside != one]
        if len(beside):
            away = np.hypot(grown.x_m[beside] - grown.x_m[one], grown.y_m[beside] - grown.y_m[one])
            nearest = beside[np.argsort(away)[:3]]
            seen[row] = dice.choice(nearest)
    return seen


def _words(
    watch: Watch,
    people: People,
    tree: np.ndarray,
    person: np.ndarray,
    state: np.ndarray,
    leafless: np.ndarray,
    trees: int,
    dice: np.random.Generator,
) -> np.ndarray:
    number = len(tree)
    kind = people.kind[person]
    opinion = dice.choice(
        [-1.0, 0.0, 1.0],
        size=(len(people.kind), trees),
        p=[watch.keeps_opinion / 2, 1 - watch.keeps_opinion, watch.keeps_opinion / 2],
    )[person, tree]
    settled = dice.random((len(people.kind), trees))[person, tree]
    blur = people.spread[person] * np.where(leafless, 1.25, 1.0)
    grade = state + people.leaning[person] + opinion + blur * dice.normal(0, 1, number)
    alive = np.clip(np.rint(grade), 0, 3).astype(int)
    # half of the time somebody who took this bare tree for dead before does so again
    luck = np.where(dice.random(number) < 0.5, settled, dice.random(number))
    worse = np.array([0.75, 0.9, 1.15, 1.5, 1, 1])[state]
    called_dead = np.where(
        leafless,
        luck < np.minimum(people.false_dead[person] * worse, 0.95),
        dice.random(number)
        < np.array([0.004, 0.006, 0.015, 0.09, 0, 0])[state] * np.array([1.4, 0.8, 0.5])[kind],
    )
    alive = np.where(called_dead, DEAD, alive)
    missed = dice.random(number) < np.minimum(
        people.misses[person] * np.where(leafless, 1.5, 1.0), 0.9
    )
    dead = np.where(missed, dice.choice([1, 2, 3], size=number, p=[0.1, 0.25, 0.65]), DEAD)
    lost = np.where(
        dice.random(number) < np.array([0.88, 0.95, 0.98])[kind],
        GONE,
        dice.choice([0, 1, 2, 3, DEAD], size=number, p=[0.15, 0.15, 0.1, 0.1, 0.5]),
    )
    label = np.where(state < DEAD, alive, np.where(state == DEAD, dead, lost))
    label = np.where(dice.random(number) < np.array(watch.false_gone)[kind], GONE, label)
    type_ = people.type[person]
    label = np.where(type_ == SPAM_UNIFORM, dice.integers(0, 6, number), label)
    return np.where(type_ == SPAM_FIXED, people.favorite[person], label)


def _followed(
    watch: Watch,
    tree: np.ndarray,
    month: np.ndarray,
    channel: np.ndarray,
    label: np.ndarray,
    dice: np.random.Generator,
) -> np.ndarray:
    """Some say again what was said of the tree within the last half year."""
    follows = (dice.random(len(tree)) < watch.follows) & ~np.isin(channel, (REGISTRATION, CREW))
    label = label.copy()
    last: dict[int, int] = {}
    for row, one in enumerate(tree.tolist()):
        if follows[row] and one in last and month[row] - month[last[one]] <= 6:
            label[row] = label[last[one]]
        last[one] = row
    return label


def _scratched(
    watch: Watch,
    grown: Grown,
    people: People,
    person: np.ndarray,
    seen: np.ndarray,
    month: np.ndarray,
    spam: np.ndarray,
    dice: np.random.Generator,
) -> np.ndarray:
    """0 not done, 1 green, 2 brown. A tree just dead is still green under the bark."""
    number = len(seen)
    state = grown.state[seen, month].astype(int)
    two_ago = grown.state[seen, np.maximum(month - 2, 0)]
    just_died = (state == DEAD) & (two_ago < DEAD)
    brown = np.array([0.015, 0.02, 0.05, 0.17, 0.93, 0.5])[state]
    brown = np.where(just_died, 0.5, brown)
    brown = np.where(spam, 0.4, brown)
    done = dice.random(number) < np.array(watch.scratches)[people.kind[person]]
    return np.where(done, 1 + (dice.random(number) < brown), 0)


def _leaf(
    state: np.ndarray, leafless: np.ndarray, spam: np.ndarray, dice: np.random.Generator
) -> np.ndarray:
    """0 not said, 1 full, 2 partial, 3 bare."""
    number = len(state)
    full, part = np.array([*FULL_LEAF, (1 / 3, 1 / 3)])[state].T
    off_full = np.array([0.13, 0.13, 0.09, 0.05, 0.01, 1 / 3])[state]
    full = np.where(leafless, off_full, full)
    part = np.where(leafless, 0.17, part)
    full, part = np.where(spam, 1 / 3, full), np.where(spam, 1 / 3, part)
    luck = dice.random(number)
    leaf = np.where(luck < full, 1, np.where(luck < full + part, 2, 3))
    return np.where(dice.random(number) < 0.6, leaf, 0)


def visit(
    watch: Watch,
    grown: Grown,
    people: People,
    tree: np.ndarray,
    month: int,
    person: int,
    bare: np.ndarray,
    scratch: np.ndarray,
    dice: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """What one person says on a walk to these trees, with every fault that walkers have: the word,
    the scratch test where one is asked for, and the leaves. `bare` as for `look`."""
    who, when = np.full(len(tree), person), np.full(len(tree), month)
    channel = np.full(len(tree), SURVEY)
    seen = _really_seen(watch, grown, people.kind[who], tree, channel, dice)
    state = grown.state[seen, month].astype(int)
    leafless = bare[seen, month % 12]
    label = _words(watch, people, tree, who, state, leafless, len(grown.site), dice)
    spam = people.type[who] >= SPAM_UNIFORM
    always = replace(watch, scratches=(1.0, 1.0, 1.0))
    mark = _scratched(always, grown, people, who, seen, when, spam, dice)
    gone = label == GONE
    return (
        label,
        np.where(scratch & ~gone, mark, 0),
        np.where(gone, 0, _leaf(state, leafless, spam, dice)),
    )
