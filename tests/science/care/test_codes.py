"""Every code that a dose can carry is on the list that pages put in words, and nothing else is."""

import ast
from pathlib import Path

from survey.science.care import codes
from survey.science.care.records import Due, NotGiven
from tests.science.care.every_dose import EVERY

CARE = Path(__file__).parents[3] / "survey" / "science" / "care"
WORDS = {
    node.value
    for file in CARE.glob("*.py")
    if file.stem != "codes"
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
    if isinstance(node, ast.Constant) and isinstance(node.value, str)
}


def noted_in_code():
    """Strings that the modules put into notes, refusals and due days, read off their source."""
    notes, reasons, dues, cares = set(), set(), set(), set()
    for file in CARE.glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Assign | ast.AugAssign) and "notes" in ast.unparse(
                node.targets[0] if isinstance(node, ast.Assign) else node.target
            ):
                notes |= {
                    one.value
                    for one in ast.walk(node.value)
                    if isinstance(one, ast.Constant) and isinstance(one.value, str)
                }
            if not isinstance(node, ast.Call):
                continue
            called = ast.unparse(node.func)
            said = [one.value for one in ast.walk(node) if isinstance(one, ast.Constant)]
            words = {one for one in said if isinstance(one, str)}
            if called == "notes.append":
                notes |= words
            if called == "Due":
                dues |= words & {node.args[0].value} if hasattr(node.args[0], "value") else set()
            if called in ("Dose", "NotGiven") and isinstance(node.args[0], ast.Constant):
                cares.add(node.args[0].value)
            if called == "NotGiven" and len(node.args) > 1:
                reasons |= {
                    one.value for one in ast.walk(node.args[1]) if isinstance(one, ast.Constant)
                }
            for keyword in node.keywords:
                if keyword.arg == "notes":
                    notes |= {
                        one.value
                        for one in ast.walk(keyword.value)
                        if isinstance(one, ast.Constant) and isinstance(one.value, str)
                    }
    return notes, reasons, dues, cares


def test_no_code_is_missing_from_the_list():
    notes, reasons, dues, cares = noted_in_code()
    assert len(notes) > 30
    assert notes <= set(codes.NOTES)
    assert {reason for reason in reasons if reason != "found"} <= set(codes.REASONS)
    assert dues <= set(codes.DUES)
    assert cares <= set(codes.CARES)


def test_no_code_is_on_the_list_for_nothing():
    for listed in (codes.NOTES, codes.REASONS, codes.DUES, codes.CARES):
        assert set(listed) <= WORDS
        assert len(set(listed)) == len(listed)


def test_doses_carry_listed_codes_only():
    for make in EVERY.values():
        dose = make()
        assert not isinstance(dose, NotGiven)
        assert set(dose.notes) <= set(codes.NOTES)
        assert {due.code for due in dose.dates if isinstance(due, Due)} <= set(codes.DUES)
        assert dose.care in {*codes.CARES, "measure"}
