"""The outlook of every site, planting and species by month, and whether a site turned down.

Of 100 trees like these, how many should still stand two summers on. The months are worked out from
all evidence; whether a site changed is judged by its rounds alone (see `rounds`).
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import NamedTuple

import numpy as np
from django.db import transaction
from django.utils import timezone

from survey.condition.evidence import Loaded, first_day, load
from survey.condition.learning import WORDS, groups_of, heaps_of, numbered_as
from survey.condition.models import Learning, Outlook, Turn
from survey.condition.rounds import rounds_by, seasons_of
from survey.science.condition.chain import Posterior, posterior
from survey.science.condition.laws import USUAL
from survey.science.condition.outlook import WEIGHTS, outlook
from survey.science.condition.outlook import Outlook as Told
from survey.science.condition.records import Evidence, Truths
from survey.science.records import Floats, Whole
from survey.science.trend.rounds import Rounds, Usual
from survey.science.trend.turns import Turn as Found
from survey.science.trend.turns import turn_of_rounds
from survey.trees.models import Area, Planting, Site, Tree
from survey.trees.species import kind_of

A_YEAR = 12
FEW = 20  # so many places are worked out one by one; more are read in heaps
WALKED_ENOUGH = 0.5
"""Looks a tree within a year, not made because somebody worried, that make a place comparable."""

DRIVES = 10.0
DRIVERS = 12
"""A tree drives a turn when its own outlook fell by so much; so many are named, most first."""

FURTHER = 5.0
"""Points of outlook by which a site must fall below a turn that was put aside to be news again."""


class Month(NamedTuple):
    """One month of a place, as stored: the shares are of the mean tree, in the order of STATES."""

    day: str
    outlook: float
    low: float
    high: float
    standing: int
    trees: int
    looks: int
    surveyed: bool
    shares: list[float]

    @property
    def first_day(self) -> date:
        return date.fromisoformat(self.day)


class Round(NamedTuple):
    """One walk of a place, by its labels alone: mean outlook of the same trees, and its error."""

    day: str
    outlook: float
    error: float
    trees: int
    looks: int

    @property
    def first_day(self) -> date:
        return date.fromisoformat(self.day)


@dataclass(frozen=True, slots=True)
class Place:
    """One place as worked out; no row when it has no trees. `turned` only of a site."""

    key: str
    label: str
    site: Site | None = None
    row: Outlook | None = None
    turned: Turn | None = None


@dataclass(frozen=True, slots=True)
class Rolled:
    """Places of one kind that were read together; none before anything was learnt."""

    area: Area
    by: str
    places: tuple[Place, ...]
    learnt: bool
    begun: datetime


def months_of(row: Outlook) -> list[Month]:
    return [Month(*month) for month in row.months]


def rounds_kept(row: Outlook) -> list[Round]:
    return [Round(*one) for one in row.rounds]


def work_out(name: str) -> Rolled | None:
    """Everything slow about the outlook of one place, or of a heap of them, outside a transaction.

    Names are as `learning.groups_of` and `heaps_of` give them. None when the area is gone.
    """
    area_id, by, keys = name.split("|", 2)
    area = Area.objects.filter(pk=int(area_id)).first()
    if area is None:
        return None
    begun = timezone.now()
    learning = Learning.objects.newest_of(area)
    places = _places(area, by, keys)
    if learning is None or not places:
        return Rolled(area, by, (), learning is not None, begun)
    rolled = tuple(_worked(area, by, places, learning, begun))
    return Rolled(area, by, rolled, True, begun)


@transaction.atomic
def keep(rolled: Rolled | None) -> None:
    """Put outlooks in place of those before, and open or close the turns of sites.

    One that somebody began to work out later stays.
    """
    if rolled is None or not rolled.learnt:
        return  # learning comes first, and asks for every outlook
    known = Outlook.objects.filter(
        area=rolled.area, by=rolled.by, key__in=[place.key for place in rolled.places]
    )
    newer = set(known.filter(computed_at__gt=rolled.begun).values_list("key", flat=True))
    places = [place for place in rolled.places if place.key not in newer]
    known.filter(key__in=[place.key for place in places]).delete()
    Outlook.objects.bulk_create([place.row for place in places if place.row is not None])
    for place in places:
        if place.site is not None and place.row is not None:
            _keep_turn(place.site, place.turned, rolled.area.today())


def behind(area: Area) -> Iterator[str]:
    """Names of the places whose outlook is missing, of another month, or of another learning."""
    newest = Learning.objects.newest_of(area)
    if newest is None:
        return
    month = area.today().replace(day=1)
    fresh = {
        (by, key)
        for by, key in Outlook.objects.filter(
            area=area, month=month, learning=newest.number
        ).values_list("by", "key")
    }
    refs = {
        "site": {
            str(pk): ref for pk, ref in Site.objects.filter(area=area).values_list("pk", "ref")
        },
        "planting": {
            str(pk): ref for pk, ref in Planting.objects.filter(area=area).values_list("pk", "ref")
        },
    }
    for name in groups_of(area):
        _, by, key = name.split("|", 2)
        if (by, refs[by][key] if by in refs else key) not in fresh:
            yield name


def wishes(area: Area) -> Iterator[tuple[str, str]]:
    """The chores that would work those out again: one by one, or all of the area in heaps."""
    names = list(behind(area))
    yield from (
        ("roll_up_outlook", name) for name in (names if len(names) <= FEW else heaps_of(area))
    )


def _places(area: Area, by: str, keys: str) -> dict[str, Place]:
    """The places a name stands for, by what tells their trees: a number, or a species' code."""
    if by == Outlook.By.SPECIES:
        return {keys: Place(keys, kind_of(area, keys).name)}
    first, last = map(int, keys.split("..")) if ".." in keys else (int(keys), int(keys))
    model = Site if by == Outlook.By.SITE else Planting
    found = model.objects.filter(area=area, pk__range=(first, last)).order_by("pk")
    return {
        str(one.pk): Place(one.ref, one.name, one if by == Outlook.By.SITE else None)
        for one in found
    }


def _worked(
    area: Area, by: str, places: dict[str, Place], learning: Learning, begun: datetime
) -> Iterator[Place]:
    word = WORDS[by]
    trees = Tree.objects.filter(area=area, **{f"{word}__in": list(places)})
    of_tree = {pk: str(key) for pk, key in trees.values_list("pk", word)}
    number = {key: at for at, key in enumerate(places)}
    loaded = load(area, list(of_tree))
    where = np.array([number[of_tree[pk]] for pk in loaded.tree_ids], dtype=np.int64)
    found = posterior(loaded.evidence, numbered_as(learning, loaded), USUAL)
    told = outlook(loaded.evidence, found, where, len(places))
    looks, walked = _looks_by_month(loaded.evidence, told, where)
    stands = set(Turn.objects.standing().filter(site__area=area).values_list("site_id", flat=True))
    for at, (place, rounds) in enumerate(
        zip(places.values(), rounds_by(loaded, where, len(places)), strict=True)
    ):
        months = _months(told, at, looks, walked)
        if not months:
            yield place
            continue
        row = _row(area, by, place, months, rounds, learning.number)
        row.computed_at = begun
        turned = None
        if place.site is not None:
            turned = _turned(loaded, where == at, found, rounds, learning, place.site.pk in stands)
        yield replace(place, row=row, turned=turned)


def _months(told: Told, at: int, looks: Whole, walked: Whole) -> list[Month]:
    """The months of one place since its first tree came on the list."""
    return [
        Month(
            day=first_day(told.first + n).isoformat(),
            outlook=_point(told.outlook[at, n]),
            low=_point(told.low[at, n]),
            high=_point(told.high[at, n]),
            standing=round(float(told.standing[at, n])),
            trees=int(told.trees[at, n]),
            looks=int(looks[at, n]),
            surveyed=bool(
                walked[at, max(0, n - A_YEAR + 1) : n + 1].sum()
                >= WALKED_ENOUGH * told.trees[at, n]
            ),
            shares=[round(float(share), 4) for share in told.shares[at, n]],
        )
        for n in np.flatnonzero(told.trees[at])
    ]


def _row(
    area: Area, by: str, place: Place, months: list[Month], rounds: Rounds, number: int
) -> Outlook:
    now = months[-1]
    return Outlook(
        area=area,
        by=by,
        key=place.key,
        label=place.label[:120],
        month=now.first_day,
        outlook=now.outlook,
        low=now.low,
        high=now.high,
        trees=now.trees,
        standing=now.standing,
        looks_in_year=sum(month.looks for month in months[-A_YEAR:]),
        surveyed=now.surveyed,
        months=[list(month) for month in months],
        rounds=[
            list(
                Round(
                    first_day(month).isoformat(),
                    _point(estimate),
                    round(float(error), 2),
                    int(trees),
                    int(many),
                )
            )
            for month, estimate, error, trees, many in zip(
                rounds.months,
                rounds.estimates,
                rounds.errors,
                rounds.trees,
                rounds.looks,
                strict=True,
            )
        ],
        learning=number,
    )


def _point(value: float) -> float:
    return round(min(100.0, max(0.0, float(value))), 2)


def _looks_by_month(evidence: Evidence, told: Told, where: Whole) -> tuple[Whole, Whole]:
    """By place and month how many looks there were, and how many no worry had caused."""
    shape = told.trees.shape
    cell = where[evidence.looks.tree] * shape[1] + evidence.looks.month - told.first
    many = shape[0] * shape[1]
    calm = np.bincount(cell[~evidence.looks.complaint], minlength=many)
    return np.bincount(cell, minlength=many).reshape(shape), calm.reshape(shape)


def _turned(
    loaded: Loaded,
    here: Truths,
    found: Posterior,
    rounds: Rounds,
    learning: Learning,
    stands: bool,
) -> Turn | None:
    """The turn of a site against what is usual in its town, or None; one that stands already
    needs less to stand on. How far down it went is told by the same rounds, and never above what a
    place of thriving trees has."""
    seasons = seasons_of(rounds.months, south=loaded.evidence.south)
    turn = turn_of_rounds(rounds, seasons, Usual(**learning.between_rounds), standing=stands)
    if turn is None:
        return None
    at = int(np.flatnonzero(rounds.months == turn.before)[0])
    before, after = (min(max(WEIGHTS), max(0.0, float(rounds.estimates[n]))) for n in (at, -1))
    return Turn(
        kind=Turn.Kind.STEP if turn.shape == "step" else Turn.Kind.TREND,
        since=first_day(turn.since),
        before=round(before, 1),
        after=round(after, 1),
        p=turn.p,
        rounds=turn.rounds,
        looks=int(rounds.looks.sum()),
        driven_by=_drivers(loaded, here, found, turn),
        found_on=loaded.area.today(),
    )


def _drivers(loaded: Loaded, here: Truths, found: Posterior, turn: Found) -> list[dict]:
    """The trees of a site whose own outlook fell most since the round before the turn."""
    trees, offsets = loaded.evidence.trees, found.offsets
    worth: Floats = found.smoothed @ np.array(WEIGHTS)
    then = np.clip(turn.before, trees.first, trees.last) - trees.first + offsets[:-1]
    before, after = worth[then], worth[offsets[1:] - 1]
    order = np.argsort(after - before, kind="stable")
    fell = [at for at in order if here[at] and before[at] - after[at] >= DRIVES][:DRIVERS]
    pks = [loaded.tree_ids[at] for at in fell]
    names = dict(Tree.objects.filter(pk__in=pks).values_list("pk", "ref"))
    return [
        {"tree": names[pk], "before": round(float(before[at])), "after": round(float(after[at]))}
        for pk, at in zip(pks, fell, strict=True)
    ]


def _keep_turn(site: Site, turned: Turn | None, today: date) -> None:
    """One row stands for one turn: it follows what is found until the site comes round.

    A turn that was put aside stays as it was then; if the site falls much further, a new row says
    so.
    """
    standing = Turn.objects.standing().filter(site=site).first()
    if standing is not None:
        aside = standing.put_aside_at is not None
        if turned is None or (aside and turned.after <= standing.after - FURTHER):
            standing.over_on = today
            standing.save(update_fields=["over_on"])
        elif aside:
            return
        else:
            turned.pk, turned.found_on = standing.pk, standing.found_on
    if turned is not None:
        turned.site = site
        turned.save()
