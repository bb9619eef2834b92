"""Chores about causes."""

from survey.causes import kept_findings, patterns
from survey.chores.registry import handles, heals
from survey.trees.models import Area


@handles("find_patterns", computes=patterns.work_out)
def find_patterns(key: str, searched: patterns.Searched | None) -> None:
    """All signs of an area are held up to what they may follow."""
    kept_findings.keep(searched)


@heals
def areas_to_search():
    """Every night each area that somebody trained has looked at: a look may change any finding."""
    for area in Area.objects.order_by("pk"):
        if patterns.is_due(area):
            yield "find_patterns", str(area.pk)
