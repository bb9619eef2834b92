"""Weighs clues for and against each cause, one by one: no cause is weighed against another.

The weights (2 a strong match, 1 context, -2 against) are the handbook's ranking rule. How a clue
that fits many causes is discounted, and where words begin, are own rules of this project.
"""

import math
from collections.abc import Iterable, Mapping, Sequence

from survey.science.causes.records import (
    WORDS,
    Answer,
    CannotWeigh,
    Cap,
    ClueContradicted,
    Known,
    Line,
    Often,
    Suspect,
    Told,
    Weighing,
    Witness,
    Word,
)

PRIOR: Mapping[Often, float] = {"common": 0.5, "sometimes": 0.25, "seldom": 0.0}
"""Orders causes that the clues leave alike. It is no evidence, so no word rests on it."""

POSSIBLE = 1.25
"""Less than one strong match (2 points) that a few other causes share; more than context alone."""

LIKELY = 2.75
"""A strong match of one's own and context beside it, or two strong matches that are shared."""

UNLIKELY = -1.0
"""Where what speaks against it outweighs what speaks for it by a whole point of context."""

STRONG = 2
"""The handbook's weight of a strong match. One weaker sign alone fits too many troubles: a cause
becomes possible by a strong match, or by two things seen."""

INDEPENDENT_LOOKS = 3
"""So many people who know nothing of each other are *several*: two may share one mistake."""

OUT_OF_SEASON = -1
"""Wounds outlast the season that made them, so the calendar speaks against a cause softly."""

SEASON = "out_of_season"
"""The name of the line that the calendar writes."""


def fitting(suspects: Iterable[Suspect]) -> dict[str, int]:
    """How many causes each clue speaks for when it is so."""
    counts: dict[str, int] = {}
    for suspect in suspects:
        for weighing in suspect.weighings:
            if weighing.weight > 0:
                counts[weighing.clue] = counts.get(weighing.clue, 0) + 1
    return counts


def share_left(fits: int, of: int) -> float:
    """What is left of a clue's weight when it fits `fits` of `of` causes: 1 for one, 0 for all.

    1 - ln(fits) / ln(of): the share of the question *which cause?* that the clue answers, if all
    were alike before. Raises CannotWeigh when a clue fits none or more than there are.
    """
    if not 1 <= fits <= of:
        raise CannotWeigh(f"a clue cannot fit {fits} of {of} causes")
    return 1.0 if fits == 1 else 1.0 - math.log(fits) / math.log(of)


def worth_left(weighing: Weighing, fits: int, of: int) -> float:
    """What is left of a clue's weight for a cause, by the causes it fits and the days it is so."""
    return share_left(fits, of) * (1.0 - weighing.usual)


def gathered(known: Iterable[Known]) -> dict[str, Known]:
    """The clues by name, each once, with everybody who vouches for it; order does not matter.

    Raises ClueContradicted when a clue is given as so and as not so.
    """
    out: dict[str, Known] = {}
    for one in known:
        before = out.get(one.clue)
        if before is None:
            out[one.clue] = one
        elif before.so != one.so:
            raise ClueContradicted(one.clue)
        else:
            out[one.clue] = Known(one.clue, one.so, before.witnesses | one.witnesses)
    return dict(sorted(out.items()))


def tell_causes(
    suspects: Sequence[Suspect], known: Iterable[Known], *, northern_month: int | None = None
) -> Answer:
    """A word for every cause, with its lines, the foremost first.

    `northern_month` is the month (1 to 12) in which the north has the season of the day when the
    signs were seen; None if that is not known. Raises CannotWeigh.
    """
    if northern_month is not None and northern_month not in range(1, 13):
        raise CannotWeigh(f"a month is a number from 1 to 12, not {northern_month!r}")
    codes = [suspect.code for suspect in suspects]
    if len(set(codes)) < len(codes):
        raise CannotWeigh("a cause is given twice")
    clues, fits = gathered(known), fitting(suspects)
    told = [_told(one, clues, fits, len(suspects), northern_month) for one in suspects]
    told.sort(
        key=lambda one: (-WORDS.index(one.word), -one.support, -round(one.standing, 9), one.cause)
    )
    best: Word = max((one.word for one in told), key=WORDS.index, default="cannot_tell")
    return Answer(
        causes=tuple(told),
        word=best if best in ("likely", "possible") else "cannot_tell",
        by_code={one.cause: one for one in told},
    )


def _told(
    suspect: Suspect,
    clues: Mapping[str, Known],
    fits: Mapping[str, int],
    of: int,
    northern_month: int | None,
) -> Told:
    lines = [
        _line(weighing, clues[weighing.clue], fits, of)
        for weighing in suspect.weighings
        if weighing.clue in clues
    ]
    if northern_month is not None and northern_month not in suspect.shows_in:
        calendar = (Witness("record"),)
        weight = OUT_OF_SEASON
        lines.append(Line(SEASON, True, weight, 0, float(weight), True, False, calendar))
    lines.sort(key=lambda line: (-abs(line.points), line.clue))
    speaks_for = tuple(line for line in lines if line.points > 0)
    against = tuple(line for line in lines if line.points < 0)
    points = math.fsum(line.points for line in lines)
    word, cap = _word(points, speaks_for, against)
    standing = points + PRIOR[suspect.often]
    return Told(suspect.code, word, cap, points, standing, speaks_for, against)


def _line(weighing: Weighing, clue: Known, fits: Mapping[str, int], of: int) -> Line:
    weight = weighing.weight if clue.so else weighing.absent
    fitted = fits.get(weighing.clue, 0)
    # What speaks against a cause is not shared out: it says no as loudly to each.
    left = worth_left(weighing, fitted, of) if clue.so and weight > 0 else 1.0
    witnesses = tuple(sorted(clue.witnesses))
    return Line(
        clue=weighing.clue,
        so=clue.so,
        weight=weight,
        fits=fitted,
        points=weight * left,
        context=weighing.context,
        local=weighing.local,
        witnesses=witnesses,
        beside=weighing.beside,
        usual=weighing.usual,
    )


def _word(points: float, speaks_for: Sequence[Line], against: Sequence[Line]) -> tuple[Word, Cap]:
    """The word that the lines allow, and what keeps it from being a better one.

    Nothing but what is seen on the tree makes a cause possible, and one weak sign does not. It is
    likely only if trained looks or answered checks alone would make it possible, or if several
    people said so.
    """
    if against and points <= UNLIKELY:
        return "unlikely", ""
    seen = [line for line in speaks_for if not line.context]
    on_tree = [line for line in seen if not line.beside or line.firm]
    if not on_tree and points >= POSSIBLE:
        return "cannot_tell", "context_only"
    enough = len(seen) > 1 or any(line.weight >= STRONG for line in seen)
    if points < POSSIBLE or not enough:
        return "cannot_tell", "thin"
    if points < LIKELY:
        return "possible", "thin"
    firm = [line for line in seen if line.firm]
    if math.fsum(line.points for line in firm) >= POSSIBLE:
        return "likely", ""
    people = {
        witness.who
        for line in seen
        for witness in line.witnesses
        if witness.kind in ("lay", "photo", "trained")
    }
    if len(people) >= INDEPENDENT_LOOKS:
        return "likely", ""
    return "possible", "one_report" if len(people) <= 1 else "few_reports"
