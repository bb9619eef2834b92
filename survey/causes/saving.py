"""Gathers what the record holds of one tree, and asks: dead, asleep or saveable?

The rules are in `survey.science.saving`; the words in `saving_words`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from types import EllipsisType

from django.db.models import Q, Sum

from survey.causes.models import ClueNoted
from survey.causes.wounds import TreeWounds, looks_for_wounds, wounds_of
from survey.condition.models import Belief
from survey.handbook.book import book
from survey.people.models import Observer
from survey.science.saving.facts import Facts, Seen, State
from survey.science.saving.growing import Calendar
from survey.science.saving.keep import Choice, Place, choose
from survey.science.saving.state import judge
from survey.science.wounds.closing import measure_again
from survey.trees.models import Happening, Look, Tree, Weather
from survey.trees.species import Kind, kind_of

SHOOTS = "base_shoots"
FROST_KEPT = timedelta(days=400)  # an older frost explains nothing that is seen today
DRY_DAYS = timedelta(days=30)
DRY_RAIN_MM = 10.0  # less than this in thirty days is a dry spell (own rule of this project)
CLUE_KEPT = timedelta(days=365)
GOES_ON = "fresh_in_old"
GRAFTED = "grafted"
SCRATCHED = {"twig": "scratched_twig", "branch": "scratched_branch", "trunk": "scratched_trunk"}
"""Clues kept with a look: so = green under the bark of that part, not so = brown."""


@dataclass(frozen=True, slots=True)
class Decision:
    """One tree on one day: its wounds, its state, and save, watch or replace."""

    tree: Tree
    day: date
    wounds: TreeWounds
    state: State
    choice: Choice


def decision_of(
    tree: Tree,
    day: date | None = None,
    *,
    kind: Kind | None = None,
    belief: Belief | EllipsisType | None = ...,
) -> Decision:
    """The decision aid for one tree, on its area's today unless a day is given.

    A handful of queries, whatever the number of looks. `tree` should come with its area; who has
    its kind or its belief at hand gives them along.
    """
    day = day or tree.area.today()
    looks = [look for look in looks_for_wounds(tree) if look.day <= day]
    wounds = wounds_of(tree, looks, day)
    if isinstance(belief, EllipsisType):
        belief = Belief.objects.filter(tree=tree).first()
    calendar = _calendar(tree, kind or kind_of(tree.area, tree.species), day)
    dry_from = _dry_from(tree, day) if calendar.bare_in_drought else None
    condition = _condition(looks)
    clues, scratches = _clues(tree, day)
    state = judge(
        Facts(
            day=day,
            calendar=calendar,
            looks=tuple(_seen(look, scratches.get(look.pk, ())) for look in looks),
            frozen_on=_frozen_on(tree, day),
            dry_from=dry_from,
            believed_dead=_believed_dead(belief),
            left=bool(tree.left),
            in_trouble=wounds.girdled.high > 0 or condition in ("slipping", "failing"),
        )
    )
    girths = [m.girth_m for look in looks for m in look.measures.all()]
    girths += [w.measure.girth_m for stem in wounds.stems for w in stem.wounds if w.measure.girth_m]
    choice = choose(
        state,
        Place(
            day=day,
            planted_from=min(tree.planted_from, day),
            planted_to=tree.planted_to,
            bark=wounds.outlook,
            cause_goes_on=_cause_goes_on(wounds, clues),
            condition=condition,
            trunk_across_m=max(girths) / math.pi if girths else None,
            grafted=clues.get(GRAFTED),
            planting_months=_planting_months(tree),
            flush_on=_flush_to_come(tree, wounds, day),
        ),
    )
    return Decision(tree, day, wounds, state, choice)


def _seen(look: Look, scratched: tuple = ()) -> Seen:
    return Seen(
        day=look.day,
        presence=look.presence,
        leaf=look.leaf,
        scratch=look.scratch,
        condition=look.condition,
        trained=look.trained,
        photo=look.has_photo,
        neighbor=look.observer.kind == Observer.Kind.RESIDENT,
        shoots=any(sign.sign == SHOOTS for sign in look.signs.all()),
        scratched=scratched,
    )


def _condition(looks: Sequence[Look]) -> str:
    """The newest word for how it is doing, a trained one before another of the same day."""
    said = [(look.day, look.trained, look.pk, look.condition) for look in looks if look.condition]
    return max(said)[3] if said else ""


def _calendar(tree: Tree, kind: Kind, day: date) -> Calendar:
    known = book().species.get(tree.species)
    plain = Calendar(
        hemisphere=tree.area.hemisphere,
        bare=kind.bare_months,
        shoulder=kind.shoulder_months,
        bare_in_drought=bool(known and known.bare_in_drought),
    )
    if not plain.bare or plain.is_asleep(day):
        return plain
    return Calendar(
        plain.hemisphere,
        plain.bare,
        plain.shoulder,
        plain.bare_in_drought,
        _peers_in_leaf_on(tree, plain.woke_on(day), day),
    )


def _peers_in_leaf_on(tree: Tree, woke: date, day: date) -> date | None:
    """When its kind at this site came into leaf late; None unless one of them was seen bare first.

    A first look in June says only that it was in leaf by June, so it is no sign of lateness.
    """
    rows = (
        Look.objects.standing_record()
        .filter(
            tree__site_id=tree.site_id,
            tree__species=tree.species,
            presence=Look.Presence.STANDING,
            day__gte=woke,
            day__lte=day,
        )
        .exclude(tree=tree)
        .exclude(leaf="")
        .values_list("tree_id", "day", "leaf")
    )
    in_leaf: dict[int, date] = {}
    bare: dict[int, date] = {}
    for peer, seen_on, leaf in rows:
        known = bare if leaf == Look.Leaf.BARE else in_leaf
        known[peer] = min(seen_on, known.get(peer, seen_on))
    if not in_leaf:
        return None
    first = min(in_leaf.values())
    late = any(bare[peer] < first for peer in bare if peer in in_leaf)
    return first if late else None


def _frozen_on(tree: Tree, day: date) -> date | None:
    frosts = Happening.objects.filter(
        Q(tree=tree) | Q(site_id=tree.site_id) | Q(planting_id=tree.planting_id),
        kind=Happening.Kind.FROST,
        to_day__lte=day,
        to_day__gte=day - FROST_KEPT,
    )
    newest = frosts.order_by("-to_day").first()
    return newest.to_day if newest else None


def _dry_from(tree: Tree, day: date) -> date | None:
    """The first day of a dry spell that still goes on, by the area's rain; None if not known."""
    start = day - DRY_DAYS
    rain = Weather.objects.filter(area_id=tree.area_id, day__gt=start, day__lte=day)
    fallen = rain.aggregate(mm=Sum("rain_mm"))["mm"]
    return start if fallen is not None and fallen < DRY_RAIN_MM else None


def _believed_dead(belief: Belief | None) -> float | None:
    return None if belief is None else min(1.0, max(0.0, belief.dead + belief.gone))


def _clues(tree: Tree, day: date) -> tuple[dict[str, bool], dict[int, tuple]]:
    """The newest answers about this tree that bear on the choice, and the scratches by look."""
    noted = ClueNoted.objects.filter(
        Q(tree=tree) | Q(site_id=tree.site_id),
        clue__in=[GOES_ON, GRAFTED, *SCRATCHED.values()],
        day__lte=day,
    )
    answers: dict[str, bool] = {}
    scratches: dict[int, tuple] = {}
    parts = {clue: part for part, clue in SCRATCHED.items()}
    for clue in noted.order_by("day", "pk"):
        if clue.clue in parts:
            color = Look.Scratch.GREEN if clue.so else Look.Scratch.BROWN
            found = scratches.get(clue.look_id, ())
            scratches[clue.look_id] = (*found, (parts[clue.clue], str(color)))
        elif clue.clue != GOES_ON or day - clue.day <= CLUE_KEPT:
            answers[clue.clue] = clue.so
    return answers, scratches


def _cause_goes_on(wounds: TreeWounds, clues: dict[str, bool]) -> bool | None:
    """Fresh cuts say so, and so does the answer to the check; otherwise it is not known."""
    if wounds.repeated or wounds.fresh:
        return True
    return clues.get(GOES_ON)


def _flush_to_come(tree: Tree, wounds: TreeWounds, day: date) -> date | None:
    """The first flush after the wound was seen, None when it is over: then it can be decided."""
    seen_on = wounds.look.day if wounds.look else day
    flush = measure_again(seen_on, tree.area.hemisphere)[2]
    return flush if flush > day else None


def _planting_months(tree: Tree) -> frozenset[int]:
    """The months in which a new tree is set here (common practice), as they fall here."""
    care = book().care.get("replace")
    if care is None:
        return frozenset()
    return frozenset(m for m in range(1, 13) if care.in_season(m, tree.area.hemisphere))
