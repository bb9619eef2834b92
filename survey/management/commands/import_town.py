"""Bring in a simulated town of five files."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from survey.exports.town import BadTown, import_town


class Command(BaseCommand):
    help = "Brings in a simulated town of five files as an area of its own; safe to repeat."

    def add_arguments(self, parser):
        parser.add_argument("folder", type=Path)
        parser.add_argument("--as", dest="name", required=True, help="name of the new area")

    def handle(self, *args, folder, name, **options):
        try:
            town = import_town(folder=folder, name=name, at=timezone.now())
        except BadTown as trouble:
            for problem in trouble.problems[:50]:
                self.stderr.write(problem)
            raise CommandError(f"{len(trouble.problems)} problems; nothing is kept.") from None
        told = ", ".join(f"{count} {what}" for what, count in town.made.items())
        self.stdout.write(f"{town.area.ref}, data date {town.area.data_date}: {told} came in.")
