"""Reads TOML into records, strictly: whatever is missing, unknown or of the wrong type is named."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from survey.handbook.records import FieldRefused, Month, Said, Trade

T = TypeVar("T")

CODE = re.compile(r"[a-z][a-z0-9_]*")


class HandbookError(ValueError):
    """A data file of the handbook cannot be used; says which file, entry and field, and why."""

    def __init__(
        self, file: str, problem: str, *, entry: str | None = None, field: str | None = None
    ) -> None:
        self.file, self.entry, self.field, self.problem = file, entry, field, problem
        place = ", ".join(part for part in (file, entry, field) if part)
        super().__init__(f"{place}: {problem}")


def read_tables(path: Path) -> dict[str, dict[str, object]]:
    """The entries of one file as code → table, in the order of the file.

    Raises HandbookError when the file is missing, is not TOML (so also when a code stands in it
    twice), or holds anything but tables named by a code.
    """
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise HandbookError(path.name, "the file is missing") from None
    except UnicodeDecodeError as error:
        raise HandbookError(path.name, f"is not UTF-8 text: {error}") from None
    except tomllib.TOMLDecodeError as error:
        raise HandbookError(path.name, f"is not valid TOML: {error}") from None
    if not data:
        raise HandbookError(path.name, "holds no entry")
    for code, table in data.items():
        if not isinstance(table, dict):
            raise HandbookError(path.name, "stands outside an entry", field=code)
        if not CODE.fullmatch(code):
            raise HandbookError(
                path.name, "a code is made of small letters, digits and _", entry=code
            )
    return data


def read_records(path: Path, kind: type[T], **given: object) -> dict[str, T]:
    """Every entry of a file as a record of `kind`; `given` are fields no file may set."""
    file = path.name
    records = {
        code: read_record(kind, table, file=file, entry=code, given={"code": code, **given})
        for code, table in read_tables(path).items()
    }
    seen: dict[str, str] = {}
    for code, record in records.items():
        label = getattr(record, "label", None)
        if label is None:
            continue
        if label in seen:
            raise HandbookError(
                file, f"{label!r} is the label of {seen[label]} too", entry=code, field="label"
            )
        seen[label] = code
    return records


def read_record(
    kind: type[T],
    table: Mapping[str, object],
    *,
    file: str,
    entry: str,
    given: Mapping[str, object] | None = None,
    inside: str = "",
) -> T:
    """One record, checked against the annotations of its kind.

    `inside` is the field it stands in, when it is part of another entry.
    """
    given = given or {}
    hints = get_type_hints(kind)
    asked: dict[str, Any] = {
        f.name: f
        for f in fields(kind)  # type: ignore[arg-type]
        if f.name not in given
    }

    def refused(field: str, problem: str) -> HandbookError:
        return HandbookError(file, problem, entry=entry, field=inside + field)

    for name in table:
        if name not in asked:
            raise refused(name, f"unknown field; known are {', '.join(sorted(asked))}")
    values: dict[str, object] = dict(given)
    for name, field in asked.items():
        if name in table:
            values[name] = _value(hints[name], table[name], file, entry, inside + name)
        elif field.default is MISSING and field.default_factory is MISSING:
            raise refused(name, "the field is missing")
    try:
        return kind(**values)
    except FieldRefused as error:
        raise refused(error.field_name, error.problem) from None


def _value(hint: Any, value: object, file: str, entry: str, field: str) -> object:
    """`value` as the type that `hint` asks for, or an error that names it."""

    def refused(problem: str) -> HandbookError:
        return HandbookError(file, problem, entry=entry, field=field)

    origin = get_origin(hint)
    if origin in (Union, UnionType):  # only ever `X | None`; TOML has no null, so a value is an X
        (inner,) = (arg for arg in get_args(hint) if arg is not NoneType)
        return _value(inner, value, file, entry, field)
    if origin is Literal:
        allowed = get_args(hint)
        if not isinstance(value, str) or value not in allowed:
            raise refused(f"must be one of {', '.join(map(repr, allowed))}, not {value!r}")
        return value
    if origin is tuple:
        if not isinstance(value, list):
            raise refused(f"must be a list, not {value!r}")
        item = get_args(hint)[0]
        items = tuple(
            _value(item, one, file, entry, f"{field} {number}")
            for number, one in enumerate(value, start=1)
        )
        if len(set(items)) < len(items):
            raise refused("names the same thing twice")
        return items
    if is_dataclass(hint):
        if not isinstance(value, dict):
            raise refused(f"must be a table, not {value!r}")
        return read_record(
            hint,  # type: ignore[arg-type]
            value,
            file=file,
            entry=entry,
            inside=f"{field} ",
        )
    if hint is bool:
        if not isinstance(value, bool):
            raise refused(f"must be true or false, not {value!r}")
        return value
    if hint in (int, Month):
        if not isinstance(value, int) or isinstance(value, bool):
            raise refused(f"must be a whole number, not {value!r}")
        if hint is Month and not 1 <= value <= 12:
            raise refused(f"must be a month from 1 to 12, not {value}")
        return value
    if hint is float:
        if not isinstance(value, int | float) or isinstance(value, bool):
            raise refused(f"must be a number, not {value!r}")
        number = float(value)
        if not abs(number) < float("inf"):
            raise refused(f"must be a finite number, not {value!r}")
        return number
    return _text(value, spoken=hint in (Said, Trade), refused=refused)


def _text(value: object, *, spoken: bool, refused: Any) -> str:
    if not isinstance(value, str):
        raise refused(f"must be text, not {value!r}")
    if not value or value != " ".join(value.split()):
        raise refused("must be one line of text without spaces to spare")
    if spoken and "%" in value:
        # A template's translate tag doubles the sign and would miss the translation. The pages
        # say shares as counts of trees anyway.
        raise refused("must not hold a percent sign; say it in words")
    return value
