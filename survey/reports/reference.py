"""What a report is called: its day and number, as people say it."""

from datetime import date

from django.db.models import Max
from django.utils.formats import date_format
from django.utils.translation import get_language, gettext, override

from survey.reports.models import Report
from survey.trees.models import Area


def report_name(report: Report, language: str | None = None, today: date | None = None) -> str:
    """ "June 16, note 12", in the given language or the one now spoken.

    With `today`, a report of another year says its year: "June 16, 2025, note 12".
    """
    with override(language or get_language()):
        name = gettext("%(day)s, note %(number)d")
        # A language whose words are not there yet gets the whole name in English, not half of it.
        with override("en" if name == "%(day)s, note %(number)d" else get_language()):
            if today is None or report.day.year == today.year:
                # Translators: how a day is said within a report's name, as a Django date format.
                day = date_format(report.day, gettext("F j"))
            else:
                # Translators: the same, for a day of another year.
                day = date_format(report.day, gettext("F j, Y"))
        return name % {"day": day, "number": report.number}


def next_number(area: Area, day) -> int:
    """The number of the next report of an area's day.

    Locks the area until the caller's transaction ends, so that two reports never get one number.
    The lock leaves rows that merely point at the area alone.
    """
    Area.objects.select_for_update(no_key=True).get(pk=area.pk)
    last = Report.objects.filter(area=area, day=day).aggregate(last=Max("number"))["last"]
    return (last or 0) + 1
