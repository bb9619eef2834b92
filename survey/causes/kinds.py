"""What the kind of a tree tells of causes: when it is bare, and what it bears badly."""

from collections.abc import Iterable

from survey.causes.facts import Calendar
from survey.handbook.book import book
from survey.handbook.records import Hemisphere
from survey.handbook.wording import said
from survey.trees.models import Area, LocalSpecies

MONTHS = range(1, 13)


def calendar_of(code: str, hemisphere: Hemisphere | None) -> Calendar:
    """A species of the handbook. Where the hemisphere is not known, neither are its bare months.

    Raises KeyError for a code that the handbook does not hold.
    """
    species = book().species[code]
    named = (
        ("iron_hungry_species", species.iron_hungry),
        ("salt_sensitive_species", species.salt_sensitive),
        ("peeling_bark_species", species.bark == "peeling"),
    )
    clues = [(clue, True) for clue, so in named if so]
    # Of thin bark and of suffering from the sun one line is told: they are one reason.
    if species.bark == "thin_smooth":
        clues.append(("thin_bark_species", True))
    elif species.sunscald in ("moderate_to_high", "high"):
        clues.append(("sun_tender_species", True))
    if species.bark == "rough":
        clues.append(("thin_bark_species", False))
    name = str(said(species.common_name))
    if hemisphere is None:
        return Calendar(code, name, clues=tuple(clues))
    return Calendar(
        code=code,
        name=name,
        bare=frozenset(m for m in MONTHS if species.is_bare(m, hemisphere)),
        shoulder=frozenset(m for m in MONTHS if species.is_shoulder(m, hemisphere)),
        deciduous=species.leaf_habit != "evergreen",
        clues=tuple(clues),
    )


def calendar_of_any(name: str, codes: Iterable[str], hemisphere: Hemisphere | None) -> Calendar:
    """What several kinds that share a name have in common: bare when all are, in between when
    some are. Of evergreens among them nothing is known of its leaves."""
    kinds = [calendar_of(code, hemisphere) for code in codes]
    clues = set.intersection(*(set(kind.clues) for kind in kinds))
    if not all(kind.deciduous for kind in kinds):
        return Calendar(name, name, clues=tuple(sorted(clues)))
    bare = frozenset.intersection(*(kind.bare for kind in kinds))
    some = frozenset.union(*(kind.bare | kind.shoulder for kind in kinds))
    return Calendar(name, name, bare, some - bare, True, tuple(sorted(clues)))


def calendar_in(area: Area, code: str) -> Calendar:
    """A species as an area knows it: its own list first, then the handbook.

    A code that nobody knows tells nothing: neither bare nor in leaf is its rule.
    """
    known = code in book().species
    here = calendar_of(code, area.hemisphere) if known else Calendar(code, code)
    local = LocalSpecies.objects.filter(area=area, code=code).first()
    if local is None:
        return here
    return Calendar(
        code=code,
        name=local.name,
        bare=frozenset(local.bare_months),
        shoulder=frozenset(local.shoulder_months),
        deciduous=local.deciduous,
        clues=here.clues,
    )
