"""Write a table as CSV."""

import sys

from django.core.management.base import BaseCommand, CommandError

from survey.condition import outlooks, trend
from survey.condition.models import Outlook, SiteMonth
from survey.exports.kinds import EXPORTS
from survey.exports.outlooks import outlook_rows
from survey.exports.survival import survival_rows
from survey.exports.trees import tree_rows
from survey.exports.trends import trend_rows
from survey.exports.writing import csv_lines
from survey.survival import roll_up, stands
from survey.survival.keys import GROUPINGS
from survey.survival.models import Group
from survey.trees.models import Area


class Command(BaseCommand):
    help = "Writes a table as CSV to standard output, or to a file."

    def add_arguments(self, parser):
        parser.add_argument("table", choices=sorted(EXPORTS))
        parser.add_argument("--by", choices=GROUPINGS, default="planting")
        parser.add_argument("--area", help="short name of the area; the home area without it")
        parser.add_argument("--output", help="file to write; standard output without it")
        parser.add_argument(
            "--fresh", action="store_true", help="first work out whatever is behind the record"
        )
        parser.add_argument(
            "--for-spreadsheets", action="store_true", help="begin with a byte order mark"
        )

    def handle(self, *args, table, by, area, output, fresh, for_spreadsheets, **options):
        place = Area.objects.filter(**({"ref": area} if area else {"is_home": True})).first()
        if place is None:
            known = ", ".join(Area.objects.order_by("ref").values_list("ref", flat=True)) or "none"
            raise CommandError(f"There is no such area. Areas: {known}.")
        if fresh:
            _work_out(place)
        elif table == "survival" and (behind := _behind(place)):
            self.stderr.write(f"{behind}; --fresh works everything out now.")
        rows = {
            "survival": lambda: survival_rows(Group.objects.filter(area=place).by(by)),
            "trees": lambda: tree_rows(place),
            "trends": lambda: trend_rows(SiteMonth.objects.filter(site__area=place)),
            "outlooks": lambda: outlook_rows(Outlook.objects.filter(area=place)),
        }[table]()
        lines = csv_lines(EXPORTS[table], rows, for_spreadsheets=for_spreadsheets)
        if output is None:
            sys.stdout.reconfigure(encoding="utf-8", newline="")
            for line in lines:
                sys.stdout.write(line)
            return
        try:
            with open(output, "w", encoding="utf-8", newline="") as file:  # noqa: PTH123
                file.writelines(lines)
        except OSError as trouble:
            raise CommandError(f"{output}: {trouble.strerror}.") from None


def _behind(area: Area) -> str:
    """What waits to be worked out, in words; nothing when all is up to date."""
    plantings = sum(1 for _ in stands.behind(area))
    groups = sum(1 for _ in roll_up.out_of_date(area))
    return f"{plantings} plantings and {groups} groups wait" if plantings or groups else ""


def _work_out(area: Area) -> None:
    roll_up.catch_up(area)
    for site in area.sites.values_list("pk", flat=True):
        trend.keep(trend.work_out(str(site)))
    for name in list(outlooks.behind(area)):
        outlooks.keep(outlooks.work_out(name))
