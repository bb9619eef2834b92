"""Two witnesses, or two clues, that cannot both be right: who counts, and when nobody does."""

from collections.abc import Iterable

from django.utils.translation import gettext as _

from survey.handbook.book import book
from survey.handbook.wording import said
from survey.science.causes.records import Known

OPPOSITES: tuple[tuple[str, str], ...] = (
    ("dry_soil", "soggy_soil"),
    ("dry_soil", "probe_goes_in"),
    ("packed_soil", "probe_goes_in"),
    ("sunny_side", "shaded_side"),
    ("above_two_feet", "low_on_trunk"),
    ("above_two_feet", "below_two_feet"),
    ("all_round", "one_side"),
    ("planted_under_1_year", "established"),
    ("planted_under_3_years", "established"),
    ("only_this_tree", "same_site_same_sign"),
    ("only_this_tree", "same_planting_same_sign"),
    ("frost_free", "after_hard_frost"),
    ("dry_spell", "wet_spell"),
    ("suddenly", "slow_decline"),
    ("watered_often", "watering_stopped"),
    ("staked", "never_tied"),
    ("staked", "ties_gone"),
)
"""Clues that cannot both be so of one tree on one day; own rule of this project."""

RANK = {"lay": 0, "photo": 0, "record": 1, "trained": 2, "check": 3}
"""Where two witnesses differ, the one who stands higher counts."""


class BadFacts(ValueError):
    """A fact that cannot be right: `field` names it, the text says why and what to do."""

    def __init__(self, field: str, problem: str) -> None:
        super().__init__(problem)
        self.field = field
        self.problem = problem


def settled(clues: Iterable[Known]) -> list[Known]:
    """Each clue once. Where witnesses differ the higher rank counts; equals are refused."""
    by_clue: dict[str, list[Known]] = {}
    for one in clues:
        by_clue.setdefault(one.clue, []).append(one)
    out = [_one_word(same) for same in by_clue.values()]
    return _without_lower_opposites(out)


def contradict(one: Known, other: Known) -> bool:
    """Whether two clues cannot both be right."""
    if one.clue == other.clue:
        return one.so != other.so
    pair = (one.clue, other.clue)
    return one.so and other.so and (pair in OPPOSITES or pair[::-1] in OPPOSITES)


def rank(known: Known) -> int:
    """Where its best witness stands among those who may differ."""
    return max(RANK[witness.kind] for witness in known.witnesses)


def _one_word(same: list[Known]) -> Known:
    top = max(rank(one) for one in same)
    says = {one.so for one in same if rank(one) == top}
    clue = same[0].clue
    if len(says) > 1:
        raise BadFacts(
            "signs",
            _("“%s” is given as so and as not so. Look again and keep one of them.")
            % label_of(clue),
        )
    so = says.pop()
    witnesses = frozenset(w for one in same if one.so == so for w in one.witnesses)
    return Known(clue, so, witnesses)


def _without_lower_opposites(known: list[Known]) -> list[Known]:
    """Drops the less well vouched of two that cannot both be so. Raises BadFacts for equals."""
    so = {one.clue: one for one in known if one.so}
    dropped = set()
    for one, other in OPPOSITES:
        if one not in so or other not in so:
            continue
        ranks = rank(so[one]), rank(so[other])
        if ranks[0] == ranks[1]:
            raise BadFacts(
                "signs",
                _("“%(one)s” and “%(other)s” contradict each other. Ask which of them is right.")
                % {"one": label_of(one), "other": label_of(other)},
            )
        dropped.add(one if ranks[0] < ranks[1] else other)
    return [one for one in known if one.clue not in dropped]


def without_opposites(free: list[Known], firmly: list[Known]) -> list[Known]:
    """Words that contradict the rest give way; two words that contradict each other both do."""
    firm = {one.clue for one in firmly if one.so}
    loose = {one.clue for one in free if one.so}
    dropped = set()
    for pair in OPPOSITES:
        for clue, against in (pair, pair[::-1]):
            if clue in loose and (against in firm or against in loose):
                dropped.add(clue)
    return [one for one in free if one.clue not in dropped]


def label_of(code: str) -> str:
    """What a clue is called, in the reader's language."""
    clue = book().clues.get(code)
    return str(said(clue.label)) if clue else code
