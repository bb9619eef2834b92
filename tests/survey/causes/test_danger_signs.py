"""Dangers that a case names among its signs and facts, in no words of a report."""

import pytest

from survey.causes.cases import read_case
from survey.causes.judging import judge


@pytest.mark.parametrize(
    ("name", "danger"),
    [
        ("hanging_branch", "hanging_limb"),
        ("widowmaker", "hanging_limb"),
        ("split_fork", "crack"),
        ("split trunk", "crack"),
        ("trunk_crack", "crack"),
        ("wire_contact", "wire"),
        ("downed_wire", "wire"),
        ("sparks", "wire"),
        ("soil_crack", "soil_lifted"),
        ("root_plate_lifting", "soil_lifted"),
        ("sudden_lean", "new_lean"),
        ("olor a gas", "something_else"),
    ],
)
@pytest.mark.parametrize("key", ["signs", "site"])
def test_a_danger_named_among_signs_or_facts_is_a_danger(key, name, danger):
    case = read_case("x", {key: [name]})
    assert (case.ticked, case.odd) == ({danger}, [])
    (judged,) = judge([case], lambda text, language: ())
    assert judged.dangers == {danger}
    assert not read_case("x", {key: {name: False}}).ticked


@pytest.mark.parametrize(
    "name", ["cracks", "bleeding canker", "cracked bark", "bark_crack", "broken_branch"]
)
def test_a_sign_of_the_tree_is_no_danger(name):
    assert not read_case("x", {"signs": [name]}).ticked
