"""Words of the trade in templates: what a report, a danger or a kind of care is called."""

from datetime import date

from django import template
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from frontend.field.history import age_said, care_said, day_said
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.reports.models import Report
from survey.reports.reference import report_name
from survey.trees.models import Condition

register = template.Library()


@register.filter
def note_name(report: Report) -> str:
    """ "June 16, note 12"."""
    return report_name(report)


@register.filter
def day_near(day: date, today: date) -> str:
    """A day in a list: "Jun 16", and of another year "Sep 16, 2025"."""
    # Translators: a day of this year and one of another, as Django date formats.
    return date_format(day, _("M j") if day.year == today.year else _("M j, Y"))


@register.filter
def danger_said(report: Report) -> str:
    """What kind of danger a report tells of."""
    danger = book().dangers.get(report.danger)
    return str(said(danger.label)) if danger else report.danger


@register.filter
def condition_said(code: str) -> str:
    """The word for a condition; a code that is not known is said as it is."""
    return str(Condition(code).label) if code in Condition.values else code


register.filter("care_said", care_said)
register.filter("day_said", day_said)


@register.simple_tag
def age(day, today) -> str:
    """How long ago a day was: "12 days ago", "never"."""
    return age_said(day, today)
