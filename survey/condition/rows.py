"""The steps of a tree's story as rows of words: looks alike told together, nobody named."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from survey.condition.evidence import first_day, month_of
from survey.condition.models import STATES, Overruling
from survey.condition.telling import (
    Between,
    Seen,
    between_sentences,
    between_title,
    decision_sentences,
    decision_title,
    departure_sentences,
    departure_title,
    lighter_sentence,
    look_sentences,
    look_title,
    part_said,
    removal_sentences,
    removal_title,
    stretch_part_said,
)
from survey.condition.wording import state_said, strength_of
from survey.science.condition.course import WORRY, Course
from survey.science.condition.laws import USUAL
from survey.science.condition.learnt import Learnt
from survey.science.condition.records import KINDS, LEAF, NOT_SAID, SCRATCH, Evidence
from survey.science.condition.story import (
    QUIET,
    REMOVAL,
    REMOVALS,
    TIME,
    Step,
    Story,
    share_without,
)
from survey.trees.models import Look, Tree
from survey.trees.species import Kind, kind_of

LIGHT, ENOUGH_LOOKS = 0.6, 5
"""An observer's looks count less when their weight is under that part of what is usual for the
kind. Of fewer looks than that nothing is said: the weight still rests on the kind."""


@dataclass(frozen=True, slots=True)
class Part:
    """So many points from one part of a row; `name` is a code, `words` a few words."""

    name: str
    words: str
    points: float


@dataclass(frozen=True, slots=True)
class Row:
    """One step of the story. The points of all rows add up to `Why.points` less `Why.start`.

    `kind`: "looks", "decision" (an overruling), "departure" (the list says it died), "removal" or
    "between". `since` and `day` bound it; for looks both are the day of the last. `title` is a few
    words for a drawing, `words` one or more whole sentences. `before` and `after` are points,
    `share` the probability of the claim after the row, `strength` a code: nothing, little, some,
    much, settles. `without` is what the claim's probability would be now without these looks.
    `look_ids` are looks on record. `note` and `reason` are "" for views that may not read them.
    """

    kind: str
    since: date
    day: date
    title: str
    words: str
    points: float
    before: float
    after: float
    share: float
    strength: str
    parts: tuple[Part, ...]
    looks: int = 0
    look_ids: tuple[int, ...] = ()
    without: float | None = None
    note: str = ""
    reason: str = ""

    @property
    def is_between(self) -> bool:
        return self.kind == "between"


class Teller:
    """Turns the steps of a story into rows of words."""

    def __init__(
        self,
        tree: Tree,
        claim: str,
        view: str,
        evidence: Evidence,
        learnt: Learnt,
        look_ids: Sequence[tuple[int, ...]],
        course: Course,
        story: Story,
    ) -> None:
        self.claim, self.view = claim, view
        self.evidence, self.learnt, self.look_ids = evidence, learnt, look_ids
        self.course, self.story = course, story
        self.now = first_day(story.last)
        self.kind: Kind = kind_of(tree.area, tree.species)
        self.seen = Look.objects.in_bulk({pk for pks in look_ids for pk in pks if pk})
        self.overrulings = list(Overruling.objects.standing().filter(tree=tree))

    def rows(self) -> Iterator[Row]:
        for _, alike in groupby(self.story.steps, key=self._alike):
            steps = list(alike)
            if not steps[0].is_look:
                yield self._between(steps[0])
            elif self.evidence.looks.sure[steps[0].look]:
                yield self._decided(steps[0])
            else:
                yield self._looked(steps)

    def _alike(self, step: Step) -> tuple[int, ...]:
        """Steps with the same key follow each other and are told as one."""
        if not step.is_look:
            return (-1, step.month, step.since, step.kind == REMOVAL)
        looks, place = self.evidence.looks, step.look
        if looks.sure[place]:
            return (-2, place)
        return (
            step.month,
            *(int(getattr(looks, n)[place]) for n in ("label", "scratch", "leaf", "complaint")),
            int(self.evidence.observers[looks.observer[place]]),
            int(looks.signs[place] > 0),
            *map(ord, self._presence(place)),
        )

    def _presence(self, place: int) -> str:
        """What the look on record found there, where that is more than the condition."""
        found = [self.seen[pk].presence for pk in self.look_ids[place] if pk in self.seen]
        return found[-1] if found and found[-1] in ("stump", "sprouting") else ""

    def _row(self, steps: list[Step], kind: str, title: str, words: str, **more) -> Row:
        points = steps[-1].after - steps[0].before
        day = first_day(steps[-1].month)
        told = {"since": first_day(steps[0].since), "day": day, "parts": ()} | more
        return Row(
            kind=kind,
            title=title,
            words=words,
            points=points,
            before=steps[0].before,
            after=steps[-1].after,
            share=steps[-1].share,
            strength=strength_of(points),
            **told,
        )

    def _between(self, step: Step) -> Row:
        logged = step.kind == REMOVAL
        parts = tuple(
            Part(p.name, stretch_part_said(p.name, logged=logged), p.points) for p in step.parts
        )
        if logged:
            words = removal_sentences(first_day(step.month), step.points, self.claim, self.now)
            return self._row([step], "removal", removal_title(), words, parts=parts)
        between = Between(
            since=first_day(step.since),
            until=first_day(step.month),
            months=step.month - step.since,
            quiet=step.quiet,
            time=step.part(TIME),
            silence=step.part(QUIET),
            removals=step.part(REMOVALS),
        )
        words = between_sentences(between, step.points, step.share)
        return self._row([step], "between", between_title(between), words, parts=parts)

    def _decided(self, step: Step) -> Row:
        """What was laid down for sure: by an overruling, or by the list itself."""
        month = first_day(step.month)
        state = STATES[self.evidence.looks.label[step.look]]
        made = next(
            (
                o
                for o in self.overrulings
                if o.state == state and month_of(o.day) in (step.month, self.story.first)
            ),
            None,
        )
        parts = tuple(Part(p.name, f"“{state_said(state)}”", p.points) for p in step.parts)
        more = {"looks": 1, "without": step.without, "parts": parts}
        if made is None:
            words = departure_sentences(month, step.points, self.claim, self.now)
            return self._row([step], "departure", departure_title(), words, **more)
        words = decision_sentences(state, month, step.points, self.claim, self.now)
        reason = made.reason if self.view != "public" else ""
        days = {"since": made.day, "day": made.day}
        return self._row(
            [step], "decision", decision_title(state), words, reason=reason, **days, **more
        )

    def _looked(self, steps: list[Step]) -> Row:
        seen = self._what_was_seen([step.look for step in steps])
        points = steps[-1].after - steps[0].before
        worry = sum(step.part(WORRY) for step in steps)
        pks = tuple(pk for step in steps for pk in self.look_ids[step.look] if pk)
        days = [self.seen[pk].day for pk in pks if pk in self.seen]
        day = max(days, default=first_day(steps[0].month))
        lighter = sum(self._counts_less(step.look) for step in steps)
        names = dict.fromkeys(part.name for step in steps for part in step.parts)
        if len(steps) == 1:
            without = steps[0].without
        else:
            without = share_without(self.course, {s.look for s in steps}, self.story.claim)
        return self._row(
            steps,
            "looks",
            look_title(seen),
            look_sentences(seen, points, worry, self.claim, self.now),
            since=day,
            day=day,
            parts=tuple(
                Part(name, part_said(name, seen), sum(step.part(name) for step in steps))
                for name in names
            ),
            looks=len(steps),
            look_ids=pks,
            without=without,
            note=lighter_sentence(len(steps)) if lighter and self.view == "staff" else "",
        )

    def _what_was_seen(self, places: list[int]) -> Seen:
        """Looks alike as one; the signs of all of them are counted together."""
        looks, place = self.evidence.looks, places[0]
        label, month = int(looks.label[place]), first_day(looks.month[place])
        what = self._presence(place) or ("" if label == NOT_SAID else STATES[label])
        signs = int(looks.signs[places].sum())
        off = bool(looks.leaf_off[place])
        bare = off and month.month in self.kind.bare_months
        return Seen(
            many=len(places),
            kind=KINDS[self.evidence.observers[looks.observer[place]]],
            month=month,
            what=what,
            scratch=SCRATCH[looks.scratch[place]],
            leaf=LEAF[looks.leaf[place]],
            signs=max(0, signs),
            complaint=bool(looks.complaint[place]),
            bare=bare,
            may_be_bare=off and not bare,
            species=str(self.kind.name) if self.kind.name != self.kind.code else "",
        )

    def _counts_less(self, place: int) -> bool:
        observer = int(self.evidence.looks.observer[place])
        if self.learnt.heard[observer] < ENOUGH_LOOKS:
            return False
        usual = USUAL.mean_trust[self.evidence.observers[observer]]
        return bool(self.learnt.rho[observer] < LIGHT * usual)
