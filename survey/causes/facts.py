"""From plain facts about one tree to the clues that causes are told apart by.

Facts come from a report, from a tree's looks, from a case in a file or from another program. What
contradicts itself is refused with a message; what is not given is not guessed.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from django.utils.translation import gettext as _

from survey.causes.conflicts import BadFacts, settled, without_opposites
from survey.causes.sides import TROPIC, bearing_of, compass_in, sides_facing
from survey.causes.words import Heard, hear
from survey.handbook.book import book
from survey.handbook.records import Hemisphere, northern_month
from survey.handbook.wording import said
from survey.science.causes.records import Known, Witness

YOUNG, YOUNGER, ESTABLISHED = 3.0, 1.0, 8.0
"""Years in the ground: what clues call young, very young, and standing for many years."""

LATE_SPRING = 42.0
"""Degrees from the equator beyond which May and June (as the north has them) are too early to say
that a trouble began in the warm months: what the winter did shows only now. Own rule."""

ONE_REPORT = Witness("lay", "report")
"""Who vouches when nothing else is said: one neighbor, once."""

TRUNK = frozenset({"bark_wound", "bark_torn", "bark_sunken", "oozing_bark", "holes_sawdust"})
SEASONS = {"winter": (12, 1, 2), "spring": (3, 4, 5), "summer": (6, 7, 8), "fall": (9, 10, 11)}


@dataclass(frozen=True, slots=True)
class Calendar:
    """What a kind of tree tells: is it supposed to be bare, and how its bark bears the sun.

    Months are those of the place. `deciduous` is None for a kind that nobody knows.
    """

    code: str
    name: str
    bare: frozenset[int] = frozenset()
    shoulder: frozenset[int] = frozenset()
    deciduous: bool | None = None
    clues: tuple[tuple[str, bool], ...] = ()


@dataclass(frozen=True, slots=True)
class Facts:
    """What is given of one tree on one day.

    `signs` and `clues` are codes of the handbook that are so or not; every one may have its own
    witness, else `witness` vouches. `side` is a code of the handbook or a compass word,
    `street_bearing` the degrees from north of the tree's street side. Age is in years.
    """

    signs: Mapping[str, bool] = field(default_factory=dict)
    clues: Mapping[str, bool] = field(default_factory=dict)
    extent: str = ""
    side: str = ""
    street_bearing: float | None = None
    month: int | None = None
    latitude: float | None = None
    hemisphere: Hemisphere | None = None
    season: str = ""
    species: Calendar | None = None
    age_years: float | None = None
    leaf: str = ""
    words: str = ""
    witness: Witness = ONE_REPORT
    further: tuple[Known, ...] = ()


@dataclass(frozen=True, slots=True)
class Read:
    """What the facts say: the known clues, the season as a month of the north, and what to tell."""

    known: tuple[Known, ...]
    northern_month: int | None
    bare_is_normal: bool | None
    notes: tuple[str, ...] = ()
    heard: tuple[Heard, ...] = ()


def read_facts(facts: Facts) -> Read:
    """The clues that the facts name. Raises BadFacts for facts that cannot be right."""
    hemisphere = _hemisphere(facts)
    month = _month(facts, hemisphere)
    notes: list[str] = []
    computed = frozenset({Witness("record")})
    given = frozenset({facts.witness})
    clues: list[Known] = [
        *(Known(_clue_of_sign(sign), so, given) for sign, so in facts.signs.items()),
        *(Known(_clue(clue), so, given) for clue, so in facts.clues.items()),
        *(Known(clue, so, given) for clue, so in extent_clues(facts.extent)),
        *(Known(clue, so, given) for clue, so in _side(facts)),
        *(Known(clue, so, computed) for clue, so in _age(facts)),
        *(Known(clue, so, computed) for clue, so in _calendar(month, facts.latitude)),
        *facts.further,
    ]
    bare = _bare_is_normal(facts)
    if facts.species is not None:
        clues += [Known(clue, so, computed) for clue, so in facts.species.clues]
        clues += [Known(clue, so, computed) for clue, so in _leaf_exchange(facts)]
    if bare is not None:
        clues.append(Known("bare_is_normal", bare, computed))
    named = {one.clue for one in clues}
    heard = hear(facts.words, phrases()) if facts.words.strip() else ()
    spoken = [one for one in heard if one.clue not in named]
    # In their own words people are loose: what the rest settles, or what they say two ways, counts
    # for nothing instead of being refused.
    free = [Known(one.clue, one.so, given) for one in spoken]
    free += [
        Known(clue, so, given)
        for clue, so in compass_in(facts.words, facts.latitude)
        if clue not in named and clue not in {one.clue for one in free}
    ]
    firm = settled(clues)
    known = [*firm, *without_opposites(free, firm)]
    notes += _leaf_notes(facts, month, bare)
    valid = [one for one in known if one.clue in book().clues]
    return Read(tuple(valid), month, bare, tuple(notes), heard)


@lru_cache(maxsize=1)
def phrases():
    """The handbook's lay phrases by language and clue."""
    clues = book().clues
    return {
        "en": {code: clue.words_en for code, clue in clues.items() if clue.words_en},
        "es": {code: clue.words_es for code, clue in clues.items() if clue.words_es},
    }


def clue_of_sign(sign: str) -> str | None:
    """The clue that a sign of a report or look makes known; None if it says nothing of causes."""
    return _by_sign().get(sign)


@lru_cache(maxsize=1)
def _by_sign() -> dict[str, str]:
    return {clue.sign: code for code, clue in book().clues.items() if clue.sign}


def _clue_of_sign(sign: str) -> str:
    if sign not in book().signs:
        raise BadFacts("signs", _("The handbook has no sign called “%s”.") % sign)
    return clue_of_sign(sign) or sign


def _clue(code: str) -> str:
    if code not in book().clues:
        raise BadFacts("clues", _("The handbook has no clue called “%s”.") % code)
    return code


def _hemisphere(facts: Facts) -> Hemisphere | None:
    latitude = facts.latitude
    if latitude is None:
        return facts.hemisphere
    if not isinstance(latitude, int | float) or not math.isfinite(latitude):
        raise BadFacts("latitude", _("The latitude must be a number of degrees."))
    if not -90 <= latitude <= 90:
        raise BadFacts(
            "latitude",
            _("The latitude is %(given)g; it must be from -90 (south) to 90 (north).")
            % {"given": latitude},
        )
    here: Hemisphere = "south" if latitude < 0 else "north"
    if facts.hemisphere not in (None, here):
        raise BadFacts(
            "latitude",
            _("Latitude %(given)g lies in the other hemisphere. Check its sign.")
            % {"given": latitude},
        )
    return here


def _month(facts: Facts, hemisphere: Hemisphere | None) -> int | None:
    """The season as a month of the north, None where it cannot be known (no place, the tropics)."""
    month = facts.month
    if month is not None and (
        isinstance(month, bool) or not isinstance(month, int) or not 1 <= month <= 12
    ):
        raise BadFacts("month", _("The month must be a whole number from 1 to 12."))
    northern = None
    if month is not None and hemisphere is not None:
        northern = northern_month(month, hemisphere)
        if facts.latitude is not None and abs(facts.latitude) < TROPIC:
            northern = None
    if facts.season:
        season = {"autumn": "fall"}.get(facts.season, facts.season)
        if season not in SEASONS:
            raise BadFacts(
                "season", _("The season must be winter, spring, summer or fall, or left out.")
            )
        if northern is None:
            return SEASONS[season][1] if month is None else None
        near = {m + step for m in SEASONS[season] for step in (-1, 0, 1)}
        if northern not in {(m - 1) % 12 + 1 for m in near}:
            raise BadFacts(
                "season",
                _(
                    "It is not %(season)s in month %(month)d in the %(hemisphere)s. The months of"
                    " the south lie six later: check month, season and the sign of the latitude."
                )
                % {
                    "season": said(season),
                    "month": month,
                    "hemisphere": _("south") if hemisphere == "south" else _("north"),
                },
            )
    return northern


def extent_clues(extent: str) -> Iterable[tuple[str, bool]]:
    """What is known of *all round* from a step of the handbook. Raises BadFacts."""
    if not extent:
        return
    step = book().extents.get(extent)
    if step is None:
        raise BadFacts("extent", _("The handbook has no step called “%s”.") % extent)
    if step.from_fraction is None or step.to_fraction is None:
        return
    if step.from_fraction == 1.0:
        yield "all_round", True
    elif step.to_fraction <= 0.5:
        yield "all_round", False


def side_clues(
    side: str, *, on_trunk: bool, street_bearing: float | None, latitude: float | None
) -> Iterable[tuple[str, bool]]:
    """What is known from a side: a code of the handbook or a compass word. Raises BadFacts."""
    if not side:
        return
    bearing = bearing_of(side, street_bearing)
    if side not in book().sides and bearing is None:
        raise BadFacts(
            "side",
            _("“%(side)s” is no side. Write north, southwest and so on, or one of: %(sides)s.")
            % {"side": side, "sides": ", ".join(book().sides)},
        )
    if side == "all_round":
        yield "all_round", True
        return
    if side == "street":
        yield "street_side", True
    if side == "building" and not on_trunk:
        yield "wall_side", True
    if bearing is not None:
        yield from sides_facing(bearing, latitude)
    # A bare side of the crown is one side of the tree; a wound has a side and may go on.
    if side != "not_sure" and not on_trunk:
        yield "one_side", True


def _side(facts: Facts) -> Iterable[tuple[str, bool]]:
    on_trunk = any(so and sign in TRUNK for sign, so in facts.signs.items())
    return side_clues(
        facts.side,
        on_trunk=on_trunk,
        street_bearing=facts.street_bearing,
        latitude=facts.latitude,
    )


def _age(facts: Facts) -> Iterable[tuple[str, bool]]:
    age = facts.age_years
    if age is None:
        return
    if isinstance(age, bool) or not isinstance(age, int | float) or not math.isfinite(age):
        raise BadFacts("age", _("The age must be a number of years since planting."))
    if not 0 <= age <= 1000:
        raise BadFacts(
            "age",
            _("The age is %(given)g; it must be 0 or more years since planting.") % {"given": age},
        )
    # Just one, or just three, is a count in whole years: people round.
    if age != YOUNGER:
        yield "planted_under_1_year", age < YOUNGER
    yield "planted_under_3_years", age <= YOUNG
    yield "established", age >= ESTABLISHED


def _calendar(month: int | None, latitude: float | None) -> Iterable[tuple[str, bool]]:
    if month is None:
        return
    still_spring = latitude is not None and abs(latitude) >= LATE_SPRING and month in (5, 6)
    for code, clue in book().clues.items():
        if clue.months and not (still_spring and code == "warm_season"):
            yield code, month in clue.months


def _leaf_exchange(facts: Facts) -> Iterable[tuple[str, bool]]:
    """Whether an evergreen changes its leaves in this month: its months in between are those."""
    kind = facts.species
    if kind is not None and kind.deciduous is False and facts.month is not None:
        yield "leaf_exchange", facts.month in kind.shoulder


def _bare_is_normal(facts: Facts) -> bool | None:
    """Whether its kind is supposed to be bare; None in between, and where that is not known."""
    kind = facts.species
    if kind is None or kind.deciduous is None or facts.month is None:
        return None
    if facts.month in kind.shoulder:
        return None
    return facts.month in kind.bare


def _leaf_notes(facts: Facts, month: int | None, bare: bool | None) -> Iterable[str]:
    """What month, place and leaves say of each other. Raises BadFacts where they cannot agree."""
    kind = facts.species
    if kind is None or facts.month is None:
        return
    leafless = facts.signs.get("bare_branches") or facts.leaf == "bare"
    if facts.leaf == "full" and bare and kind.deciduous:
        raise BadFacts(
            "month",
            _(
                "A %(kind)s in full leaf in month %(month)d does not fit this place: it stands bare"
                " then. Check the month and the sign of the latitude."
            )
            % {"kind": kind.name, "month": facts.month},
        )
    if leafless and bare:
        yield _(
            "%(kind)s is supposed to be bare in this month, so bare branches count for nothing."
        ) % {"kind": kind.name}
    if leafless and bare is None and kind.deciduous and facts.month in kind.shoulder:
        yield _("%(kind)s may or may not be in leaf in this month.") % {"kind": kind.name}
