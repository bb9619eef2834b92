"""Which question would settle most: the expected information of a check about the causes."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from survey.science.causes.records import Answer, Asked, Known, Question, Suspect, Told, Witness
from survey.science.causes.weighing import LIKELY, fitting, gathered, tell_causes, worth_left

# Own rule of this project, never shown: a point multiplies the odds by e, and a cause that no
# clue speaks for is behind about one trouble in eight. Only the order of questions rests on it.
BASE_LOG_ODDS = -2.0

LEADING = 4
"""Questions are judged by so many foremost causes; those alike with the last are among them."""

YES_BY_CHANCE = 0.2
"""How often a check says yes without its cause, where the handbook weighs only one answer."""

LAY_SAFE_FIRST = 0.8
"""What a question keeps of its worth when it needs a trained person: the simpler comes first."""

SAID_ALREADY = 0.5
"""What a deeper check keeps of its worth when somebody has already said what it would find."""

FELT = 0.8
"""What it keeps when it feels below the surface: there the word of a neighbor is a guess."""

LOOK_ALIKE = 0.5
"""What an answer is worth about a cause that is only taken for one of the leading causes."""

LATER_NAMED = 0.8
"""The handbook names first what settles a cause best: each place further down keeps so much."""

LEAST_BITS = 0.01
"""Below this an answer would hardly change anything, and nothing is asked."""


def odds_share(standing: float) -> float:
    """The stand-in for a cause's probability that questions are ordered by; 0 to 1."""
    return 1.0 / (1.0 + math.exp(-(BASE_LOG_ODDS + standing)))


def doubt(told: Told) -> float:
    """The stand-in probability of a cause: where the word is held down, so is its share."""
    return odds_share(told.standing if told.word == "likely" else min(told.standing, LIKELY))


def entropy(share: float) -> float:
    """Bits of doubt in a yes or no that is yes with this probability (Shannon 1948)."""
    if share <= 0.0 or share >= 1.0:
        return 0.0
    return -(share * math.log2(share) + (1.0 - share) * math.log2(1.0 - share))


def answer_rates(yes_points: float, no_points: float) -> tuple[float, float]:
    """How often the answer is yes where a cause is at work, and where it is not.

    The two changes are logarithms of likelihood ratios: a/b and (1-a)/(1-b). Where they have
    opposite signs these two equations give a and b; else one answer says nothing of its own, and
    yes by chance is taken as `YES_BY_CHANCE`.
    """
    up, down = math.exp(yes_points), math.exp(no_points)
    if (up - 1.0) * (down - 1.0) < 0.0:
        without = (1.0 - down) / (up - down)
        return min(1.0, up * without), without
    if up == down:
        return YES_BY_CHANCE, YES_BY_CHANCE
    without = YES_BY_CHANCE
    ratio = up / down
    return ratio * without / (1.0 - without + ratio * without), without


def information(share: float, with_cause: float, without: float) -> float:
    """Mutual information (bits, at least 0) of a yes-or-no answer and a cause of this share."""
    yes = share * with_cause + (1.0 - share) * without
    left = share * entropy(with_cause) + (1.0 - share) * entropy(without)
    return max(0.0, entropy(yes) - left)


def leading(answer: Answer) -> tuple[Told, ...]:
    """The causes that are named; if there is none, the foremost that something seen speaks for;
    and if there is none of those, the foremost of all. Causes alike with the last are leading too.
    """
    open_still = [told for told in answer.causes if told.word != "unlikely"]
    seen = [told for told in open_still if any(not line.context for line in told.speaks_for)]
    front = sorted(answer.named or seen or open_still, key=lambda told: -told.standing)
    if len(front) <= LEADING:
        return tuple(front)
    last = front[LEADING - 1].standing
    return tuple(told for told in front if told.standing >= last - 1e-9)


def ask(
    suspects: Sequence[Suspect],
    known: Iterable[Known],
    questions: Iterable[Question],
    *,
    northern_month: int | None = None,
    beside: Mapping[str, Iterable[str]] | None = None,
    about: Iterable[str] = (),
    most: int | None = None,
) -> list[Asked]:
    """The questions that would tell something, the most telling first, `most` of them. What the
    foremost cause's own checks tell comes before all else.

    Causes count as independent: the worth of a question is the sum over the leading causes, and
    over those that each of them is taken for (`beside`), of what its answer tells of each, times
    how likely that cause is: to be sure of the foremost matters most. The causes `about` count as
    leading whatever stands before them. A question whose clues are
    all known already is left out, unless it goes deeper than what was said.
    """
    clues = gathered(known)
    before = tell_causes(suspects, clues.values(), northern_month=northern_month)
    front = {told.cause for told in leading(before)} | set(about)
    alike = {other for cause in front for other in (beside or {}).get(cause, ())} - front
    changes = _changes(suspects)
    worth = []
    for question in questions:
        firm = _without_hearsay(clues, question)
        if question.answered_by(firm):
            continue
        told = before
        if len(firm) < len(clues):
            told = tell_causes(suspects, firm.values(), northern_month=northern_month)
        yes = _points(changes, firm, question.yes_so, question.yes_not)
        no = _points(changes, firm, question.no_so, question.no_not)
        bits = math.fsum(
            information(doubt(one), *answer_rates(yes.get(one.cause, 0.0), no.get(one.cause, 0.0)))
            * doubt(one)
            * (1.0 if one.cause in front else LOOK_ALIKE)
            for one in told.causes
            if one.cause in front or (one.cause in alike and one.word != "unlikely")
        )
        bits *= LATER_NAMED**question.place
        bits *= 1.0 if told is before else FELT if question.felt else SAID_ALREADY
        bits *= 1.0 if question.who == "anyone" else LAY_SAFE_FIRST
        if bits >= LEAST_BITS:
            worth.append((bits, question, firm))
    worth.sort(key=lambda one: (not one[1].own, -round(one[0], 9), one[1].code))

    def then(firm: Mapping[str, Known], so: Sequence[str], not_so: Sequence[str]) -> Answer:
        settled = {one.clue: one for one in answered(firm, so, not_so)}
        told = {**clues, **settled}
        return tell_causes(suspects, told.values(), northern_month=northern_month)

    return [
        Asked(
            question,
            bits,
            before,
            then(firm, question.yes_so, question.yes_not),
            then(firm, question.no_so, question.no_not),
        )
        for bits, question, firm in worth[:most]
    ]


def _without_hearsay(clues: Mapping[str, Known], question: Question) -> Mapping[str, Known]:
    """The known clues; for a deeper check without those it would settle that were only said."""
    if not question.deeper:
        return clues
    return {
        clue: one
        for clue, one in clues.items()
        if clue not in question.clues
        or any(witness.kind not in ("lay", "photo") for witness in one.witnesses)
    }


def answered(
    clues: Mapping[str, Known], so: Sequence[str], not_so: Sequence[str]
) -> Iterator[Known]:
    """What an answer adds: the clues it settles that were not known before."""
    witness = frozenset({Witness("check")})
    for names, value in ((so, True), (not_so, False)):
        for clue in names:
            if clue not in clues:
                yield Known(clue, value, witness)


def _changes(suspects: Sequence[Suspect]) -> dict[str, dict[str, tuple[float, float]]]:
    """By clue, then by cause: the points when it is so, and when it is not."""
    fits, of = fitting(suspects), len(suspects)
    out: dict[str, dict[str, tuple[float, float]]] = {}
    for suspect in suspects:
        for weighing in suspect.weighings:
            left = worth_left(weighing, fits[weighing.clue], of) if weighing.weight > 0 else 1.0
            points = weighing.weight * left, float(weighing.absent)
            out.setdefault(weighing.clue, {})[suspect.code] = points
    return out


def _points(
    changes: Mapping[str, Mapping[str, tuple[float, float]]],
    clues: Mapping[str, Known],
    so: Sequence[str],
    not_so: Sequence[str],
) -> dict[str, float]:
    """By cause, what an answer that makes these clues so and not so would add."""
    parts: dict[str, list[float]] = {}
    for names, which in ((so, 0), (not_so, 1)):
        for clue in names:
            if clue in clues:
                continue
            for cause, points in changes.get(clue, {}).items():
                parts.setdefault(cause, []).append(points[which])
    return {cause: math.fsum(values) for cause, values in parts.items()}
