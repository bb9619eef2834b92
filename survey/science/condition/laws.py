"""What the condition model takes for granted before a town has taught it anything.

Every number below is an assumption. They were chosen by the people who made this tool and tried on
simulated towns only; no published source gives them, and none of them describes a real place. With
tables wrong by a factor of two to four the simulated scores grew two to four per cent worse. What
a town can teach (`learning`) starts here and is held here by the weights named beside each number.
"""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from survey.science.condition.records import (
    DEAD,
    FAILING,
    GONE,
    HOLDING,
    KINDS,
    SLIPPING,
    THRIVING,
)
from survey.science.records import Floats

ALIVE = FAILING + 1
"""How many of the states, counted from the best, are alive."""

COOL, WARM = 0, 1
"""The two seasons: October to March and April to September (shifted by six months in the south)."""

IN_LEAF, LEAF_OFF = 0, 1


def _spread(tau: float, called_dead: tuple[float, ...]) -> Floats:
    """What is said of live trees: `dead` by the table, the rest falling with the distance."""
    rows = np.zeros((ALIVE, 6))
    rows[:, GONE] = 0.005
    rows[:, DEAD] = called_dead
    places = np.arange(ALIVE)
    near = np.exp(-np.abs(places[:, None] - places[None, :]) / tau)
    left = 1 - rows[:, DEAD] - rows[:, GONE]
    rows[:, :ALIVE] = near / near.sum(axis=1, keepdims=True) * left[:, None]
    return rows


def _words(
    tau: float, called_dead: tuple[float, ...], dead_right: float, gone_right: float
) -> Floats:
    """One table of what is said (columns) of trees in each state (rows)."""
    table = np.zeros((6, 6))
    table[:ALIVE] = _spread(tau, called_dead)
    missed = np.array([1.0, 1.5, 4.0, 8.5, 1.0])
    others = [THRIVING, HOLDING, SLIPPING, FAILING, GONE]
    table[DEAD, others] = missed / missed.sum() * (1 - dead_right)
    table[DEAD, DEAD] = dead_right
    table[GONE, :GONE] = np.array([0.15, 0.15, 0.10, 0.10, 0.50]) * (1 - gone_right)
    table[GONE, GONE] = gone_right
    return table


def _usual_words() -> Floats:
    """Kind by season of leaf by true state by word said.

    A bare tree out of leaf is hard to tell from a dead one: most neighbours cannot, a trained
    person scratches the bark and looks at the buds.
    """
    off = 1.25  # the errors between neighbouring words are wider when there are no leaves
    return np.array(
        [
            [
                _words(0.75, (0.01, 0.015, 0.03, 0.12), 0.86, 0.86),
                _words(0.75 * off, (0.25, 0.28, 0.33, 0.42), 0.75, 0.86),
            ],
            [
                _words(0.50, (0.004, 0.006, 0.015, 0.08), 0.93, 0.94),
                _words(0.50 * off, (0.05, 0.06, 0.08, 0.18), 0.86, 0.94),
            ],
            [
                _words(0.40, (0.002, 0.003, 0.008, 0.05), 0.97, 0.97),
                _words(0.40 * off, (0.02, 0.025, 0.04, 0.10), 0.94, 0.97),
            ],
        ]
    )


def _sure_words() -> Floats:
    """What somebody authorised lays down, in leaf or not.

    So much weight that a condition two steps from what is believed still wins over some trained
    looks of the same month: whoever overrules answers for it, and can take it back.
    """
    slip = 1e-10
    table = np.full((6, 6), slip)
    np.fill_diagonal(table, 1 - 5 * slip)
    return table


def _table(*rows: tuple[float, ...]) -> Floats:
    return np.array(rows, dtype=np.float64)


def _const(table: Floats) -> Floats:
    table.setflags(write=False)
    return table


@dataclass(frozen=True, eq=False)
class Law:
    """Every assumption of the condition model, as data. `USUAL` is the one in use.

    Monthly chances of a move, before any factor: `worse` one state down (thriving, holding,
    slipping), `death` of the four live states, `better` one state up (holding, slipping, failing),
    `removed` taken away alive, `removal` of a dead tree. Worse and death are multiplied by age, by
    care, by cohort and by site, worse by season too; better by season and by care. The chances of
    leaving a state never add to more than `most`.
    """

    # Moves in a month. The weight is that of `rate_weight` events already seen.
    worse: tuple[float, ...] = (0.04, 0.04, 0.04)
    death: tuple[float, ...] = (0.001, 0.002, 0.006, 0.045)
    better: tuple[float, ...] = (0.05, 0.04, 0.03)
    removed: float = 0.0005
    removal: float = 0.05
    rate_weight: float = 3.0
    most: float = 0.95

    # Factors of those moves. The middle age, the cool season and no care are 1 by definition.
    age_ends: tuple[int, ...] = (12, 36)  # the last month of age of the first two classes
    age: tuple[float, ...] = (1.3, 1.0, 0.8)
    worse_in_season: tuple[float, ...] = (1.0, 1.6)
    better_in_season: tuple[float, ...] = (1.0, 2.2)
    death_follows_season: bool = False  # or is as likely in the cool season as in the warm
    worse_under_care: float = 0.75  # a nuisance term: care goes to trees in trouble; never shown
    better_under_care: float = 1.3
    factor_weight: float = 15.0  # expected events by which age, season and care are held
    group_weight: float = 20.0  # the same for cohorts and sites, which are held at 1

    # Where trees start, in the month they are registered: at planting, and later.
    start: tuple[tuple[float, ...], ...] = (
        (0.45, 0.38, 0.13, 0.03, 0.008, 0.002),
        (0.40, 0.38, 0.15, 0.05, 0.018, 0.002),
    )
    start_weight: float = 20.0

    # Observers: what share of their looks follow the tables, by kind, as a beta (right, wrong).
    # The means are not learnt: in hard simulated towns the residents' mean drifted with no gain.
    trust: tuple[tuple[float, float], ...] = ((3.0, 1.0), (18.0, 2.0), (38.0, 2.0))
    noise_weight: float = 5.0  # looks' worth of the kind's words in an observer's own noise
    sure_trust: float = 1 - 1e-10  # of an overruling; never learnt

    # What is said and seen of trees in each state. Never learnt, so that states cannot swap names.
    words: Floats = field(default_factory=lambda: _const(_usual_words()))
    sure_words: Floats = field(default_factory=lambda: _const(_sure_words()))
    # the bark scratch is brown; a tree just dead can scratch green for two months
    brown: tuple[float, ...] = (0.02, 0.025, 0.05, 0.16, 0.92, 0.5)
    # full, partial, bare: in leaf, and in the bare months of the species
    leaf: Floats = field(
        default_factory=lambda: _const(
            np.array(
                [
                    _table(
                        (0.90, 0.08, 0.02),
                        (0.80, 0.17, 0.03),
                        (0.45, 0.47, 0.08),
                        (0.12, 0.55, 0.33),
                        (0.02, 0.08, 0.90),
                        (1 / 3, 1 / 3, 1 / 3),
                    ),
                    _table(
                        (0.10, 0.18, 0.72),
                        (0.09, 0.18, 0.73),
                        (0.06, 0.19, 0.75),
                        (0.04, 0.16, 0.80),
                        (0.01, 0.06, 0.93),
                        (1 / 3, 1 / 3, 1 / 3),
                    ),
                ]
            )
        )
    )
    # none, one, two, three or more signs listed; taken to the power `signs_power`, because signs
    # say in part what the word has said already
    signs: Floats = field(
        default_factory=lambda: _const(
            _table(
                (0.80, 0.15, 0.04, 0.01),
                (0.70, 0.22, 0.06, 0.02),
                (0.40, 0.35, 0.18, 0.07),
                (0.25, 0.33, 0.26, 0.16),
                (0.25, 0.33, 0.26, 0.16),
                (0.25, 0.25, 0.25, 0.25),
            )
        )
    )
    signs_power: float = 0.5

    # Noise: what looks that do not follow the tables say, before any was seen.
    noise_words: tuple[float, ...] = (1 / 6,) * 6
    noise_scratch: tuple[float, ...] = (0.7, 0.3)
    noise_leaf: tuple[float, ...] = (1 / 3,) * 3
    noise_signs: tuple[float, ...] = (0.25,) * 4
    noise_prior: float = 6.0  # looks' worth of the four above in each kind's noise

    # Silence: how often somebody complains of a tree in each state, against a thriving one; how
    # much more often in the warm season; which share of removals is logged.
    complaints: tuple[float, ...] = (1.0, 1.0, 2.0, 4.0, 6.0, 2.0)
    complaints_weight: float = 20.0
    visits_in_season: tuple[float, ...] = (1.0, 1.5)
    exposure_weight: float = 4.0  # complaints by which a site is held at the town's mean
    logged: float = 0.3
    logged_weight: float = 3.0
    unlogged_move: float = 1e-6  # of any other move in a month in which a removal was logged

    @cached_property
    def mean_trust(self) -> Floats:
        """The share by kind at which a new observer starts."""
        pairs = np.array(self.trust)
        return np.asarray(pairs[:, 0] / pairs.sum(axis=1), dtype=np.float64)

    @property
    def kinds(self) -> tuple[str, ...]:
        return KINDS


USUAL = Law()


__all__ = ["ALIVE", "COOL", "IN_LEAF", "LEAF_OFF", "SLIPPING", "USUAL", "WARM", "Law"]
