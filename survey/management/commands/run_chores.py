"""Do chores as they come, without a broker."""

import signal
import threading

from django.core.management.base import BaseCommand

from survey.chores import rounds


class Command(BaseCommand):
    help = "Does the work that waits, until stopped. Any number may run."

    def handle(self, *args, **options):
        stop = threading.Event()
        for name in (signal.SIGINT, signal.SIGTERM):
            signal.signal(name, lambda *_: stop.set())
        rounds.run_chores(stop)
