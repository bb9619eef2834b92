"""The outlook of every site, planting and species by month, and whether a site turned down.

Of 100 trees like these, how many should still stand two summers on. The months are worked out from
all evidence; whether a site changed is judged by its rounds alone (see `rounds`).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

import numpy as np
from django.db import transaction
from django.utils import timezone

from survey.condition.evidence import Loaded, first_day, load
from survey.condition.learning import groups_of, numbered_as
from survey.condition.models import Learning, Outlook, Turn
from survey.condition.rounds import rounds_of, seasons_of
from survey.science.condition.chain import Posterior, posterior
from survey.science.condition.laws import USUAL
from survey.science.condition.outlook import WEIGHTS, outlook
from survey.science.condition.records import Evidence
from survey.science.records import Floats, Whole
from survey.science.trend.rounds import Rounds, Usual
from survey.science.trend.turns import Turn as Found
from survey.science.trend.turns import turn_of_rounds
from survey.trees.models import Area, Planting, Site, Tree
from survey.trees.species import kind_of

A_YEAR = 12
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
class Rolled:
    """A place as worked out; no row when it has no trees. `turned` only of a site."""

    area: Area
    by: str
    key: str
    row: Outlook | None
    learnt: bool
    site: Site | None = None
    turned: Turn | None = None
    begun: datetime | None = None


def months_of(row: Outlook) -> list[Month]:
    return [Month(*month) for month in row.months]


def rounds_kept(row: Outlook) -> list[Round]:
    return [Round(*one) for one in row.rounds]


def work_out(name: str) -> Rolled | None:
    """Everything slow about one place's outlook, outside any transaction."""
    area_id, by, key = name.split("|", 2)
    area = Area.objects.filter(pk=int(area_id)).first()
    if area is None:
        return None
    begun = timezone.now()
    learning = Learning.objects.newest_of(area)
    trees = list(_trees(area, by, key).values_list("pk", flat=True))
    place = _place(area, by, key)
    if learning is None or not trees or place is None:
        return Rolled(area, by, key if place is None else place.key, None, learning is not None)
    loaded = load(area, trees)
    found = posterior(loaded.evidence, numbered_as(learning, loaded), USUAL)
    rounds = rounds_of(loaded)
    row = _row(area, by, place, loaded.evidence, found, rounds, learning.number)
    row.computed_at = begun
    turned = None
    if by == Outlook.By.SITE:
        stands = Turn.objects.standing().filter(site=place.site).exists()
        turned = _turned(loaded, found, rounds, learning, stands)
    return Rolled(area, by, place.key, row, True, place.site, turned, begun)


@transaction.atomic
def keep(rolled: Rolled | None) -> None:
    """Put a place's outlook in place of the one before, and open or close its site's turn."""
    if rolled is None or not rolled.learnt:
        return  # learning comes first, and asks for every outlook
    known = Outlook.objects.filter(area=rolled.area, by=rolled.by, key=rolled.key)
    if rolled.row is None:
        known.delete()
        return
    if known.filter(computed_at__gt=rolled.begun).exists():
        return
    known.delete()
    rolled.row.save(force_insert=True)
    if rolled.site is not None:
        _keep_turn(rolled.site, rolled.turned, rolled.area.today())


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


class _Place(NamedTuple):
    key: str
    label: str
    site: Site | None = None


def _trees(area: Area, by: str, key: str):
    word = {"site": "site_id", "planting": "planting_id", "species": "species"}[by]
    return Tree.objects.filter(area=area, **{word: key})


def _place(area: Area, by: str, key: str) -> _Place | None:
    if by == Outlook.By.SPECIES:
        return _Place(key, kind_of(area, key).name)
    if by == Outlook.By.SITE:
        site = Site.objects.filter(area=area, pk=int(key)).first()
        return site and _Place(site.ref, site.name, site)
    planting = Planting.objects.filter(area=area, pk=int(key)).first()
    return planting and _Place(planting.ref, planting.name)


def _row(
    area: Area,
    by: str,
    place: _Place,
    evidence: Evidence,
    found: Posterior,
    rounds: Rounds,
    number: int,
) -> Outlook:
    told = outlook(evidence, found, np.zeros(evidence.trees.number, dtype=np.int64), 1)
    looks, walked = _looks_by_month(evidence, told.first, told.outlook.shape[1])
    months = [
        Month(
            day=first_day(told.first + at).isoformat(),
            outlook=_point(told.outlook[0, at]),
            low=_point(told.low[0, at]),
            high=_point(told.high[0, at]),
            standing=round(float(told.standing[0, at])),
            trees=int(told.trees[0, at]),
            looks=int(looks[at]),
            surveyed=bool(
                walked[max(0, at - A_YEAR + 1) : at + 1].sum() >= WALKED_ENOUGH * told.trees[0, at]
            ),
            shares=[round(float(share), 4) for share in told.shares[0, at]],
        )
        for at in range(told.outlook.shape[1])
    ]
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
        looks_in_year=int(looks[-A_YEAR:].sum()),
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


def _looks_by_month(evidence: Evidence, first: int, months: int) -> tuple[Whole, Whole]:
    """How many looks fell in each month, and how many of them nobody's worry had caused."""
    at = evidence.looks.month - first
    every = np.bincount(at, minlength=months)
    return every, np.bincount(at[~evidence.looks.complaint], minlength=months)


def _turned(
    loaded: Loaded,
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
        driven_by=_drivers(loaded, found, turn),
        found_on=loaded.area.today(),
    )


def _drivers(loaded: Loaded, found: Posterior, turn: Found) -> list[dict]:
    """The trees whose own outlook fell most since the round before the turn."""
    trees, offsets = loaded.evidence.trees, found.offsets
    worth: Floats = found.smoothed @ np.array(WEIGHTS)
    then = np.clip(turn.before, trees.first, trees.last) - trees.first + offsets[:-1]
    before, after = worth[then], worth[offsets[1:] - 1]
    names = dict(Tree.objects.filter(pk__in=loaded.tree_ids).values_list("pk", "ref"))
    fell = [
        place
        for place in np.argsort(after - before, kind="stable")
        if before[place] - after[place] >= DRIVES
    ]
    return [
        {
            "tree": names[loaded.tree_ids[place]],
            "before": round(float(before[place])),
            "after": round(float(after[place])),
        }
        for place in fell[:DRIVERS]
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
