"""Write the data dictionary into a text, or to standard output."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from survey.exports.dictionary import NoMarkers, in_markdown, put_into


class Command(BaseCommand):
    help = "Writes the data dictionary between its markers in a file; without a file, prints it."

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path, nargs="?")

    def handle(self, *args, file, **options):
        if file is None:
            self.stdout.write(in_markdown())
            return
        try:
            file.write_text(put_into(file.read_text(encoding="utf-8")), encoding="utf-8")
        except OSError as trouble:
            raise CommandError(f"{file}: {trouble.strerror}.") from None
        except NoMarkers as trouble:
            raise CommandError(f"{file}: {trouble}") from None
