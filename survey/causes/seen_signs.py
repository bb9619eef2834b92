"""Reads what findings are weighed from: who looked at which tree, and which signs they noted.

What counts is settled here and nowhere else:

* A tree counts by its newest trained look on a walk or at registration within the last year. Such
  a look goes through all signs, so a sign that is not on it was not there to be seen.
* For signs of the crown only looks outside the tree's bare months count.
* Trees that came into the registry because somebody wrote about them, and notes of neighbors, are
  kept apart: people write about what is wrong, so they are no measure of how common it is.
* A sign of base or trunk lasts, and trees are compared whenever they were looked at. A sign of
  crown or soil passes, and trees are compared only with others looked at in the same month.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

import numpy as np

from survey.condition.evidence import bare_months
from survey.handbook.book import book
from survey.science.findings.onsets import NEVER, Watch
from survey.science.findings.records import AXES, UNKNOWN, Seen
from survey.science.records import Floats, Truths, Whole
from survey.trees.measured import WoundMeasure
from survey.trees.models import Acceptance, Area, Look, LookSign, Tree

WALKED = (Look.Channel.WALK, Look.Channel.REGISTRATION)
WATCHED = (*WALKED, Look.Channel.ACCEPTANCE)
STANDING = (Look.Presence.STANDING, Look.Presence.SPROUTING)
WINDOW = timedelta(days=365)
LASTING = ("base", "trunk")
NO_SIDE, STREET, AWAY, ROUND = range(4)
SETTLED_AT_PLANTING = ("bark_wound", "bark_torn")
"""Signs that the look at delivery goes round the base for."""
SIDES = {"street": STREET, "path": AWAY, "building": AWAY, "all_round": ROUND}
HOURS_OF_STREET = 3.0
NO_RECORD, WHOLE, MARKED, HIDDEN = range(4)
"""What an acceptance look said of a tree's base, all four sides together."""


@dataclass(frozen=True, eq=False)
class Register:
    """An area's trees as columns, one row a tree, ordered by primary key."""

    pk: Whole
    site: Whole
    planting: Whole
    supplier: Whole
    species: Whole
    bearing: Floats
    called: Truths
    suppliers: tuple[str, ...]
    kinds: tuple[str, ...]
    accepted: Whole
    bare: Truths


@dataclass(frozen=True, eq=False)
class Noted:
    """An area's trained looks, ordered by tree and day, and the signs on them.

    `tree` is the row of the register. `sign_look`, `sign`, `side` are one row a sign noted.
    """

    trees: Register
    today: date
    pk: Whole
    tree: Whole
    day: Whole
    walked: Truths
    observer: Whole
    sign_look: Whole
    sign: Whole
    side: Whole
    signs: tuple[str, ...]
    hours: dict[int, float]

    @cached_property
    def _month(self) -> Whole:
        known, place = np.unique(self.day, return_inverse=True)
        months = [d.year * 12 + d.month - 1 for d in map(date.fromordinal, known.tolist())]
        return np.array(months, dtype=np.int64)[place]

    def newest(self, sign: str) -> Whole:
        """Rows of the looks by which trees count for this sign: one a tree, called ones too."""
        where = book().signs[sign].where
        counts = self.walked & (self.day >= (self.today - WINDOW).toordinal())
        if where == "crown":
            counts &= ~self.trees.bare[self.tree, self._month % 12]
        rows = np.flatnonzero(counts)
        last = np.append(self.tree[rows][1:] != self.tree[rows][:-1], True)
        return rows[last] if len(rows) else rows

    def on(self, sign: str) -> Truths:
        """For each look, whether it noted the sign."""
        found = np.zeros(len(self.pk), dtype=bool)
        found[self.sign_look[self.sign == self.signs.index(sign)]] = True
        return found

    def side_on(self, sign: str) -> Whole:
        """For each look, the side on which it noted the sign; a measured place goes first."""
        found = np.full(len(self.pk), NO_SIDE)
        mine = self.sign == self.signs.index(sign)
        found[self.sign_look[mine]] = self.side[mine]
        if sign == "bark_wound":
            for row, hour in self.hours.items():
                near = hour <= HOURS_OF_STREET or hour >= 12 - HOURS_OF_STREET
                found[row] = STREET if near else AWAY
        return found

    def seen(self, sign: str, rows: Whole, noted: Truths) -> Seen:
        """Those looks as the search wants them."""
        trees, tree = self.trees, self.tree[rows]
        where = book().signs[sign].where
        came = (
            trees.accepted[tree] if sign in SETTLED_AT_PLANTING else np.full(len(tree), NO_RECORD)
        )
        return Seen(
            has=noted[rows],
            site=trees.site[tree],
            planting=trees.planting[tree],
            supplier=trees.supplier[tree],
            species=trees.species[tree],
            round=np.zeros(len(rows), dtype=np.int64) if where in LASTING else self._month[rows],
            came_whole=came == WHOLE,
            came_marked=came == MARKED,
            axes=("site",) if where == "soil" else AXES,
        )

    def watch(self, noted: Truths, of: Truths) -> tuple[Watch, Whole]:
        """The onsets among some trees (`of`, by row of the register), and their rows.

        Trees that had the sign at the first look have no earlier look without it: left out.
        """
        many, never = len(self.trees.pk), np.iinfo(np.int64).max
        first = np.full(many, never)
        np.minimum.at(first, self.tree[noted], self.day[noted])
        clean = ~noted & (self.day < first[self.tree])
        start, last = np.full(many, never), np.full(many, -1)
        np.minimum.at(start, self.tree[clean], self.day[clean])
        np.maximum.at(last, self.tree[clean], self.day[clean])
        rows = np.flatnonzero(of & (last >= 0))
        seen = np.where(first[rows] == never, NEVER, first[rows])
        return Watch(start[rows], last[rows], seen), rows

    def first_noted(self, noted: Truths) -> Whole:
        """For each tree of the register the day of the first look with the sign, or NEVER."""
        found = np.full(len(self.trees.pk), np.iinfo(np.int64).max)
        np.minimum.at(found, self.tree[noted], self.day[noted])
        return np.where(found == np.iinfo(np.int64).max, NEVER, found)


def read(area: Area) -> Noted:
    """An area's trees, trained looks and signs, in six questions however many there are."""
    trees = _register(area)
    looks = (
        Look.objects.standing_record()
        .trained()
        .filter(tree__area=area, channel__in=WATCHED, presence__in=STANDING)
    )
    table = _columns(
        (
            (pk, tree, day.toordinal(), channel in WALKED, observer)
            for pk, tree, day, channel, observer in looks.values_list(
                "pk", "tree_id", "day", "channel", "observer_id"
            ).iterator(chunk_size=20_000)
        ),
        5,
    )
    table = table[:, np.lexsort((table[0], table[2], table[1]))]
    pk, owner, day, walked, observer = table
    tree = np.searchsorted(trees.pk, owner)
    by_pk = np.argsort(pk)
    known = [code for code in book().signs if code != "something_else"]
    codes = {code: i for i, code in enumerate(known)}
    signs = LookSign.objects.filter(look__in=looks, sign__in=known)
    ticked = _columns(
        (
            (look, codes[sign], SIDES.get(side, NO_SIDE))
            for look, sign, side in signs.values_list("look_id", "sign", "side").iterator(
                chunk_size=20_000
            )
        ),
        3,
    )
    return Noted(
        trees=trees,
        today=area.today(),
        pk=pk,
        tree=tree,
        day=day,
        walked=walked.astype(bool),
        observer=observer,
        sign_look=_rows_of(pk, by_pk, ticked[0]),
        sign=ticked[1],
        side=ticked[2],
        signs=tuple(known),
        hours=_hours(looks, pk, by_pk),
    )


def _columns(rows: Iterable[tuple[int, ...]], wide: int) -> Whole:
    flat = np.fromiter((int(n) for row in rows for n in row), dtype=np.int64)
    return flat.reshape(-1, wide).T


def _rows_of(pk: Whole, by_pk: Whole, wanted: Whole) -> Whole:
    if not len(pk):
        return wanted[:0]
    return by_pk[np.searchsorted(pk, wanted, sorter=by_pk)]


def _hours(looks, pk: Whole, by_pk: Whole) -> dict[int, float]:
    """The middle of the widest measured wound of a look, as an hour from the street, by row."""
    measured = WoundMeasure.objects.filter(
        look__in=looks, from_hour__isnull=False, to_hour__isnull=False
    ).values_list("look_id", "from_hour", "to_hour")
    widest: dict[int, tuple[float, float]] = {}
    for look, start, end in measured:
        wide = (end - start) % 12 or 12.0
        if wide < 12 and wide > widest.get(look, (0.0, 0.0))[0]:
            widest[look] = (wide, (start + wide / 2) % 12)
    if not widest:
        return {}
    rows = _rows_of(pk, by_pk, np.array(list(widest), dtype=np.int64))
    return {int(row): hour for row, (_w, hour) in zip(rows, widest.values(), strict=True)}


def _register(area: Area) -> Register:
    rows = list(
        Tree.objects.filter(area=area)
        .order_by("pk")
        .values_list(
            "pk",
            "site_id",
            "planting_id",
            "planting__supplier",
            "species",
            "street_bearing",
            "registered_because",
        )
    )
    pk, site, planting, supplier, species, bearing, because = (
        zip(*rows, strict=True) if rows else [()] * 7
    )
    suppliers = tuple(sorted({name.strip() for name in supplier} - {""}))
    kinds = tuple(sorted(set(species)))
    place = {name: i for i, name in enumerate(suppliers)}
    kind = {code: i for i, code in enumerate(kinds)}
    keys = np.array(pk, dtype=np.int64)
    return Register(
        pk=keys,
        site=np.array(site, dtype=np.int64),
        planting=np.array(planting, dtype=np.int64),
        supplier=np.array([place.get(n.strip(), UNKNOWN) for n in supplier], dtype=np.int64),
        species=np.array([kind[code] for code in species], dtype=np.int64),
        bearing=np.array([np.nan if b is None else b for b in bearing], dtype=np.float64),
        called=np.array([b == Tree.Because.REPORT for b in because], dtype=bool),
        suppliers=suppliers,
        kinds=kinds,
        accepted=_acceptances(area, keys),
        bare=bare_months(area, list(species)),
    )


def _acceptances(area: Area, trees: Whole) -> Whole:
    found = np.full(len(trees), NO_RECORD)
    looks = Acceptance.objects.filter(look__tree__area=area, look__superseded_by=None)
    for tree, *sides in looks.order_by("look__day", "look_id").values_list(
        "look__tree_id", "base_street", "base_path", "base_left", "base_right"
    ):
        said = WHOLE
        if "marked" in sides:
            said = MARKED
        elif "hidden" in sides:
            said = HIDDEN
        found[np.searchsorted(trees, tree)] = said
    return found
