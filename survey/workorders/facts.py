"""What the record knows of the trees of an order on a day, for their doses and what closes care.

A fixed number of questions for any number of trees. How long a sign counts is an own rule of this
project: bark does not come back, so marks on it count for a year and a half; wet or dry soil is a
thing of days.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import Q

from survey.causes.models import ClueNoted
from survey.condition.models import Belief
from survey.handbook.book import book
from survey.handbook.species import Species
from survey.science.wounds.face import Wound
from survey.science.wounds.girdled import Girdled, girdled_by_eye, girdled_by_stem, whole_tree
from survey.trees.measured import WoundMeasure
from survey.trees.models import Area, Look, LookSign, StemMeasure, Tree, Weather
from survey.trees.species import Kind, kinds_in

SOIL_SIGNS = {"dry_soil", "soggy_soil", "wilting"}
SOIL_CLUES = SOIL_SIGNS | {"probe_goes_in", "limp_in_morning", "heat_wave"}
SOIL_DAYS = timedelta(days=14)
BARK_DAYS = timedelta(days=548)
WEEK = timedelta(days=7)
WEATHER_KEPT = timedelta(days=45)
BETWEEN_VISITS = timedelta(days=28)
MONTH_DAYS = 30.436875


@dataclass(frozen=True, slots=True)
class Sky:
    """The weather on record in the week up to a day: sums and extremes; None where unknown.

    Nothing is forecast: for a day after the newest reading, `day` is that reading's.
    """

    day: date | None = None
    days: int = 0
    rain_m: float | None = None
    eto_m: float | None = None
    rain_two_days_m: float | None = None
    rain_that_day_m: float | None = None
    low_c: float | None = None
    high_c: float | None = None
    mean_three_days_c: float | None = None

    def covers(self, day: date) -> bool:
        """Whether the readings say something of that very day."""
        return self.day == day


@dataclass(frozen=True, slots=True)
class Facts:
    """One tree as its dose needs it. Girths in meters by stem, shares from 0 to 1."""

    tree: Tree
    kind: Kind | None
    species: Species | None
    girths_m: Mapping[int, float] = field(default_factory=dict)
    measured_on: date | None = None
    measured_at_m: float | None = None
    lost: Girdled | None = None
    wounds: tuple[WoundMeasure, ...] = ()
    signs: Mapping[str, date] = field(default_factory=dict)
    clues: Mapping[str, bool] = field(default_factory=dict)
    condition: str = ""
    believed: str = ""
    """The likeliest state by everything that was seen; empty where nothing is believed yet."""
    dead_visits: tuple[tuple[date, bool], ...] = ()
    """Days on which a trained look found it dead, and whether its kind is in leaf then."""

    def age_months(self, day: date) -> float:
        """Whole and parts of months since the last day on which it can have been planted."""
        return max(0.0, (day - self.tree.planted_to).days / MONTH_DAYS)

    def is_bare(self, day: date) -> bool:
        """Whether its kind is supposed to stand without leaves in that month."""
        return self.kind is not None and day.month in self.kind.bare_months

    @property
    def has_lost_half(self) -> bool:
        """Whether half of the bark or more may be gone: the careful end of the range counts."""
        return self.lost is not None and self.lost.high >= 0.5 and self.lost.low > 0.25

    @property
    def ball(self) -> str:
        """ "wet", "dry", or "" where nobody has felt it lately."""
        wet = self.clues.get("soggy_soil", "soggy_soil" in self.signs)
        probe_stops = not self.clues["probe_goes_in"] if "probe_goes_in" in self.clues else None
        dry = self.clues.get("dry_soil", probe_stops)
        if dry is None:
            dry = "dry_soil" in self.signs
        return "wet" if wet else "dry" if dry else ""

    @property
    def may_rot(self) -> bool:
        """Whether rot of root, crown or wood is suspected, and no laboratory has ruled it out."""
        if "lab_found_rot" in self.clues:
            return self.clues["lab_found_rot"]
        noted = any(self.clues.get(clue) for clue in ("bracket", "oozing_bark"))
        return noted or bool({"oozing_bark", "fungus"} & self.signs.keys())

    @property
    def is_thirsty(self) -> bool:
        noted = any(self.clues.get(clue) for clue in ("wilting", "limp_in_morning"))
        return noted or "wilting" in self.signs or self.ball == "dry"

    @property
    def found_dead_twice(self) -> bool:
        """Two trained visits four weeks apart, one of them when its kind is in leaf."""
        days = [day for day, _leafy in self.dead_visits]
        return (
            bool(days)
            and max(days) - min(days) >= BETWEEN_VISITS
            and any(leafy for _day, leafy in self.dead_visits)
        )


@dataclass(frozen=True, slots=True)
class Known:
    """What the record knows of some trees and of the last weeks' weather, asked once."""

    facts: Mapping[int, Facts]
    weather: tuple[Weather, ...]  # newest first
    today: date

    def sky(self, day: date) -> Sky:
        """The week of weather up to a day; up to today, where the day is still to come."""
        day = min(day, self.today)
        return sky_of([row for row in self.weather if day - WEEK < row.day <= day], day)


def known_of(area: Area, trees: Iterable[Tree], day: date | None = None) -> Known:
    """What is known on a day, by default the area's today. The same number of questions for any
    number of trees."""
    today = area.today()
    weather = Weather.objects.filter(area=area, day__gt=today - WEATHER_KEPT, day__lte=today)
    return Known(facts_of(area, trees, day or today), tuple(weather.order_by("-day")), today)


def sky_of(rows: Sequence[Weather], day: date) -> Sky:
    """The weather of up to seven days on record, newest first, as a dose and a refusal read it."""
    if not rows:
        return Sky()
    rain = [row.rain_mm for row in rows if row.rain_mm is not None]
    eto = [row.eto_mm for row in rows if row.eto_mm is not None]
    two = [row.rain_mm for row in rows if row.day > day - timedelta(days=2)]
    means = [
        (row.low_c + row.high_c) / 2
        for row in rows
        if row.day > day - timedelta(days=3) and row.low_c is not None and row.high_c is not None
    ]
    last = rows[0]
    return Sky(
        day=last.day,
        days=len(rows),
        rain_m=sum(rain) / 1000 if rain else None,
        # Some days may be missing: the week is taken to be like those on record.
        eto_m=sum(eto) / len(eto) * 7 / 1000 if eto else None,
        rain_two_days_m=sum(two) / 1000 if two and None not in two else None,
        rain_that_day_m=None if last.rain_mm is None else last.rain_mm / 1000,
        low_c=last.low_c,
        high_c=last.high_c,
        mean_three_days_c=sum(means) / len(means) if means else None,
    )


def facts_of(area: Area, trees: Iterable[Tree], day: date) -> dict[int, Facts]:
    """What is known of each tree on that day, by its primary key."""
    trees = list({tree.pk: tree for tree in trees}.values())
    keys = [tree.pk for tree in trees]
    kinds, species = kinds_in(area), book().species
    looks = Look.objects.standing_record().filter(tree__in=keys, day__lte=day)
    girths = _girths(looks)
    wounds = _wounds(looks)
    signs, extents = _signs(looks, day)
    clues = _clues(trees, day)
    seen: dict[int, list[Look]] = defaultdict(list)
    for look in looks.trained().exclude(presence="not_seen").in_order():
        seen[look.tree_id].append(look)
    beliefs = {belief.tree_id: belief.likeliest for belief in Belief.objects.filter(tree__in=keys)}
    found = {}
    for tree in trees:
        kind = kinds.get(tree.species)
        stems = girths.get(tree.pk, {})
        newest = max(stems.values(), key=lambda measure: measure.look.day, default=None)
        round_each = {stem: measure.girth_m for stem, measure in stems.items()}
        found[tree.pk] = Facts(
            tree=tree,
            kind=kind,
            species=species.get(tree.species),
            girths_m=round_each,
            measured_on=newest.look.day if newest else None,
            measured_at_m=newest.height_m if newest else None,
            lost=_lost(tree, wounds.get(tree.pk, ()), extents.get(tree.pk, []), round_each),
            wounds=tuple(wounds.get(tree.pk, ())),
            signs=signs.get(tree.pk, {}),
            clues=clues.get(tree.pk, {}),
            condition=seen[tree.pk][-1].condition if seen[tree.pk] else "",
            believed=beliefs.get(tree.pk, ""),
            dead_visits=tuple(
                (look.day, kind is None or not kind.is_leaf_off(look.day.month))
                for look in seen[tree.pk]
                if look.condition == "dead"
            ),
        )
    return found


def _girths(looks) -> dict[int, dict[int, StemMeasure]]:
    """The newest measure of each stem of each tree."""
    newest: dict[int, dict[int, StemMeasure]] = defaultdict(dict)
    measures = StemMeasure.objects.filter(look__in=looks).select_related("look")
    for measure in measures.order_by("look__day", "look__pk"):
        newest[measure.look.tree_id][measure.stem] = measure
    return newest


def _wounds(looks) -> dict[int, list[WoundMeasure]]:
    """The wounds of each tree's newest look that measured any."""
    last: dict[int, int] = {}
    found: dict[int, list[WoundMeasure]] = {}
    rows = WoundMeasure.objects.filter(look__in=looks).select_related("look")
    for row in rows.order_by("look__day", "look__pk", "stem", "number"):
        if last.get(row.look.tree_id) != row.look_id:
            last[row.look.tree_id] = row.look_id
            found[row.look.tree_id] = []
        found[row.look.tree_id].append(row)
    return found


def _signs(looks, day: date):
    """Signs that still count by the day they were last seen, and how far round the newest goes."""
    signs: dict[int, dict[str, date]] = defaultdict(dict)
    extents: dict[int, list[tuple[float, float]]] = defaultdict(list)
    by_look: dict[int, tuple[date, int]] = {}
    known = book().extents
    rows = LookSign.objects.filter(look__in=looks, look__day__gt=day - BARK_DAYS)
    for row in rows.select_related("look").order_by("look__day", "look__pk"):
        tree, seen = row.look.tree_id, row.look.day
        if row.sign in SOIL_SIGNS and seen < day - SOIL_DAYS:
            continue
        signs[tree][row.sign] = seen
        step = known.get(row.extent)
        if step is None or step.from_fraction is None or step.to_fraction is None:
            continue
        if by_look.get(tree) != (seen, row.look_id):
            by_look[tree] = (seen, row.look_id)
            extents[tree] = []
        extents[tree].append((step.from_fraction, step.to_fraction))
    return signs, extents


def _clues(trees: Sequence[Tree], day: date) -> dict[int, dict[str, bool]]:
    """Answers to checks: the newest of the tree, else the newest of its site. Answers about soil
    count for two weeks."""
    rows = ClueNoted.objects.filter(
        Q(tree__in=[tree.pk for tree in trees]) | Q(site__in={tree.site_id for tree in trees}),
        day__lte=day,
        day__gt=day - BARK_DAYS,
    ).order_by("day", "pk")
    of_tree: dict[int, dict[str, bool]] = defaultdict(dict)
    of_site: dict[int, dict[str, bool]] = defaultdict(dict)
    for row in rows:
        if row.clue in SOIL_CLUES and row.day < day - SOIL_DAYS:
            continue
        if row.tree_id is not None:
            of_tree[row.tree_id][row.clue] = row.so
        else:
            of_site[row.site_id][row.clue] = row.so
    return {tree.pk: of_site[tree.site_id] | of_tree[tree.pk] for tree in trees}


def _lost(tree: Tree, wounds, extents, girths) -> Girdled | None:
    """How much bark is gone: by tape and clock where measured, else by the lay scale."""
    if wounds:
        faces = [
            Wound(
                stem=min(row.stem, tree.stems),
                girth=row.girth_m,
                width=row.width_m,
                from_hour=row.from_hour,
                to_hour=row.to_hour,
            )
            for row in wounds
        ]
        return whole_tree(girdled_by_stem(faces), tree.stems, girths)
    return girdled_by_eye(extents) if extents else None
