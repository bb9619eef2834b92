"""An order as a page shows it: worked like a sum, from what the handbook says and what is known."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from survey.handbook.book import book
from survey.handbook.records import Care, Caution
from survey.trees.models import Site, Tree
from survey.workorders.models import OrderLine, WorkOrder

if TYPE_CHECKING:
    from frontend.work.dosing import Sum


@dataclass(slots=True)
class CarePart:
    """One kind of care on an order: what the handbook says, and on which trees."""

    code: str
    care: Care | None
    lines: list[OrderLine] = field(default_factory=list)
    sum: "Sum | None" = None

    @property
    def trees(self) -> list[Tree]:
        return [line.tree for line in self.lines]

    @property
    def doses(self) -> list[tuple[str, list[Tree]]]:
        """The doses typed for this order, each with its trees; none where the handbook's counts."""
        by_dose: dict[str, list[Tree]] = {}
        for line in self.lines:
            if line.dose:
                by_dose.setdefault(line.dose, []).append(line.tree)
        return list(by_dose.items())


def parts_of(lines: Iterable[OrderLine]) -> list[CarePart]:
    """The kinds of care of an order, in the handbook's order: water comes before mulch."""
    known = list(book().care)
    parts: dict[str, CarePart] = {}
    for line in lines:
        part = parts.setdefault(line.care, CarePart(line.care, book().care.get(line.care)))
        part.lines.append(line)
    return sorted(
        parts.values(),
        key=lambda part: known.index(part.code) if part.code in known else len(known),
    )


@dataclass(frozen=True, slots=True)
class CautionGroups:
    """The cautions of an order: those of the jobs first, then those of any work outside."""

    of_the_jobs: list[Caution]
    everywhere: list[Caution]

    @property
    def first(self) -> list[Caution]:
        """What stands at the top of the page: those of the jobs, or all where they have none."""
        return self.of_the_jobs or self.everywhere

    @property
    def later(self) -> list[Caution]:
        return self.everywhere if self.of_the_jobs else []

    @property
    def all(self) -> list[Caution]:
        return [*self.of_the_jobs, *self.everywhere]


def caution_groups(parts: Iterable[CarePart]) -> CautionGroups:
    """Every caution of the order's care once, open danger first, then as the care names them: what
    comes first with a care is what most goes wrong with it."""
    wanted = dict.fromkeys(code for part in parts if part.care for code in part.care.cautions)
    codes = sorted(wanted, key=lambda code: code != "danger_open")
    found = [book().cautions[code] for code in codes]
    return CautionGroups(
        [caution for caution in found if not caution.everywhere],
        [caution for caution in found if caution.everywhere],
    )


def sites_of(lines: Iterable[OrderLine]) -> list[Site]:
    return list({line.tree.site_id: line.tree.site for line in lines}.values())


def trees_of(lines: Iterable[OrderLine]) -> list[Tree]:
    """The order's trees, each once, in walking order."""
    return list({line.tree_id: line.tree for line in lines}.values())


def labels_of(parts: Iterable[CarePart]) -> str:
    """ "Mulch ring, water"."""
    words = [_(part.care.label) if part.care else part.code for part in parts]
    return ", ".join(word if not n else word[:1].lower() + word[1:] for n, word in enumerate(words))


def sentence_of(order: WorkOrder, lines: list[OrderLine]) -> str:
    """What the order is, in one line: "Water, mulch ring: 13 trees at Quarry Green"."""
    count = len({line.tree_id for line in lines})
    where = ", ".join(site.name for site in sites_of(lines))
    return _("%(care)s: %(trees)s at %(where)s") % {
        "care": labels_of(parts_of(lines)),
        "trees": ngettext("%d tree", "%d trees", count) % count,
        "where": where,
    }
