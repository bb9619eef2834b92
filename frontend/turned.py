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
ALL = 100


@dataclass(frozen=True, slots=True)
class Fall:
    """A tree whose own outlook fell, from what to what."""

    tree: Tree
    before: int
    after: int


@dataclass(frozen=True, slots=True)
class Turned:
    """One site's turn: the sentence, the trees that drive it, most first, and how many of them
    are only counted."""

    turn: Turn
    said: str
    falls: tuple[Fall, ...]
    more: int

    @property
    def trees(self) -> list[Tree]:
        return [fall.tree for fall in self.falls]


def turn_said(turn: Turn) -> str:
    """ "Quarry Green has gone down since April 2026: by its walks, 84 before, 75 now".

    Both figures are what the walks alone said: by them a turn is found. The outlook of the page
    weighs everything else too, and may be another number.
    """
    words = {
        "site": turn.site.name,
        "since": date_format(turn.since, "F Y"),
        "before": round(turn.before),
        "after": round(turn.after),
    }
    if turn.kind == Turn.Kind.STEP:
        return (
            _("%(site)s went down in %(since)s: by its walks, %(before)d before, %(after)d now")
            % words
        )
    return (
        _("%(site)s has gone down since %(since)s: by its walks, %(before)d before, %(after)d now")
        % words
    )


def _told(turns: Sequence[Turn], most: int = MOST_TREES) -> list[Turned]:
    wanted = {row["tree"] for turn in turns for row in turn.driven_by[:most]}
    trees = {tree.ref: tree for tree in Tree.objects.filter(ref__in=wanted)} if wanted else {}
    out = []
    for turn in turns:
        falls = tuple(
            Fall(trees[row["tree"]], row["before"], row["after"])
            for row in turn.driven_by[:most]
            if row["tree"] in trees
        )
        out.append(Turned(turn, turn_said(turn), falls, max(0, len(turn.driven_by) - most)))
    return out


def turned_in(area: Area) -> list[Turned]:
    """Sites of a town that have turned down and that nobody has put aside, by name."""
    turns = Turn.objects.to_be_seen().filter(site__area=area).select_related("site")
    return _told(list(turns.order_by("site__name", "pk")))


def turned_at(site: Site) -> Turned | None:
    """The turn of one site that stands, also when it was put aside."""
    turns = Turn.objects.standing().filter(site=site).select_related("site")
    told = _told(list(turns[:1]), most=ALL)
    return told[0] if told else None
