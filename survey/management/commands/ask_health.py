"""Asks one part of a public service whether it does its work; for container health checks."""

import http.client
from datetime import timedelta

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from survey.chores.clock import period
from survey.chores.models import Chore, Schedule
from survey.chores.registry import rhythms

LATE = timedelta(minutes=30)


class Command(BaseCommand):
    help = "Fails when the web server, the workers or the clock do not do their part."
    requires_system_checks: list = []

    def add_arguments(self, parser):
        parser.add_argument("part", choices=["web", "work", "clock"])
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *, part, port, **options):
        trouble = {"web": lambda: _web(port), "work": _work, "clock": _clock}[part]()
        if trouble:
            raise CommandError(trouble)
        self.stdout.write("well")


def _web(port: int) -> str:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=4)
    try:
        connection.request("GET", "/readyz")
        answer = connection.getresponse()
        return "" if answer.status == 200 else answer.read().decode(errors="replace").strip()
    except OSError as trouble:
        return f"The web server does not answer: {trouble}"
    finally:
        connection.close()


def _work() -> str:
    """Chores that wait far beyond their time mean that no worker hears the bell."""
    late = Chore.objects.overdue(timezone.now(), LATE).count()
    return f"{late} chores should have been done half an hour ago." if late else ""


def _clock() -> str:
    now = timezone.now()
    begun = set(Schedule.objects.values_list("kind", "period"))
    missing = [kind for kind, rhythm in rhythms.items() if (kind, period(rhythm, now)) not in begun]
    return f"Not begun in time: {', '.join(sorted(missing))}" if missing else ""
