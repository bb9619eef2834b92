"""What is known of a species in an area: the handbook's, or the area's own list."""

from dataclasses import dataclass

from survey.handbook.book import book
from survey.handbook.wording import said
from survey.trees.models import Area, LocalSpecies


@dataclass(frozen=True, slots=True)
class Kind:
    """A species as pages and survival rules need it. Months are 1 to 12, as they fall here."""

    code: str
    name: str
    bare_months: frozenset[int]
    shoulder_months: frozenset[int]

    def is_leaf_off(self, month: int) -> bool:
        """Whether a bare tree is no news in this month; shoulder months count as leaf-off."""
        return month in self.bare_months or month in self.shoulder_months


def kinds_in(area: Area) -> dict[str, Kind]:
    """Every species that a tree of this area can be, by code; the area's own come first."""
    months = range(1, 13)
    kinds = {
        code: Kind(
            code,
            said(species.common_name),
            frozenset(m for m in months if species.is_bare(m, area.hemisphere)),
            frozenset(m for m in months if species.is_shoulder(m, area.hemisphere)),
        )
        for code, species in book().species.items()
    }
    for local in LocalSpecies.objects.filter(area=area):
        kinds[local.code] = Kind(
            local.code,
            local.name,
            frozenset(local.bare_months),
            frozenset(local.shoulder_months),
        )
    return kinds


def kind_of(area: Area, code: str) -> Kind:
    """One species; a code that nobody knows is treated as deciduous with no calendar."""
    return kinds_in(area).get(code) or Kind(code, code, frozenset(), frozenset())
