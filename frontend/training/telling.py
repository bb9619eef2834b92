"""Agreement, walks and weights in words: kind, with their number, and never a ranking."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

from survey.condition.agreement import Agreement, Pair, Twice
from survey.condition.models import Weight
from survey.condition.training import AGREED_OF, FEWEST_TREES, WalkSeen
from survey.condition.weights import FEWEST_LOOKS
from survey.handbook.book import book
from survey.handbook.wording import said

# Own rule of this project: a weight lies between 0 and 1, and closer than this to the usual one is
# "about as much".
ABOUT = 0.1
KINDS_OF_WEIGHT = ("staff", "volunteer", "resident")


def word_said(word: str) -> str:
    """One of the words that looks are compared by."""
    return {
        "thriving": pgettext("condition", "thriving"),
        "holding": pgettext("condition", "holding"),
        "slipping": pgettext("condition", "slipping"),
        "failing": pgettext("condition", "failing"),
        "sprouting": pgettext("condition", "top dead, sprouting from below"),
        "dead": pgettext("condition", "dead"),
        "gone": pgettext("condition", "gone"),
    }.get(word, word)


def sign_said(code: str) -> str:
    sign = book().signs.get(code)
    return str(said(sign.label)) if sign else code


def signs_said(codes) -> str:
    """Signs by name, in the handbook's order; those it no longer knows come last."""
    order = {code: place for place, code in enumerate(book().signs)}
    return ", ".join(sign_said(c) for c in sorted(codes, key=lambda c: (order.get(c, 999), c)))


# --- a walk ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Row:
    """One tree of a walk as both saw it. `differ` is empty where both used the same word."""

    tree: object
    mine: str
    other: str
    mine_said: str
    other_said: str
    mine_signs: str
    other_signs: str
    differ: str
    far: bool


def row_of(pair: Pair, tree) -> Row:
    if pair.is_same:
        differ = ""
    elif pair.is_near:
        differ = _("one step apart")
    elif {pair.mine.word, pair.other.word} & {"dead", "gone"}:
        differ = _("alive or not? Look again together")
    else:
        differ = _("far apart. Look again together")
    return Row(
        tree,
        pair.mine.word,
        pair.other.word,
        word_said(pair.mine.word),
        word_said(pair.other.word),
        signs_said(pair.mine.signs),
        signs_said(pair.other.signs),
        differ,
        not pair.is_near,
    )


def walk_said(seen: WalkSeen) -> str:
    """How far the two of a walk agreed, as a sentence."""
    trees, same = len(seen.pairs), seen.same
    if not trees:
        return _("No tree there has a look by both on that day yet.")
    step = seen.near - same
    words = {"trees": trees, "same": same, "step": step}
    if same == trees:
        return (
            ngettext(
                "At the one tree that both looked at, both said the same.",
                "At all %(trees)d trees that both looked at, both said the same.",
                trees,
            )
            % words
        )
    told = (
        ngettext(
            "Of %(trees)d tree that both looked at, both said the same of %(same)d.",
            "Of %(trees)d trees that both looked at, both said the same of %(same)d.",
            trees,
        )
        % words
    )
    if step:
        told += (
            " "
            + ngettext(
                "Of %(step)d more they were one step apart.",
                "Of %(step)d more they were one step apart.",
                step,
            )
            % words
        )
    return told


def walk_lacks(seen: WalkSeen) -> str:
    """Why a walk does not count yet; empty when it does."""
    if seen.is_enough:
        return ""
    if len(seen.pairs) < FEWEST_TREES:
        return _("A walk counts when both looked at %d trees or more.") % FEWEST_TREES
    agreed, of = AGREED_OF
    return _(
        "A walk counts when both said the same, or were one step apart, of %(agreed)d in %(of)d "
        "trees. Walk once more and talk about those that differ."
    ) % {"agreed": agreed, "of": of}


def signs_to_see_again(pairs: list[Pair], name: str, partner: str) -> list[tuple[str, str, str]]:
    """Signs that only one of the two ticked: label, who and how often, what it looks like."""
    only: dict[tuple[str, bool], int] = {}
    for pair in pairs:
        for sign in pair.mine.signs ^ pair.other.signs:
            key = (sign, sign in pair.mine.signs)
            only[key] = only.get(key, 0) + 1
    told = []
    for (sign, mine), times in sorted(only.items(), key=lambda each: (-each[1], each[0])):
        who = name if mine else partner
        how_often = ngettext(
            "only %(who)s saw it, at %(n)d tree", "only %(who)s saw it, at %(n)d trees", times
        ) % {"who": who, "n": times}
        told.append((sign_said(sign), how_often, definition_said(sign)))
    return told


def definition_said(code: str) -> str:
    sign = book().signs.get(code)
    return str(said(sign.definition)) if sign else ""


# --- one's own agreement -----------------------------------------------------------------------


def agreement_said(agreement: Agreement, name: str = "") -> str:
    """How often somebody and others agreed. `name` is empty on one's own page."""
    share = agreement.share
    if share is None:
        return ""
    words = {
        "name": name,
        "same": agreement.same,
        "of": agreement.pairs,
        "about": round(10 * share.share),
        "low": round(10 * share.low),
        "high": round(10 * share.high),
    }
    if name:
        told = _(
            "%(name)s and others used the same word in %(same)d of %(of)d looks: about %(about)d "
            "in 10. With so many looks, it may be anywhere from %(low)d to %(high)d in 10."
        )
    else:
        told = _(
            "You and others used the same word in %(same)d of %(of)d looks: about %(about)d in 10. "
            "With so many looks, it may be anywhere from %(low)d to %(high)d in 10."
        )
    told %= words
    step = agreement.near - agreement.same
    if step:
        told += (
            " "
            + ngettext(
                "In %d more the words were one step apart.",
                "In %d more the words were one step apart.",
                step,
            )
            % step
        )
    return told


def twice_said(twice: Twice, name: str = "") -> str:
    """One thing to look at twice, as a sentence."""
    words = {
        "name": name,
        "mine": word_said(twice.mine),
        "other": word_said(twice.other),
        "n": twice.times,
    }
    if name:
        return _("%(name)s said “%(mine)s” where others said “%(other)s”: %(n)d times.") % words
    return _("You said “%(mine)s” where others said “%(other)s”: %(n)d times.") % words


def sign_twice_said(twice: Twice, name: str = "") -> str:
    """What happened with a sign to look at twice, as a sentence that does not name it."""
    words = {"name": name, "n": twice.times}
    if twice.mine and name:
        told = _("%(name)s saw it %(n)d times where others did not.")
    elif twice.mine:
        told = _("You saw it %(n)d times where others did not.")
    elif name:
        told = _("Others saw it %(n)d times where %(name)s did not.")
    else:
        told = _("Others saw it %(n)d times where you did not.")
    return told % words


# --- weights -----------------------------------------------------------------------------------


def weights_said(weights: Iterable[Weight], looks: int, usual: Mapping[str, float]) -> list[str]:
    """What looks of an observer count, beside what is usual for their kind; never a number.

    Somebody who was trained on the way has one sentence for the looks since and one for those
    before. `looks` are all that were made, for an observer that was not weighed yet; `usual` is
    what is usual in the town by kind.
    """
    by_kind = {weight.kind: weight for weight in weights}
    if not by_kind:
        return [_not_enough(looks) if looks < FEWEST_LOOKS else _("not weighed on its own")]
    told = [
        (kind, _weight_said(by_kind[kind], usual)) for kind in KINDS_OF_WEIGHT if kind in by_kind
    ]
    if len(told) == 1:
        return [told[0][1]]
    return [
        _("before the training: %s") % line
        if kind == "resident"
        else _("since the training: %s") % line
        for kind, line in told
    ]


def _not_enough(looks: int) -> str:
    return _("not enough looks to say (%d)") % looks


def _weight_said(weight: Weight, usual: Mapping[str, float]) -> str:
    if weight.looks < FEWEST_LOOKS:
        return _not_enough(weight.looks)
    about, more, less = {
        "resident": (
            _("counts about as much as most neighbors' looks"),
            _("counts for more than most neighbors' looks"),
            _("counts for less than most neighbors' looks"),
        ),
        "volunteer": (
            _("counts about as much as most volunteers' looks"),
            _("counts for more than most volunteers' looks"),
            _("counts for less than most volunteers' looks"),
        ),
        "staff": (
            _("counts about as much as most staff looks"),
            _("counts for more than most staff looks"),
            _("counts for less than most staff looks"),
        ),
    }[weight.kind]
    difference = weight.weight - usual.get(weight.kind, weight.usual)
    if abs(difference) <= ABOUT:
        return about
    return more if difference > 0 else less
