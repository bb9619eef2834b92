"""Entries of the handbook as the interface shows them: every text in the language asked for."""

from dataclasses import fields, is_dataclass
from datetime import date
from typing import Any, get_args, get_type_hints

from rest_framework import serializers

from survey.causes.models import LocalRule
from survey.handbook.book import book
from survey.handbook.records import Entry, Said, Source, Trade
from survey.handbook.wording import said

GROUNDS = ("code", "sources", "mark", "basis")
LEFT_OUT = ("extents",)  # given to every sign again by the reader of the files


class ShelfOut(serializers.Serializer):
    """One file of the handbook."""

    shelf = serializers.CharField(help_text="Its name: causes, signs, care, species …")
    entries = serializers.IntegerField(help_text="How many entries it holds.")


class LocalRuleOut(serializers.Serializer):
    """A rule of this place that two trained people have put in force. Always marked local."""

    ref = serializers.CharField()
    text = serializers.CharField()
    text_es = serializers.CharField(help_text="The same in Spanish; may be empty.")
    source = serializers.CharField(help_text="Where it stands, or a mark of the handbook.")
    clue = serializers.CharField(help_text="The clue it weighs for a cause; empty for none.")
    weight = serializers.IntegerField(allow_null=True, help_text="From -3 to 3, never 0.")
    in_force_since = serializers.DateField()
    local = serializers.BooleanField(help_text="Always true.")


class EntryOut(serializers.Serializer):
    """One entry with what it rests on. `entry` holds its fields, named as in the files."""

    shelf = serializers.CharField()
    code = serializers.CharField()
    grounds = serializers.ListField(
        child=serializers.CharField(), help_text="Its sources in full, then its mark if it has one."
    )
    sources = serializers.ListField(child=serializers.CharField(), help_text="Codes of sources.")
    mark = serializers.CharField(
        allow_null=True,
        help_text="common practice, no source; memory, to be verified; own rule of this project.",
    )
    basis = serializers.CharField(
        allow_null=True, help_text="Which part of it rests on what, where that is mixed."
    )
    entry = serializers.DictField(help_text="Months are those of the northern hemisphere.")
    local_rules = LocalRuleOut(many=True)


def entry_of(shelf: str, entry: Entry | Source, rules: list[LocalRule] = ()) -> dict[str, Any]:
    """One entry as plain values; sources rest on themselves."""
    is_entry = isinstance(entry, Entry)
    return {
        "shelf": shelf,
        "code": entry.code,
        "grounds": list(book().grounds(entry)) if is_entry else [entry.citation],
        "sources": list(entry.sources) if is_entry else [entry.code],
        "mark": entry.mark if is_entry else None,
        "basis": str(said(entry.basis)) if is_entry and entry.basis else None,
        "entry": _values(entry),
        "local_rules": [_rule(rule) for rule in rules],
    }


def _values(record: Any) -> dict[str, Any]:
    hints = get_type_hints(type(record))
    return {
        field.name: _value(getattr(record, field.name), hints[field.name])
        for field in fields(record)
        if field.name not in (*GROUNDS, *LEFT_OUT)
    }


def _value(value: Any, hint: Any) -> Any:
    if value is None or isinstance(value, bool | int | float):
        return value
    if is_dataclass(value):
        return _values(value)
    if isinstance(value, tuple):
        inner = next(iter(get_args(hint)), None)
        return [_value(one, inner) for one in value]
    spoken = hint in (Said, Trade) or {Said, Trade} & set(get_args(hint))
    return str(said(value)) if spoken else str(value)


def _rule(rule: LocalRule) -> dict[str, Any]:
    since: date = rule.approved_at.date()
    named = ("ref", "text", "text_es", "source", "clue", "weight")
    return {name: getattr(rule, name) for name in named} | {
        "in_force_since": since,
        "local": True,
    }
