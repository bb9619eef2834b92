"""The command that holds what is told of described cases against their right answers."""

from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from survey.causes.cases import read_cases
from survey.causes.judging import judge, same_look

CASES = Path(__file__).parents[3] / "fixtures" / "cases" / "cases.toml"


def out_of(capsys):
    return capsys.readouterr().out


def test_our_own_cases_are_understood_whole(capsys):
    call_command("evaluate_cases", str(CASES), "--strict", "--cases")
    out = out_of(capsys)
    assert "12 cases" in out
    assert "wants mower_or_trimmer; mower_or_trimmer (possible)" in out
    assert "not understood" not in out


def test_cases_that_somebody_else_described_are_told_right_and_never_too_surely():
    judged = judge(read_cases(CASES.with_name("described.toml")), lambda text, language: ())
    caused = [one for one in judged if one.case.accepted]
    nobody_can_tell = [one for one in judged if one.case.cannot_tell and not one.case.accepted]
    assert len(judged) >= 60
    assert sum(one.among_first(1) for one in caused) >= 0.9 * len(caused)
    assert sum(one.among_first(3) for one in caused) >= 0.95 * len(caused)
    assert sum(one.cannot_tell for one in nobody_can_tell) >= 0.9 * len(nobody_can_tell)
    too_sure = [
        one.case.name
        for one in judged
        for cause, word in one.named
        if word == "likely" and cause not in one.case.accepted
    ]
    assert too_sure == []


def test_cases_of_an_examiner_who_had_not_seen_the_weights_are_told_right():
    judged = judge(read_cases(CASES.with_name("examined.toml")), lambda text, language: ())
    caused = [one for one in judged if one.case.accepted]
    nobody_can_tell = [one for one in judged if one.case.cannot_tell and not one.case.accepted]
    asked = [one for one in caused if one.case.question]
    assert len(judged) >= 95
    assert sum(one.among_first(1) for one in caused) >= 0.95 * len(caused)
    assert all(one.cannot_tell for one in nobody_can_tell)
    assert sum(same_look(one.question, one.case.question) for one in asked) >= 0.6 * len(asked)
    assert not [word for one in judged for _cause, word in one.named if word == "likely"]


def test_a_case_that_does_not_say_what_is_right_is_neither_right_nor_wrong(tmp_path, capsys):
    path = tmp_path / "cases.toml"
    path.write_text('[open]\ntext = "hello"\n[told]\naccepted = []\n')
    call_command("evaluate_cases", str(path), "--cases")
    out = out_of(capsys)
    assert "· open: wants not said" in out
    assert "+ told: wants cannot tell" in out


def test_no_database_is_needed(capsys):
    # no `db` mark: a query would fail
    call_command("evaluate_cases", str(CASES))
    assert "an accepted cause is first" in out_of(capsys)


def test_strict_refuses_what_it_does_not_understand(tmp_path, capsys):
    path = tmp_path / "cases.toml"
    path.write_text('[a]\nsigns = ["glowing"]\naccepted = ["sorcery"]\n')
    call_command("evaluate_cases", str(path))
    assert "2 not understood and left out:" in out_of(capsys)
    with pytest.raises(CommandError, match="2 not understood; nothing was scored"):
        call_command("evaluate_cases", str(path), "--strict")


@pytest.mark.parametrize("text", ["", "not toml at all", "[a]\nb = 1 = 2"])
def test_a_hostile_file_gets_a_clear_error(tmp_path, text):
    path = tmp_path / "cases.toml"
    path.write_text(text)
    with pytest.raises(CommandError, match=r"cases\.toml"):
        call_command("evaluate_cases", str(path))


def test_what_cannot_be_shown_is_written_as_a_code(tmp_path, capsys):
    path = tmp_path / "cases.toml"
    path.write_text('["a\\u001b[31m"]\nsigns = ["\\u001b[2J"]\naccepted = []\n')
    call_command("evaluate_cases", str(path), "--cases")
    assert "\x1b" not in out_of(capsys)
