"""Rows into lives: since when each was watched, when it was last alive, when its end was seen.

Every row that cannot be is named with its line, its column and what to do. A tree of which one look
cannot be read is left out whole: half a story would be a wrong one.
"""

import math
from abc import ABC, abstractmethod
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import BinaryIO

from django.utils.translation import gettext as _

from survey.exports.cells import BadCell
from survey.exports.intake import Problem
from survey.exports.own_table.cells import (
    LOST,
    NEVER_PLANTED,
    OUTCOMES,
    REMOVED_OTHER,
    SEEN,
    age_of,
    count_of,
    end_of,
    short,
    when_of,
    word_of,
)
from survey.exports.own_table.columns import (
    AGES,
    FORMS,
    LOOKS,
    Form,
    check_header,
    name_of,
    settle,
)
from survey.exports.own_table.stories import Fate, Impossible, Look, fate_of_looks, fate_of_row
from survey.exports.reading import Row, Sheet, UnreadableFile, open_sheet

EVERYTHING = "all"
LISTED = 1000
REMEMBERED = 50_000  # rows whose reading is kept, so that a million equal rows are read once
LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class Bounds:
    """How much is read before it is refused; None: as much as comes."""

    rows: int | None = None
    groups: int = 200


@dataclass(slots=True)
class Gathered:
    """The lives of one group, equal ones counted; an entry of -inf: watched from the start."""

    name: str
    lives: Counter[tuple[float, float, float]] = field(default_factory=Counter)
    removed_other: int = 0
    lost: int = 0
    left_out: Counter[str] = field(default_factory=Counter)
    misjudged: int = 0

    @property
    def n(self) -> int:
        return self.lives.total()

    def add(self, fate: Fate, count: int = 1) -> None:
        if fate.left_out:
            self.left_out[fate.left_out] += count
            return
        self.lives[(fate.entry, fate.left, fate.right)] += count
        self.removed_other += count * (fate.outcome == REMOVED_OTHER)
        self.lost += count * (fate.outcome == LOST)
        self.misjudged += count * fate.misjudged


@dataclass(slots=True)
class Gathering:
    """All that a table said. What a bad row touches is in no group."""

    form: Form
    mapping: dict[str, str]
    by: str
    header: list[str]
    encoding: str
    delimiter: str
    rows: int = 0
    groups: dict[str, Gathered] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    bad_rows: int = 0
    bad_trees: int = 0
    watch_is_told: bool = False

    @property
    def trees(self) -> int:
        return sum(group.n for group in self.groups.values())

    def note(self, problems: list[Problem]) -> None:
        self.bad_rows += len({problem.line for problem in problems})
        self.problems += problems[: max(0, LISTED - len(self.problems))]


def gather(
    file: BinaryIO,
    *,
    today: date,
    form: str = "",
    columns: Mapping[str, str] | None = None,
    by: str = "",
    guessing: bool = True,
    bounds: Bounds | None = None,
) -> Gathering:
    """Read somebody's own table. `columns` says which of ours is which of theirs; see `settle`.

    Raises UnreadableFile for a table as a whole (ColumnsWanted where it must be said which column
    is which); rows that cannot be are in `problems` and counted nowhere else.
    """
    sheet = open_sheet(file)
    check_header(sheet)
    if form and form not in FORMS:
        raise UnreadableFile(_("There is no such kind of table: %s.") % short(form))
    kind, mapping = settle(
        sheet.header,
        form=FORMS[form] if form else None,
        columns=columns,
        guessing=guessing,
    )
    grouping = name_of(by)
    if grouping and grouping not in sheet.header:
        raise UnreadableFile(
            _("There is no column “%(by)s” to make groups by. There is: %(header)s.")
            % {"by": short(by), "header": ", ".join(filter(None, sheet.header))[:600]}
        )
    found = Gathering(kind, mapping, grouping, sheet.header, sheet.encoding, sheet.delimiter)
    reader = _Looks if kind is LOOKS else _Lives
    reader(found, today, bounds or Bounds()).read(sheet)
    if not found.rows:
        raise UnreadableFile(_("The table has a first line and no rows."))
    return found


class _Reader(ABC):
    """What both ways of reading have in common."""

    def __init__(self, found: Gathering, today: date, bounds: Bounds) -> None:
        self.found = found
        self.today = today
        self.bounds = bounds

    def read(self, sheet: Sheet) -> None:
        for row in sheet.rows():
            self.found.rows += 1
            if self.bounds.rows is not None and self.found.rows > self.bounds.rows:
                raise UnreadableFile(
                    _("The table has more than %d rows. Count equal rows together, or cut it.")
                    % self.bounds.rows
                )
            if row.problem:
                self.found.note([Problem(row.line, "", row.problem)])
            else:
                self.take(row)
        self.finish()

    @abstractmethod
    def take(self, row: Row) -> None:
        """Take in one row that could be read; what is wrong with it is noted, not raised."""

    @abstractmethod
    def finish(self) -> None:
        """Every row has been taken in."""

    def group(self, name: str) -> Gathered:
        name = name or (_("(empty)") if self.found.by else EVERYTHING)
        group = self.found.groups.get(name)
        if group is None:
            if len(self.found.groups) >= self.bounds.groups:
                raise UnreadableFile(
                    _("The column “%(by)s” makes more than %(most)d groups. Choose another one.")
                    % {"by": self.found.by, "most": self.bounds.groups}
                )
            group = self.found.groups[name] = Gathered(name)
        return group

    def group_name(self, row: Row) -> str:
        return row.cells[self.found.by][:LONGEST_NAME] if self.found.by else ""

    def theirs(self, ours: str) -> str:
        """Their name for a column of ours, as the errors call it."""
        return self.found.mapping.get(ours, "")

    def cells(self, row: Row) -> dict[str, str]:
        return {ours: row.cells[theirs] for ours, theirs in self.found.mapping.items()}

    def values(
        self, cells: Mapping[str, str], readers: Mapping[str, Callable]
    ) -> tuple[dict, dict[str, str]]:
        """The values of a row by our names, and what is wrong by our names."""
        values, wrong = {}, {}
        for ours, read in readers.items():
            if ours not in cells:
                values[ours] = None
                continue
            try:
                values[ours] = read(cells[ours])
            except BadCell as bad:
                wrong[ours] = str(bad)
        return values, wrong

    def when(self, text: str):
        return when_of(text, today=self.today) if text else None

    def planted(self, text: str):
        if not text:
            raise BadCell(_("The day of planting is empty. Give at least the year."))
        return when_of(text, today=self.today)


class _Lives(_Reader):
    """Tables in which one row is one life, or several that are alike."""

    def __init__(self, found: Gathering, today: date, bounds: Bounds) -> None:
        super().__init__(found, today, bounds)
        self.known: dict[tuple, tuple[Fate | None, int, dict[str, str]]] = {}
        self.tags: dict[str, int] = {}
        self.read_one = self._ages if found.form is AGES else self._tree
        tag = found.mapping.get("tag", "")
        # what a row says apart from its tag, so that equal lives are worked out once
        self.said = [theirs for theirs in found.mapping.values() if theirs != tag]
        found.watch_is_told = bool({"entry", "first_seen"} & set(found.mapping))

    def finish(self) -> None:
        """Every row stands alone, so nothing is left to do."""

    def take(self, row: Row) -> None:
        key = tuple(row.cells[theirs] for theirs in self.said)
        told = self.known.get(key)
        if told is None:
            told = self.read_one(self.cells(row))
            if len(self.known) >= REMEMBERED:
                self.known.clear()
            self.known[key] = told
        fate, count, wrong = told
        if tag := row.cells.get(self.theirs("tag"), ""):
            first = self.tags.setdefault(tag, row.line)
            if first != row.line:
                wrong = wrong | {
                    "tag": _("“%(name)s” stands in line %(line)d already. One row for each tree.")
                    % {"name": short(tag), "line": first}
                }
        if wrong:
            self.found.note(
                [Problem(row.line, self.theirs(ours), said) for ours, said in wrong.items()]
            )
            self.found.bad_trees += count
            return
        self.group(self.group_name(row)).add(fate, count)

    def _ages(self, cells: Mapping[str, str]) -> tuple[Fate | None, int, dict[str, str]]:
        values, wrong = self.values(
            cells,
            {
                "entry": lambda text: age_of(text) if text else None,
                "left": self._left,
                "right": end_of,
                "count": count_of,
            },
        )
        if wrong:
            return None, 1, wrong
        entry = -math.inf if values["entry"] is None else values["entry"]
        left, right = values["left"], values["right"]
        if left > right:
            wrong["right"] = _("The end came before it was last alive: look at both ages.")
        elif entry >= right or entry > left:
            wrong["entry"] = _(
                "It came under watch after it was last alive. Only what was alive then counts."
            )
        return Fate(entry, left, right), values["count"] or 1, wrong

    def _left(self, text: str) -> float:
        if not text:
            raise BadCell(_("The last age alive is empty. Write 0 if it is not known."))
        return age_of(text)

    def _tree(self, cells: Mapping[str, str]) -> tuple[Fate | None, int, dict[str, str]]:
        values, wrong = self.values(
            cells,
            {
                "planted": self.planted,
                "first_seen": self.when,
                "last_alive": self.when,
                "first_dead": self.when,
                "outcome": lambda text: word_of(text, OUTCOMES) if text else "",
            },
        )
        if wrong:
            return None, 1, wrong
        try:
            fate = fate_of_row(
                planted=values["planted"],
                first_seen=values["first_seen"],
                last_alive=values["last_alive"],
                first_dead=values["first_dead"],
                outcome=values["outcome"] or "",
            )
        except Impossible as trouble:
            column = trouble.column if self.theirs(trouble.column) else "planted"
            return None, 1, {column: str(trouble)}
        return fate, 1, {}


@dataclass(slots=True)
class _Tree:
    """What the rows of one tree have said so far."""

    line: int
    group: str = ""
    planted: object = None
    registered: object = None
    looks: list[Look] = field(default_factory=list)
    never_planted: bool = False
    is_bad: bool = False


class _Looks(_Reader):
    """A table in which one row is one look, and a tree has many."""

    def __init__(self, found: Gathering, today: date, bounds: Bounds) -> None:
        super().__init__(found, today, bounds)
        self.trees: dict[str, _Tree] = {}
        self.dates: dict[str, object] = {}
        found.watch_is_told = "registered" in found.mapping

    def take(self, row: Row) -> None:
        cells = self.cells(row)
        name = cells["tree"]
        if not name:
            self.refuse(row.line, {"tree": _("Which tree? Its tag or number is empty.")})
            return
        tree = self.trees.setdefault(name, _Tree(row.line))
        values, wrong = self.values(
            cells,
            {
                "planted": self.when,
                "registered": self.when,
                "day": self._day,
                "seen": lambda text: word_of(text, SEEN),
            },
        )
        for ours in ("planted", "registered"):
            before, now = getattr(tree, ours), values.get(ours)
            if now is not None and before is not None and now != before:
                wrong[ours] = _("Another day than in line %d, for the same tree.") % tree.line
            elif now is not None:
                setattr(tree, ours, now)
        group = self.group_name(row)
        if group and tree.group and group != tree.group:
            wrong[""] = _("The tree is in another group in line %(line)d: “%(name)s”.") % {
                "line": tree.line,
                "name": short(tree.group),
            }
        tree.group = tree.group or group
        if wrong:
            self.refuse(row.line, wrong)
            tree.is_bad = True
            return
        if values["seen"] == NEVER_PLANTED:
            tree.never_planted = True
        else:
            tree.looks.append(Look(values["day"], values["seen"], row.line))

    def _day(self, text: str):
        if not text:
            raise BadCell(_("The day of the look is empty."))
        return when_of(text, today=self.today)

    def refuse(self, line: int, wrong: dict[str, str]) -> None:
        self.found.note(
            [
                Problem(line, self.theirs(ours) or self.found.by, said)
                for ours, said in wrong.items()
            ]
        )

    def finish(self) -> None:
        for tree in self.trees.values():
            if not tree.is_bad and tree.planted is None:
                self.refuse(
                    tree.line, {"planted": _("The day of planting is in no row of this tree.")}
                )
                tree.is_bad = True
            if tree.is_bad:
                self.found.bad_trees += 1
                continue
            try:
                fate = fate_of_looks(
                    planted=tree.planted,
                    registered=tree.registered,
                    looks=tree.looks,
                    never_planted=tree.never_planted,
                )
            except Impossible as trouble:
                self.refuse(trouble.line or tree.line, {trouble.column: str(trouble)})
                self.found.bad_trees += 1
                continue
            self.group(tree.group).add(fate)
