"""The news that a site has turned down, as the desk and the pages of trends tell it.

It says since when, by how much and which trees it comes from. It never says why, or by whom.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from survey.condition.models import Turn
from survey.trees.models import Area, Site, Tree

MOST_TREES = 6


@dataclass(frozen=True, slots=True)
class Turned:
    """One site's turn: the sentence, the trees that drive it most, and how many more there are."""

    turn: Turn
    said: str
    trees: tuple[Tree, ...]
    more: int


def turn_said(turn: Turn) -> str:
    """ "Quarry Green has gone down since April 2026: 84 before, 75 now"."""
    words = {
        "site": turn.site.name,
        "since": date_format(turn.since, "F Y"),
        "before": round(turn.before),
        "after": round(turn.after),
    }
    if turn.kind == Turn.Kind.STEP:
        return _("%(site)s went down in %(since)s: %(before)d before, %(after)d now") % words
    return _("%(site)s has gone down since %(since)s: %(before)d before, %(after)d now") % words


def _told(turns: Sequence[Turn]) -> list[Turned]:
    refs = {turn.pk: [str(row[0]) for row in turn.driven_by] for turn in turns}
    wanted = {ref for row in refs.values() for ref in row[:MOST_TREES]}
    trees = {tree.ref: tree for tree in Tree.objects.filter(ref__in=wanted)} if wanted else {}
    out = []
    for turn in turns:
        shown = tuple(trees[ref] for ref in refs[turn.pk][:MOST_TREES] if ref in trees)
        out.append(Turned(turn, turn_said(turn), shown, len(refs[turn.pk]) - len(shown)))
    return out


def turned_in(area: Area) -> list[Turned]:
    """Sites of a town that have turned down and that nobody has put aside, by name."""
    turns = Turn.objects.to_be_seen().filter(site__area=area).select_related("site")
    return _told(list(turns.order_by("site__name", "pk")))


def turned_at(site: Site) -> Turned | None:
    """The turn of one site that stands, also when it was put aside."""
    turns = Turn.objects.standing().filter(site=site).select_related("site")
    told = _told(list(turns[:1]))
    return told[0] if told else None
