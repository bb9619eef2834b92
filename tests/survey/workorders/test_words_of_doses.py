"""Whatever a dose can carry has words."""

from survey.science.care import codes
from survey.science.care.records import PROBLEMS
from survey.workorders import wordings
from survey.workorders.working import LINES, told
from tests.science.care.every_dose import EVERY


def test_every_note_reason_day_and_problem_has_words():
    assert set(codes.NOTES) <= set(wordings.NOTES)
    assert set(codes.REASONS) <= set(wordings.REFUSED)
    assert set(codes.DUES) <= set(wordings.DUE)
    assert set(PROBLEMS) <= set(wordings.IMPOSSIBLE)


NOT_PRINTED = {"slant", "volume_with_settling"}  # and the sums of a day, told as totals


def test_every_worked_line_has_a_name_and_prints_its_operands():
    for make in EVERY.values():
        dose = make()
        for step in dose.steps:
            if step.code in NOT_PRINTED or step.code.startswith("work_day_"):
                continue
            assert step.code in LINES, step.code
            for system in ("us", "metric"):
                line = told(step, system)
                assert line.name
                assert line.one
                assert "{" not in line.working
                assert "− -" not in line.working


def test_reasons_are_one_phrase():
    assert wordings.reasons_said(("wet_bark", "frost")) == "the bark is wet; it freezes"
