"""Drawings of belief and outlook in templates: each with its own table, from the same numbers."""

from collections.abc import Sequence

from django import template
from django.utils.safestring import SafeString, mark_safe

from frontend.drawings.belief import gauge_of_belief
from frontend.drawings.drawn import Drawn
from frontend.drawings.sites import Sites

register = template.Library()


@register.simple_tag(name="drawn")
def drawn_tag(chart: Drawn | Sites) -> SafeString:
    """A chart, for desk, phone and paper; a style sheet shows one."""
    return mark_safe(chart.chart())  # noqa: S308 - our own drawing, its words escaped by the pen


@register.simple_tag(name="drawn_table")
def drawn_table_tag(chart: Drawn) -> SafeString:
    """The same numbers as a table."""
    return mark_safe(chart.table())  # noqa: S308 - its cells are escaped where they are written


@register.simple_tag(name="belief_gauge")
def belief_gauge_tag(shares: Sequence[float], size: int = 50, told: bool = False) -> SafeString:
    """The stem gauge of a belief: silent where the words stand beside it, else `told` by name."""
    drawn = gauge_of_belief(shares, size=size, title=None if told else "")
    return mark_safe(drawn)  # noqa: S308 - our own drawing
