"""One walk through an invented town: to the trees in doubt, or wherever one happens to walk."""

from collections.abc import Callable
from dataclasses import dataclass, fields, replace

import numpy as np

from survey.exports.town_folder import MONTH_0, evidence_of
from survey.science.condition.chain import posterior
from survey.science.condition.gather import joined
from survey.science.condition.learning import learn
from survey.science.condition.learnt import Learnt
from survey.science.condition.records import DEAD, GONE, NOT_SAID, Evidence, Looks
from survey.science.condition.settled import chance_sure, is_sure
from survey.science.condition.settling import LOOK, LOOKS, MINUTES, SCRATCH, Doubtful, best_look
from survey.science.survival.walk_plan import Pace, between
from survey.science.survival.walk_route import plan_route
from tests.simulate.invented_looks import VOLUNTEER, visit
from tests.simulate.invented_town import KINDS_OF_TOWN, Invented, invent

PACE = Pace()


@dataclass(frozen=True, eq=False)
class Street:
    """Trees in walking order, as `walk_plan.Places`; `tree` is each one's place on the list."""

    tree: np.ndarray
    site: np.ndarray
    metres: np.ndarray


@dataclass(frozen=True, eq=False)
class Before:
    """A town as it is believed to be before anybody walks; `lost` is the truth."""

    kind: str
    invented: Invented
    evidence: Evidence
    learnt: Learnt
    shares: np.ndarray
    doubtful: Doubtful
    street: Street
    in_place: np.ndarray  # listed trees that are not on record as taken away
    lost: np.ndarray


@dataclass(frozen=True, slots=True)
class Walked:
    """What one walk did: stops, by how much the Brier score of P(lost) over the whole town fell,
    and trees of which one was unsure before: how many one was to be sure of, and is."""

    stops: int
    fell: float
    sure_expected: float
    sure: int
    right: int  # of the sure, those that are as believed


def town(kind: str, seed: int, months: int) -> Before:
    invented = invent(kind, seed, months=months)
    evidence = evidence_of(invented.town)
    learnt = learn(evidence)
    shares = posterior(evidence, learnt).now
    rows, trees = invented.town.trees, evidence.trees
    bare = [
        [invented.town.species[row.species].is_leaf_off(month) for month in range(12)]
        for row in rows
    ]
    metres = np.array([(row.x_m, row.y_m) for row in rows])
    order = np.lexsort((metres[:, 0], trees.site))
    taken = np.zeros(trees.number, dtype=bool)
    taken[evidence.removals[:, 0]] = True
    month = int(trees.last.max())
    return Before(
        kind,
        invented,
        evidence,
        learnt,
        shares,
        Doubtful(
            shares, month, np.array(bare), trees.planted, trees.site, trees.cohort, evidence.south
        ),
        Street(order, trees.site[order], metres[order]),
        ~(taken & (shares[:, GONE] > 0.5)),
        (invented.truth.state >= DEAD).astype(float),
    )


def by_the_list(before: Before, minutes: float, dice: np.random.Generator) -> list[tuple[int, str]]:
    """The trees that the plan says, each with the look that it says."""
    found = best_look(before.doubtful, before.learnt)
    now = np.isin(found.best, [LOOKS.index(LOOK), LOOKS.index(SCRATCH)]) & before.in_place
    order = before.street.tree
    names = [found.name(tree) if now[tree] else LOOK for tree in order]
    walks = plan_route(
        before.street,
        np.where(now, found.gain, 0.0)[order],
        minutes=minutes,
        pace=PACE,
        spot=[MINUTES[name] for name in names],
    )
    return [(int(order[row]), names[row]) for walk in walks for row in walk.trees]


def as_it_comes(before: Before, minutes: float, dice: np.random.Generator) -> list[tuple[int, str]]:
    """A street picked by lot, every tree along it, then the nearest street, while time lasts."""
    street = before.street
    rows = [row for row in range(len(street.tree)) if before.in_place[street.tree[row]]]
    left = {int(street.site[row]) for row in rows}
    site, here, spent = int(dice.choice(sorted(left))), None, PACE.minutes_to_a_site
    walked: list[tuple[int, str]] = []
    while left:
        left.discard(site)
        for row in rows:
            if street.site[row] != site:
                continue
            way = between(here, tuple(street.metres[row])) * PACE.detour / PACE.metres_a_minute
            spent += way + MINUTES[LOOK]
            if spent > minutes:
                return walked
            here = tuple(street.metres[row])
            walked.append((int(street.tree[row]), LOOK))
        ahead = {
            int(street.site[row]): between(here, tuple(street.metres[row]))
            for row in reversed(rows)
            if int(street.site[row]) in left
        }
        site = min(ahead, key=ahead.__getitem__, default=-1)
    return walked


def walk(
    before: Before,
    plan: Callable[[Before, float, np.random.Generator], list[tuple[int, str]]],
    minutes: float,
    seed: int,
) -> Walked:
    """Somebody walks so long, looks are taken as people take them, and all is weighed anew."""
    dice = np.random.default_rng(seed)
    stops = plan(before, minutes, dice)
    if not stops:
        return Walked(0, 0.0, 0.0, 0, 0)
    trees = np.array([tree for tree, _name in stops])
    after = _weighed_anew(before, trees, [name for _tree, name in stops], dice)
    score = [((_lost(shares) - before.lost) ** 2).mean() for shares in (before.shares, after)]
    unsure = ~is_sure(before.shares[trees])
    chances = chance_sure(_of(before.doubtful, trees), [name for _t, name in stops], before.learnt)
    sure = unsure & is_sure(after[trees])
    right = sure & ((_lost(after[trees]) > 0.5) == before.lost[trees])
    return Walked(
        len(stops), score[0] - score[1], float(chances[unsure].sum()), int(sure.sum()),
        int(right.sum()),
    )  # fmt: skip


def _lost(shares: np.ndarray) -> np.ndarray:
    return shares[:, DEAD:].sum(axis=1)


def _of(asked: Doubtful, rows: np.ndarray) -> Doubtful:
    columns = {
        field.name: getattr(asked, field.name)[rows]
        for field in fields(Doubtful)
        if field.name not in ("month", "south")
    }
    return replace(asked, **columns)


def _weighed_anew(
    before: Before, trees: np.ndarray, names: list[str], dice: np.random.Generator
) -> np.ndarray:
    invented, evidence = before.invented, before.evidence
    month = invented.town.months - 1
    known = {name: number for number, name in enumerate(invented.town.observers)}
    people = [
        person
        for person in np.flatnonzero(invented.people.kind == VOLUNTEER)
        if f"P{person:04d}" in known
    ]
    person = int(dice.choice(people))
    grown_as = np.array([int(row.tree[1:]) for row in invented.town.trees])
    bare = np.zeros((len(invented.grown.site), 12), dtype=bool)
    bare[grown_as] = before.doubtful.leaf_off
    label, scratch, leaf = visit(
        KINDS_OF_TOWN[before.kind].watch,
        invented.grown,
        invented.people,
        grown_as[trees],
        month,
        person,
        bare,
        np.array([name == SCRATCH for name in names]),
        dice,
    )
    many = len(trees)
    said = Looks(
        tree=trees,
        month=np.full(many, month + MONTH_0),
        observer=np.full(many, known[f"P{person:04d}"]),
        label=label,
        scratch=scratch,
        leaf=leaf,
        signs=np.full(many, NOT_SAID),
        leaf_off=before.doubtful.is_bare[trees],
        complaint=np.zeros(many, dtype=bool),
        sure=np.zeros(many, dtype=bool),
    )
    columns = [
        np.concatenate([getattr(evidence.looks, field.name), getattr(said, field.name)])
        for field in fields(Looks)
    ]
    told = replace(evidence, looks=joined(Looks(*columns))[0])
    return posterior(told, before.learnt).now
