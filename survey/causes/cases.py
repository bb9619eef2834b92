"""Reads described cases from TOML: what was seen and said, and what the right answers are.

One table a case, `[name]` or `[[case]]`. Values are codes of the handbook, or its labels, trade
terms and aliases in any letters; what is none of these is read as somebody's own words. All keys
may be left out:

    signs         list of signs, or tables with sign, extent, side; a table of true and false
    extent, side  how far round; street, path, building, all_round or a compass word
    month, latitude, hemisphere, season, species, street_bearing, leaf (full, partial, bare)
    age           years since planting (age_months instead, or "18 months")
    site          list of facts, or a table of true and false (also weather, neighbors, clues)
    text          the report in its own words; language en or es
    seen_by       lay (if left out), trained, check; photos: how many, or true
    accepted      the causes that are right; empty or "cannot_tell": the right answer is that
                  nobody can tell
    danger        true, false, or the dangers that are right
    question      the checks that settle it, one or a list
"""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from survey.causes.case_facts import FactsReader, several
from survey.causes.facts import Facts
from survey.causes.terms import find, find_each, means_cannot_tell, plain

LARGEST_FILE = 4_000_000
MOST_CASES = 5_000

KEYS: dict[str, tuple[str, ...]] = {
    "signs": ("signs", "sign", "seen", "symptoms", "ticked"),
    "clues": ("clues", "clue", "marks", "observations", "tree_facts"),
    "extent": ("extent", "how_far_round", "girdled"),
    "side": ("side", "sides", "trunk_side", "side_of_trunk"),
    "month": ("month", "date", "seen_on", "day"),
    "latitude": ("latitude", "lat"),
    "hemisphere": ("hemisphere",),
    "season": ("season",),
    "species": ("species", "tree", "tree_species", "kind_of_tree"),
    "street_bearing": ("street_bearing",),
    "leaf": ("leaf", "leaf_state", "leaves"),
    "age": ("age", "age_years", "years", "years_since_planting"),
    "age_months": ("age_months", "months_since_planting", "planted_months_ago"),
    "site": ("site", "site_facts", "facts", "site_fact", "place"),
    "weather": ("weather", "weather_facts"),
    "neighbors": ("neighbors", "neighbours", "company", "other_trees"),
    "text": ("text", "words", "said", "report", "message", "free_text", "report_text"),
    "language": ("language", "lang"),
    "seen_by": ("seen_by", "by", "vouched_by", "witness", "observer"),
    "trained": ("trained", "trained_look"),
    "photos": ("photos", "photo"),
    "accepted": (
        "accepted", "accepted_causes", "causes", "expected", "expected_causes", "cause", "answer",
        "answers",
    ),
    "danger": ("danger", "dangers", "is_danger"),
    "question": (
        "question", "settling_question", "settling", "settles", "check", "checks", "one_question",
        "questions", "settling_check", "settled_by",
    ),
    "about": (
        "id", "name", "title", "note", "notes", "source", "sources", "why", "comment", "mark",
        "description", "basis", "case", "climate", "units",
    ),
}  # fmt: skip
MEANS = {name: key for key, names in KEYS.items() for name in names}
SAYS_CASE = frozenset(MEANS) - frozenset(KEYS["about"])


class BadCases(ValueError):
    """A file of cases that cannot be read; the text says where and why."""


NOTHING = Facts()


@dataclass(slots=True)
class Case:
    """One described case and the answers that are right for it.

    `odd` lists what was not understood. `question` and `danger` are None where the case does not
    say.
    """

    name: str
    facts: Facts = NOTHING
    accepted: frozenset[str] = frozenset()
    cannot_tell: bool = False
    ticked: frozenset[str] = frozenset()
    text: str = ""
    language: str = "en"
    danger: bool | None = None
    dangers: frozenset[str] = frozenset()
    question: frozenset[str] | None = None
    odd: list[str] = field(default_factory=list)


def read_cases(path: Path) -> list[Case]:
    """The cases of a file, in its order. Raises BadCases for a file that holds none."""
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise BadCases(f"{path.name} is larger than {LARGEST_FILE // 1_000_000} MB.")
        data = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as trouble:
        raise BadCases(f"{path}: {trouble.strerror}.") from None
    except UnicodeDecodeError:
        raise BadCases(f"{path.name} is not text in UTF-8.") from None
    except tomllib.TOMLDecodeError as trouble:
        raise BadCases(f"{path.name} is not TOML: {trouble}.") from None
    except RecursionError:
        raise BadCases(f"{path.name} is nested too deeply.") from None
    found = list(_tables(data))
    if not found:
        raise BadCases(f"{path.name} holds no case. Write each as a table of its own, [name].")
    if len(found) > MOST_CASES:
        raise BadCases(f"{path.name} holds more than {MOST_CASES} cases.")
    return [read_case(name, table) for name, table in found]


def _tables(data: Mapping[str, Any], under: str = "") -> Iterator[tuple[str, Mapping[str, Any]]]:
    for name, value in data.items():
        if isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
            for number, table in enumerate(value, start=1):
                told = next((table[k] for k in ("id", "name", "title") if k in table), None)
                yield str(told or f"{under}{name} {number}"), table
        elif isinstance(value, dict):
            if any(plain(key).replace(" ", "_") in SAYS_CASE for key in value):
                yield f"{under}{name}", value
            elif not under:
                yield from _tables(value, f"{name} ")


def read_case(name: str, table: Mapping[str, Any]) -> Case:
    """One case. What is not understood is listed in `odd` and the rest is read."""
    case = Case(name=" ".join(name.split())[:80])
    given: dict[str, Any] = {}
    for key, value in table.items():
        means = MEANS.get(plain(key).replace(" ", "_"))
        if means is None:
            case.odd.append(f"{key} (no key of a case)")
        elif means in given:
            case.odd.append(f"{key} (given twice)")
        else:
            given[means] = value
    _read_answers(case, given)
    reader = FactsReader()
    case.facts = reader.facts(given)
    case.text, case.ticked = reader.text, frozenset(reader.ticked)
    case.language = str(given.get("language") or "en")[:5]
    case.odd += reader.odd
    return case


def _read_answers(case: Case, given: Mapping[str, Any]) -> None:
    accepted = set()
    for value in several(given.get("accepted")):
        codes = find_each("causes", str(value))
        if codes:
            accepted.update(codes)
        elif means_cannot_tell(str(value)):
            case.cannot_tell = True
        else:
            case.odd.append(f"accepted: {value}")
    case.accepted = frozenset(accepted)
    if "accepted" in given and not several(given["accepted"]):
        case.cannot_tell = True
    if "question" in given:
        checks = set()
        for value in several(given["question"]):
            codes = find_each("checks", str(value))
            if codes:
                checks.update(codes)
            else:
                case.odd.append(f"question: {value}")
        case.question = frozenset(checks) if checks else None
    if "danger" in given:
        _read_danger(case, given["danger"])


def _read_danger(case: Case, value: object) -> None:
    if isinstance(value, bool):
        case.danger = value
        return
    case.danger = False
    for one in several(value):
        word = str(one)
        if plain(word) in ("false", "no", "none", ""):
            continue
        case.danger = True
        code = find("dangers", word)
        if code:
            case.dangers |= {code}
        elif plain(word) not in ("true", "yes"):
            case.odd.append(f"danger: {word}")
