"""Whatever a dose can carry has words."""

from survey.science.care import codes
from survey.science.care.records import PROBLEMS
from survey.workorders import wordings


def test_every_note_reason_day_and_problem_has_words():
    assert set(codes.NOTES) <= set(wordings.NOTES)
    assert set(codes.REASONS) <= set(wordings.REFUSED)
    assert set(codes.DUES) <= set(wordings.DUE)
    assert set(PROBLEMS) <= set(wordings.IMPOSSIBLE)


def test_reasons_are_one_phrase():
    assert wordings.reasons_said(("wet_bark", "frost")) == "the bark is wet; it freezes"
