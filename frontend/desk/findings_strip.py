"""The planting of a tree as a strip for its docket: who stands beside it, and what they share."""

from dataclasses import dataclass

from django.db.models import Count, Q

from survey.causes import finding_words as words
from survey.causes.models import Finding
from survey.trees.models import Tree


@dataclass(frozen=True, slots=True)
class Strip:
    """Fits `frontend/desk/_planted_with_it.html`: trees of the planting, how many stand here, and
    findings that this tree, its planting, its site or its supplier belongs to."""

    planting: str
    planting_ref: str
    of: int
    here: int
    found: tuple[tuple[Finding, str], ...]


def planted_with_it(tree: Tree, most: int = 3) -> Strip:
    """The strip of one tree, in five questions. A tree comes with its site and planting."""
    counts = Tree.objects.filter(planting=tree.planting_id, left="").aggregate(
        of=Count("pk"), here=Count("pk", filter=Q(site=tree.site_id))
    )
    return Strip(
        planting=tree.planting.name,
        planting_ref=tree.planting.ref,
        of=counts["of"],
        here=counts["here"],
        found=findings_about(tree, most),
    )


def findings_about(tree: Tree, most: int = 3) -> tuple[tuple[Finding, str], ...]:
    """Findings that a tree, its planting, site or supplier belongs to, with their sentences: one
    question where there is none, four where there are some. Dismissed ones are left out."""
    findings = list(
        Finding.objects.standing()
        .filter(area=tree.area_id)
        .filter(
            Q(trees=tree)
            | Q(planting=tree.planting_id)
            | Q(site=tree.site_id, follows=Finding.Follows.SITE)
            | Q(follows=Finding.Follows.SUPPLIER, subject=tree.planting.supplier)
        )
        .exclude(state=Finding.State.DISMISSED)
        .order_by("after_many", "number")
        .distinct()[:most]
    )
    if not findings:
        return ()
    names = words.names_of(tree.area, findings)
    return tuple((row, words.heading(row, names)) for row in findings)
