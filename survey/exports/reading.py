"""A CSV file from anywhere, as rows of text: finds out how it is written, and says where it is not.

The file is read twice, line by line, and never held in memory.
"""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import BinaryIO

from django.utils.translation import gettext as _

LONGEST_LINE = 1_000_000  # bytes
CELL_LIMIT = 131_072  # characters, the csv module's own
DELIMITERS = [",", ";", "\t"]
UTF8, UTF8_MARKED, UTF16, CP1252 = "UTF-8", "UTF-8 with a mark", "UTF-16", "Windows-1252"
CODECS = {UTF8: "utf-8", UTF8_MARKED: "utf-8-sig", UTF16: "utf-16", CP1252: "cp1252"}


class UnreadableFile(ValueError):
    """The file as a whole cannot be read; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the line on which it starts, its cells by column, what is wrong with its form."""

    line: int
    cells: dict[str, str]
    problem: str = ""


@dataclass(slots=True)
class Sheet:
    """An opened file: how it is written, its header, and its rows."""

    file: BinaryIO
    encoding: str
    delimiter: str
    header: list[str]
    strange_lines: set[int] = field(default_factory=set)

    def rows(self) -> Iterator[Row]:
        """Every row but the header and empty ones."""
        reader = csv.reader(_lines(self.file, self.encoding), delimiter=self.delimiter, strict=True)
        before = 0
        first = True
        while True:
            try:
                cells = next(reader)
            except StopIteration:
                return
            except csv.Error as trouble:
                start, before = before + 1, reader.line_num
                yield Row(start, {}, _broken(str(trouble)))
                continue
            start, before = before + 1, reader.line_num
            if first:
                first = False
                continue
            if any(cell.strip() for cell in cells):
                yield self._row(start, reader.line_num, cells)

    def _row(self, start: int, end: int, cells: list[str]) -> Row:
        if any(line in self.strange_lines for line in range(start, end + 1)):
            problem = _(
                "This row is not written in UTF-8, though others are. Save the whole file as UTF-8."
            )
            return Row(start, {}, problem)
        if len(cells) != len(self.header):
            problem = _("This row has %(cells)d cells; the header has %(header)d.") % {
                "cells": len(cells),
                "header": len(self.header),
            }
            return Row(start, {}, problem)
        if any("\0" in cell for cell in cells):
            return Row(start, {}, _("This row holds a character that is no text (NUL)."))
        if any("\ufffd" in cell for cell in cells):
            return Row(start, {}, _("This row holds a character that could not be read."))
        return Row(
            start, {name: cell.strip() for name, cell in zip(self.header, cells, strict=True)}
        )


def open_sheet(file: BinaryIO) -> Sheet:
    """Find out how a file is written and read its header. Raises UnreadableFile.

    UTF-8 with or without a byte order mark, and UTF-16 with one, are read as they are. A file in
    which no line at all is UTF-8 beyond plain ASCII is taken for Windows-1252. Where some lines are
    and others are not, the others are remembered, so that each can be named.
    """
    encoding, strange = _encoding(file)
    top = next(_lines(file, encoding), "")
    if not top.strip():
        raise UnreadableFile(_("The file is empty, or its first line is. The header goes there."))
    delimiter = max(DELIMITERS, key=top.count)
    try:
        header = next(csv.reader(_lines(file, encoding), delimiter=delimiter, strict=True))
    except (csv.Error, StopIteration):
        raise UnreadableFile(_("The header (the first line) cannot be read.")) from None
    names = [" ".join(cell.split()).lower().replace(" ", "_") for cell in header]
    return Sheet(file, encoding, delimiter, names, strange)


def _encoding(file: BinaryIO) -> tuple[str, set[int]]:
    file.seek(0)
    start = file.read(4)
    if start.startswith(b"PK\x03\x04"):
        raise UnreadableFile(
            _("This is a spreadsheet, not a CSV file. Open it and save it as CSV (UTF-8).")
        )
    if start.startswith((b"\xff\xfe", b"\xfe\xff")):
        return UTF16, set()
    file.seek(0)
    undecodable: set[int] = set()
    beyond_ascii = 0
    for number, line in enumerate(_raw_lines(file), start=1):
        if line.isascii():
            continue
        try:
            line.decode("utf-8-sig" if number == 1 else "utf-8")
            beyond_ascii += number > 1 or not line.startswith(b"\xef\xbb\xbf")
        except UnicodeDecodeError:
            undecodable.add(number)
    marked = start.startswith(b"\xef\xbb\xbf")
    if undecodable and not beyond_ascii and not marked:
        return CP1252, set()
    return UTF8_MARKED if marked else UTF8, undecodable


def _raw_lines(file: BinaryIO) -> Iterator[bytes]:
    file.seek(0)
    number = 0
    while line := file.readline(LONGEST_LINE + 1):
        number += 1
        if len(line) > LONGEST_LINE:
            raise UnreadableFile(
                _("Line %d is longer than a million characters. Is this a CSV file?") % number
            )
        yield line


def _lines(file: BinaryIO, encoding: str) -> Iterator[str]:
    """Decoded lines with their ends. What cannot be decoded is replaced: its rows are refused."""
    if encoding == UTF16:
        file.seek(0)
        text = io.TextIOWrapper(
            io.BufferedReader(_Kept(file)), encoding="utf-16", errors="replace", newline=""
        )
        while line := text.readline(LONGEST_LINE):
            yield line
        return
    for number, line in enumerate(_raw_lines(file), start=1):
        codec = CODECS[encoding] if number == 1 or encoding == CP1252 else "utf-8"
        yield line.decode(codec, errors="replace")


class _Kept(io.RawIOBase):
    """Lets a text reader read a file without closing it."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file

    def readable(self) -> bool:
        return True

    def readinto(self, buffer) -> int:
        data = self._file.read(len(buffer))
        buffer[: len(data)] = data
        return len(data)


def _broken(trouble: str) -> str:
    if "field larger than" in trouble:
        return _("A cell of this row is longer than %d characters.") % CELL_LIMIT
    if "unexpected end" in trouble:
        return _("A quotation mark is opened in this row and never closed.")
    return _(
        "This row breaks the rules of CSV; most often a quotation mark stands in the wrong place."
    )
