"""Begin the work that repeats, and ring again for work nobody answered."""

import signal
import threading

from django.core.management.base import BaseCommand

from survey.chores import rounds


class Command(BaseCommand):
    help = "Writes repeating chores when their time comes, until stopped. Any number may run."

    def handle(self, *args, **options):
        stop = threading.Event()
        for name in (signal.SIGINT, signal.SIGTERM):
            signal.signal(name, lambda *_: stop.set())
        rounds.run_clock(stop)
