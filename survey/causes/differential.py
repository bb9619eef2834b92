"""Causes told apart by the handbook, for one tree: the words, and the one question that is left."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache

from survey.causes.answers import said_by_answer
from survey.causes.conflicts import contradict
from survey.causes.facts import Facts, Read, read_facts
from survey.causes.verdicts import Ruling
from survey.handbook.book import book
from survey.handbook.causes import Cause, Check, Who
from survey.science.causes.asking import ask, leading
from survey.science.causes.records import (
    Answer,
    Asked,
    Known,
    Question,
    Suspect,
    Told,
    Weighing,
    Witness,
)
from survey.science.causes.weighing import STRONG, tell_causes

ABOUT_CONTEXT = frozenset({"side", "tree", "time", "weather", "company"})
"""Clues that place a sign; nothing is made possible by them alone. Nor by a site that merely
could explain something: a strong match at the site (a crust, a dead ring) was seen there."""

DECISIVE = 3
"""A clue of this weight says what was seen, whatever it is about (worst toward a wall, hurt when
delivered). That its kind is bare now is the calendar's word and no look at the tree."""

BARE = "bare_branches"
BARE_IS_NORMAL = "bare_is_normal"
SEASON = "season"
"""The kind of cause that is no trouble: the tree sleeps when its kind sleeps."""

ABLE: Mapping[Who, frozenset[Who]] = {
    "anyone": frozenset({"anyone"}),
    "trained": frozenset({"anyone", "trained"}),
    "crew": frozenset({"anyone", "crew"}),
    "arborist": frozenset({"anyone", "trained", "crew", "arborist"}),
    "applicator": frozenset({"anyone", "applicator"}),
    "lab": frozenset({"anyone", "lab"}),
}
"""Whose checks somebody may be asked to make: their own, and what anyone may do."""

DEEPER = frozenset({"ball_dry", "ball_wet", "flare_by_hand", "stick_goes_in"})
"""Checks that feel below the surface: what a neighbor ticks of the soil is asked again by them."""

_MARK = frozenset(
    {"bark_wound", "bark_torn", "bark_sunken", "oozing_bark", "level_cut", "claw_strips"}
    | {"tooth_marks", "upright_shreds", "fresh_in_old", "stained_foot"}
)
_HOLES = frozenset({"holes_sawdust", "hole_rows", "d_hole", "nail_holes"})
_HURT = _MARK | _HOLES | {"crisp_edges", "dieback", "discoloured_leaves", "wilting"}
_TIED = frozenset(
    {"tie_cuts_in", "stake_rubs", "groove_at_tie", "tie_tight", "loose_ball"}
    | {"planted_under_3_years", "staked", "groove"}
)
_LEAVES = frozenset(
    {"yellow_veins", "crisp_edges", "discoloured_leaves", "newest_yellow", "oldest_burn"}
)
TAKES_FOR_GRANTED = {
    "level_marks": _MARK,
    "fresh_cuts": _MARK,
    "how_low": _MARK,
    "how_high": _MARK,
    "goes_round": _MARK,
    "delivery_look": _MARK,
    "faces_the_sun": _HURT,
    "hot_wall": _HURT,
    "when_it_showed": _MARK,
    "groove_where": frozenset({"tie_cuts_in", "groove_at_tie", "groove_no_tie", "groove"}),
    "two_fingers": _TIED,
    "stake_touches": _TIED,
    "hole_like_a_d": _HOLES,
    "holes_in_rows": _HOLES,
    "limp_at_dawn": frozenset({"wilting"}),
    "which_leaves_yellow": _LEAVES,
    "which_leaves_burn": _LEAVES,
    "green_veins_seen": _LEAVES,
}
"""What a check speaks of as if it were there: *the mark*, *the groove*, *the holes*. It is asked
only if one of these clues is so; own rule of this project."""

UNTIED = frozenset({"never_tied", "ties_gone"})
IDLE_WITH = {
    "two_fingers": UNTIED,
    "stake_touches": UNTIED,
    "groove_where": frozenset({"tie_tight", "staked"}),
    "spots_seen": frozenset({"white_powder"}),
    "done_by_hand": frozenset({"tire_or_paint"}),
    "trace_of_car": frozenset({"by_hand"}),
    "salted_road": frozenset({"reclaimed_water"}),
    "purple_heads": frozenset({"road_salt"}),
}
"""A check that is idle beside what is known is not asked: no fingers under a tie that was taken
off, no groove's place while the tie is on, no car where it was carved by hand, no second source of
salt."""

NEAR = 1.0
"""Causes within so many points of the foremost lead with it: a context clue, about, parts them."""

SOIL = frozenset({"dry_soil", "soggy_soil", "packed_soil"})
"""Signs that are seen in the soil and not on the tree."""

MOST_ASKED = 3
"""One question is asked; two more are kept for whoever cannot answer it."""

LocalWeights = Mapping[str, Mapping[str, int]]

Supposing = Callable[[str, bool], Facts]
"""The facts as they would be once a check is answered with yes or no."""


@dataclass(frozen=True, slots=True)
class Differential:
    """What is thought of one tree: the clues read, the causes told, and the question to ask.

    `asked` is None while a danger is open, when nothing safe would tell more, and for whoever no
    check is safe; its answers are told as they would be once written down. `local` names the
    weights that are rules of the place (cause, clue). `rulings` are the verdicts of trained people
    that speak of this tree: what they judged is settled, so it is neither named nor asked about.
    `answer` holds what the clues say of every cause all the same.
    """

    read: Read
    answer: Answer
    asked: Asked | None
    others: tuple[Asked, ...] = ()
    local: frozenset[tuple[str, str]] = frozenset()
    rulings: Mapping[str, Ruling] = field(default_factory=dict)

    @property
    def named(self) -> tuple[Told, ...]:
        """The causes said to be likely or possible and not judged."""
        return self.named_in(self.answer)

    def named_in(self, answer: Answer) -> tuple[Told, ...]:
        """Those that another answer about the same tree names."""
        return tuple(told for told in answer.named if told.cause not in self.rulings)

    @property
    def confirmed(self) -> tuple[str, ...]:
        """The causes that were confirmed, the newest first."""
        return tuple(cause for cause, ruling in self.rulings.items() if ruling.confirmed)

    @property
    def ruled_out(self) -> tuple[str, ...]:
        """The causes that were ruled out, the newest first."""
        return tuple(cause for cause, ruling in self.rulings.items() if not ruling.confirmed)

    @property
    def asleep(self) -> Told | None:
        """The answer that nothing is wrong because its kind is bare now, if it is one."""
        for told in self.named:
            if book().causes[told.cause].kind == SEASON:
                return told
        return None


def tell_apart(
    facts: Facts,
    *,
    who: Who = "anyone",
    in_danger: bool = False,
    local: LocalWeights | None = None,
    rulings: Mapping[str, Ruling] | None = None,
    supposing: Supposing | None = None,
) -> Differential:
    """The causes that fit these facts, and the question that would tell most.

    Only checks that are safe for `who` are asked, none beside a sign that makes it unsafe, and
    none at all while a danger is open. `local` are weights of approved rules of the place, by
    cause and clue, `rulings` the verdicts that speak of this tree. What an answer would change is
    worked out by answering: from the facts that `supposing` gives, else from these and the answer.
    Raises BadFacts: then nothing is ranked.
    """
    rulings = rulings or {}
    read = read_facts(facts)
    suspects = suspects_of(local, bare_is_normal=bool(read.bare_is_normal))
    month = read.northern_month
    answer = tell_causes(suspects, read.known, northern_month=month)
    asked: list[Asked] = []
    if not in_danger:
        here = {one.clue for one in read.known if one.so}
        signs = {sign for sign, so in facts.signs.items() if so} | {
            clue.sign for code, clue in book().clues.items() if clue.sign and code in here
        }
        beside = {code: cause.look_alikes for code, cause in book().causes.items()}
        # Where the causes in front leave nothing to ask, water is asked about: the likeliest harm.
        water = [code for code, cause in book().causes.items() if cause.kind == "water"]
        left = [told for told in answer.causes if told.cause not in rulings]
        first = leading(replace(answer, causes=tuple(left)))
        settled = {
            check for code, one in rulings.items() if one.confirmed for check in _own_checks(code)
        }
        for front, about in ((first, ()), ((), [code for code in water if code not in rulings])):
            asked = asked or ask(
                [suspect for suspect in suspects if suspect.code not in rulings],
                read.known,
                [
                    question
                    for question in questions_for(who, front, signs=signs, so=here)
                    if question.code not in settled
                ],
                northern_month=month,
                beside=beside,
                about=about,
                most=MOST_ASKED,
            )

    def after(check: str, yes: bool) -> Answer:
        known = with_answer(read.known, check, yes=yes)
        if supposing is not None:
            known = read_facts(supposing(check, yes)).known
        return tell_causes(suspects, known, northern_month=month)

    first = asked[0] if asked else None
    if first is not None:
        code = first.question.code
        first = replace(
            first, before=answer, after_yes=after(code, True), after_no=after(code, False)
        )
    return Differential(
        read=read,
        answer=answer,
        asked=first,
        others=tuple(asked[1:]),
        local=frozenset((cause, clue) for cause, by in (local or {}).items() for clue in by),
        rulings=rulings,
    )


def with_answer(known: Iterable[Known], check: str, *, yes: bool) -> tuple[Known, ...]:
    """What is known once a check is answered: what contradicts the answer gives way to it."""
    by = frozenset({Witness("check")})
    new = [Known(clue, so, by) for clue, so in said_by_answer(check, yes=yes)]
    kept = [one for one in known if not any(contradict(one, answer) for answer in new)]
    return (*kept, *new)


def _own_checks(cause: str) -> tuple[str, ...]:
    """The checks that settle a cause; none of one that the handbook no longer has."""
    entry = book().causes.get(cause)
    return entry.checks if entry else ()


def suspects_of(
    local: LocalWeights | None = None, *, bare_is_normal: bool = False
) -> tuple[Suspect, ...]:
    """The handbook's causes as suspects, with the rules of the place added to its weights.

    Where its kind stands bare in its bare months, bare branches speak for nothing but sleep.
    """
    if not local:
        return _suspects(bare_is_normal)
    return tuple(
        _suspect(cause, bare_is_normal, local.get(code, {}))
        for code, cause in book().causes.items()
    )


@lru_cache(maxsize=2)
def _suspects(bare_is_normal: bool) -> tuple[Suspect, ...]:
    return tuple(_suspect(cause, bare_is_normal, {}) for cause in book().causes.values())


def _suspect(cause: Cause, bare_is_normal: bool, local: Mapping[str, int]) -> Suspect:
    clues = book().clues
    weights = {weighed.clue: (weighed.weight, weighed.absent) for weighed in cause.clues}
    for clue, further in local.items():
        weight, absent = weights.get(clue, (0, 0))
        weights[clue] = max(-3, min(3, weight + further)), absent
    follows_calendar = any(clues[clue].months for clue in weights)
    if bare_is_normal and cause.kind == SEASON and BARE in weights:
        # Bare just when its kind is bare: that is what sleep looks like, not a hint of it.
        weights[BARE] = max(STRONG, weights[BARE][0]), weights[BARE][1]
    return Suspect(
        code=cause.code,
        often=cause.often,
        weighings=tuple(
            Weighing(
                clue,
                weight,
                absent,
                context=is_context(clue, weight),
                beside=is_beside(clue),
                local=clue in local,
                usual=len(clues[clue].months) / 12 if len(clues[clue].months) < 12 else 0.0,
            )
            for clue, (weight, absent) in weights.items()
            if (weight or absent) and not (bare_is_normal and clue == BARE and cause.kind != SEASON)
        ),
        # Its own clues of the calendar say when it shows; saying it twice would weigh it twice.
        shows_in=frozenset(range(1, 13) if follows_calendar else cause.shows_months),
    )


def is_context(clue: str, weight: int) -> bool:
    """Whether a clue with this weight only places what is seen elsewhere."""
    if weight >= DECISIVE and clue != BARE_IS_NORMAL:
        return False
    about = book().clues[clue].about
    return about in ABOUT_CONTEXT or (about == "site" and weight < 2)


def is_beside(clue: str) -> bool:
    """Whether a clue is seen next to the tree: it may explain a sign of the tree but is none."""
    return clue in SOIL or book().clues[clue].about not in ("sign", "mark", "tree")


def questions_for(
    who: Who, front: Iterable[Told], *, signs: Iterable[str] = (), so: Iterable[str] = ()
) -> list[Question]:
    """The checks that the handbook names for these causes, that are safe for somebody to make
    beside these signs, and that take nothing for granted but what is `so`."""
    beside, known, front = set(signs), set(so), list(front)
    places: dict[str, int] = {}
    for cause in _to_settle(front):
        for place, code in enumerate(cause.checks):
            places[code] = min(place, places.get(code, place))
    first = [book().causes[told.cause] for told in front if _near(told, front)]
    own = {code for cause in first for code in cause.checks}
    return [
        Question(
            code=code,
            who=check.who,
            yes_so=check.yes_means,
            yes_not=check.yes_denies,
            no_so=check.no_means,
            no_not=check.no_denies,
            deeper=code in DEEPER or not _is_of_signs(check),
            felt=code in DEEPER,
            place=place,
            own=code in own,
        )
        for code, place in places.items()
        if (check := book().checks[code]).who in ABLE[who]
        and not beside & set(check.not_with)
        and (code not in TAKES_FOR_GRANTED or known & TAKES_FOR_GRANTED[code])
        and not known & IDLE_WITH.get(code, frozenset())
    ]


def _near(told: Told, front: Iterable[Told]) -> bool:
    """Whether a cause leads, or stands close to the one that does."""
    return told.standing >= max(one.standing for one in front) - NEAR


def _is_of_signs(check: Check) -> bool:
    """Whether it asks for nothing but signs, which a report ticks by their picture. Marks, sides
    and the place are read out of somebody's words, so they are worth asking for."""
    told = (*check.yes_means, *check.yes_denies, *check.no_means, *check.no_denies)
    return all(book().clues[clue].about == "sign" for clue in told)


def _to_settle(front: Iterable[Told]) -> list[Cause]:
    """The causes whose checks are asked. Where nothing is seen that speaks for any cause, those
    that place and season make likely come first, and where there is none of these, too much and
    too little water: a source calls them the likeliest harm (`uc_ipm_water`)."""
    causes, front = book().causes, list(front)
    placed = [causes[told.cause] for told in front if told.cap == "context_only"]
    if placed:
        return placed
    if any(not line.context for told in front for line in told.speaks_for):
        return [causes[told.cause] for told in front]
    return [cause for cause in causes.values() if cause.kind == "water"]
