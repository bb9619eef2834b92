"""One command that serves a neighborhood: web, work and clock live and die with it."""

import ctypes
import os
import signal
import socket
import subprocess
import sys
import time
from contextlib import suppress

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

PR_SET_PDEATHSIG = 1  # Linux, prctl(2): the signal a child gets when its parent dies
PATIENCE = 15  # seconds in which children end by themselves
STEADY = 30  # seconds after which a restart is no longer part of a row of failures


def _die_with_parent() -> None:
    """Runs in the child before it becomes another program."""
    ctypes.CDLL(None, use_errno=True).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


class Child:
    """A process that is started again when it ends, later and later while it keeps failing."""

    def __init__(self, name: str, command: list[str]) -> None:
        self.name, self._command = name, command
        self._failures = 0
        self._start_at = 0.0
        self._started_at = 0.0
        self.process: subprocess.Popen[bytes] | None = None

    def tend(self, now: float) -> str:
        """Start it if it is time to; return words when it has just ended."""
        if self.process is None:
            if now >= self._start_at:
                self._started_at = now
                self.process = subprocess.Popen(  # noqa: S603 - our own command
                    self._command,
                    cwd=settings.BASE_DIR,
                    stdin=subprocess.DEVNULL,
                    process_group=0,  # Ctrl-C reaches this process alone, which ends them in turn
                    preexec_fn=_die_with_parent,  # noqa: PLW1509 - this process has one thread
                )
            return ""
        code = self.process.poll()
        if code is None:
            return ""
        self.process = None
        self._failures = 1 if now - self._started_at > STEADY else self._failures + 1
        pause = min(2 ** (self._failures - 1), 30)
        self._start_at = now + pause
        return f"{self.name} ended (code {code}); it starts again in {pause} s."

    def tell(self, number: signal.Signals) -> None:
        if self.process is not None:
            with suppress(ProcessLookupError):
                self.process.send_signal(number)


class Command(BaseCommand):
    help = "Serves pages, does the work that waits and keeps the clock, until Ctrl-C."

    def add_arguments(self, parser):
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--web", type=int, default=2, help="web processes")
        parser.add_argument("--threads", type=int, default=2, help="requests at once in each")
        parser.add_argument("--runners", type=int, default=1, help="processes that do chores")
        parser.add_argument("--no-clock", action="store_true", help="another machine keeps it")

    def handle(self, *, host, port, web, threads, runners, no_clock, **options):
        _refuse_taken(host, port)
        manage = [sys.executable, str(settings.BASE_DIR / "manage.py")]
        granian = [
            *(sys.executable, "-m", "survey.web"),
            *("--interface", "wsgi", "--host", host, "--port", str(port)),
            *("--workers", str(web), "--blocking-threads", str(threads)),
            *("--respawn-failed-workers", "--workers-kill-timeout", "8"),
            *("--log-level", "warning"),
            "survey.wsgi:application",
        ]
        children = [Child("The web server", granian)]
        children += [Child("A runner", [*manage, "run_chores"]) for _ in range(runners)]
        if not no_clock:
            children.append(Child("The clock", [*manage, "run_clock"]))
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "survey.settings")
        stopping = []
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, lambda *_: stopping.append(True))
        self.stdout.write(f"Second Summer is at http://{host}:{port}/  (Ctrl-C ends it)")
        self.stdout.flush()
        while not stopping:
            for child in children:
                if words := child.tend(time.monotonic()):
                    self.stderr.write(words)
            time.sleep(0.2)
        self._end(children)

    def _end(self, children: list[Child]) -> None:
        """Let everybody finish what is in hand, then insist."""
        for child in children:
            child.tell(signal.SIGTERM)
        until = time.monotonic() + PATIENCE
        for child in children:
            if child.process is None:
                continue
            try:
                child.process.wait(max(0.1, until - time.monotonic()))
            except subprocess.TimeoutExpired:
                child.tell(signal.SIGKILL)
                child.process.wait()
        self.stdout.write("Everything has ended.")


def _refuse_taken(host: str, port: int) -> None:
    """Say at once that the address is taken, rather than restart a web server for ever."""
    try:
        family, kind, *_, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
    except OSError as trouble:
        raise CommandError(
            f"{host}:{port} cannot be used ({trouble.strerror}). Give another: PORT=8001 make demo"
        ) from None
