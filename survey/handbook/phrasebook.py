"""Lists every text of the handbook for translators: `python -m survey.handbook.phrasebook`.

Writes `messages.py` anew. A test fails when that file lags behind the data.
"""

import json
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, get_args, get_type_hints

from survey.handbook.book import Book, book
from survey.handbook.records import Said, Trade

MESSAGES = Path(__file__).with_name("messages.py")

HEAD = '''"""Every text of the handbook, for makemessages. Written by survey.handbook.phrasebook."""

from django.utils.translation import gettext_noop

# ruff: noqa: E501
# fmt: off
'''


def texts_of(record: Any, kinds: tuple[Any, ...] = (Said, Trade)) -> Iterator[str]:
    """The texts of one record that are of these kinds, in the order of its fields."""
    hints = get_type_hints(type(record))
    for field in fields(record):
        value = getattr(record, field.name)
        if value is None:
            continue
        kind = next((k for k in kinds if _speaks(hints[field.name], k)), None)
        if kind is not None:
            yield from value if isinstance(value, tuple) else (value,)
        elif isinstance(value, tuple):
            for part in value:
                if is_dataclass(part):
                    yield from texts_of(part, kinds)


def _speaks(hint: Any, kind: Any) -> bool:
    """Whether the annotation is `kind`, or a union or a tuple of it."""
    return hint is kind or kind in get_args(hint)


def texts_by_file(whole: Book) -> dict[str, list[str]]:
    """Per data file its translatable texts in order, each text once in all."""
    seen: set[str] = set()
    found: dict[str, list[str]] = {}
    for file, records in whole.files():
        found[file] = []
        for record in records.values():
            for text in texts_of(record):
                if text not in seen:
                    seen.add(text)
                    found[file].append(text)
    return {file: texts for file, texts in found.items() if texts}


def messages_source(whole: Book) -> str:
    """What `messages.py` must hold for this handbook."""
    lines = [HEAD]
    for file, texts in texts_by_file(whole).items():
        name = file.removesuffix(".toml").upper()
        lines.append(f"{name} = (")
        lines += [f"    gettext_noop({json.dumps(text, ensure_ascii=False)})," for text in texts]
        lines.append(")\n")
    return "\n".join(lines).rstrip("\n") + "\n"


if __name__ == "__main__":
    MESSAGES.write_text(messages_source(book()), encoding="utf-8")
