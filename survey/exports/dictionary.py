"""The data dictionary, written from the same definitions as the files."""

from collections.abc import Iterator

from django.utils import translation
from django.utils.translation import gettext as _

from survey.exports.columns import Column, Table
from survey.exports.kinds import EXPORTS, IMPORTS
from survey.survival.cautions import CODES, in_words
from survey.survival.figures import METHOD_IN_FULL
from survey.survival.weighed_figures import METHOD_IN_FULL as WEIGHED_IN_FULL

START = "<!-- data dictionary: generated, see `manage.py data_dictionary` -->"
END = "<!-- end of data dictionary -->"
EXAMPLE = {"trees": 12, "of": 40, "unseen": 15, "months": 14, "days": 180, "share": 0.71}


class NoMarkers(ValueError):
    """The text has no place for the dictionary."""


def caution_examples() -> list[tuple[str, str]]:
    """Every caution's code and how it reads, with made-up numbers."""
    return [(code, in_words({"code": code, **EXAMPLE})) for code in CODES]


def in_markdown() -> str:
    """The whole dictionary in English, as Markdown."""
    with translation.override("en"):
        return "\n".join(_lines())


def put_into(text: str) -> str:
    """A text with the dictionary between its two markers. Raises NoMarkers."""
    before, start, rest = text.partition(START)
    _old, end, after = rest.partition(END)
    if not (start and end):
        raise NoMarkers(f"The text lacks {START} or {END}.")
    return f"{before}{START}\n\n{in_markdown()}\n{END}{after}"


def _lines() -> Iterator[str]:
    yield "### Files you can take away"
    yield ""
    yield (
        "CSV with one header line, commas, CRLF line ends, UTF-8. Days are written 2026-06-16. An"
        " empty cell means: not known, or does not apply. Numbers have a point. A text cell that a"
        " spreadsheet would run as a formula (it begins with = + - @ or a tab) gets an apostrophe"
        " in front. The same record gives the same bytes."
    )
    yield ""
    for table in EXPORTS.values():
        yield from _table(table, importing=False)
    yield "#### Cautions in the survival table"
    yield ""
    yield "| code | how it reads |"
    yield "| --- | --- |"
    for code, words in caution_examples():
        yield f"| `{code}` | {_cell(words)} |"
    yield ""
    yield f"How survival is worked out: {METHOD_IN_FULL} {WEIGHED_IN_FULL}"
    yield ""
    yield "### Files you can bring in"
    yield ""
    yield (
        "CSV with a header line. Commas, semicolons and tabs are told apart; UTF-8, UTF-16 and"
        " Windows-1252 are too. The order of the columns does not matter, and those that are not"
        " marked may be left out."
    )
    yield ""
    for kind in IMPORTS.values():
        yield from _table(kind.table, importing=True)


def _table(table: Table, *, importing: bool) -> Iterator[str]:
    yield f"#### {table.name}.csv"
    yield ""
    yield str(table.one_row)
    yield ""
    yield "| column | type | meaning |"
    yield "| --- | --- | --- |"
    for column in table.columns:
        must = " (must be given)" if importing and column.required else ""
        yield f"| `{column.name}` | {type_of(column)}{must} | {_cell(meaning_of(column))} |"
    yield ""


def type_of(column: Column) -> str:
    """The column's type with its unit."""
    return f"{column.type}, {column.unit}" if column.unit else column.type


def meaning_of(column: Column) -> str:
    """What a column means, with the codes that its meaning does not explain one by one."""
    meaning = str(column.meaning)
    left = [choice for choice in column.choices if f"{choice}:" not in meaning]
    if not left:
        return meaning
    opening = _("One of") if len(left) == len(column.choices) else _("Also")
    return f"{meaning} {opening}: {', '.join(left)}."


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")
