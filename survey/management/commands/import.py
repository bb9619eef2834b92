"""Bring a CSV file into the record."""

# ruff: noqa: N999 - the file is called as the command is: manage.py import

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from survey.exports.intake import bring_in
from survey.exports.kinds import IMPORTS
from survey.exports.reading import UnreadableFile
from survey.trees.models import Area


def area_called(ref: str | None) -> Area:
    """The area of that short name, or the home area."""
    area = Area.objects.filter(**({"ref": ref} if ref else {"is_home": True})).first()
    if area is None:
        known = ", ".join(Area.objects.order_by("ref").values_list("ref", flat=True)) or "none"
        raise CommandError(f"There is no such area. Areas: {known}.")
    return area


class Command(BaseCommand):
    help = "Brings in a CSV file: all of it or none, every bad row named; safe to repeat."

    def add_arguments(self, parser):
        parser.add_argument("kind", choices=sorted(IMPORTS))
        parser.add_argument("file", type=Path)
        parser.add_argument("--area", help="short name of the area; the home area without it")
        parser.add_argument("--dry-run", action="store_true", help="only say what would happen")
        parser.add_argument(
            "--keep-good", action="store_true", help="keep the good rows of a file with bad ones"
        )

    def handle(self, *args, kind, file, area, dry_run, keep_good, **options):
        place = area_called(area)
        try:
            with file.open("rb") as opened:
                outcome = bring_in(
                    IMPORTS[kind],
                    opened,
                    area=place,
                    at=place.now(),
                    by=None,
                    dry_run=dry_run,
                    keep_good=keep_good,
                )
        except OSError as trouble:
            raise CommandError(f"{file}: {trouble.strerror}.") from None
        except UnreadableFile as trouble:
            raise CommandError(f"{file}: {trouble}") from None
        for problem in outcome.problems:
            self.stderr.write(str(problem))
        if outcome.bad_rows > len({problem.line for problem in outcome.problems}):
            self.stderr.write("… and more.")
        names = {",": "commas", ";": "semicolons", "\t": "tabs"}
        self.stdout.write(
            f"Read as {outcome.encoding} with {names[outcome.delimiter]}: {outcome.rows} rows,"
            f" {outcome.made} new, {outcome.same} here already, {outcome.bad_rows} bad."
        )
        if dry_run:
            self.stdout.write("This was a trial: nothing is kept.")
        elif outcome.bad_rows and not keep_good:
            raise CommandError("Nothing is kept. Mend the rows above, or give --keep-good.")
        elif outcome.bad_rows:
            self.stdout.write("The good rows are kept.")
