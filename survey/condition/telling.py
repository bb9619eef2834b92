"""What was seen in a look, and what happened between looks, as sentences that name nobody."""

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext, npgettext, pgettext

from survey.condition.wording import (
    bare_verdict_said,
    between_said,
    claim_said,
    day_said,
    hundred_said,
    month_said,
    points_said,
    share_said,
    state_said,
    verdict_said,
    whole,
)

NOT_THERE = ("gone", "stump")
RESIDENT, VOLUNTEER, STAFF = "resident", "volunteer", "staff"


@dataclass(frozen=True, slots=True)
class Seen:
    """Looks alike, of one month and one kind of observer: what each of `many` of them said.

    `what` is one of the six conditions, "stump", "sprouting" or "" (no condition named). `bare` and
    `may_be_bare` say whether the species is bare in that month or may be; `signs` counts the signs
    listed. `species` is the common name, "" when not known.
    """

    many: int
    kind: str
    month: date
    what: str
    scratch: str = ""
    leaf: str = ""
    signs: int = 0
    complaint: bool = False
    bare: bool = False
    may_be_bare: bool = False
    species: str = ""

    @property
    def may_mislead(self) -> bool:
        """Whether a bare crown in its bare months may have been taken for a dead one."""
        looks_dead = self.what in ("dead", "failing") or self.leaf == "bare"
        return (self.bare or self.may_be_bare) and looks_dead and self.scratch != "brown"


def look_sentences(seen: Seen, points: float, worry: float, claim: str, now: date) -> str:
    """What was seen, and how much it says; `points` hold those of `worry`.

    `worry` is what it says that somebody wrote without being asked, whatever they wrote. It is told
    apart where it would hide how little, or how much, their words say.
    """
    apart = seen.complaint and abs(whole(worry)) > 1
    rest = points - worry if apart else points
    if seen.may_mislead and rest > 0:
        verdict = bare_verdict_said(rest, claim, seen.month, seen.species, may_be=not seen.bare)
    else:
        verdict = verdict_said(rest, claim, gone=seen.what in NOT_THERE)
    said = [_main(seen, now), *_details(seen), verdict]
    if apart:
        said.append(_worried(seen.many, worry))
    return " ".join(said)


def _worried(many: int, points: float) -> str:
    told = {"points": points_said(points)}
    if points < 0:
        return _("That somebody wrote counts too (%(points)s).") % told
    return (
        ngettext(
            "That somebody wrote at all counts too: people write more about trees in trouble"
            " (%(points)s).",
            "That they wrote at all counts too: people write more about trees in trouble"
            " (%(points)s).",
            many,
        )
        % told
    )


def look_title(seen: Seen) -> str:
    """The same in a few words, to stand beside a bar: "2 neighbors, in bare months: “dead”"."""
    told = {"who": _who(seen), "what": _said_in_short(seen)}
    if seen.what in ("dead", "failing"):
        if seen.bare:
            return _("%(who)s, in a bare month: %(what)s") % told
        if seen.may_be_bare:
            return _("%(who)s, in a month it may be bare: %(what)s") % told
    return _("%(who)s: %(what)s") % told


def part_said(name: str, seen: Seen) -> str:
    """One part of what was seen, in a few words that follow those before: "… and brown bark"."""
    match name:
        case "worry":
            return _("somebody was worried about it")
        case "label":
            return _said_in_short(seen)
        case "scratch":
            return (
                _("brown under a scratch")
                if seen.scratch == "brown"
                else _("green under a scratch")
            )
        case "leaf":
            return _LEAF[seen.leaf]()
    if not seen.signs:
        return _("no sign of trouble noted")
    return ngettext("%(n)d sign of trouble", "%(n)d signs of trouble", seen.signs) % {
        "n": seen.signs
    }


def number_said(n: int) -> str:
    """A number that opens a sentence: in letters up to nine."""
    words = {
        2: pgettext("opens a sentence", "Two"),
        3: pgettext("opens a sentence", "Three"),
        4: pgettext("opens a sentence", "Four"),
        5: pgettext("opens a sentence", "Five"),
        6: pgettext("opens a sentence", "Six"),
        7: pgettext("opens a sentence", "Seven"),
        8: pgettext("opens a sentence", "Eight"),
        9: pgettext("opens a sentence", "Nine"),
    }
    return words.get(n, str(n))


def _who(seen: Seen) -> str:
    n = seen.many
    if seen.kind == RESIDENT:
        return npgettext("beside a bar", "Neighbor", "%(n)d neighbors", n) % {"n": n}
    if seen.kind == VOLUNTEER:
        return npgettext("beside a bar", "Volunteer", "%(n)d volunteers", n) % {"n": n}
    return npgettext("beside a bar", "Staff", "Staff, %(n)d looks", n) % {"n": n}


def _said_in_short(seen: Seen) -> str:
    if seen.what == "stump":
        return _("only a stump")
    if seen.what == "gone":
        return _("no tree there")
    if seen.what == "sprouting":
        return _("top dead, sprouting from below")
    if seen.what:
        return _("“%(state)s”") % {"state": state_said(seen.what)}
    return _("worried about it") if seen.complaint else _("looked at it")


def _main(seen: Seen, now: date) -> str:
    what = seen.what if seen.what in _OTHER[seen.kind] else "state"
    if not seen.what:
        what = "worried" if seen.complaint and seen.kind == RESIDENT else "looked"
    said = _OTHER[seen.kind][what](seen.many)
    return said % {
        "n": number_said(seen.many),
        "month": month_said(seen.month, now),
        "state": state_said(seen.what) if what == "state" else "",
    }


_OTHER = {
    RESIDENT: {
        "state": lambda n: ngettext(
            "A neighbor said in %(month)s that it looked %(state)s.",
            "%(n)s neighbors said in %(month)s that it looked %(state)s.",
            n,
        ),
        "gone": lambda n: ngettext(
            "A neighbor said in %(month)s that no tree is there.",
            "%(n)s neighbors said in %(month)s that no tree is there.",
            n,
        ),
        "stump": lambda n: ngettext(
            "A neighbor saw only a stump in %(month)s.",
            "%(n)s neighbors saw only a stump in %(month)s.",
            n,
        ),
        "sprouting": lambda n: ngettext(
            "A neighbor said in %(month)s that the top was dead and it sprouted from below.",
            "%(n)s neighbors said in %(month)s that the top was dead and it sprouted from below.",
            n,
        ),
        "worried": lambda n: ngettext(
            "A neighbor was worried about it in %(month)s.",
            "%(n)s neighbors were worried about it in %(month)s.",
            n,
        ),
        "looked": lambda n: ngettext(
            "A neighbor looked at it in %(month)s.",
            "%(n)s neighbors looked at it in %(month)s.",
            n,
        ),
    },
    VOLUNTEER: {
        "state": lambda n: ngettext(
            "A trained volunteer found it %(state)s in %(month)s.",
            "%(n)s trained volunteers found it %(state)s in %(month)s.",
            n,
        ),
        "gone": lambda n: ngettext(
            "A trained volunteer found no tree there in %(month)s.",
            "%(n)s trained volunteers found no tree there in %(month)s.",
            n,
        ),
        "stump": lambda n: ngettext(
            "A trained volunteer found only a stump in %(month)s.",
            "%(n)s trained volunteers found only a stump in %(month)s.",
            n,
        ),
        "sprouting": lambda n: ngettext(
            "A trained volunteer found the top dead in %(month)s, but it sprouted from below.",
            "%(n)s trained volunteers found the top dead in %(month)s, but it sprouted from below.",
            n,
        ),
        "looked": lambda n: ngettext(
            "A trained volunteer looked at it in %(month)s.",
            "%(n)s trained volunteers looked at it in %(month)s.",
            n,
        ),
    },
    STAFF: {
        "state": lambda n: ngettext(
            "Somebody from staff found it %(state)s in %(month)s.",
            "%(n)s people from staff found it %(state)s in %(month)s.",
            n,
        ),
        "gone": lambda n: ngettext(
            "Somebody from staff found no tree there in %(month)s.",
            "%(n)s people from staff found no tree there in %(month)s.",
            n,
        ),
        "stump": lambda n: ngettext(
            "Somebody from staff found only a stump in %(month)s.",
            "%(n)s people from staff found only a stump in %(month)s.",
            n,
        ),
        "sprouting": lambda n: ngettext(
            "Somebody from staff found the top dead in %(month)s, but it sprouted from below.",
            "%(n)s people from staff found the top dead in %(month)s, but it sprouted from below.",
            n,
        ),
        "looked": lambda n: ngettext(
            "Somebody from staff looked at it in %(month)s.",
            "%(n)s people from staff looked at it in %(month)s.",
            n,
        ),
    },
}

_LEAF = {
    "full": lambda: _("in full leaf"),
    "partial": lambda: _("partly in leaf"),
    "bare": lambda: _("bare"),
}


def _details(seen: Seen) -> list[str]:
    said = []
    if seen.scratch == "brown":
        said.append(_("A scratch test was brown under the bark."))
    elif seen.scratch == "green":
        said.append(_("A scratch test was green under the bark."))
    if seen.leaf == "full":
        said.append(_("It was in full leaf."))
    elif seen.leaf == "partial":
        said.append(_("It was only partly in leaf."))
    elif seen.leaf == "bare":
        said.append(_("It was bare."))
    if seen.signs:
        said.append(
            ngettext(
                "A sign of trouble was noted.", "%(n)s signs of trouble were noted.", seen.signs
            )
            % {"n": number_said(seen.signs)}
        )
    return said


# What was laid down ------------------------------------------------------------------------------


def decision_sentences(state: str, month: date, points: float, claim: str, now: date) -> str:
    """An overruling: trained staff laid the condition down, against or without looks."""
    said = _("Trained staff decided in %(month)s that it is %(state)s, and wrote down why.") % {
        "month": month_said(month, now),
        "state": state_said(state),
    }
    verdict = verdict_said(points, claim, gone=state == "gone")
    return f"{said} {verdict}"


def departure_sentences(month: date, points: float, claim: str, now: date) -> str:
    """The list itself says that the tree died."""
    said = _("It was taken off the list in %(month)s as a tree that died.") % {
        "month": month_said(month, now)
    }
    return f"{said} {verdict_said(points, claim)}"


def decision_title(state: str) -> str:
    return _("Decided by trained staff: “%(state)s”") % {"state": state_said(state)}


def departure_title() -> str:
    return _("Taken off the list: died")


# Between looks ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Between:
    """A time from one month to another without a look that says something.

    `quiet` counts the months in which nobody complained, where somebody might have; `time`,
    `silence` and `removals` are the points of the three parts.
    """

    since: date
    until: date
    months: int
    quiet: int
    time: float
    silence: float
    removals: float

    @property
    def is_silence_heard(self) -> bool:
        return bool(self.quiet and whole(self.silence))


def between_sentences(between: Between, points: float, share: float) -> str:
    """What the time itself did, and the silence in it; `share` is that of the claim after it."""
    said = []
    if between.months > 1:
        told = between_said(between.since, between.until)
        said.append(_("Nobody looked between %(first)s and %(last)s.") % told)
    elif between.months == 1:
        said.append(_("A month went by."))
    if between.months and whole(between.time):
        said.append(_passed(between.time))
    if between.is_silence_heard or not between.months:
        said.append(_silent(between))
    told = {"share": hundred_said(share), "points": points_said(points)}
    return " ".join([*said, _("That makes it %(share)s (%(points)s).") % told])


def between_title(between: Between) -> str:
    if between.is_silence_heard:
        return _("Nobody looked, nobody complained")
    return _("Nobody looked")


def removal_sentences(month: date, points: float, claim: str, now: date) -> str:
    said = _("In %(month)s somebody wrote down that the tree was taken away.") % {
        "month": month_said(month, now)
    }
    return f"{said} {verdict_said(points, claim, gone=True)}"


def removal_title() -> str:
    return _("Removal written down")


def stretch_part_said(name: str, *, logged: bool) -> str:
    """One part of a time between looks, or of a removal (`logged`), in a few words."""
    if name == "quiet":
        return _("nobody complained")
    if name == "time":
        return _("time went by")
    return _("a removal on record") if logged else _("no removal on record")


def _passed(points: float) -> str:
    return (
        _("Some trees recover with time.") if points < 0 else _("Some trees get worse with time.")
    )


def _silent(between: Between) -> str:
    told = {"n": between.quiet}
    if between.silence < 0:
        return (
            ngettext(
                "Nobody complained in that month, and people write more about trees in trouble.",
                "Nobody complained in %(n)d months, and people write more about trees in trouble.",
                between.quiet,
            )
            % told
        )
    return (
        ngettext(
            "Nobody complained in that month.", "Nobody complained in %(n)d months.", between.quiet
        )
        % told
    )


# The edges of the story ---------------------------------------------------------------------------


def start_sentence(month: date, share: float, claim: str, *, planted: bool) -> str:
    """Where the story begins: `planted` when the tree came on the list as it was planted."""
    told = {"month": month_said(month), "share": hundred_said(share), "claim": claim_said(claim)}
    if planted:
        said = _("It was planted and put on the list in %(month)s.") % told
    else:
        said = _("It came on the list in %(month)s.") % told
    shared = _("Of such trees, %(share)s are %(claim)s.") % told
    return f"{said} {shared}"


def start_title() -> str:
    return _("When it came on the list")


def no_looks_sentence(month: date) -> str:
    return _(
        "Nobody has looked at it since it came on the list in %(month)s. What stands here is what"
        " trees of its age are like in this town."
    ) % {"month": month_said(month)}


def gone_then_there_sentence(gone: date, there: date, *, stump: bool) -> str:
    """Two looks that cannot both be of this tree."""
    told = {"gone": month_said(gone), "there": month_said(there)}
    if stump:
        return (
            _(
                "A stump was seen in %(gone)s and a standing tree in %(there)s. One of the two was"
                " about another tree."
            )
            % told
        )
    return (
        _(
            "No tree was there in %(gone)s, and one stood there in %(there)s. One of the two was"
            " about another tree."
        )
        % told
    )


def dead_then_alive_sentence(dead: date, alive: date) -> str:
    return _(
        "It was called dead in leaf in %(dead)s and alive in %(alive)s. Dead trees do not come"
        " back: one of the two was wrong, or about another tree."
    ) % {"dead": month_said(dead), "alive": month_said(alive)}


def lighter_sentence(looks: int) -> str:
    """For staff: the looks of an observer count less than is usual. Says nothing of the person."""
    return ngettext(
        "This observer's looks count less here.",
        "The looks of some of these observers count less here.",
        looks,
    )


def basis_said(method: str, day: date, number: int) -> str:
    return _("Worked out by the method “%(method)s”, as learnt on %(day)s (version %(n)d).") % {
        "method": method,
        "day": day_said(day),
        "n": number,
    }


def no_basis_said() -> str:
    return _("Nothing was learnt in this town yet: worked out with what is usual.")


def hinge_said(title: str, month: date, share: float, claim: str) -> str:
    """That most of a belief rests on one row, and what it would be without."""
    return _(
        "Most of this rests on one thing (%(title)s, %(month)s). Without it, %(share)s trees like"
        " this would be %(claim)s."
    ) % {
        "title": title,
        "month": month_said(month),
        "share": share_said(share),
        "claim": claim_said(claim),
    }
