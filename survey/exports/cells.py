"""One cell of an import: text to value, or a reason that a person can act on."""

import math
import re
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from survey.exports.columns import Column
from survey.trees.dates import bounds_of
from survey.trees.models import Precision

YES, NO = {"yes", "y", "true", "1"}, {"no", "n", "false", "0"}
NUMBER = re.compile(r"[+-]?[0-9]{1,15}(\.[0-9]{0,12})?")
WHOLE = re.compile(r"[0-9]{1,9}")
EARLIEST = date(1800, 1, 1)


class BadCell(ValueError):
    """What a cell says cannot be; the message is for whoever made the file."""


@dataclass(frozen=True, slots=True)
class When:
    """A date with what is not known of it: first and last possible day."""

    start: date
    end: date
    precision: str


def value_of(column: Column, text: str) -> Any:
    """The cell's value; None for an empty one. Raises BadCell."""
    if not text:
        if column.required:
            raise BadCell(_("It is empty, and it must not be."))
        return None
    match column.type:
        case "code":
            return _code(column, text)
        case "whole number":
            if not WHOLE.fullmatch(text):
                raise BadCell(_("“%s” is not a whole number.") % _short(text))
            return int(text)
        case "number":
            return _number(text)
        case "day":
            return day_of(text)
        case "date":
            return when_of(text)
        case "yes or no":
            if text.lower() in YES:
                return True
            if text.lower() in NO:
                return False
            raise BadCell(_("“%s” is neither yes nor no.") % _short(text))
        case "list":
            return [part.strip() for part in text.split(";") if part.strip()]
    return text


def day_of(text: str) -> date:
    """A day written as year, month, day."""
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII):
        raise BadCell(
            _("Write the day like 2026-06-16: “%s” can be read in two ways, or none.")
            % _short(text)
        )
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise BadCell(_("There is no such day: %s.") % text) from None
    if day < EARLIEST:
        raise BadCell(_("%s is too long ago for a tree of this survey.") % text)
    return day


def when_of(text: str) -> When:
    """A day, a month (2023-11), a year (2023), or first and last day with a stroke between."""
    if "/" in text:
        first, _stroke, last = text.partition("/")
        start, end = day_of(first.strip()), day_of(last.strip())
        if end < start:
            raise BadCell(_("The last day comes before the first: %s.") % _short(text))
        if start == end:
            return When(start, end, Precision.DAY)
        return When(start, end, Precision.SEASON)
    if re.fullmatch(r"\d{4}", text, re.ASCII):
        return When(*bounds_of(day_of(f"{text}-01-01"), Precision.YEAR), Precision.YEAR)
    if re.fullmatch(r"\d{4}-\d{2}", text, re.ASCII):
        return When(*bounds_of(day_of(f"{text}-01"), Precision.MONTH), Precision.MONTH)
    day = day_of(text)
    return When(day, day, Precision.DAY)


def _code(column: Column, text: str) -> str:
    if column.choices and text not in column.choices:
        raise BadCell(
            _("“%(text)s” is not one of: %(codes)s.")
            % {"text": _short(text), "codes": ", ".join(column.choices)}
        )
    return text


def _number(text: str) -> float:
    if not NUMBER.fullmatch(text):
        raise BadCell(
            _("“%s” is not a number. Write a point, not a comma, before the decimals.")
            % _short(text)
        )
    value = float(text)
    if not math.isfinite(value):
        raise BadCell(_("“%s” is not a number.") % _short(text))
    return value


def _short(text: str) -> str:
    return text if len(text) <= 40 else f"{text[:39]}…"
