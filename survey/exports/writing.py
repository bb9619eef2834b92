"""Rows to CSV text, line by line: RFC 4180, the same bytes for the same rows."""

import csv
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import Any

from survey.exports.columns import TYPES_NEVER_GUARDED, Table

GUARDED = ("=", "+", "-", "@", "\t", "\r", "\0", "＝", "＋", "－", "＠")
BYTE_ORDER_MARK = "\ufeff"


class _Line:
    """A file for `csv` that hands every line straight back."""

    def write(self, text: str) -> str:
        return text


def csv_lines(
    table: Table, rows: Iterable[Sequence[Any]], *, for_spreadsheets: bool = False
) -> Iterator[str]:
    """The table as lines of CSV, header first. `for_spreadsheets` opens with a byte order mark.

    A text cell that a spreadsheet would run as a formula gets an apostrophe in front. Numbers and
    dates are left alone: they are written by us, and a minus sign in front of one is a minus sign.
    """
    writer = csv.writer(_Line())
    guarded = [column.type not in TYPES_NEVER_GUARDED for column in table.columns]
    if for_spreadsheets:
        yield BYTE_ORDER_MARK
    yield writer.writerow(table.names)
    for row in rows:
        yield writer.writerow(
            [
                plain(value) if guard else written(value)
                for value, guard in zip(row, guarded, strict=True)
            ]
        )


def plain(value: Any) -> str:
    """A text cell that no spreadsheet takes for a formula."""
    text = written(value).replace("\0", "\ufffd")
    return f"'{text}" if text.startswith(GUARDED) else text


def written(value: Any) -> str:
    """A value as it stands in a cell: nothing for what is not known, whole numbers without .0."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6f}".rstrip("0").rstrip(".")
    if isinstance(value, date):
        return value.isoformat()
    return str(value)
