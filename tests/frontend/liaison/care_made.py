"""Comparisons of care as they are stored, made up for one state of their pages each."""

from survey.survival.helped import ASSUMPTIONS

BALANCE = [
    {"measure": "age_months", "treated": 18.2, "others": 22.4, "difference": -0.42},
    {"measure": "months_since_look", "treated": 3.14, "others": 6.4, "difference": -0.8},
    {"measure": "grade", "treated": 1.8, "others": 0.9, "difference": 1.1},
    {"measure": "in_trouble", "treated": 0.72, "others": 0.21, "difference": 1.2},
]
MATCHED = [row | {"others": row["treated"], "difference": 0.02} for row in BALANCE]


def effect(with_care, without, low, high):
    return {
        "with_care": with_care, "without": without, "difference": with_care - without,
        "low": low, "high": high,
    }  # fmt: skip


def compared(**more):
    """Care that helped, though trees not matched would have said the opposite."""
    return {
        "treated": 120, "known_before": 90, "matched": 80, "controls": 150,
        "losses_with_care": 7, "losses_without": 22, "cared_for_later": 12, "missing": [],
        "effect": effect(0.91, 0.83, 0.021, 0.149),
        "followed": effect(0.91, 0.84, 0.012, 0.131),
        "plain": effect(0.91, 0.95, -0.091, 0.012),
        "p": 0.0132,
        "change": {
            "with_care": 0.42, "without": -0.13, "difference": 0.55, "low": 0.2, "high": 0.9,
            "sets": 61,
        },
        "before": BALANCE, "after": [*MATCHED[:3], MATCHED[3] | {"difference": 0.2}],
        "assumptions": ASSUMPTIONS,
    } | more  # fmt: skip


def refused():
    """Care that few trees had."""
    nothing = dict.fromkeys(("effect", "followed", "plain", "p", "change"))
    missing = [
        {"code": "treated", "have": 3, "need": 20},
        {"code": "losses", "have": 1, "need": 5},
        {"code": "losses_without", "have": 0, "need": 5},
        {"code": "seen_with_care", "have": 2, "need": 5},
        {"code": "seen_without", "have": 4, "need": 5},
    ]
    unknown = [row | {"others": None, "difference": None} for row in BALANCE]
    return compared(matched=3, missing=missing, before=unknown, after=[], **nothing)
