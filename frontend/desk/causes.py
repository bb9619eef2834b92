"""Causes as the docket and the page of a tree show them."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import override

from survey.causes.conflicts import BadFacts
from survey.causes.differential import Differential
from survey.causes.local import rules_in_force
from survey.causes.models import LocalRule
from survey.causes.record import Recorded, causes_of_tree
from survey.causes.telling import (
    CauseSaid,
    CausesSaid,
    calibration_said,
    causes_said,
)
from survey.causes.verdicts import calibration_of
from survey.people.models import Person
from survey.people.policy import may_rule_locally
from survey.reports.causes import causes_of_report
from survey.reports.models import Report
from survey.trees.models import Area, Tree
from survey.workorders.holds import holds_in


@dataclass(frozen=True, slots=True)
class CauseRow:
    """One cause, who gave the verdict on it if there is one, and the rules of the place that are in
    force for it."""

    said: CauseSaid
    judged_by: str = ""
    rules: tuple[LocalRule, ...] = ()


@dataclass(frozen=True, slots=True)
class Causes:
    """What a page says of causes. `refused` says why nothing is ranked; then the rest is empty."""

    refused: str = ""
    said: CausesSaid | None = None
    rows: tuple[CauseRow, ...] = ()
    calibrated: tuple[str, ...] = ()
    may_judge: bool = False
    asked_of_neighbor: str = ""


def causes_on_docket(report: Report, person: Person) -> Causes:
    """What fits a report and the tree it names; the question is one that a neighbor can answer."""
    try:
        told, recorded = causes_of_report(report, in_danger=_kept_away(report.tree))
    except BadFacts as bad:
        return Causes(refused=bad.problem)
    with override(report.language):
        question = causes_said(told).question
        words = f"{question.asks} {question.how}" if question else ""
    return _shown(report.tree, report.area, told, recorded, person, words)


def causes_on_tree(tree: Tree, person: Person, *, in_danger: bool) -> Causes:
    """What fits the record of a tree; the question is one for a trained person."""
    try:
        told, recorded = causes_of_tree(tree, in_danger=in_danger)
    except BadFacts as bad:
        return Causes(refused=bad.problem)
    return _shown(tree, tree.area, told, recorded, person)


def _shown(
    tree: Tree | None,
    area: Area,
    told: Differential,
    recorded: Recorded,
    person: Person,
    asked_of_neighbor: str = "",
) -> Causes:
    said = causes_said(told, recorded)
    rules = rules_in_force(area, LocalRule.About.CAUSE, [one.code for one in said.causes])
    names = _names(one.ruling.by for one in said.causes if one.ruling)
    rows = [
        CauseRow(one, names[one.ruling.by] if one.ruling else "", tuple(rules.get(one.code, ())))
        for one in said.causes
    ]
    return Causes(
        said=said,
        rows=tuple(rows),
        calibrated=calibration_said(calibration_of(tree.area)) if tree else (),
        may_judge=tree is not None and may_rule_locally(person, tree.area.today()),
        asked_of_neighbor=asked_of_neighbor,
    )


def _names(keys: Iterable[str]) -> dict[str, str]:
    """The names of people by what verdicts are signed with: one question, none without a key."""
    keys = list(keys)
    if not keys:
        return {}
    bare = {key: key.removeprefix("person:") for key in keys}
    names = dict(Person.objects.filter(key__in=bare.values()).values_list("key", "name"))
    return {key: names.get(of, _("somebody who has left")) for key, of in bare.items()}


def _kept_away(tree: Tree | None) -> bool:
    """Whether an open danger keeps people from this tree: then nobody is asked to go near."""
    return tree is not None and holds_in(tree.area).on_tree(tree) is not None
