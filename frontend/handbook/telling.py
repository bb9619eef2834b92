"""How the handbook's entries are told on a page: months, grounds, who may, what speaks for what."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.dates import MONTHS
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from survey.handbook.book import book
from survey.handbook.causes import Cause, Weighed
from survey.handbook.records import Care, Caution, Entry, northern_month
from survey.handbook.wording import said

MARKS = {
    "common practice, no source": gettext_lazy("common practice, no source"),
    "memory, to be verified": gettext_lazy("memory, to be verified"),
    "own rule of this project": gettext_lazy("own rule of this project"),
}
WHO = {
    "anyone": gettext_lazy("anybody"),
    "trained": gettext_lazy("somebody trained"),
    "volunteer": gettext_lazy("volunteers"),
    "crew": gettext_lazy("a crew"),
    "arborist": gettext_lazy("an arborist"),
    "applicator": gettext_lazy("a licensed applicator"),
    "lab": gettext_lazy("a laboratory"),
}
KINDS = {
    "wounding": gettext_lazy("Wounds"),
    "sun_and_cold": gettext_lazy("Sun and cold"),
    "water": gettext_lazy("Water"),
    "roots": gettext_lazy("Roots and soil"),
    "pests": gettext_lazy("Pests"),
    "disease": gettext_lazy("Disease"),
    "poison": gettext_lazy("Poison and salt"),
    "people": gettext_lazy("Planting and handling"),
    "season": gettext_lazy("No trouble at all"),
}
OFTEN = {
    "common": gettext_lazy("common"),
    "sometimes": gettext_lazy("now and then"),
    "seldom": gettext_lazy("seldom"),
}
HABITS = {
    "deciduous": gettext_lazy("drops its leaves"),
    "semi-evergreen": gettext_lazy("changes its leaves, and may stand bare for a while"),
    "evergreen": gettext_lazy("keeps its leaves"),
    "drought-deciduous": gettext_lazy("drops its leaves in drought"),
}
BARKS = {
    "thin_smooth": gettext_lazy("thin and smooth while young"),
    "smooth": gettext_lazy("smooth while young"),
    "rough": gettext_lazy("rough early"),
    "peeling": gettext_lazy("peels by itself"),
    "green_photosynthetic": gettext_lazy("green, and lives on light itself"),
}
DEGREES = {
    "very_low": gettext_lazy("very little"),
    "low": gettext_lazy("little"),
    "low_to_moderate": gettext_lazy("little to some"),
    "moderate": gettext_lazy("some"),
    "moderate_to_high": gettext_lazy("some to much"),
    "high": gettext_lazy("much"),
}
STRENGTH = {
    1: gettext_lazy("a little"),
    2: gettext_lazy("strongly"),
    3: gettext_lazy("very strongly"),
}
WORTH_TELLING = 2  # how far two causes differ on a clue before it is named; ours to choose
MOST_TELLING = 3


def mark_said(mark: str) -> str:
    """A mark in the reader's language; what is no mark is given back as it is."""
    return str(MARKS.get(mark, mark))


def months_here(months: Iterable[int], hemisphere: str) -> tuple[int, ...]:
    """Months of the north as they fall in this hemisphere, January first."""
    wanted = set(months)
    return tuple(m for m in range(1, 13) if northern_month(m, hemisphere) in wanted)


def months_said(months: Iterable[int]) -> str:
    """ "March to June", "November to April", "May; October", "all year", "in no month"."""
    wanted = set(months)
    if not wanted:
        return _("in no month")
    if len(wanted) == 12:
        return _("all year")
    starts = [m for m in sorted(wanted) if (m - 2) % 12 + 1 not in wanted]
    runs = []
    for start in starts:
        end = start
        while end % 12 + 1 in wanted:
            end = end % 12 + 1
        first, last = str(MONTHS[start]), str(MONTHS[end])
        runs.append(
            first if start == end else _("%(first)s to %(last)s") % {"first": first, "last": last}
        )
    return "; ".join(runs)


def who_said(who: str | Iterable[str]) -> str:
    """Who may do it, as words."""
    codes = [who] if isinstance(who, str) else list(who)
    return _(" or ").join(str(WHO[code]) for code in codes)


@dataclass(frozen=True, slots=True)
class Ground:
    """One thing an entry rests on: a source of the register, or its mark."""

    words: str
    source: str = ""
    quoted: bool = False


def grounds_of(entry: Entry) -> list[Ground]:
    """The entry's sources in full, then its mark."""
    known = book().sources
    grounds = [
        Ground(known[code].citation, code, known[code].read == "quoted") for code in entry.sources
    ]
    return [*grounds, Ground(mark_said(entry.mark))] if entry.mark else grounds


@dataclass(frozen=True, slots=True)
class Speaks:
    """One line of what speaks for or against a cause."""

    words: str
    strength: str
    clue: str
    weight: int
    was_looked_for: bool = False  # it speaks by not being there


def speaks(weighed: Weighed) -> Iterable[Speaks]:
    """What one clue says of a cause: when it is so, and when it was looked for and is not."""
    clue = book().clues[weighed.clue]
    yield Speaks(
        str(said(clue.label)), str(STRENGTH[abs(weighed.weight)]), clue.code, weighed.weight
    )
    if weighed.absent:
        yield Speaks(
            str(said(clue.absent)),
            str(STRENGTH[abs(weighed.absent)]),
            clue.code,
            weighed.absent,
            was_looked_for=True,
        )


def for_and_against(cause: Cause) -> tuple[list[Speaks], list[Speaks]]:
    """What speaks for a cause and what against it, the strongest first."""
    lines = [line for weighed in cause.clues for line in speaks(weighed)]
    lines.sort(key=lambda line: -abs(line.weight))
    return [x for x in lines if x.weight > 0], [x for x in lines if x.weight < 0]


@dataclass(frozen=True, slots=True)
class Alike:
    """A cause that is taken for another, and what would speak for either."""

    cause: Cause
    rather_this: list[str]
    rather_that: list[str]


def look_alikes_of(cause: Cause) -> list[Alike]:
    """What it is taken for, named from either side, with the clues that part them most."""
    causes = book().causes
    codes = dict.fromkeys(cause.look_alikes)
    codes |= dict.fromkeys(
        other.code for other in causes.values() if cause.code in other.look_alikes
    )
    return [
        Alike(causes[code], _rather(cause, causes[code]), _rather(causes[code], cause))
        for code in codes
    ]


def _rather(cause: Cause, than: Cause) -> list[str]:
    other = {weighed.clue: weighed.weight for weighed in than.clues}
    gaps = [
        (weighed.weight - other.get(weighed.clue, 0), weighed.clue)
        for weighed in cause.clues
        if weighed.weight > 0
    ]
    gaps = sorted((gap for gap in gaps if gap[0] >= WORTH_TELLING), key=lambda gap: -gap[0])
    return [str(said(book().clues[clue].label)) for _gap, clue in gaps[:MOST_TELLING]]


@dataclass(frozen=True, slots=True)
class Cautions:
    """The cautions of a job itself, and those of any work outside."""

    own: list[Caution]
    everywhere: list[Caution]


def cautions_of(*cares: Care) -> Cautions:
    """The cautions of these kinds of care, each once."""
    codes = dict.fromkeys(code for care in cares for code in care.cautions)
    cautions = [book().cautions[code] for code in codes]
    return Cautions(
        [caution for caution in cautions if not caution.everywhere],
        [caution for caution in cautions if caution.everywhere],
    )


def height_said(low_m: float, high_m: float, units: str) -> str:
    """A span of heights in the reader's units, whole: "50 to 70 ft", "15 to 21 m"."""
    if units == "metric":
        return _("%(low)d to %(high)d m") % {"low": round(low_m), "high": round(high_m)}
    return _("%(low)d to %(high)d ft") % {
        "low": round(low_m / 0.3048),
        "high": round(high_m / 0.3048),
    }
