"""Rules of this place beside the handbook: what is in force for which entry, and what waits."""

from collections import defaultdict
from collections.abc import Iterable

from survey.causes.models import LocalRule
from survey.handbook.book import book
from survey.trees.models import Area

SHELVES = {
    LocalRule.About.CAUSE: "causes",
    LocalRule.About.CARE: "care",
    LocalRule.About.SPECIES: "species",
    LocalRule.About.SIGN: "signs",
}
"""Where the entries stand that a local rule may be about: the book's field for each."""


def entries_of(about: str):
    """The handbook's entries of one kind, by code; none for a kind that takes no local rules."""
    shelf = next((name for kind, name in SHELVES.items() if kind == about), None)
    return getattr(book(), shelf) if shelf else {}


def rules_in_force(
    area: Area | None, about: str, codes: Iterable[str] | None = None
) -> dict[str, list[LocalRule]]:
    """The approved rules of one kind by the code of their entry, oldest first: one question.

    Without an area there are none.
    """
    found: dict[str, list[LocalRule]] = defaultdict(list)
    if area is None:
        return found
    rules = LocalRule.objects.in_force().filter(area=area, about=about)
    if codes is not None:
        rules = rules.filter(code__in=list(codes))
    for rule in rules:
        found[rule.code].append(rule)
    return found


def weights_in_force(area: Area | None) -> dict[str, dict[str, int]]:
    """What the area's approved rules add to each cause: cause → clue → weight from -3 to 3.

    Rules about the same clue of a cause add up, and never beyond 3 either way. Codes that the
    handbook no longer has are left out.
    """
    summed: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for code, rules in rules_in_force(area, LocalRule.About.CAUSE).items():
        for rule in rules:
            if code in book().causes and rule.clue in book().clues and rule.weight:
                summed[code][rule.clue] += rule.weight
    return {
        code: {clue: max(-3, min(3, weight)) for clue, weight in clues.items() if weight}
        for code, clues in summed.items()
    }
