"""What the record of one tree tells of causes: looks, answers, place, weather, and its company.

A fixed number of queries, whatever the number of looks, trees at the site or days of weather.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import Count, Q
from django.utils.translation import gettext as _

from survey.causes.answers import noted_by_answer
from survey.causes.conflicts import BadFacts, contradict, rank
from survey.causes.differential import Differential, tell_apart
from survey.causes.facts import TRUNK, Facts, clue_of_sign, extent_clues, side_clues
from survey.causes.kinds import calendar_in
from survey.causes.local import weights_in_force
from survey.causes.models import ClueNoted
from survey.causes.saving import DRY_DAYS, DRY_RAIN_MM
from survey.causes.verdicts import rulings_on
from survey.handbook.book import book
from survey.handbook.causes import Who
from survey.handbook.wording import said
from survey.science.causes.records import Known, Witness
from survey.trees.models import Acceptance, Area, CareGiven, Happening, Look, Tree, Weather

# Own rules of this project: how long what was seen still says something of today.
SOIL = timedelta(days=21)  # wet or dry
PASSES = timedelta(days=60)  # leaves, weather
LASTS = timedelta(days=730)  # bark, trunk, what the site is like
MOST_LOOKS = 40

WEATHER_KNOWN = 18
"""Days of weather that must be known before it says anything."""

WET_RAIN_MM = 120.0  # in thirty days; own rule of this project
HARD_FROST_C = -2.2  # 28 °F (common practice, no source)
FROST_DAYS = timedelta(days=21)
HEAT_C, HEAT_DAYS = 32.2, 3  # three days in a row of 90 °F (common practice, no source)

COMPANY = timedelta(days=365)
COMPANY_LEAST, COMPANY_ALONE = 3, 5
"""So many trees beside it with the sign are company; so many without it and none with it make it
the only one. Nothing is tested here: that is what findings are for."""

ON, OFF = Happening.Kind.STAKE_ON, Happening.Kind.STAKE_OFF
UNTYING = "remove_ties"
"""The handbook's care that takes stakes and ties off."""

HAPPENED = {
    Happening.Kind.MOWING: ("grass_tool_seen", timedelta(days=60)),
    Happening.Kind.DIGGING: ("dug_near", LASTS),
    Happening.Kind.STORM: ("storm_before", PASSES),
    Happening.Kind.HEAT: ("heat_wave", PASSES),
    Happening.Kind.FROST: ("after_hard_frost", FROST_DAYS),
    Happening.Kind.IRRIGATION_OFF: ("watering_stopped", timedelta(days=180)),
    "spraying": ("sprayed_lately", PASSES),
}
"""What a dated event tells, and for how long after its last day."""

TIED = frozenset({"stake_rubs", "tie_cuts_in", "tie_tight"})
"""What a look saw of stakes and ties no longer holds once they were taken off."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """The clues of the record, with what to add to some of them in words ("12 of 13")."""

    clues: tuple[Known, ...]
    details: Mapping[str, str] = field(default_factory=dict)


def causes_of_tree(
    tree: Tree, *, day: date | None = None, who: Who = "trained", in_danger: bool = False
) -> tuple[Differential, Recorded]:
    """The causes that fit what the record holds of a tree, on its area's today or another day.

    `tree` should come with its area, site and planting. Raises BadFacts where the record
    contradicts itself.
    """
    day = day or tree.area.today()
    record = read_record(tree, day)
    place, recorded = place_of(tree, day), record.recorded()
    told = tell_apart(
        Facts(**place, further=recorded.clues),
        who=who,
        in_danger=in_danger,
        local=weights_in_force(tree.area),
        rulings=rulings_on(tree, day),
        supposing=lambda check, yes: Facts(**place, further=record.answered(check, yes=yes).clues),
    )
    return told, recorded


def place_of(tree: Tree, day: date) -> dict:
    """Where and when: the facts that need no look."""
    area = tree.area
    planted = tree.planted_from + (tree.planted_to - tree.planted_from) / 2
    return {
        "month": day.month,
        "latitude": area.latitude if tree.latitude is None else tree.latitude,
        "species": calendar_in(area, tree.species),
        "age_years": max(0.0, (day - planted).days / 365.25),
        "street_bearing": tree.street_bearing,
    }


Dated = tuple[date, Known]


@dataclass(slots=True)
class Record:
    """What the database holds of one tree up to a day, read once: it can be weighed as it is, and
    as it would be with one more answer. Only the company is asked for again, if signs differ."""

    tree: Tree
    day: date
    happened: list[tuple[str, date]]
    untied: date | None
    looked: list[Dated]
    notes: list[ClueNoted]
    weather: list[Known]
    company: dict[tuple[str, ...], tuple[list[Known], dict[str, str]]] = field(default_factory=dict)

    def recorded(self, supposed: Sequence[ClueNoted] = ()) -> Recorded:
        """The clues that stand, with these notes as the newest of all."""
        notes = sorted([*supposed, *self.notes], key=lambda note: note.tree_id is None)
        dated: list[Dated] = [
            *(
                (when, one)
                for when, one in (*self.looked, *_answered(notes, self.day))
                if one.clue not in TIED or self.untied is None or when > self.untied
            ),
            *((self.day, one) for one in _events(self.happened, self.day)),
            *((self.day, one) for one in self.weather),
        ]
        by = frozenset({Witness("record")})
        if self.untied is not None and not any(one.clue in TIED and one.so for _, one in dated):
            dated.append((self.untied, Known("ties_gone", True, by)))
        climate = self.tree.area.climate
        if climate in (Area.Climate.COLD, Area.Climate.TEMPERATE, Area.Climate.WARM):
            freezes = climate != Area.Climate.WARM
            dated.append((self.day, Known("freeze_thaw_climate", freezes, by)))
        clues = _standing(dated)
        so = {one.clue for one in clues if one.so}
        signs = tuple(c.sign for code, c in book().clues.items() if code in so and c.sign)
        if signs not in self.company:
            self.company[signs] = _company(self.tree, self.day, signs)
        company, details = self.company[signs]
        return Recorded((*clues, *company), details)

    def answered(self, check: str, *, yes: bool) -> Recorded:
        """The clues that would stand if somebody wrote down this answer to a check now."""
        return self.recorded(
            [
                ClueNoted(day=self.day, by="person:", **note)
                for note in noted_by_answer(self.tree, check, yes=yes)
            ]
        )


def read_record(tree: Tree, day: date, *, without: Q | None = None) -> Record:
    """Everything of a tree up to this day; looks that `without` fits are left out."""
    happened = _happened(tree, day)
    return Record(
        tree=tree,
        day=day,
        happened=happened,
        untied=_untied(tree, day, happened),
        looked=list(_looked(tree, day, without)),
        notes=list(_noted(tree, day)),
        weather=list(_weather(tree.area, day)),
    )


def recorded_of(tree: Tree, day: date, *, without: Q | None = None) -> Recorded:
    """The clues that the record holds up to this day; looks that `without` fits are left out."""
    return read_record(tree, day, without=without).recorded()


def _standing(dated: Iterable[Dated]) -> tuple[Known, ...]:
    """What still stands: an older word gives way to a newer one of at least its rank that says
    otherwise, of the same clue or of one that cannot be so beside it."""
    kept: list[Known] = []
    for _day, one in sorted(dated, key=lambda pair: (-pair[0].toordinal(), -rank(pair[1]))):
        if not any(contradict(one, other) and rank(other) >= rank(one) for other in kept):
            kept.append(one)
    return tuple(kept)


def _lasts(clue: str) -> timedelta:
    entry = book().clues[clue]
    if entry.about in ("time", "weather"):
        return PASSES
    if entry.sign is not None:
        where = book().signs[entry.sign].where
        return LASTS if where in ("base", "trunk") else SOIL if where == "soil" else PASSES
    return LASTS


def _looked(tree: Tree, day: date, without: Q | None) -> Iterable[Dated]:
    """What looks saw. A sign that a look does not list was perhaps not looked for."""
    looks = (
        Look.objects.standing_record()
        .filter(tree=tree, day__lte=day)
        .exclude(presence=Look.Presence.NOT_SEEN)
        .select_related("acceptance")
        .prefetch_related("signs")
        .newest_first()
    )
    for look in (looks if without is None else looks.exclude(without))[:MOST_LOOKS]:
        kind = "trained" if look.trained else "lay"
        by = frozenset({Witness(kind, f"observer:{look.observer_id}")})
        acceptance = getattr(look, "acceptance", None)
        if acceptance is not None:
            yield from ((look.day, one) for one in _accepted(acceptance, by))
        if day - look.day <= PASSES:
            yield from ((look.day, Known(clue, so, by)) for clue, so in _crown(look))
        for seen in look.signs.all():
            clue = clue_of_sign(seen.sign)
            if clue is None or day - look.day > _lasts(clue):
                continue
            yield look.day, Known(clue, True, by)
            for name, so in _around(tree, seen):
                yield look.day, Known(name, so, by)


def _crown(look: Look) -> Iterable[tuple[str, bool]]:
    """What the leaves and a scratched twig of one look tell."""
    if look.leaf == Look.Leaf.BARE:
        yield "bare_branches", True
    elif look.leaf == Look.Leaf.FULL:
        yield "bare_branches", False
    if look.scratch:
        yield "twigs_bend", look.scratch == Look.Scratch.GREEN


def _around(tree: Tree, seen) -> Iterable[tuple[str, bool]]:
    """How far round and on which side. Codes that the handbook no longer has say nothing."""
    try:
        yield from extent_clues(seen.extent)
        yield from side_clues(
            seen.side,
            on_trunk=seen.sign in TRUNK,
            street_bearing=tree.street_bearing,
            latitude=tree.area.latitude if tree.latitude is None else tree.latitude,
        )
    except BadFacts:
        return


def _accepted(acceptance: Acceptance, by: frozenset[Witness]) -> Iterable[Known]:
    """The look at delivery: it settles what was there before the tree was planted."""
    sides = {
        acceptance.base_street,
        acceptance.base_path,
        acceptance.base_left,
        acceptance.base_right,
    }
    if Acceptance.Base.MARKED in sides:
        yield Known("came_wounded", True, by)
    elif sides == {Acceptance.Base.WHOLE}:
        yield Known("came_wounded", False, by)
    if acceptance.flare == Acceptance.Flare.BURIED:
        yield Known("buried_flare", True, by)


def _noted(tree: Tree, day: date) -> Iterable[ClueNoted]:
    """Answers to checks here, of the tree or of its site, the newest first."""
    noted = ClueNoted.objects.filter(
        Q(tree=tree) | Q(site=tree.site_id), day__lte=day, day__gte=day - LASTS
    )
    return noted.order_by("-day", "-pk")[:200]


def _answered(notes: Iterable[ClueNoted], day: date) -> Iterable[Dated]:
    """What answers say, by clue the first of these notes that still lasts."""
    seen = set()
    for note in notes:
        if note.clue in seen or note.clue not in book().clues:
            continue
        if day - note.day > _lasts(note.clue):
            continue
        seen.add(note.clue)
        # What a neighbor answers is one more word of the same report, no check that settles.
        kind = "lay" if note.by.startswith("report:") else "check"
        yield note.day, Known(note.clue, note.so, frozenset({Witness(kind, note.by)}))


def _happened(tree: Tree, day: date) -> list[tuple[str, date]]:
    """Dated events at the tree, its site or its planting: kind and last day so far."""
    events = Happening.objects.filter(
        Q(site=tree.site_id) | Q(planting=tree.planting_id) | Q(tree=tree),
        kind__in=[*HAPPENED, ON, OFF],
        from_day__lte=day,
        to_day__gte=day - LASTS,
    ).values_list("kind", "to_day")
    return [(kind, min(last, day)) for kind, last in events]


def _untied(tree: Tree, day: date, happened: Iterable[tuple[str, date]]) -> date | None:
    """When its stakes and ties were last taken off, by an event or by care given; None if they
    never were, or were put on again since."""
    care = CareGiven.objects.filter(tree=tree, care=UNTYING, given_to__lte=day)
    dated = [(kind, when) for kind, when in happened if kind in (ON, OFF)]
    dated += [(OFF, when) for when in care.values_list("given_to", flat=True)]
    kind, when = max(dated, key=lambda one: (one[1], one[0] == ON), default=(ON, day))
    return when if kind == OFF else None


def _events(happened: Iterable[tuple[str, date]], day: date) -> Iterable[Known]:
    """What dated events tell. First seen is not when it happened: nobody is meant by it."""
    by = frozenset({Witness("record")})
    found = {
        HAPPENED[kind][0]
        for kind, last in happened
        if kind in HAPPENED and day - last <= HAPPENED[kind][1]
    }
    for clue in sorted(found):
        yield Known(clue, True, by)


def _weather(area: Area, day: date) -> Iterable[Known]:
    """What the days of weather before this one tell; nothing where too few are known."""
    rows = list(
        Weather.objects.filter(area=area, day__lte=day, day__gt=day - DRY_DAYS)
        .order_by("day")
        .values_list("day", "rain_mm", "low_c", "high_c")
    )
    by = frozenset({Witness("record")})
    rain = [mm for _day, mm, _low, _high in rows if mm is not None]
    if len(rain) >= WEATHER_KNOWN:
        yield Known("dry_spell", sum(rain) < DRY_RAIN_MM, by)
        yield Known("wet_spell", sum(rain) >= WET_RAIN_MM, by)
    lows = [low for when, _mm, low, _high in rows if low is not None and day - when <= FROST_DAYS]
    if len(lows) >= WEATHER_KNOWN:
        yield Known("after_hard_frost", min(lows) <= HARD_FROST_C, by)
    highs = [high for _day, _mm, _low, high in rows if high is not None]
    if len(highs) >= WEATHER_KNOWN:
        run = longest = 0
        for high in highs:
            run = run + 1 if high >= HEAT_C else 0
            longest = max(longest, run)
        yield Known("heat_wave", longest >= HEAT_DAYS, by)


def _company(tree: Tree, day: date, signs: Sequence[str]) -> tuple[list[Known], dict[str, str]]:
    """Whether trees beside it, or of its planting elsewhere, have one of the signs it has."""
    if not signs:
        return [], {}
    here, own = Q(tree__site=tree.site_id), Q(tree__planting=tree.planting_id)
    has, kind = Q(signs__sign__in=signs), Q(tree__species=tree.species)
    counts = (
        Look.objects.standing_record()
        .filter(here | own, day__lte=day, day__gt=day - COMPANY)
        .filter(presence__in=(Look.Presence.STANDING, Look.Presence.SPROUTING))
        .exclude(tree=tree)
        .aggregate(
            beside=Count("tree", distinct=True, filter=here),
            beside_has=Count("tree", distinct=True, filter=here & has),
            mates=Count("tree", distinct=True, filter=own & ~here),
            mates_has=Count("tree", distinct=True, filter=own & ~here & has),
            kin=Count("tree", distinct=True, filter=here & kind),
            kin_has=Count("tree", distinct=True, filter=here & kind & has),
        )
    )
    by = frozenset({Witness("record")})
    found: list[Known] = []
    details: dict[str, str] = {}
    for clue, has_it, of in (
        ("same_site_same_sign", counts["beside_has"], counts["beside"]),
        ("same_planting_same_sign", counts["mates_has"], counts["mates"]),
    ):
        if has_it >= COMPANY_LEAST and 2 * has_it >= of:
            found.append(Known(clue, True, by))
            details[clue] = _shared(has_it, of, signs)
    others = counts["beside"] - counts["kin"]
    others_have = counts["beside_has"] - counts["kin_has"]
    if (
        counts["kin_has"] >= COMPANY_LEAST
        and 2 * counts["kin_has"] >= counts["kin"]
        and others >= COMPANY_LEAST
        and 4 * others_have <= others
    ):
        found.append(Known("same_kind_same_sign", True, by))
        details["same_kind_same_sign"] = _("%(has)d of %(of)d, of other kinds %(others)d") % {
            "has": counts["kin_has"],
            "of": counts["kin"],
            "others": others_have,
        }
    # Alone here and one of many elsewhere is not alone.
    if counts["beside"] >= COMPANY_ALONE and not counts["beside_has"] and not found:
        found.append(Known("only_this_tree", True, by))
        details["only_this_tree"] = _("none of %d others") % counts["beside"]
    return found, details


def _shared(has_it: int, of: int, signs: Sequence[str]) -> str:
    """What "it" is, and why the number may differ from a finding's: a finding counts one sign by
    the newest trained look of each tree, and company counts every look of a year."""
    labels = [str(said(book().signs[sign].label)) for sign in signs if sign in book().signs]
    if len(labels) == 1:
        what = _("“%s”") % labels[0]
    else:
        what = _("one sign of these or more: %s") % ", ".join(f"“{label}”" for label in labels)
    return _("%(has)d of %(of)d, %(what)s; every look within a year counts, also a neighbor's") % {
        "has": has_it,
        "of": of,
        "what": what,
    }
