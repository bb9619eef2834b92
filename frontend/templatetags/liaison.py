"""Words and drawings of the survival pages, for their templates."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from frontend.drawings import accounted, survival
from frontend.liaison import said

register = template.Library()

register.filter("status_said", said.status_said)
register.filter("excluded_said", said.excluded_said)
register.filter("whole_day", said.day_said)
register.filter("whole_month", said.month_said)
register.filter("months_said", said.months_said)

SHEETS = ("wide", "narrow", "paper")


@register.simple_tag(name="survival_chart")
def survival_chart_tag(data: dict) -> SafeString:
    """The survival chart, drawn for a desk, for a phone and for paper; a style sheet shows one."""
    drawn = [
        format_html(
            '<div class="chart-{}">{}</div>',
            size,
            # our own drawing, its words escaped by the pen
            mark_safe(survival.survival(**data, size=size)),  # noqa: S308
        )
        for size in SHEETS
    ]
    return format_html('<div class="chart has-paper">{}{}{}</div>', *drawn)


@register.simple_tag(name="row_of_trees")
def row_of_trees_tag(trees: int, filled: bool = True) -> SafeString:
    """One dot, one tree; the number stands beside it."""
    return mark_safe(accounted.row_of_trees(trees, filled=filled))  # noqa: S308 - our own drawing
