"""Groups as they are stored, made up for one state of the survival pages each."""

from datetime import date

from survey.survival.figures import MILESTONES, NOT_OLD_ENOUGH, TOO_FEW
from survey.survival.models import Figure, Group
from tests.factories import NOON, AreaFactory, PlantingFactory

STATUSES = [
    "alive",
    "stale",
    "unseen",
    "standing_dead",
    "gone",
    "removed_health",
    "removed_other",
    "lost",
    "never_planted",
]
AGES = {"second_summer": 22.0, "12": 12.0, "24": 24.0, "36": 36.0, "60": 60.0}

FORECAST = {
    "trees": 33,
    "milestone": "60",
    "age": 60,
    "by": "2028-11-30",
    "stand": 27.2,
    "low": 21,
    "high": 33,
    "path": [[30, 0.75, 0.75, 0.75], [48, 0.66, 0.55, 0.75], [60, 0.61, 0.48, 0.75]],
    "replacements": [0, 12],
}
POOLED = {
    "town_age": 30.0,
    "figures": {
        "second_summer": {"share": 0.83, "low": 0.74, "high": 0.902},
        "12": {"share": 0.92, "low": 0.85, "high": 0.96},
    },
    "own_share": 0.42,
}
CAUSES = {
    "died": [[12, 0.1, 0.1], [30, 0.1, 0.14]],
    "removed_other": [[12, 0.0, 0.0], [30, 0.06, 0.06]],
}
# Looks at planting, six, twelve and thirty months; ten of a hundred fell between six and twelve.
LOSS = [
    *([float(age), 1.0, 1.0, 0.9, 1.0] for age in range(7)),
    *([float(age), 0.8, 1.0, 0.66, 1.0] for age in range(7, 12)),
    *([float(age), 0.8, 0.8, 0.66, 0.9] for age in range(12, 31)),
]
TOLD = dict.fromkeys(("12", "second_summer", "24"), (0.8, 0.8, 0.66, 0.9))
FALLEN = [[float(age), share, share, 0.0, 0.3] for age, share in ((0, 1.0), (1, 0.0), (30, 0.0))]


MORTALITY = {
    "overall": {
        "annual": 0.1,
        "low": 0.05,
        "high": 0.18,
        "half_life_years": 6.6,
        "half_life_low": 3.5,
        "half_life_high": 13.5,
        "losses": 4,
        "tree_years": 40.0,
    },
    "bands": [
        {"from": 0.0, "to": 12.0, "at_least": 0.2, "at_most": 0.2, "low": 0.1, "high": 0.34},
        {"from": 12.0, "to": 24.0, "at_least": 0.0, "at_most": 0.0, "low": 0.0, "high": 0.11},
    ],
    "two_count": {
        "trees": 20,
        "alive": 16,
        "years": 1.83,
        "annual": 0.115,
        "low": 0.05,
        "high": 0.22,
    },
}


def counts(**statuses):
    """The counts of a group whose trees are `statuses`; all of them count in the rates."""
    every = dict.fromkeys(STATUSES, 0) | statuses
    trees = sum(every.values())
    lost = sum(every[name] for name in STATUSES[3:7])
    return {
        "registered": trees,
        "in_rates": trees,
        "planted": None,
        "statuses": every,
        "excluded": dict.fromkeys(["because_of_report", "not_found_alive"], 0),
        "losses": lost,
        "other_losses": every["removed_other"],
        "late": 0,
        "wide_dates": 0,
        "not_lost": trees - lost,
        "unseen_over_a_year": every["stale"],
        "median_gap_days": 70,
        "newest_look": "2026-06-03",
        "from_age": 0.0,
        "until_age": 30.0,
        "is_unique": True,
    }


def group(*, by="planting", key="ferry-road", label="Ferry Road", told=None, **more):
    """A stored group with all its figures; those of `told` are shares, the others withheld.

    Of a group with trees, as many are known lost at every age as are lost, the others alive.
    """
    area = AreaFactory()
    if by == "planting" and not area.plantings.filter(ref=key).exists():
        PlantingFactory(area=area, ref=key, name=f"{label}, {key}")
    fields = {"counts": counts(alive=16, gone=4), "curves": {"loss": LOSS}} | more
    fields["curves"] = {
        "under_watch": [[age, 20, 4 if age > 6 else 0] for age in range(0, 31, 6)],
        "second_summer": [22.0, 22.0],
    } | fields["curves"]
    made = Group.objects.create(
        area=area,
        by=by,
        key=key,
        label=label,
        as_of=date(2026, 6, 16),
        method="made up",
        evidence="0" * 64,
        computed_at=NOON,
        **fields,
    )
    told = TOLD if told is None else told
    trees, lost = made.counts["in_rates"], made.counts["losses"]
    for curve in ("loss", "death"):
        for name in MILESTONES:
            old = name in told or name in ("12", "second_summer", "24")
            least, most, low, high = told.get(name, (None,) * 4)
            Figure.objects.create(
                group=made,
                curve=curve,
                milestone=name,
                age_months=AGES[name],
                at_risk=trees - lost if old else 0,
                events=lost,
                at_least=least,
                at_most=most,
                low=low,
                high=high,
                count_alive=trees - lost if old else 0,
                count_lost=lost if old else 0,
                count_unknown=0,
                withheld="" if name in told else TOO_FEW if old else NOT_OLD_ENOUGH,
            )
    return made


WEIGHED = {
    "12": (0.86, 0.78, 0.93),
    "second_summer": (0.62, 0.52, 0.715),
    "24": (0.6, 0.5, 0.7),
    "36": (0.55, 0.43, 0.66),
}
"""Beside TOLD: at one year alike, at the second summer and at two years apart."""
WEIGHED_LINE = [
    *([float(age), 1 - age / 86, 1 - age / 86, 1 - age / 60, 1.0] for age in range(13)),
    *([float(age), 1.15 - age / 41, 1.15 - age / 41, 0.4, 0.9] for age in range(13, 24)),
    *([float(age), 0.6, 0.6, 0.5, 0.7] for age in range(24, 40)),
]


def weighed(verified, *, told=None, line=None, cautions=(), **more):
    """The other reading of a stored group, with as many neighbors' looks as make a difference."""
    told = WEIGHED if told is None else told
    trees = verified.counts["in_rates"]
    seen = {
        "registered": verified.counts["registered"],
        "in_rates": trees,
        "planted": verified.counts["planted"],
        "excluded": {"because_of_report": 0, "never_planted": 0},
        "late": 0,
        "wide_dates": 0,
        "other_losses": 0,
        "expected_standing": {"mean": 11.6, "low": 10, "high": 14},
        "looked_at": trees,
        "looks": 112,
        "neighbor_looks": 31,
        "worried_looks": 12,
        "bare_looks": 9,
        "newest_month": "2026-06-01",
        "months_unseen": 0,
        "from_age": verified.counts["from_age"],
        "until_age": 39.0,
        "learning": 3,
    }
    made = Group.objects.create(
        area=verified.area,
        by=verified.by,
        key=verified.key,
        label=verified.label,
        reading="weighed",
        as_of=verified.as_of,
        method="made up too",
        evidence="1" * 64,
        computed_at=NOON,
        counts=seen | more,
        curves={
            "loss": WEIGHED_LINE if line is None else line,
            "under_watch": [],
            "second_summer": [22.0, 22.0],
        },
        cautions=list(cautions),
    )
    for curve in ("loss", "death"):
        for name in MILESTONES:
            share, low, high = told.get(name, (None,) * 3)
            Figure.objects.create(
                group=made,
                curve=curve,
                milestone=name,
                age_months=AGES[name],
                at_risk=trees,
                events=2,
                at_least=share,
                at_most=share,
                low=low,
                high=high,
                count_alive=trees,
                count_lost=0,
                count_unknown=0,
                withheld="" if name in told else NOT_OLD_ENOUGH,
            )
    return made


def with_weighed(state, **more):
    """A group in one of the states below, with its other reading."""
    verified = STATES[state]()
    weighed(verified, **more)
    return verified


def bare(*, by="planting", label="Ferry Road", **statuses):
    """A group too small for any rate."""
    told = counts(**statuses) | {"from_age": None}
    return group(by=by, label=label, told={}, counts=told, curves={})


STATES = {
    "too few": lambda: bare(alive=2, gone=1),
    "one tree": lambda: bare(alive=1),
    "no tree seen": lambda: bare(unseen=3),
    "all alive": lambda: group(
        counts=counts(alive=20),
        curves={"loss": [[float(age), 1.0, 1.0, 0.85, 1.0] for age in range(31)]},
        told=dict.fromkeys(TOLD, (1.0, 1.0, 0.85, 1.0)),
    ),
    "all lost": lambda: group(
        counts=counts(gone=20),
        curves={"loss": FALLEN},
        told=dict.fromkeys(TOLD, (0.0, 0.0, 0.0, 0.16)),
    ),
    "nearly all lost": lambda: group(
        counts=counts(alive=1, gone=19), told=dict.fromkeys(TOLD, (0.04, 0.06, 0.01, 0.2))
    ),
    "perhaps none": lambda: group(
        counts=counts(alive=0, gone=20), told=dict.fromkeys(TOLD, (0.0, 0.3, 0.0, 0.5))
    ),
    "count first": lambda: group(counts=counts(alive=3, gone=2)),
    "starts late": lambda: group(
        counts=counts(alive=16, gone=4) | {"from_age": 7.0},
        curves={"loss": [row for row in LOSS if row[0] >= 7]},
        cautions=[{"code": "starts_late", "months": 7}],
    ),
    "few that start late": lambda: group(counts=counts(alive=3, gone=2) | {"from_age": 1.0}),
    "only a year": lambda: group(told={"12": (0.8, 0.8, 0.66, 0.9)}),
    "stale": lambda: group(
        counts=counts(alive=8, stale=12), cautions=[{"code": "stale", "unseen": 12, "of": 20}]
    ),
    "lost from sight": lambda: group(
        counts=counts(alive=17, lost=3),
        cautions=[{"code": "lost_from_sight", "trees": 3, "share": 0.77}],
    ),
    "removed for other reasons": lambda: group(
        counts=counts(alive=14, gone=2, removed_health=1, removed_other=3, never_planted=1),
        curves={"loss": LOSS, "death": [[*row] for row in LOSS], "causes": CAUSES},
        cautions=[{"code": "removed_for_other_reasons", "trees": 3}],
    ),
    "with a forecast": lambda: group(
        forecast=FORECAST | {"milestone": "second_summer", "stand": 1, "low": 1, "high": 2}
    ),
    "leaning": lambda: group(pooled=POOLED),
    "everything": lambda: group(
        counts=counts(alive=14, stale=1, gone=2, removed_health=1, removed_other=2, lost=1)
        | {"planted": 30},
        curves={"loss": LOSS, "death": LOSS, "causes": CAUSES},
        mortality=MORTALITY,
        forecast=FORECAST,
        pooled=POOLED,
        cautions=[
            {"code": "invented"},
            {"code": "between_looks"},
            {"code": "gaps", "days": 70},
            {"code": "some_stale", "unseen": 1, "of": 15},
            {"code": "late_entry", "trees": 6},
            {"code": "not_registered", "trees": 9, "of": 30},
            {"code": "lost_from_sight", "trees": 1, "share": 0.77},
            {"code": "removed_for_other_reasons", "trees": 2},
            {"code": "wide_dates", "trees": 20},
        ],
    ),
    "a large town": lambda: group(
        by="town",
        key="all",
        label="Pellworth",
        counts=counts(alive=1200, gone=180, removed_health=3),
        cautions=[{"code": "mixed"}],
    ),
}
"""Every state in which a group can be read, by what makes it what it is."""


def year(**more):
    """The trees of the same year as those of a planting, and more than they are."""
    return group(
        by="year",
        key="2023",
        label="2023",
        counts=counts(alive=80, gone=12),
        told=dict.fromkeys(TOLD, (0.86, 0.86, 0.8, 0.92)),
        **more,
    )
