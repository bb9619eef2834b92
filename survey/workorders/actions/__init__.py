"""What is done with work orders, each act in one transaction with its audit line."""

from survey.workorders.actions.dose import overrule_dose, set_dose
from survey.workorders.actions.draft import (
    StandsInTheWay,
    change_order,
    draft_dead_tree_orders,
    draft_order,
    drop_order,
    plan_order,
)
from survey.workorders.actions.finish import (
    Coat,
    Feed,
    LineResult,
    register_replacement,
    report_done,
)
from survey.workorders.actions.trial import create_trial, end_trial

__all__ = [
    "Coat",
    "Feed",
    "LineResult",
    "StandsInTheWay",
    "change_order",
    "create_trial",
    "draft_dead_tree_orders",
    "draft_order",
    "drop_order",
    "end_trial",
    "overrule_dose",
    "plan_order",
    "register_replacement",
    "report_done",
    "set_dose",
]
