"""Which question would settle most: the expected information of a check about the causes."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from survey.science.causes.records import Answer, Asked, Known, Question, Suspect, Told, Witness
from survey.science.causes.weighing import fitting, gathered, share_left, tell_causes

# Own rule of this project, never shown: a point multiplies the odds by e, and a cause that no
# clue speaks for is behind about one trouble in eight. Only the order of questions rests on it.
BASE_LOG_ODDS = -2.0

LEADING = 6
"""Questions are judged by so many foremost causes; those alike with the last are among them."""

YES_BY_CHANCE = 0.2
"""How often a check says yes without its cause, where the handbook weighs only one answer."""

LAY_SAFE_FIRST = 0.8
"""What a question keeps of its worth when it needs a trained person: the simpler comes first."""

LEAST_BITS = 0.01
"""Below this an answer would hardly change anything, and nothing is asked."""


def odds_share(standing: float) -> float:
    """The stand-in for a cause's probability that questions are ordered by; 0 to 1."""
    return 1.0 / (1.0 + math.exp(-(BASE_LOG_ODDS + standing)))


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
    """The foremost causes that are not ruled out, with all that stand alike with the last."""
    open_still = [told for told in answer.causes if told.word != "unlikely"]
    if len(open_still) <= LEADING:
        return tuple(open_still)
    ranked = sorted(open_still, key=lambda told: -told.standing)
    last = ranked[LEADING - 1].standing
    return tuple(told for told in open_still if told.standing >= last - 1e-9)


def ask(
    suspects: Sequence[Suspect],
    known: Iterable[Known],
    questions: Iterable[Question],
    *,
    northern_month: int | None = None,
) -> list[Asked]:
    """The questions that would tell something, the most telling first.

    Causes count as independent: the worth of a question is the sum over the leading causes of
    what its answer tells of each. A question whose clues are all known already is left out.
    """
    clues = gathered(known)
    before = tell_causes(suspects, clues.values(), northern_month=northern_month)
    front = leading(before)
    changes = _changes(suspects)
    worth = []
    for question in questions:
        if question.clues <= clues.keys():
            continue
        yes = _points(changes, clues, question.yes_so, question.yes_not)
        no = _points(changes, clues, question.no_so, question.no_not)
        bits = math.fsum(
            information(
                odds_share(told.standing),
                *answer_rates(yes.get(told.cause, 0.0), no.get(told.cause, 0.0)),
            )
            for told in front
        )
        if question.who != "anyone":
            bits *= LAY_SAFE_FIRST
        if bits >= LEAST_BITS:
            worth.append((bits, question))
    worth.sort(key=lambda pair: (-round(pair[0], 9), pair[1].code))

    def then(so: Sequence[str], not_so: Sequence[str]) -> Answer:
        told = [*clues.values(), *answered(clues, so, not_so)]
        return tell_causes(suspects, told, northern_month=northern_month)

    return [
        Asked(
            question,
            bits,
            before,
            then(question.yes_so, question.yes_not),
            then(question.no_so, question.no_not),
        )
        for bits, question in worth
    ]


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
            left = share_left(fits[weighing.clue], of) if weighing.weight > 0 else 1.0
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
