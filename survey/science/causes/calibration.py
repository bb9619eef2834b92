"""How often the words were right, once trained people have confirmed or ruled out enough causes."""

from collections.abc import Iterable
from dataclasses import dataclass

from survey.science.causes.records import CannotWeigh, Word
from survey.science.proportions import Limits, clopper_pearson

VERDICTS_NEEDED = 30
"""With 30 verdicts the exact limits of a share near 8 in 10 are about 30 trees in 100 apart; with
fewer they would span half of what is possible. Own rule of this project."""


@dataclass(frozen=True, slots=True)
class Calibrated:
    """Of `of` causes that were called this word and judged, `confirmed` were confirmed.

    `limits` are exact limits of that share at 95 in 100, None while there are too few to say.
    """

    word: Word
    confirmed: int
    of: int
    limits: Limits | None

    @property
    def missing(self) -> int:
        """How many verdicts are wanting before a number may be shown."""
        return max(0, VERDICTS_NEEDED - self.of)


def calibrate(verdicts: Iterable[tuple[str, bool]]) -> dict[Word, Calibrated]:
    """For *likely* and *possible*: how many of those judged were confirmed.

    `verdicts` are pairs of the word that was said and whether the cause was confirmed; verdicts on
    causes of which another word or none was said are passed over. Raises CannotWeigh.
    """
    counts: dict[Word, list[int]] = {"likely": [0, 0], "possible": [0, 0]}
    for said, confirmed in verdicts:
        if not isinstance(confirmed, bool):
            raise CannotWeigh(f"a cause was confirmed or was not; {confirmed!r} is neither")
        for word, count in counts.items():
            if said == word:
                count[0] += confirmed
                count[1] += 1
    return {
        word: Calibrated(
            word,
            confirmed,
            of,
            clopper_pearson(confirmed, of) if of >= VERDICTS_NEEDED else None,
        )
        for word, (confirmed, of) in counts.items()
    }
