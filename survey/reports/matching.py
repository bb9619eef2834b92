"""Puts a report beside what is known: the look it makes, earlier reports, likely trees."""

import re
import unicodedata
from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Q

from survey.handbook.book import book
from survey.reports.models import Report
from survey.science.distance import box_around, metres_between
from survey.trees.actions.look import SeenSign
from survey.trees.models import CONDITIONS, Look, Tree

SAME_WITHIN = timedelta(days=14)  # own rule of this project
SAME_METRES = 25.0  # own rule: two or three street trees
GUESS_METRES = 30.0  # own rule: how far off a phone's position may be beside houses

_FILLER = frozenset(
    re.findall(
        r"\w+",
        """
        the and near next by at in on of to from opposite front behind beside outside corner tree
        trees street road avenue side left right big small old new tag
        el la los las un una de del al en y por con cerca junto frente lado calle avenida arbol
        esquina
        """,
    )
)


def landmark_words(text: str) -> frozenset[str]:
    """The words of a place that tell it from another: without filler, accents and case."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    found = re.findall(r"[^\W_]+", plain)
    return frozenset(word for word in found if word not in _FILLER and len(word) > 1)


def same_landmark(one: str, other: str) -> bool:
    """Whether two places as typed share their telling words: all of the shorter, or two of them."""
    first, second = landmark_words(one), landmark_words(other)
    if not first or not second:
        return False
    shared = first & second
    return len(shared) >= min(2, len(first), len(second)) and bool(shared)


def point_of(report: Report) -> tuple[float, float] | None:
    """Where a report is, as well as it says: its own point, or its tree's."""
    for place in (report, report.tree):
        if place is not None and place.latitude is not None:
            return place.latitude, place.longitude
    return None


def _place_words(report: Report) -> str:
    return report.landmark or (report.tree.landmark if report.tree else "")


def is_same_trouble(report: Report, other: Report) -> bool:
    """Whether two reports are likely about one tree.

    Two different known trees never are. Otherwise: points within 25 m, or the same site and the
    same landmark in other words.
    """
    if report.tree_id and other.tree_id:
        return report.tree_id == other.tree_id
    here, there = point_of(report), point_of(other)
    if here and there:
        return metres_between(*here, *there) <= SAME_METRES
    if report.site_id is None or report.site_id != other.site_id:
        return False
    return same_landmark(_place_words(report), _place_words(other))


def _close_by(report: Report) -> Q:
    """Narrows the reports to look at down to its tree, its site and what lies round its point."""
    close = Q(pk__in=[])
    if report.tree_id:
        close |= Q(tree_id=report.tree_id)
    if report.site_id:
        close |= Q(site_id=report.site_id)
    here = point_of(report)
    if here:
        box = box_around(*here, SAME_METRES)
        for prefix in ("", "tree__"):
            close |= Q(
                **{
                    f"{prefix}latitude__gte": box.south,
                    f"{prefix}latitude__lte": box.north,
                    f"{prefix}longitude__gte": box.west,
                    f"{prefix}longitude__lte": box.east,
                }
            )
    return close


def likely_same_as(report: Report) -> Report | None:
    """The report that told of the same trouble before: the earliest of the last two weeks.

    Those that were put aside do not count; a joined one leads to the one it was joined to.
    """
    earlier = (
        Report.objects.filter(
            _close_by(report),
            area_id=report.area_id,
            submitted_at__gte=report.submitted_at - SAME_WITHIN,
            submitted_at__lte=report.submitted_at,
        )
        .exclude(pk=report.pk)
        .exclude(state=Report.State.SET_ASIDE)
        .exclude(submitted_at=report.submitted_at, pk__gt=report.pk)
        .select_related("tree", "joined_to")
        .order_by("submitted_at", "pk")
    )
    for other in earlier:
        if is_same_trouble(report, other):
            found = other.joined_to or other
            return None if found.pk == report.pk else found
    return None


@dataclass(frozen=True, slots=True)
class Guess:
    """A tree that a report without one may mean: how far it is, or None when its words fit."""

    tree: Tree
    metres: float | None


def likely_trees(report: Report, most: int = 3) -> list[Guess]:
    """Trees a report may mean when it names none: by a tag in its words, its point, its landmark.

    For the desk to choose from; nothing is decided here.
    """
    if report.tree_id is not None:
        return []
    trees = Tree.objects.in_place().filter(area_id=report.area_id).select_related("site")
    words = landmark_words(f"{report.landmark} {report.words[:500]}")
    found = {tree.pk: Guess(tree, None) for tree in trees.filter(tag__in=words)[:most]}
    here = point_of(report)
    if here:
        box = box_around(*here, GUESS_METRES)
        near = trees.filter(
            latitude__gte=box.south,
            latitude__lte=box.north,
            longitude__gte=box.west,
            longitude__lte=box.east,
        )
        guesses = [
            Guess(tree, metres_between(*here, tree.latitude, tree.longitude)) for tree in near[:200]
        ]
        for guess in sorted(guesses, key=lambda g: (g.metres, g.tree.pk)):
            if guess.metres <= GUESS_METRES:
                found.setdefault(guess.tree.pk, guess)
    if report.site_id and report.landmark:
        for tree in trees.filter(site_id=report.site_id).exclude(landmark="").in_walking_order():
            if same_landmark(report.landmark, tree.landmark):
                found.setdefault(tree.pk, Guess(tree, None))
    return list(found.values())[:most]


@dataclass(frozen=True, slots=True)
class Seen:
    """What a report says of its tree, as a look would say it."""

    presence: str
    condition: str
    signs: tuple[SeenSign, ...]


def as_seen(report: Report) -> Seen | None:
    """The look a report makes, or None when it names no tree or says nothing of how it stands.

    A danger alone is no look: nobody should go near enough to judge the tree.
    """
    if report.tree_id is None:
        return None
    known = book()
    step = known.picture_scale.get(report.picture)
    condition = step.condition if step else None
    ticked = [sign.sign for sign in report.signs.all() if sign.sign in known.signs]
    if condition is None and not ticked:
        return None
    if condition == "gone":
        return Seen(Look.Presence.GONE, "", ())
    signs = tuple(
        SeenSign(
            code,
            extent=report.extent if known.signs[code].asks_extent else "",
            side=report.side if known.signs[code].asks_side else "",
        )
        for code in ticked
    )
    return Seen(Look.Presence.STANDING, condition if condition in CONDITIONS else "", signs)
