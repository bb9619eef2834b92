"""What the public page of a tree adds to its life: how its kind fares, and how a neighbor helps."""

import math
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext_lazy as _

from frontend.liaison.reading import read
from frontend.liaison.said import Finding, finding_of
from survey.handbook.book import book
from survey.handbook.records import Advice
from survey.reports.models import Report
from survey.reports.promises import promise_for
from survey.reports.reference import report_name
from survey.survival.models import Group
from survey.trees.models import Tree

HELPS = (
    ("keep_tools_away", _("Any day")),
    ("water_if_dry", _("In a dry spell")),
    ("no_paint", _("Not this")),
    ("no_feed", _("Not this")),
    ("no_prune", _("Not this")),
)
"""Advice that fits any young tree, and when it is for. What is unsafe here, its signs say."""

A_YEAR_OF_SIGNS = 365
SHOWN_EVENTS = 12  # the rest of a long life is folded


@dataclass(frozen=True, slots=True)
class Kin:
    """How trees of the same kind fared here: the sentence, and how many of ten saplings stand."""

    finding: Finding
    saplings: int | None


@dataclass(frozen=True, slots=True)
class Help:
    """One thing a neighbor may do for it, or may not, and when."""

    when: str
    advice: Advice


@dataclass(frozen=True, slots=True)
class NewNote:
    """A note since the last trained look that nobody has decided about yet."""

    name: str
    look_by: date


def kin_of(tree: Tree) -> Kin | None:
    """What our own record says of trees of its kind; None before it was worked out."""
    groups = Group.objects.filter(
        area=tree.area_id,
        by=Group.By.SPECIES,
        key=tree.species,
        reading=Group.Reading.VERIFIED,
    )
    group = groups.prefetch_related("figures").first()
    if group is None or not group.counts:
        return None
    reading = read(group)
    row = reading.told
    share = row.at_least if row is not None else None
    saplings = math.floor(share * 10 + 1e-9) if share is not None else None
    return Kin(finding_of(reading), saplings)


def helps_for(tree: Tree, signs: set[str], today: date, *, in_danger: bool) -> list[Help]:
    """What helps it and what does not; near a danger only what to leave alone."""
    age = (today - tree.planted_to).days / 365.25
    found = []
    for code, when in HELPS:
        advice = book().advice[code]
        young = advice.only_under_years is None or age < advice.only_under_years
        fits = young and not set(advice.not_with) & signs
        if fits and (advice.kind == "do_not" or not in_danger):
            found.append(Help(str(when), advice))
    return found


def new_note(tree: Tree) -> NewNote | None:
    """The newest undecided note about a tree since its last trained look: one question."""
    notes = tree.reports.filter(state=Report.State.NEW).select_related("area")
    if tree.gauge_day:
        notes = notes.filter(seen_on__gte=tree.gauge_day)
    newest = notes.order_by("-submitted_at", "-pk").first()
    if newest is None:
        return None
    promise = promise_for(newest.day, in_danger=bool(newest.danger))
    return NewNote(report_name(newest), promise.look_by)


def public_of(tree: Tree, events: list, *, in_danger: bool) -> dict:
    """Everything that only the public page shows. `tree` comes with its last trained look."""
    today = tree.area.today()
    if tree.left:
        return {"first_events": events[:SHOWN_EVENTS], "earlier": events[SHOWN_EVENTS:]}
    signs = {
        seen.sign
        for event in events
        if event.look is not None and (today - event.day).days <= A_YEAR_OF_SIGNS
        for seen in event.look.signs.all()
    }
    return {
        "kin": kin_of(tree),
        "helps": helps_for(tree, signs, today, in_danger=in_danger),
        "note": new_note(tree),
        "first_events": events[:SHOWN_EVENTS],
        "earlier": events[SHOWN_EVENTS:],
    }
