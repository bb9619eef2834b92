"""Wounds and the decision aid, laid out for the docket and the page of a tree."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from frontend.believed import SETTLED
from frontend.drawings.closing import closing_bars
from survey.causes.saving import Decision, decision_of
from survey.causes.saving_words import Said, said_of
from survey.causes.wound_words import (
    Told,
    again_said,
    closing_told,
    day_said,
    how_said,
    length_said,
    outlook_told,
    share_said,
    wound_said,
)
from survey.causes.wounds import SeenWound, StemWounds
from survey.people.models import Person
from survey.trees.models import Tree


@dataclass(frozen=True, slots=True)
class WoundRow:
    """One wound in words; how it goes on, and bars where it was measured more than once."""

    number: int
    said: str
    over: Told | None
    bars: str


@dataclass(frozen=True, slots=True)
class StemRow:
    """One stem: its drawing's figures, the share, what it means, and its wounds."""

    stem: StemWounds
    title: str
    share: str
    outlook: list[Told]
    wounds: list[WoundRow]


@dataclass(frozen=True, slots=True)
class Wounds:
    """All of a tree's lost bark in words. `stems` is empty where it was only seen by eye."""

    share: str
    how: str
    day: str
    stems: list[StemRow]
    outlook: list[Told]
    again: str


@dataclass(frozen=True, slots=True)
class Saving:
    """What the two partials need: `wounds` is None where nothing is known of lost bark."""

    decision: Decision
    said: Said
    wounds: Wounds | None

    @property
    def is_settled(self) -> bool:
        """Whether the tree may be spoken of as dead or gone."""
        return self.decision.state.name in SETTLED

    @property
    def asks_graft(self) -> bool:
        """Whether the choice hangs on the graft, and nobody has said."""
        return any(need.code == "find_graft" for need in self.decision.choice.needs)


def saving_of(tree: Tree, person, **known) -> Saving:
    """The decision aid for one tree in the reader's units; `known` as `decision_of` takes it."""
    metric = getattr(person, "units", "") == Person.Units.METRIC
    decision = decision_of(tree, **known)
    return Saving(decision, said_of(decision), _wounds(decision, metric=metric))


def _wounds(decision: Decision, *, metric: bool) -> Wounds | None:
    known = decision.wounds
    if known.look is None:
        return None
    several = len(known.stems) > 1 or decision.tree.stems > 1
    stems = [
        StemRow(
            stem=stem,
            title=_("Stem %d") % stem.stem if several else "",
            share=share_said(stem.girdled),
            outlook=outlook_told(stem.outlook),
            wounds=[_wound(seen, metric=metric) for seen in stem.wounds],
        )
        for stem in known.stems
    ]
    return Wounds(
        share=share_said(known.girdled),
        how=how_said(known.girdled),
        day=day_said(known.look.day),
        stems=stems,
        outlook=[] if stems else outlook_told(known.outlook),
        again=again_said(known, decision.day),
    )


def _wound(seen: SeenWound, *, metric: bool) -> WoundRow:
    bars = ""
    if len(seen.widths) > 1:
        rows = [(day, width, length_said(width, metric=metric)) for day, width in seen.widths]
        bars = closing_bars(rows, title=_("How wide it was, each time it was measured"))
    over = closing_told(seen.over_time, metric=metric) if seen.over_time else None
    return WoundRow(seen.measure.number, wound_said(seen, metric=metric), over, bars)
