"""The doses of an order as data: SI for programs, words for people, and what is refused."""

from rest_framework import serializers

from survey.science import units
from survey.workorders.doses import CareDose, Worked, doses_of
from survey.workorders.facts import known_of
from survey.workorders.holds import holds_in
from survey.workorders.models import WorkOrder
from survey.workorders.not_given import withheld_of
from survey.workorders.problem import Problem
from survey.workorders.problems import PROFESSIONALS
from survey.workorders.wordings import impossible_said, notes_said, reasons_said
from survey.workorders.working import shopping_said, told


class DosesQuestion(serializers.Serializer):
    units = serializers.ChoiceField(
        choices=["us", "metric"],
        required=False,
        help_text="Units of the words; by default your own. Values are SI always.",
    )


class RefusalsQuestion(serializers.Serializer):
    day = serializers.DateField(help_text="The day the order would be done on.")


class UseOut(serializers.Serializer):
    name = serializers.CharField()
    value = serializers.FloatField()
    unit = serializers.CharField(help_text="SI.")


class StepOut(serializers.Serializer):
    code = serializers.CharField()
    value = serializers.FloatField(help_text="In SI.")
    unit = serializers.CharField(help_text="SI.")
    uses = UseOut(many=True)
    name = serializers.CharField(help_text="What the line is, in words.")
    working = serializers.CharField(help_text="How it was worked, in the reader's units.")
    shown = serializers.CharField(help_text="The value in the reader's units.")


class TreeDoseOut(serializers.Serializer):
    tree = serializers.CharField()
    inputs = serializers.DictField(help_text="What a person changed, in SI.")
    assumed = serializers.ListField(
        child=serializers.CharField(), help_text="Numbers that nobody measured or typed."
    )
    overruled_because = serializers.CharField(allow_blank=True)
    steps = StepOut(many=True)
    notes = serializers.ListField(child=serializers.CharField())
    not_given = serializers.CharField(
        allow_blank=True, help_text="Why there is no dose: a refusal, or a measure that cannot be."
    )
    because = serializers.ListField(child=serializers.CharField())


class TotalOut(serializers.Serializer):
    code = serializers.CharField()
    value = serializers.FloatField(help_text="In SI, over all trees that get it.")
    unit = serializers.CharField()


class CareDoseOut(serializers.Serializer):
    care = serializers.CharField()
    trees = TreeDoseOut(many=True)
    together = TotalOut(many=True)
    to_bring = serializers.ListField(child=serializers.CharField())


class WithheldOut(serializers.Serializer):
    what = serializers.CharField()
    why = serializers.CharField()
    then = serializers.CharField(allow_blank=True)


class DosesOut(serializers.Serializer):
    units = serializers.CharField()
    doses = CareDoseOut(many=True)
    not_given = WithheldOut(many=True)


class RefusalOut(serializers.Serializer):
    code = serializers.CharField()
    care = serializers.CharField(allow_blank=True)
    text = serializers.CharField()
    opens = serializers.CharField(help_text="What lets the work go on.")


def doses_out(order: WorkOrder, system: units.System) -> dict:
    """Every line of an order worked, for the day it is planned for or for today."""
    lines = list(order.lines.select_related("tree__site", "tree__area"))
    trees = list({line.tree_id: line.tree for line in lines}.values())
    record = known_of(order.area, trees)
    held = {} if order.who in PROFESSIONALS else holds_in(order.area).on_any(trees)
    doses = doses_of(order, lines, record, set(held))
    day = order.planned_for or max(order.window_from, record.today)
    return {
        "units": system,
        "doses": [_care(dose, system) for dose in doses.values()],
        "not_given": [
            {"what": row.what, "why": row.why, "then": row.then}
            for row in withheld_of(list(doses), record, trees, day)
        ],
    }


def _care(dose: CareDose, system: units.System) -> dict:
    example = dose.example
    steps = example.given.steps if example and example.given else ()
    totals = [
        {"code": step.code, "value": together, "unit": step.unit}
        for step in steps
        if (together := dose.together(step.code)) is not None
    ]
    return {
        "care": dose.care,
        "trees": [_tree(worked, system) for worked in dose.lines],
        "together": totals,
        "to_bring": [f"{what}: {much}" for what, much in shopping_said(dose.buys, system)],
    }


def _tree(worked: Worked, system: units.System) -> dict:
    steps = []
    for step in worked.given.steps if worked.given else ():
        line = told(step, system)
        uses = [{"name": n, "value": value, "unit": unit} for n, value, unit in step.uses]
        steps.append(
            {
                "code": step.code,
                "value": step.value,
                "unit": step.unit,
                "uses": uses,
                "name": line.name,
                "working": line.working,
                "shown": line.one,
            }
        )
    because: tuple[str, ...] = ()
    why = ""
    if worked.refused is not None:
        because, why = worked.refused.because, reasons_said(worked.refused.because)
    elif worked.impossible is not None:
        because = (worked.impossible.code,)
        why = f"{worked.impossible.field}: {impossible_said(worked.impossible.code)}"
    return {
        "tree": worked.line.tree.ref,
        "inputs": worked.line.inputs,
        "assumed": list(worked.assumed),
        "overruled_because": worked.line.overruled_because,
        "steps": steps,
        "notes": notes_said(worked.given.notes) if worked.given else [],
        "not_given": why,
        "because": list(because),
    }


def refusal_out(problem: Problem) -> dict:
    return {
        "code": problem.code,
        "care": problem.care,
        "text": problem.text,
        "opens": problem.opens,
    }
