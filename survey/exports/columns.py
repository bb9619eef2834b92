"""What a column is: one definition for the CSV, the dictionary, the pages and the imports."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from django.utils.functional import Promise

Words = str | Promise
Type = Literal["text", "code", "whole number", "number", "day", "date", "yes or no", "list"]

TYPES_NEVER_GUARDED = {"whole number", "number", "day", "date", "yes or no"}


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table. `choices` are the codes it may hold; `required` matters on import."""

    name: str
    meaning: Words
    type: Type = "text"
    unit: str = ""
    choices: tuple[str, ...] = ()
    required: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A kind of file: its name, what one row of it is, and its columns in order."""

    name: str
    title: Words
    one_row: Words
    columns: tuple[Column, ...]

    @property
    def names(self) -> list[str]:
        return [column.name for column in self.columns]

    def column(self, name: str) -> Column:
        return next(column for column in self.columns if column.name == name)


@dataclass(frozen=True, slots=True)
class Filled:
    """A column of an export together with how its value is found."""

    column: Column
    value: Callable[[Any], Any]
