"""What is believed of one tree, as the desk, its own pages and a neighbor's note tell it.

The words of the weighing come from `survey.condition.why`; here they are laid out for a page.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from frontend.drawings.belief import (
    LOST,
    WORDS,
    BeliefMonth,
    belief_strip,
    hundred,
    normal,
    read_belief,
)
from frontend.drawings.drawn import Drawn, in_hundred, whole
from frontend.drawings.waterfall import Step, waterfall
from survey.condition.models import STATES, Belief
from survey.condition.why import Row, Why, view_of, why
from survey.condition.wording import died_said
from survey.trees.models import Look, Tree
from survey.trees.species import Kind

IN_QUESTION = 0.25
"""From this chance of being lost on, a tree's question is whether it is lost; below it, whether it
slips. Ours to choose: it picks words, it decides nothing."""

CLEARLY_LOST = 0.5
JUST_LOOKED = timedelta(days=14)
"""Whoever has just looked is not asked to look again. Ours to choose."""
SETTLED = ("dead", "gone")
"""States of the decision dead or asleep in which a tree may be spoken of as lost."""
LIKELY_DEAD = gettext_lazy("It looks more likely dead than not; there are not yet two visits.")
LIKELY_GONE = gettext_lazy("It is more likely gone than not; nobody has made sure yet.")
MOST_IN_WORDS = 7  # steps told in words at once; the earlier ones are folded


@dataclass(frozen=True, slots=True)
class Weighed:
    """One look or stretch in words, and what would be believed without it; "" where no less."""

    row: Row
    without: str


@dataclass(frozen=True, slots=True)
class Offer:
    """The one look that would tell most: what, what its answers speak for, and whether it waits."""

    kind: str
    said: str
    answers: str
    later: bool


@dataclass(frozen=True, slots=True)
class Believed:
    """Everything a page says of one tree's belief."""

    belief: Belief
    why: Why
    claim: str
    rows: tuple[Weighed, ...]
    earlier: tuple[Weighed, ...]
    waterfall: Drawn
    hundred: Drawn
    looks: int
    offer: Offer | None
    laid_down: Row | None


def believed_of(tree: Tree, belief: Belief, person, *, of_note: Iterable[int] = ()) -> Believed:
    """A tree's belief with everything that moved it. `of_note` are the looks of the note at hand:
    what would be believed without them is always said."""
    claim = "lost" if belief.lost >= IN_QUESTION else "worse"
    told = why(tree, claim, view=view_of(person))
    noted = set(of_note)
    first = told.told_from
    start = told.rows[first] if first else None
    shown = told.rows[first + 1 :] if start else told.rows
    drawn = waterfall(
        [_step(row) for row in shown],
        start=start.share if start else told.start_share,
        claim=told.claim_words,
        started=start.title if start else told.start_title,
        start_day=start.day if start else told.start_month,
    )
    rows = tuple(_weighed(row, told, noted) for row in told.rows)
    folded = max(first, len(rows) - MOST_IN_WORDS)
    return Believed(
        belief=belief,
        why=told,
        claim=told.claim_words,
        rows=rows[folded:],
        earlier=rows[:folded],
        waterfall=drawn,
        hundred=hundred(told.shares),
        looks=sum(row.looks for row in told.rows),
        offer=None if _just_looked(tree, belief) else offer_of(belief),
        laid_down=next((row for row in reversed(told.rows) if row.kind == "decision"), None),
    )


def _step(row: Row) -> Step:
    return Step(row.day, row.title, row.points, row.share, stretch=row.is_between)


def _weighed(row: Row, told: Why, noted: set[int]) -> Weighed:
    """A row, and what would be believed without it where that is another number of a hundred."""
    if row.without is None:
        return Weighed(row, "")
    if noted & set(row.look_ids):
        said = _("Without this report it would be %s.")
    elif whole(row.without * 100) == whole(told.share * 100):
        return Weighed(row, "")
    else:
        said = _("Without it, it would be %s.")
    return Weighed(row, said % in_hundred(row.without))


def strip_of(tree: Tree, told: Why, kind: Kind) -> Drawn:
    """The belief of a tree month by month, with who looked when."""
    looked: dict[date, list[bool]] = {}
    record = Look.objects.standing_record().filter(tree=tree).exclude(presence="not_seen")
    for day, trained in record.values_list("day", "trained"):
        looked.setdefault(day.replace(day=1), []).append(trained)
    months = [
        BeliefMonth(
            month=one.month,
            shares=one.shares,
            looks=len(looked.get(one.month, ())),
            trained=sum(looked.get(one.month, ())),
            bare=one.month.month in kind.bare_months,
        )
        for one in told.strip
    ]
    return belief_strip(months, name=str(tree))


def _just_looked(tree: Tree, belief: Belief) -> bool:
    """Whether the look that would settle most was made in the last two weeks: a trained look, with
    a scratch where one is asked."""
    if belief.settle not in (Belief.Settle.LOOK, Belief.Settle.SCRATCH):
        return False
    looks = Look.objects.standing_record().trained().filter(tree=tree)
    looks = looks.filter(day__gte=tree.area.today() - JUST_LOOKED)
    if belief.settle == Belief.Settle.SCRATCH:
        looks = looks.exclude(scratch="")
    return looks.exclude(presence=Look.Presence.NOT_SEEN).exists()


def offer_of(belief: Belief) -> Offer | None:
    """The look that would tell most, as an offer; None where nothing is in doubt."""
    match belief.settle:
        case Belief.Settle.SCRATCH:
            said = _("If somebody can go: a trained look with a scratch test would settle most.")
            answers = _("Green under the bark speaks for alive, brown for dead.")
            return Offer(belief.settle, said, answers, later=False)
        case Belief.Settle.LOOK:
            said = _("If somebody can go: a trained look now would settle most.")
            return Offer(belief.settle, said, "", later=False)
        case Belief.Settle.PHOTO:
            said = _("If the neighbor can: one photo of the whole tree would settle most.")
            return Offer(belief.settle, said, "", later=False)
        case Belief.Settle.LEAF:
            answers = _("Until then, a bare tree says little.")
            return Offer(belief.settle, _wait_said(belief.settle_month), answers, later=True)
    return None


def _wait_said(month: date | None) -> str:
    if month is None:
        return _("It is best to wait until it should be in leaf, and to look then.")
    return _("It is best to wait until %s, when it should be in leaf, and to look then.") % (
        # Translators: a month, as a Django date format.
        date_format(month, _("F Y"))
    )


def offer_in_short(belief: Belief) -> str:
    """The same in a few words, for lists."""
    match belief.settle:
        case Belief.Settle.SCRATCH:
            return _("scratch test")
        case Belief.Settle.LOOK:
            return _("a trained look")
        case Belief.Settle.PHOTO:
            return _("a photo")
    month = belief.settle_month
    if month is None:
        return _("wait until it is in leaf")
    return _("wait until it is in leaf, %s") % date_format(month, "F")


def plainly_said(belief: Belief, *, state: str | None = None) -> str:
    """ "We think it is holding; it could be slipping": for anybody, with no number in it.

    `state` is what the decision dead or asleep says of the tree (None: nobody asked it). It goes
    first: a loss that it does not confirm is told as a chance, and of a tree that it calls dead
    nothing else is said.
    """
    shape = read_belief(belief.shares)
    if not shape.condition:
        return ""
    if belief.lost >= CLEARLY_LOST:
        if state is not None and state not in SETTLED:
            return str(LIKELY_GONE if belief.gone > belief.dead else LIKELY_DEAD)
        return _lost_said(belief)
    if state in SETTLED:
        return ""
    others = _others(belief.shares, shape.condition, shape.doubt)
    told = {"word": WORDS[shape.condition], "one": "", "other": ""}
    told |= dict(zip(("one", "other"), (WORDS[state] for state in others), strict=False))
    if len(others) > 1:
        return _("We think it is %(word)s; it could be %(one)s or %(other)s.") % told
    if others:
        return _("We think it is %(word)s; it could be %(one)s.") % told
    return _("We think it is %(word)s.") % told


def _others(shares: Sequence[float], first: str, doubt: int) -> list[str]:
    """What else it could be, the likeliest first; dead and gone are one."""
    told = dict(zip(STATES, normal(shares), strict=True))
    told["dead"] += told.pop("gone")
    told.pop("dead" if first in LOST else first)
    return sorted((state for state in told if told[state] > 0), key=lambda s: -told[s])[:doubt]


def _lost_said(belief: Belief) -> str:
    if belief.gone > belief.dead:
        return _("We think it is no longer there.")
    if belief.lost >= 0.9:
        return _("We think it has died.")
    return _("We think it has died, but are not sure.")


def died_when(belief: Belief, registered: date, *, state: str | None = None) -> str:
    """Between which months it died, where that is more likely than not, and the decision dead or
    asleep (`state`; None: nobody asked it) does not say otherwise."""
    if belief.lost < CLEARLY_LOST or belief.died_from is None:
        return ""
    if state is not None and state not in SETTLED:
        return ""
    return died_said(
        belief.died_from,
        belief.died_about,
        belief.died_to,
        sure=belief.lost >= 0.9,
        gone=belief.gone > belief.dead,
        listed=registered.replace(day=1),
    )
