"""What the files of the handbook owe each other: a name means one entry, a cause can be told."""

import re
from collections.abc import Iterable, Mapping
from typing import Any

from survey.handbook.causes import Cause, Check, Clue, ClueCode
from survey.handbook.reading import HandbookError

# Own rule of this project. A check settles something of a cause when its two answers lie at least
# this far apart on the cause's scale: one strong match (2).
SETTLES = 2


def folded(name: str) -> str:
    """A name as it is compared: small letters, with one `_` for any run of other signs."""
    return re.sub(r"[\W_]+", "_", name.casefold()).strip("_")


def names_of(file: str, records: Mapping[str, Any]) -> dict[str, str]:
    """Every folded code, label and other name of one kind of entry → the code it means.

    Raises HandbookError where a name is empty or means two entries.
    """
    meant = {folded(code): code for code in records}
    for code, record in records.items():
        for name in _own_names(record):
            meant.setdefault(folded(name), code)
    for code, record in records.items():
        for alias in getattr(record, "aliases", ()):
            name = folded(alias)
            if not name:
                raise HandbookError(file, f"{alias!r} is no name", entry=code, field="aliases")
            if meant.get(name, code) != code:
                raise HandbookError(
                    file, f"{alias!r} means {meant[name]} already", entry=code, field="aliases"
                )
            meant[name] = code
    return meant


def _own_names(record: Any) -> Iterable[str]:
    return [
        getattr(record, field)
        for field in ("label", "common_name", "latin")
        if hasattr(record, field)
    ]


def answers_weighed(cause: Cause, check: Check) -> tuple[int, int]:
    """What a yes and what a no to this check says of this cause, on the cause's own scale."""
    weighed = {one.clue: one for one in cause.clues}

    def said(means: Iterable[ClueCode], denies: Iterable[ClueCode]) -> int:
        return sum(weighed[clue].weight for clue in means if clue in weighed) + sum(
            weighed[clue].absent for clue in denies if clue in weighed
        )

    return (
        said(check.yes_means, check.yes_denies),
        said(check.no_means, check.no_denies),
    )


def check_causes(
    clues: Mapping[str, Clue], checks: Mapping[str, Check], causes: Mapping[str, Cause]
) -> None:
    """Causes weigh known clues, can be settled, and take each other for look-alikes; no clue
    stands idle. Raises HandbookError."""
    for cause in causes.values():
        _weighs_known_clues(cause, clues)
        _can_be_settled(cause, checks)
        for code in cause.look_alikes:
            if cause.code not in causes[code].look_alikes:
                raise HandbookError(
                    "causes.toml",
                    f"{code} does not name {cause.code} as its look-alike in turn",
                    entry=cause.code,
                    field="look_alikes",
                )
    weighed = {one.clue for cause in causes.values() for one in cause.clues}
    for clue in clues.values():
        if clue.code not in weighed:
            raise HandbookError("clues.toml", "no cause weighs it", entry=clue.code)
    asked = {code for cause in causes.values() for code in cause.checks}
    for check in checks.values():
        if check.code not in asked:
            raise HandbookError("checks.toml", "no cause asks for it", entry=check.code)


def _weighs_known_clues(cause: Cause, clues: Mapping[str, Clue]) -> None:
    for one in cause.clues:
        if one.clue not in clues:
            raise HandbookError(
                "causes.toml",
                f"clues.toml has no {one.clue!r}",
                entry=cause.code,
                field="clues",
            )


def _can_be_settled(cause: Cause, checks: Mapping[str, Check]) -> None:
    apart = {}
    for code in cause.checks:
        yes, no = answers_weighed(cause, checks[code])
        apart[code] = abs(yes - no)
        if yes == no:
            raise HandbookError(
                "causes.toml",
                f"{code} says the same of it whatever the answer",
                entry=cause.code,
                field="checks",
            )
    if not apart or max(apart.values()) < SETTLES:
        raise HandbookError(
            "causes.toml", "no check can settle it", entry=cause.code, field="checks"
        )
