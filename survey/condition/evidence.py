"""Reads what the condition model needs: every look, care, removal and overruling of some trees.

What a thing on record means to the model is settled here and nowhere else:

* A tree's story begins with its registration, or with the first look at it if that is earlier.
* A look counts by who looked and what they were on that day; an account that was trained in
  between counts as two observers. A note without a name is a new neighbor each time.
* "Sprouting from below" is a living tree that is failing, whatever its top is.
* A crew's "gone", a removal written down and a dead tree taken out by order are logged removals.
* "Died" as the reason for leaving, with no removal on record, is certain: somebody answers for it.
* Looks that could not see the tree, and looks from before it was planted, say nothing.
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, fields
from datetime import date
from functools import cached_property
from itertools import islice

import numpy as np
from django.db.models import Case, Count, F, IntegerField, Q, QuerySet, Value, When

from survey.condition.models import STATES, Overruling
from survey.science.condition.gather import joined
from survey.science.condition.records import (
    DEAD,
    FAILING,
    GONE,
    LEAF,
    NOT_SAID,
    SCRATCH,
    Evidence,
    Looks,
    Trees,
    Truths,
    no_pairs,
)
from survey.science.records import Whole
from survey.trees.models import Area, CareGiven, Look, LookSign, Tree
from survey.trees.species import kinds_in

ENDS = ("remove_dead_tree", "replace")
"""Care that ends a tree: given, it is a removal on record."""

UNSIGNED = "neighbor:unsigned"
AUTHORITY = 0
"""The observer code of overrulings and of departures written down as certain."""

WALKS = (Look.Channel.WALK, Look.Channel.REGISTRATION, Look.Channel.ACCEPTANCE)
"""Channels by which a whole place is looked at; others go to trees for how they are or whose."""

RESIDENT, VOLUNTEER, STAFF = range(3)
IN_ONE_QUESTION = 500
AT_ONCE = 10_000


@dataclass(frozen=True, eq=False)
class Loaded:
    """An area's evidence, and what its numbers stand for.

    `trees`, `sites` and `plantings` are primary keys in the order of `evidence`, and
    `species` the trees' species. `observers` are
    codes: four times the observer's primary key plus the kind; AUTHORITY; or, for a note without a
    name, the look's primary key, negative. `looks` are the primary keys of the looks read (an
    overruling's or departure's is 0), and `went` the row of `evidence.looks` each went into;
    `walked` says of each such row whether it was made on a walk, whatever state the tree was in.
    """

    area: Area
    evidence: Evidence
    trees: Whole
    species: list[str]
    sites: Whole
    plantings: Whole
    observers: Whole
    looks: Whole
    went: Whole
    walked: Truths

    @property
    def tree_ids(self) -> list[int]:
        return [int(pk) for pk in self.trees]

    @cached_property
    def look_ids(self) -> list[tuple[int, ...]]:
        """For each look of the evidence, the looks on record that it joins."""
        found: list[list[int]] = [[] for _ in range(self.evidence.looks.number)]
        for pk, row in zip(self.looks, self.went, strict=True):
            found[row].append(int(pk))
        return [tuple(pks) for pks in found]

    @property
    def observer_ids(self) -> list[int]:
        """The primary key of each observer; 0 where none has one."""
        return [int(code) // 4 if code > 0 else 0 for code in self.observers]


def month_of(day: date) -> int:
    """A day's month as the model counts: year times 12 plus month minus 1."""
    return day.year * 12 + day.month - 1


def first_day(month: int) -> date:
    return date(int(month) // 12, int(month) % 12 + 1, 1)


def load(area: Area, tree_ids: Collection[int] | None = None) -> Loaded:
    """The evidence of an area's trees, or of some of them, in a handful of questions."""
    register = _register(area, tree_ids)
    seen = _seen(area, tree_ids, register)
    removed = _removals(area, tree_ids, register, seen)
    certain = _certain(area, tree_ids, register, removed)
    said = _together(_without_logs(seen), certain)
    bare = bare_months(area, register.species)
    codes, observer = np.unique(said.code, return_inverse=True)
    heard, went = joined(
        Looks(
            tree=said.tree,
            month=said.month,
            observer=observer.astype(np.int64),
            label=said.label,
            scratch=said.scratch,
            leaf=said.leaf,
            signs=said.signs,
            leaf_off=bare[said.tree, said.month % 12],
            complaint=said.complaint,
            sure=said.code == AUTHORITY,
        )
    )
    sites, site = np.unique(register.site, return_inverse=True)
    plantings, cohort = np.unique(register.planting, return_inverse=True)
    evidence = Evidence(
        trees=Trees(
            planted=register.planted,
            first=register.first,
            last=register.last,
            site=site.astype(np.int64),
            cohort=cohort.astype(np.int64),
        ),
        looks=heard,
        observers=np.where(codes > 0, codes % 4, np.where(codes < 0, RESIDENT, STAFF)),
        care=_pairs(register, _care(area, tree_ids)),
        removals=removed,
        sites=len(sites),
        cohorts=len(plantings),
        south=area.hemisphere == Area.Hemisphere.SOUTH,
    )
    walked = np.zeros(heard.number, dtype=bool)
    walked[went[said.walked]] = True
    return Loaded(
        area,
        evidence,
        register.pk,
        register.species,
        sites,
        plantings,
        codes,
        said.pk,
        went,
        walked,
    )


@dataclass(slots=True)
class _Register:
    """The trees as columns, in order of primary key. `first` moves back to the first look."""

    pk: Whole
    site: Whole
    planting: Whole
    species: list[str]
    since: Whole  # the earliest month of planting
    planted: Whole
    first: Whole
    last: Whole
    left: list[tuple[str, date | None]]

    def places(self, pks: Whole) -> Whole:
        """Where each of these primary keys stands; -1 where it does not."""
        if not len(self.pk):
            return np.full(len(pks), -1, dtype=np.int64)
        found = np.searchsorted(self.pk, pks).clip(max=len(self.pk) - 1)
        return np.where(self.pk[found] == pks, found, -1)


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """Looks as read: `tree` is a place in the register, `crew` marks a crew's "gone",
    `walked` a look at a tree that nobody had chosen for how it was."""

    pk: Whole
    tree: Whole
    month: Whole
    code: Whole
    label: Whole
    scratch: Whole
    leaf: Whole
    signs: Whole
    complaint: Truths
    crew: Truths
    walked: Truths


def _register(area: Area, tree_ids: Collection[int] | None) -> _Register:
    words = ("pk", "site_id", "planting_id", "species", "planted_from", "planted_to")
    words += ("registered_on", "left", "left_to")
    rows = list(_rows(Tree.objects.filter(area=area), "pk", tree_ids, *words))
    rows.sort()
    today = month_of(area.today())
    first = _whole(min(month_of(row[6]), today) for row in rows)
    middle = _whole((month_of(row[4]) + month_of(row[5])) // 2 for row in rows)
    return _Register(
        pk=_whole(row[0] for row in rows),
        site=_whole(row[1] for row in rows),
        planting=_whole(row[2] for row in rows),
        species=[row[3] for row in rows],
        since=_whole(month_of(row[4]) for row in rows),
        planted=np.minimum(middle, first),
        first=first,
        last=np.full(len(rows), today, dtype=np.int64),
        left=[(row[7], row[8]) for row in rows],
    )


def _seen(area: Area, tree_ids: Collection[int] | None, register: _Register) -> _Seen:
    """Every look that says something, in order of time; the register's stories begin by them."""
    looks = (
        Look.objects.standing_record()
        .filter(tree__area=area)
        .exclude(presence__in=[Look.Presence.NOT_SEEN, Look.Presence.NEVER_PLANTED])
    )
    words = ("pk", "tree_id", _month(), _observer(), _label())
    words += (_place("scratch", SCRATCH), _place("leaf", LEAF))
    words += (_is(channel=Look.Channel.COMPLAINT), _is(channel=Look.Channel.CREW))
    words += (_is(channel__in=WALKS),)
    rows = _rows(looks.order_by("day", "pk"), "tree_id", tree_ids, *words)
    columns = _table(rows, len(words)).T
    pk, tree, month, code, label, scratch, leaf, complaint, crew, walked = columns
    seen = _Seen(
        pk=pk,
        tree=register.places(tree),
        month=month,
        code=np.where(code == AUTHORITY, -pk, code),
        label=label,
        scratch=scratch,
        leaf=leaf,
        signs=_signs(area, tree_ids, pk),
        complaint=complaint.astype(bool),
        crew=(crew == 1) & (label == GONE),
        walked=walked.astype(bool),
    )
    counts = (seen.tree >= 0) & (month <= month_of(area.today()))
    counts[counts] &= month[counts] >= register.since[seen.tree[counts]]
    seen = _only(seen, counts)
    np.minimum.at(register.first, seen.tree, seen.month)
    register.planted = np.minimum(register.planted, register.first)
    return seen


def _signs(area: Area, tree_ids: Collection[int] | None, looks: Whole) -> Whole:
    """How many signs each of these looks lists; `looks` are primary keys in any order."""
    counted = LookSign.objects.filter(look__tree__area=area).order_by().values("look_id")
    rows = _rows(counted.annotate(many=Count("pk")), "look__tree_id", tree_ids, "look_id", "many")
    pairs = _table(rows, 2)
    order = np.argsort(looks)
    signs = np.zeros(len(looks), dtype=np.int64)
    if len(looks) and len(pairs):
        found = np.searchsorted(looks[order], pairs[:, 0]).clip(max=len(looks) - 1)
        known = looks[order][found] == pairs[:, 0]
        signs[order[found[known]]] = pairs[known, 1]
    return signs


def _removals(
    area: Area, tree_ids: Collection[int] | None, register: _Register, seen: _Seen
) -> Whole:
    """Every month in which somebody wrote down that a tree was taken away."""
    ended = CareGiven.objects.filter(tree__area=area, care__in=ENDS)
    by_order = _rows(ended, "tree_id", tree_ids, "tree_id", "given_to")
    written = [
        (register.pk[place], day)
        for place, (left, day) in enumerate(register.left)
        if left in (Tree.Left.REMOVED_HEALTH, Tree.Left.REMOVED_OTHER)
    ]
    by_crew = np.column_stack([seen.tree[seen.crew], seen.month[seen.crew]])
    return np.unique(
        np.concatenate([by_crew, _pairs(register, by_order), _pairs(register, written)]), axis=0
    )


def _certain(
    area: Area, tree_ids: Collection[int] | None, register: _Register, removed: Whole
) -> _Seen:
    """Overrulings, and departures as dead of trees of which no removal is on record."""
    standing = Overruling.objects.standing().filter(tree__area=area)
    told = [
        (tree, day, STATES.index(state))
        for tree, day, state in _rows(standing, "tree_id", tree_ids, "tree_id", "day", "state")
    ]
    taken_away = set(removed[:, 0].tolist())
    told += [
        (register.pk[place], day, DEAD)
        for place, (left, day) in enumerate(register.left)
        if left == Tree.Left.DIED and place not in taken_away
    ]
    rows = [
        (tree, month, label)
        for (tree, month), (_, _, label) in zip(
            _pairs(register, [(tree, day) for tree, day, _ in told]), told, strict=True
        )
    ]
    columns = np.array(sorted(rows), dtype=np.int64).reshape(-1, 3).T
    nothing = np.zeros(len(rows), dtype=np.int64)
    no = nothing.astype(bool)
    return _Seen(
        pk=nothing,
        tree=columns[0],
        month=columns[1],
        code=nothing + AUTHORITY,
        label=columns[2],
        scratch=nothing,
        leaf=nothing,
        signs=nothing + NOT_SAID,
        complaint=no,
        crew=no,
        walked=no,
    )


def _care(area: Area, tree_ids: Collection[int] | None) -> Iterator[tuple[int, date]]:
    given = CareGiven.objects.filter(tree__area=area).exclude(care__in=ENDS)
    return _rows(given, "tree_id", tree_ids, "tree_id", "given_to")


def _pairs(register: _Register, dated: Iterable[tuple[int, date]]) -> Whole:
    """Tree and month of each dated thing, within the months of the tree's story."""
    rows = [(tree, month_of(day)) for tree, day in dated]
    if not rows:
        return no_pairs()
    pairs = np.array(rows, dtype=np.int64)
    pairs[:, 0] = register.places(pairs[:, 0])
    place = pairs[:, 0]
    pairs[:, 1] = pairs[:, 1].clip(register.first[place], register.last[place])
    return pairs


def bare_months(area: Area, species: list[str]) -> Truths:
    """For each tree and month of the year, from January, whether its species may stand bare."""
    kinds = kinds_in(area)
    table = {
        code: [kind.is_leaf_off(month) for month in range(1, 13)] for code, kind in kinds.items()
    }
    rows = [table.get(code, [False] * 12) for code in species]
    return np.array(rows, dtype=bool).reshape(-1, 12)


def _month() -> F:
    return F("day__year") * 12 + F("day__month") - 1


def _observer() -> Case:
    """Four times the observer's number plus what the observer was; 0 for a note without a name."""
    staff = Q(trained=True, observer__kind__in=["staff", "crew"])
    return Case(
        When(observer__key=UNSIGNED, then=Value(AUTHORITY)),
        When(staff, then=F("observer_id") * 4 + STAFF),
        When(trained=True, then=F("observer_id") * 4 + VOLUNTEER),
        default=F("observer_id") * 4 + RESIDENT,
        output_field=IntegerField(),
    )


def _label() -> Case:
    sprouting = Q(presence=Look.Presence.SPROUTING, condition__in=["", "dead"])
    return Case(
        When(presence__in=[Look.Presence.STUMP, Look.Presence.GONE], then=Value(GONE)),
        When(sprouting, then=Value(FAILING)),
        *(
            When(Q(condition=state), then=Value(place))
            for place, state in enumerate(STATES)
            if state != "gone"
        ),
        default=Value(NOT_SAID),
        output_field=IntegerField(),
    )


def _place(field: str, words: Iterable[str]) -> Case:
    return Case(
        *(When(Q(**{field: word}), then=Value(place)) for place, word in enumerate(words)),
        default=Value(0),
        output_field=IntegerField(),
    )


def _is(**what) -> Case:
    return Case(When(**what, then=Value(1)), default=Value(0), output_field=IntegerField())


def _rows(found: QuerySet, tree: str, tree_ids: Collection[int] | None, *words) -> Iterator:
    """The rows of some trees, or of all; some hundreds of trees in one question."""
    if tree_ids is None:
        yield from found.values_list(*words).iterator(chunk_size=AT_ONCE)
        return
    wanted = sorted(tree_ids)
    for begin in range(0, len(wanted), IN_ONE_QUESTION):
        chunk = wanted[begin : begin + IN_ONE_QUESTION]
        yield from found.filter(**{f"{tree}__in": chunk}).values_list(*words)


def _table(rows: Iterator[tuple[int, ...]], width: int) -> Whole:
    """Rows of whole numbers as one table, never held as Python rows all at once."""
    parts = [np.zeros((0, width), dtype=np.int64)]
    while chunk := list(islice(rows, AT_ONCE)):
        parts.append(np.array(chunk, dtype=np.int64))
    return np.concatenate(parts)


def _whole(values: Iterable[int]) -> Whole:
    return np.fromiter(values, dtype=np.int64)


def _only(seen: _Seen, which: Truths) -> _Seen:
    return _Seen(*(getattr(seen, field.name)[which] for field in fields(_Seen)))


def _without_logs(seen: _Seen) -> _Seen:
    """The looks that judge a tree: a crew's "gone" is the log of a removal instead."""
    return _only(seen, ~seen.crew)


def _together(one: _Seen, other: _Seen) -> _Seen:
    return _Seen(
        *(
            np.concatenate([getattr(one, field.name), getattr(other, field.name)])
            for field in fields(_Seen)
        )
    )
