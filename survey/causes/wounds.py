"""The wounds of one tree as looks have measured them: share lost, outlook, how they close.

Reads the record and hands figures to `survey.science.wounds`; the words are in `wound_words`.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Exists, OuterRef

from survey.handbook.book import book
from survey.science.wounds.closing import Age, Closing, age_from_rim, closing, is_repeated
from survey.science.wounds.closing import measure_again as measure_again_from
from survey.science.wounds.face import Wound
from survey.science.wounds.girdled import (
    WHOLE,
    Girdled,
    girdled_by_eye,
    girdled_by_stem,
    whole_tree,
)
from survey.science.wounds.outlook import Outlook, outlook_of, reasons_for_worse
from survey.trees.measured import WoundMeasure
from survey.trees.models import Look, Tree

BORERS_OR_OOZE = {"holes_sawdust", "oozing_bark"}
DRY = {"dry_soil"}
STILL_SAYS = timedelta(days=365)  # how long borers, ooze or a lay estimate count (own rule)
STILL_DRY = timedelta(days=60)
DIEBACK = {"thriving": 0.0, "holding": 0.1, "slipping": 0.26, "failing": 0.51}
"""The least share of the crown that each word of the scale gives away (its definition)."""


@dataclass(frozen=True, slots=True)
class SeenWound:
    """One wound of the newest measured look, and how it has gone on since the first."""

    measure: WoundMeasure
    share: float
    age: Age
    over_time: Closing | None
    widths: tuple[tuple[date, float], ...] = ()


@dataclass(frozen=True, slots=True)
class StemWounds:
    """One stem: its wounds, the share lost and what that means."""

    stem: int
    wounds: tuple[SeenWound, ...]
    girdled: Girdled
    outlook: Outlook


@dataclass(frozen=True, slots=True)
class TreeWounds:
    """All that is known of a tree's lost bark; `look` is what it was taken from, None if nothing.

    `again` holds the days for the next measuring: from, to, and after the next first flush.
    `repeated` says that fresh cuts stand beside old rims: what did it may still go on.
    """

    look: Look | None
    stems: tuple[StemWounds, ...]
    girdled: Girdled
    outlook: Outlook
    repeated: bool
    fresh: bool
    again: tuple[date, date, date] | None

    @property
    def is_measured(self) -> bool:
        return self.girdled.how not in ("none", "lay")


def wound_of(measure: WoundMeasure) -> Wound:
    """The measure as the science knows it. Raises `BadWound` for what no trunk can have."""
    return Wound(
        width=measure.width_m,
        girth=measure.girth_m,
        from_hour=measure.from_hour,
        to_hour=measure.to_hour,
        stem=measure.stem,
    )


def share_of(look: Look) -> Girdled | None:
    """The bark lost on the whole tree as one look measured it, all wounds together; None where it
    measured none. `wounds` and `measures` should be prefetched. A stem without a girth counts like
    the others."""
    rows = list(look.wounds.all())
    if not rows:
        return None
    shares = girdled_by_stem(wound_of(row) for row in rows)
    girths = {measure.stem: measure.girth_m for measure in look.measures.all()}
    girths |= {row.stem: row.girth_m for row in rows if row.girth_m}
    return whole_tree(shares, max(look.tree.stems, *shares), girths)


def looks_for_wounds(tree: Tree) -> list[Look]:
    """A tree's looks, oldest first, with signs, measures and wounds: one query each.

    `has_photo` says of each whether it came with a photo that was not turned down.
    """
    photos = Look.photos.through.objects.filter(look=OuterRef("pk"))
    looks = (
        tree.looks.standing_record()
        .select_related("observer")
        .exclude(presence=Look.Presence.NOT_SEEN)
        .annotate(has_photo=Exists(photos.exclude(photo__shown="declined")))
    )
    return list(looks.in_order().prefetch_related("signs", "measures", "wounds"))


def wounds_of(tree: Tree, looks: Sequence[Look], today: date) -> TreeWounds:
    """What the looks (oldest first, from `looks_for_wounds`) say of lost bark.

    The newest look with measures counts; without one, the newest look with a sign and how far
    round it goes, within a year.
    """
    measured = [look for look in looks if look.wounds.all()]
    if measured:
        return _measured(tree, looks, measured, today)
    return _by_eye(tree, looks, today)


def _measured(
    tree: Tree, looks: Sequence[Look], measured: Sequence[Look], today: date
) -> TreeWounds:
    newest = measured[-1]
    rows = list(newest.wounds.all())
    history = _history(measured)
    shares = girdled_by_stem(wound_of(row) for row in rows)
    girths = {row.stem: row.girth_m for row in rows if row.girth_m}
    girths |= {
        measure.stem: measure.girth_m
        for look in looks
        for measure in look.measures.all()
        if measure.stem not in girths
    }
    stems = []
    for stem, share in shares.items():
        here = [row for row in rows if row.stem == stem]
        worse = _worse(tree, looks, here, girths.get(stem), today)
        stems.append(
            StemWounds(
                stem=stem,
                wounds=tuple(
                    SeenWound(
                        row,
                        wound_of(row).share,
                        age_from_rim(row.rim),
                        *history.get((row.stem, row.number), (None, ())),
                    )
                    for row in here
                ),
                girdled=share,
                outlook=outlook_of(share, worse),
            )
        )
    whole = whole_tree(shares, max(tree.stems, *shares), girths)
    rims = [row.rim for row in rows]
    worse = _worse(tree, looks, rows, max(girths.values(), default=None), today)
    return TreeWounds(
        look=newest,
        stems=tuple(stems),
        girdled=whole,
        outlook=outlook_of(whole, worse),
        repeated=is_repeated(rims),
        fresh="fresh" in rims,
        again=measure_again_from(newest.day, tree.area.hemisphere),
    )


def _history(
    measured: Sequence[Look],
) -> dict[tuple[int, int], tuple[Closing, tuple[tuple[date, float], ...]]]:
    """Each wound by stem and number, over all looks that gave it a width by tape: how it goes on,
    and its days with their widths in meters. Of two measures on one day the later one counts."""
    widths: dict[tuple[int, int], dict[date, float]] = defaultdict(dict)
    for look in measured:
        for row in look.wounds.all():
            if row.width_m is not None:
                widths[row.stem, row.number][look.day] = row.width_m
    return {
        wound: (closing(rows.items()), tuple(sorted(rows.items())))
        for wound, rows in widths.items()
    }


def _by_eye(tree: Tree, looks: Sequence[Look], today: date) -> TreeWounds:
    """The lay scale of the newest look that has one. Where it could not be seen, nothing is
    known, and that is said as a range from nothing to everything."""
    extents = book().extents
    for look in reversed(looks):
        if today - look.day > STILL_SAYS:
            break
        seen = [
            sign
            for sign in look.signs.all()
            if sign.extent in extents and book().signs[sign.sign].asks_extent
        ]
        if not seen:
            continue
        steps = [extents[sign.extent] for sign in seen]
        ranges = [
            (step.from_fraction, step.to_fraction)
            for step in steps
            if step.from_fraction is not None and step.to_fraction is not None
        ]
        share = girdled_by_eye(ranges, unseen=len(steps) - len(ranges))
        worse = _worse(tree, looks, [], _girth(looks), today)
        return TreeWounds(look, (), share, outlook_of(share, worse), False, False, None)
    return TreeWounds(None, (), WHOLE, outlook_of(WHOLE), False, False, None)


def _girth(looks: Sequence[Look]) -> float | None:
    """The newest girth of the first stem, in meters."""
    girths = [m.girth_m for look in looks for m in look.measures.all() if m.stem == 1]
    return girths[-1] if girths else None


def _worse(
    tree: Tree,
    looks: Sequence[Look],
    rows: Sequence[WoundMeasure],
    girth_m: float | None,
    today: date,
):
    recent = [look for look in looks if today - look.day <= STILL_SAYS]
    signs = {sign.sign for look in recent for sign in look.signs.all()}
    dry = {
        sign.sign for look in recent if today - look.day <= STILL_DRY for sign in look.signs.all()
    }
    conditions = [look.condition for look in recent if look.condition in DIEBACK]
    edges = [row.low_edge_m for row in rows if row.low_edge_m is not None]
    return reasons_for_worse(
        trunk_across_m=None if girth_m is None else girth_m / math.pi,
        days_in_ground=(today - tree.planted_to).days,
        repeated=is_repeated([row.rim for row in rows]),
        low_edge_m=min(edges, default=None),
        borers_or_ooze=bool(signs & BORERS_OR_OOZE),
        drought=bool(dry & DRY),
        crown_dieback=DIEBACK[conditions[-1]] if conditions else None,
    )
