"""The command that holds what is told of described cases against their right answers."""

from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

CASES = Path(__file__).parents[3] / "fixtures" / "cases" / "cases.toml"


def out_of(capsys):
    return capsys.readouterr().out


def test_our_own_cases_are_understood_whole(capsys):
    call_command("evaluate_cases", str(CASES), "--strict", "--cases")
    out = out_of(capsys)
    assert "12 cases" in out
    assert "wants mower_or_trimmer; mower_or_trimmer (possible)" in out
    assert "not understood" not in out


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
