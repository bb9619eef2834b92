"""Brings a CSV file into the record: all of it or none, every bad row named, safe to repeat."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from itertools import islice
from typing import Any, BinaryIO

from django.core.exceptions import NON_FIELD_ERRORS, PermissionDenied, ValidationError
from django.db import DatabaseError, models, transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.chores.actions import write_chores
from survey.exports.cells import BadCell, value_of
from survey.exports.columns import Table
from survey.exports.reading import Row, Sheet, UnreadableFile, open_sheet
from survey.people.models import Person
from survey.people.policy import may_import
from survey.survival.stands import ranges_of
from survey.trees.models import Area, Site
from survey.workorders.followup import unjudged_trees

BATCH = 500
LISTED = 1000


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong with one row, in one column where that can be said."""

    line: int
    column: str
    reason: str

    def __str__(self) -> str:
        where = f"{self.line}, {self.column}" if self.column else str(self.line)
        return _("line %(where)s: %(reason)s") % {"where": where, "reason": self.reason}


@dataclass(frozen=True, slots=True)
class Entry:
    """A row whose cells can be read: its line and its values by column."""

    line: int
    values: dict[str, Any]

    def __getitem__(self, column: str) -> Any:
        return self.values.get(column)


@dataclass(slots=True)
class Batch:
    """What one kind of import makes of a batch: rows to write, rows already here, rows refused."""

    new: list[tuple[Entry, models.Model]] = field(default_factory=list)
    same: int = 0
    problems: list[Problem] = field(default_factory=list)

    def refuse(self, entry: Entry, column: str, reason: str) -> None:
        self.problems.append(Problem(entry.line, column, reason))


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of import. `judge` turns read rows into things to write; `written` follows up."""

    table: Table
    judge: Callable[[Area, Sequence[Entry], datetime, Person | None], Batch]
    written: Callable[[Sequence[tuple[Entry, models.Model]]], None] | None = None
    is_evidence: bool = True


@dataclass(slots=True)
class Outcome:
    """How an import went. `saved` says whether anything was kept."""

    kind: str
    encoding: str
    delimiter: str
    rows: int = 0
    made: int = 0
    same: int = 0
    bad_rows: int = 0
    problems: list[Problem] = field(default_factory=list)
    saved: bool = False

    def note(self, problems: Sequence[Problem]) -> None:
        self.bad_rows += len({problem.line for problem in problems})
        self.problems += problems[: max(0, LISTED - len(self.problems))]


class _NotKept(Exception):
    """Takes everything back at the end of a trial, or of a file with bad rows."""


def bring_in(
    kind: Kind,
    file: BinaryIO,
    *,
    area: Area,
    at: datetime,
    by: Person | None,
    dry_run: bool = False,
    keep_good: bool = False,
) -> Outcome:
    """Import one file into one area.

    Nothing is kept when `dry_run`, nor when any row is bad unless `keep_good`. The same file twice
    changes nothing the second time: a row that is here already, with the same values, is counted as
    such; with other values it is refused, because an import never overwrites. `by` is None on the
    command line. Raises UnreadableFile for a file, PermissionDenied for a person.
    """
    if by is not None and not may_import(by):
        raise PermissionDenied
    sheet = open_sheet(file)
    check_header(sheet, kind.table)
    outcome = Outcome(kind.table.name, sheet.encoding, sheet.delimiter)
    try:
        with transaction.atomic():
            for rows in _batches(sheet.rows()):
                _take(kind, rows, area, at, by, outcome)
            if dry_run or (outcome.bad_rows and not keep_good):
                raise _NotKept
            if outcome.made:
                outcome.saved = True
                _finish(kind, file, area, at, by, outcome)
    except _NotKept:
        return outcome
    return outcome


def check_header(sheet: Sheet, table: Table) -> None:
    """Refuse a file whose columns are not the table's, before any row is read."""
    known = set(table.names)
    unknown = [name or _("(no name)") for name in sheet.header if name not in known]
    twice = sorted({name for name in sheet.header if sheet.header.count(name) > 1})
    missing = [c.name for c in table.columns if c.required and c.name not in sheet.header]
    said = []
    if missing:
        said.append(_("Missing columns: %s.") % ", ".join(missing))
    if unknown:
        said.append(_("Unknown columns: %s.") % ", ".join(unknown[:20]))
    if twice:
        said.append(_("Columns that come twice: %s.") % ", ".join(twice[:20]))
    if said:
        said.append(_("This kind of file may have: %s.") % ", ".join(table.names))
        raise UnreadableFile(" ".join(said))


def _batches(rows: Iterator[Row]) -> Iterator[list[Row]]:
    while batch := list(islice(rows, BATCH)):
        yield batch


def _take(
    kind: Kind, rows: list[Row], area: Area, at: datetime, by: Person | None, outcome: Outcome
) -> None:
    outcome.rows += len(rows)
    entries = []
    for row in rows:
        problems = _read(kind.table, row, entries)
        outcome.note(problems)
    batch = kind.judge(area, entries, at, by)
    outcome.note(batch.problems)
    outcome.same += batch.same
    written = _write(batch.new, outcome)
    outcome.made += len(written)
    if kind.written is not None and written:
        kind.written(written)


def _read(table: Table, row: Row, entries: list[Entry]) -> list[Problem]:
    if row.problem:
        return [Problem(row.line, "", row.problem)]
    values, problems = {}, []
    for column in table.columns:
        try:
            values[column.name] = value_of(column, row.cells.get(column.name, ""))
        except BadCell as bad:
            problems.append(Problem(row.line, column.name, str(bad)))
    if not problems:
        entries.append(Entry(row.line, values))
    return problems


def clean(batch: Batch, entry: Entry, thing: models.Model, *given: str) -> bool:
    """Whether a thing's own fields are possible; those in `given` were looked up and are. Relations
    are left to the database."""
    relations = [f.name for f in thing._meta.concrete_fields if f.is_relation or f.name in given]
    try:
        thing.clean_fields(exclude=relations)
    except ValidationError as wrong:
        for name, reasons in wrong.message_dict.items():
            column = "" if name == NON_FIELD_ERRORS else name
            batch.refuse(entry, column, " ".join(reasons))
        return False
    return True


def differing(old: models.Model, new: models.Model, fields: Sequence[str]) -> str:
    """The first of these fields in which two rows differ; "" when they say the same."""
    for name in fields:
        if getattr(old, name) != getattr(new, name):
            return name
    return ""


def settle(
    batch: Batch, entry: Entry, old: models.Model | None, new: models.Model, fields: Sequence[str]
) -> None:
    """Put a thing among the new ones, or compare it with the one that is here already."""
    if old is None:
        batch.new.append((entry, new))
    elif name := differing(old, new, fields):
        batch.refuse(
            entry,
            name.removesuffix("_id"),
            _("This is on the list already, with another value here. An import never overwrites."),
        )
    else:
        batch.same += 1


def _write(
    new: list[tuple[Entry, models.Model]], outcome: Outcome
) -> list[tuple[Entry, models.Model]]:
    """Write all at once; if the database refuses, one by one, so that the bad row can be named."""
    if not new:
        return []
    model = type(new[0][1])
    try:
        with transaction.atomic():
            model.objects.bulk_create([thing for _entry, thing in new])
        return new
    except DatabaseError:
        written = []
    for entry, thing in new:
        thing.pk = None
        thing._state.adding = True
        try:
            with transaction.atomic():
                thing.save(force_insert=True)
            written.append((entry, thing))
        except DatabaseError as refused:
            outcome.note([Problem(entry.line, "", _refusal(thing, str(refused)))])
    return written


def _refusal(thing: models.Model, said: str) -> str:
    rules = sorted(
        (rule.name for rule in thing._meta.constraints if rule.name in said), key=len, reverse=True
    )
    rule = rules[0].replace("_", " ") if rules else said.splitlines()[0][:120]
    return _("The record does not allow this row (%s).") % rule


def _finish(
    kind: Kind, file: BinaryIO, area: Area, at: datetime, by: Person | None, outcome: Outcome
) -> None:
    digest = sha256()
    file.seek(0)
    while piece := file.read(1 << 20):
        digest.update(piece)
    record(
        "file.imported",
        subject=f"area:{area.ref}",
        by=by,
        at=at,
        kind=kind.table.name,
        made=outcome.made,
        same=outcome.same,
        left_out=outcome.bad_rows,
        sha256=digest.hexdigest(),
    )
    if kind.is_evidence:
        ask_for_everything(area)


def ask_for_everything(area: Area) -> None:
    """All of an area is to be worked out again and learnt from, and orders may be confirmed."""
    sites = Site.objects.filter(area=area).values_list("pk", flat=True)
    write_chores(
        [
            *(("count_plantings", name) for name in ranges_of(area)),
            *(("roll_up_trend", str(site)) for site in sites),
            ("learn_area", str(area.pk)),
            *(("confirm_orders", str(tree)) for tree in unjudged_trees()),
        ]
    )
