"""`manage.py load_demo`: fills an empty database with the invented towns."""

import re
import time

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from survey.causes.tasks import areas_to_search
from survey.chores.actions import write_chores
from survey.condition.tasks import areas_to_learn_from, sites_behind_the_record
from survey.management.demo.enter import enter_record
from survey.management.demo.enter_reports import enter_stories, example_link
from survey.management.demo.people import sign_in_sheet
from survey.management.demo.town import TOWNS, Town, build_town
from survey.management.demo.training import enter_training
from survey.people.models import Person
from survey.survival.tasks import plantings_behind_the_record
from survey.trees.models import Area

SHEET = "demo-sign-ins.txt"


class Command(BaseCommand):
    help = (
        "Loads Pellworth and Southmere, two invented towns, into an empty database: places, trees, "
        "looks, reports, orders, photos and accounts. Prints the sign-ins."
    )

    def add_arguments(self, parser):
        parser.add_argument(
            "--if-empty",
            action="store_true",
            help="Do nothing, and say so, when there is anything in the database already.",
        )
        parser.add_argument(
            "--yes-invented",
            action="store_true",
            help="Load it into a city's own database too, where DATABASE_URL is set.",
        )

    def handle(self, *args, if_empty, yes_invented, **options):
        if Area.objects.exists() or Person.objects.exists():
            if if_empty:
                self.stdout.write("There is data already: nothing was loaded.")
                self._print_sheet()
                return
            raise CommandError(
                "There are towns or accounts in this database already. The demo goes only into an "
                "empty one: point SURVEY_DATA at another folder, or DATABASE_URL at another "
                "database."
            )
        if settings.DATABASE_URL and not yes_invented:
            raise CommandError(
                "DATABASE_URL is set, so this is a city's own database. The demo is invented, and "
                "its password is known to everybody. If you do want it there, say --yes-invented."
            )
        started = time.monotonic()
        towns = [build_town(name) for name in TOWNS]
        sheet = load(towns)
        settings.DATA.mkdir(parents=True, exist_ok=True)
        (settings.DATA / SHEET).write_text(sheet, encoding="utf-8")
        seconds = time.monotonic() - started
        for town in towns:
            self.stdout.write(
                f"{town.plan.area['name']}: {len(town.lives)} trees, {len(town.looks)} looks, "
                f"{len(town.reports)} reports, {len(town.orders)} orders."
            )
        self.stdout.write(f"Loaded in {seconds:.0f} seconds.\n\n")
        self._print_sheet()

    def _print_sheet(self):
        """Show the sheet that the first load wrote, with the address of today's server."""
        path = settings.DATA / SHEET
        if path.exists():
            sheet = path.read_text(encoding="utf-8")
            here = re.sub(r"\S+(?=/note/)", settings.PUBLIC_ADDRESS, sheet)
            if here != sheet:
                path.write_text(here, encoding="utf-8")
            self.stdout.write(here)


def load(towns: list[Town]) -> str:
    """Enter these towns, all or nothing, and the work that follows; returns the sign-in sheet."""
    with transaction.atomic():
        home = None
        for town in towns:
            register = enter_record(town)
            enter_training(register)
            enter_stories(register)
            home = home or register
        write_chores(
            [
                *plantings_behind_the_record(),
                *sites_behind_the_record(),
                *areas_to_learn_from(),
                *areas_to_search(),
            ]
        )
    link = example_link(home, settings.PUBLIC_ADDRESS)
    return sign_in_sheet(home.town.plan, [link] if link else [])
