"""The findings that concern one tree, for its docket."""

from django.db.models import Q

from survey.causes import finding_words as words
from survey.causes.models import Finding
from survey.trees.models import Tree


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
