"""One cause for many: every sign of an area is held up to sites, loads, kinds, sides and days."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from django.db.models import Q

from survey.causes import finding_facts as facts
from survey.causes.finding_facts import Counted, Facts
from survey.causes.seen_signs import AWAY, LASTING, STREET, Noted, read
from survey.handbook.book import book
from survey.science.findings import onsets, sides
from survey.science.findings.search import FALSE_SHARE, LEAST_WITH, Found, Run, search
from survey.science.records import Truths
from survey.trees.models import Area, Happening, Planting, Site

CHANGES = ("new_contractor", "irrigation_off", "digging", "stake_on", "stake_off", "pruning")
"""Happenings after which things stay otherwise."""

SPELLS = ("heat", "frost", "storm")
"""Happenings that pass, and may leave a mark within some weeks."""

WEEKS_AFTER = 60
SEASON = 60
IN_ONE = 500


@dataclass(frozen=True, slots=True)
class Pattern:
    """A finding as a run has it: what a row of `Finding` is made from. `trees` are primary keys of
    those with the sign."""

    sign: str
    follows: str
    subject: str
    site: int | None
    planting: int | None
    with_sign: int
    of_trees: int
    chance: float
    after_many: float
    standing: str
    trees: tuple[int, ...]
    facts: Facts

    @property
    def evidence(self) -> str:
        """A stamp of what it rests on: the conclusion, and the trees with the sign."""
        told = "|".join([self.standing, *map(str, sorted(self.trees))])
        return hashlib.sha256(told.encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Searched:
    area: int
    day: date
    patterns: tuple[Pattern, ...]


@dataclass(eq=False)
class _Question:
    """A question beside those about groups: its chance, and what makes a pattern of it."""

    p: float
    sign: Counted
    site: int | None
    follows: str
    subject: str
    group: Truths
    facts: Facts
    after_many: float = 1.0


@dataclass(eq=False)
class _Area:
    record: Noted
    signs: dict[str, Counted] = field(default_factory=dict)
    sites: dict[int, str] = field(default_factory=dict)


def work_out(key: str) -> Searched | None:
    """All findings of the area with this primary key; None when there is no such area."""
    area = Area.objects.filter(pk=key).first()
    if area is None:
        return None
    here = _Area(read(area))
    for sign in here.record.signs:
        one = facts.counted(here.record, sign)
        if one.noted[one.rows].sum() >= LEAST_WITH:
            here.signs[sign] = one
    here.sites = dict(Site.objects.filter(area=area).values_list("pk", "ref"))
    beside = [*_times(here, area), *_sides(here, area)]
    run = search(
        {code: here.record.seen(code, one.rows, one.noted) for code, one in here.signs.items()},
        [question.p for question in beside],
    )
    for question, after_many in zip(beside, run.others, strict=True):
        question.after_many = after_many
    plantings = dict(Planting.objects.filter(area=area).values_list("pk", "ref"))
    groups = [_of_group(here, run, found, beside, plantings) for found in run.found]
    return Searched(area.pk, area.today(), (*groups, *_alone(here, run, beside, groups)))


# -- groups


def _of_group(
    here: _Area, run: Run, found: Found, beside: Sequence[_Question], plantings: dict[int, str]
) -> Pattern:
    record, sign = here.record, here.signs[found.sign]
    trees = record.trees
    group = getattr(trees, found.axis) == found.level
    tree = record.tree[sign.rows]
    mine = group[tree]
    marked = trees.pk[tree[mine & sign.noted[sign.rows]]]
    told = facts.of_group(record, sign, group) | {
        "standing": found.standing,
        "asked": run.asked,
        "here": facts.share(found.crude.table.here, found.crude.table.of_here),
        "there": facts.share(found.crude.table.there, found.crude.table.of_there),
        "crude": facts.told(found.crude),
        "held": [facts.held_up(held) for held in found.held],
        "levels": facts.by_level(record, sign, found.axis, found.level),
        "loads": facts.same_load(record, sign, group) if found.axis == "site" else [],
        "places": [] if found.axis == "site" else facts.same_places(record, sign, group),
    }
    if found.axis == "site":
        told["times"] = [
            question.facts | {"after_many": question.after_many}
            for question in beside
            if question.follows == "time" and question.sign is sign and question.site == found.level
        ]
    subject = {
        "site": here.sites.get(found.level, ""),
        "planting": plantings.get(found.level, ""),
        "supplier": trees.suppliers[found.level] if found.axis == "supplier" else "",
        "species": trees.kinds[found.level] if found.axis == "species" else "",
    }[found.axis]
    return Pattern(
        sign=found.sign,
        follows=found.axis,
        subject=subject[:120],
        site=found.level if found.axis == "site" else None,
        planting=found.level if found.axis == "planting" else None,
        with_sign=found.crude.table.here,
        of_trees=found.crude.table.of_here,
        chance=found.crude.p,
        after_many=found.after_many,
        standing=found.standing,
        trees=tuple(int(pk) for pk in marked),
        facts=told,
    )


# -- days


def _times(here: _Area, area: Area) -> Iterable[_Question]:
    """Changes at a site, and spells of weather over the town, for signs that last."""
    changes, spells = _happenings(area, here.record)
    trees = here.record.trees
    for code, sign in here.signs.items():
        if book().signs[code].where not in LASTING:
            continue
        begun = here.record.first_noted(sign.noted) != onsets.NEVER
        for (site, planting, kind, day), note in changes.items():
            group = trees.planting == planting if planting else trees.site == site
            group &= ~trees.called
            if (begun & group).sum() < onsets.LEAST:
                continue
            watch, rows = here.record.watch(sign.noted, group)
            told = onsets.after_change(watch, day.toordinal())
            if told.verdict == "too_few":
                continue
            now = np.isin(rows, here.record.tree[sign.rows[sign.noted[sign.rows]]])
            counts = facts.onsets_told(watch, now, day.toordinal())
            at = site or int(trees.site[rows[0]])
            yield _Question(
                p=told.p,
                sign=sign,
                site=at,
                follows="time",
                subject=f"{here.sites.get(at, '')}:{kind}:{day.isoformat()}",
                group=group,
                facts={
                    "kind": kind,
                    "day": day.isoformat(),
                    "note": note,
                    **counts,
                    "share_of_days": round(told.share_of_days, 4),
                    "p": told.p,
                    "verdict": told.verdict,
                },
            )
        for (kind, day), places in spells.items():
            group = np.isin(trees.site, sorted(places)) & ~trees.called
            watch, _rows = here.record.watch(sign.noted, group)
            gathering = onsets.after_happening(
                watch, day.toordinal(), days=WEEKS_AFTER, season=SEASON
            )
            if gathering.verdict == "too_few":
                continue
            yield _Question(
                p=gathering.p,
                sign=sign,
                site=None,
                follows="time",
                subject=f"{kind}:{day.isoformat()}",
                group=group,
                facts={
                    "kind": kind,
                    "day": day.isoformat(),
                    "note": "",
                    "within": gathering.within,
                    "weight": round(gathering.weight, 2),
                    "expected": round(gathering.expected, 2),
                    "days": WEEKS_AFTER,
                    "p": gathering.p,
                    "verdict": gathering.verdict,
                },
            )


def _happenings(area: Area, record: Noted):
    """What may have changed a site (or one planting) on a day, and spells with their sites."""
    rows = (
        Happening.objects.filter(Q(site__area=area) | Q(planting__area=area))
        .filter(kind__in=(*CHANGES, *SPELLS), from_day__lte=record.today)
        .order_by("from_day", "pk")
        .values_list("site_id", "planting_id", "kind", "from_day", "note")
    )
    changes: dict[tuple[int | None, int | None, str, date], str] = {}
    spells: dict[tuple[str, date], set[int]] = {}
    for site, planting, kind, day, note in rows:
        if kind in CHANGES:
            changes.setdefault((site, planting, kind, day), note)
        elif site:
            spells.setdefault((kind, day), set()).add(site)
    return changes, spells


# -- sides


def _sides(here: _Area, area: Area) -> Iterable[_Question]:
    """The street's side and the sun's, over the whole area, for signs seen on one side."""
    everywhere = np.ones(len(here.record.trees.pk), dtype=bool)
    for sign in here.signs.values():
        yield from _side_questions(here, area, sign, everywhere)


def _side_questions(here: _Area, area: Area, sign: Counted, group: Truths) -> Iterable[_Question]:
    record = here.record
    rows = sign.rows[sign.noted[sign.rows] & group[record.tree[sign.rows]]]
    side = record.side_on(sign.sign)[rows]
    rows, side = rows[side != facts.ROUND], side[side != facts.ROUND]
    rows, side = rows[(side == STREET) | (side == AWAY)], side[(side == STREET) | (side == AWAY)]
    street = sides.by_the_street(int((side == STREET).sum()), int((side == AWAY).sum()))
    if street.verdict == "too_few":
        return
    mine = np.zeros(len(record.trees.pk), dtype=bool)
    mine[record.tree[rows]] = True
    yield _Question(
        p=street.p,
        sign=sign,
        site=None,
        follows="side",
        subject="away" if street.street * 2 < street.of else "street",
        group=mine & group,
        facts={
            "street": street.street,
            "of": street.of,
            "low": round(street.share.low, 4),
            "high": round(street.share.high, 4),
            "p": street.p,
            "verdict": street.verdict,
        },
    )
    bearing = record.trees.bearing[record.tree[rows]]
    known = ~np.isnan(bearing)
    sun = 180.0 if area.hemisphere == Area.Hemisphere.NORTH else 0.0
    sunny = sides.by_the_sun(side[known] == STREET, bearing[known], sun)
    if sunny.verdict in ("too_few", "no_contrast"):
        return
    table = sunny.table
    yield _Question(
        p=sunny.p,
        sign=sign,
        site=None,
        follows="side",
        subject="sunny",
        group=mine & group,
        facts={
            "sunny_streets": [table.here, table.of_here],
            "other_streets": [table.there, table.of_there],
            "p": sunny.p,
            "verdict": sunny.verdict,
        },
    )


# -- what of days and sides stands by itself


def _alone(
    here: _Area, run: Run, beside: Sequence[_Question], groups: Sequence[Pattern]
) -> list[Pattern]:
    """Days and sides that no group of trees explains: the trees of groups are left out first."""
    told = {(pattern.sign, tree) for pattern in groups for tree in pattern.trees}
    sites = {(pattern.sign, pattern.site) for pattern in groups if pattern.site}
    out: dict[tuple[str, str, object], Pattern] = {}
    for question in sorted(beside, key=lambda question: question.p):
        sign = question.sign
        if question.after_many > FALSE_SHARE or (sign.sign, question.site) in sites:
            continue
        if question.follows == "time" and question.facts["verdict"] == "not_shown":
            continue
        trees = here.record.trees
        tree = here.record.tree[sign.rows]
        noted = sign.noted[sign.rows]
        marked = [int(pk) for pk in trees.pk[tree[noted & question.group[tree]]]]
        own = [pk for pk in marked if (sign.sign, pk) not in told]
        if len(own) < max(LEAST_WITH, len(marked) / 2):
            continue  # what is left says nothing by itself
        # of several things at one place the one that fits best is told; the others stand beside it
        key = (sign.sign, question.follows, question.site)
        if key in out:
            continue
        of = int(question.group[tree].sum())
        out[key] = Pattern(
            sign=sign.sign,
            follows=question.follows,
            subject=question.subject[:120],
            site=question.site,
            planting=None,
            with_sign=len(marked),
            of_trees=of,
            chance=question.p,
            after_many=question.after_many,
            standing="alone",
            trees=tuple(marked),
            facts=facts.of_group(here.record, sign, question.group)
            | {
                "standing": "alone",
                "asked": run.asked,
                "question": question.facts,
                "here": facts.share(len(marked), of),
                "beside": [
                    other.facts
                    for other in beside
                    if other is not question
                    and other.sign is sign
                    and other.site == question.site
                    and other.follows == question.follows
                    and other.after_many <= FALSE_SHARE
                ],
            },
        )
    return list(out.values())


def is_due(area: Area) -> bool:
    """Whether an area has trained looks to search."""
    return area.trees.filter(looks__trained=True).exists()
