"""A whole Second Summer of our own: web server, work, clock and record, on a free port.

The tests here look at it as people do, from outside, through its port. Nothing in this process
touches the record; what no page can do (waiting ten minutes) is done by `shell`.
"""

import json
import os
import secrets
import shutil
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from contextlib import suppress
from pathlib import Path

import psycopg
from psycopg import sql

from tests.launch import ROOT, embedded, free_port

MANAGE = [sys.executable, str(ROOT / "manage.py")]
WAIT = 60  # seconds that a busy machine may take to answer for the first time

HAND = """
import contextlib, io, json, sys, traceback
import django
django.setup()
from django.db import connection
for line in sys.stdin:
    out = io.StringIO()
    try:
        with contextlib.redirect_stdout(out):
            exec(json.loads(line), {})
        said = [True, out.getvalue()]
    except Exception:
        said = [False, traceback.format_exc()]
    connection.close()
    print(json.dumps(said), flush=True)
"""
LET_PASS = """
from datetime import timedelta
from django.db.models import F
from survey.chores.models import Chore
from survey.people.models import Mail
from survey.reports.models import Decision
gone = timedelta(minutes={minutes})
Decision.objects.filter(undo_until__isnull=False).update(undo_until=F("undo_until") - gone)
Mail.objects.filter(state="waiting").update(due_at=F("due_at") - gone)
Chore.objects.filter(state="waiting").update(due_at=F("due_at") - gone)
"""
UNTIL_DONE = """
import time
from django.utils import timezone
from survey.chores.models import Chore
until = time.monotonic() + {seconds}
while time.monotonic() < until:
    due = Chore.objects.filter(due_at__lte=timezone.now()).exclude(state="done")
    left = list(due.values_list("kind", "key", "state", "last_error")[:5])
    if not left or any(state == "parked" for _, _, state, _ in left):
        break
    time.sleep(0.1)
print(left)
"""


class House:
    """One folder, one database, one address. Starts and ends its own processes only."""

    def __init__(self, folder: Path, static: Path, *, services: dict[str, str] | None = None):
        self.folder, self.port = folder, free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self._services = services or {}
        self._running: list[subprocess.Popen] = []
        self._hand: subprocess.Popen | None = None
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "static").symlink_to(static)
        self.env = embedded() | {"SURVEY_DATA": str(folder), "SURVEY_ADDRESS": self.url}
        self.env |= {"PYTHONUNBUFFERED": "1"} | self._services
        if self._services:
            self.env |= {
                "SURVEY_SECRET_KEY": secrets.token_urlsafe(64),
                "SURVEY_HOSTS": "127.0.0.1",
                "SURVEY_HTTPS": "false",
            }

    @property
    def is_city(self) -> bool:
        return bool(self._services)

    @property
    def log(self) -> Path:
        return self.folder / "house.log"

    def manage(self, *words: str, typed: str = "") -> str:
        """Run a command of the house; what it printed, or a failure that shows why."""
        done = subprocess.run(
            [*MANAGE, *words], cwd=ROOT, env=self.env, input=typed, capture_output=True, text=True
        )
        assert done.returncode == 0, f"manage.py {' '.join(words)}:\n{done.stdout}{done.stderr}"
        return done.stdout

    def shell(self, code: str) -> str:
        """What this code prints when it runs inside the house, in one process for all of them."""
        if self._hand is None:
            with self.log.open("a") as out:
                self._hand = subprocess.Popen(
                    [sys.executable, "-c", HAND],
                    cwd=ROOT,
                    env=self.env | {"DJANGO_SETTINGS_MODULE": "survey.settings"},
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    stderr=out,
                    text=True,
                )
        self._hand.stdin.write(json.dumps(code) + "\n")
        self._hand.stdin.flush()
        went_well, said = json.loads(self._hand.stdout.readline())
        assert went_well, said
        return said

    def start(self, *, clock: bool = True) -> None:
        """Serve pages and do work: as one command embedded, as separate programs in a city."""
        serve = [*MANAGE, "serve", "--port", str(self.port), "--web", "1", "--threads", "4"]
        if self.is_city:
            worker = [
                *(str(Path(sys.executable).with_name("celery")), "-A", "survey.worker", "worker"),
                *("--queues", "chores", "--concurrency", "1", "--loglevel", "WARNING"),
            ]
            self._run([*serve, "--runners", "0", "--no-clock"])
            self._run(worker)
            self._run([*MANAGE, "run_clock"])
        else:
            self._run([*serve, *([] if clock else ["--no-clock"])])
        self._wait_for_answer()

    def _run(self, command: list[str]) -> None:
        with self.log.open("a") as out:
            self._running.append(
                subprocess.Popen(
                    command,
                    cwd=ROOT,
                    env=self.env,
                    stdin=subprocess.DEVNULL,
                    stdout=out,
                    stderr=out,
                    start_new_session=True,
                )
            )

    def _wait_for_answer(self) -> None:
        until = time.monotonic() + WAIT
        while time.monotonic() < until:
            if any(process.poll() is not None for process in self._running):
                break
            if self.answers():
                return
            time.sleep(0.1)
        said = self.log.read_text()
        self.stop()
        raise AssertionError(f"No answer from {self.url}:\n{said}")

    def answers(self) -> bool:
        try:
            with urllib.request.urlopen(f"{self.url}/livez", timeout=2) as answer:
                return answer.status == 200
        except (OSError, urllib.error.URLError):
            return False

    def stop(self) -> None:
        """Let everybody finish, then insist."""
        if self._hand is not None:
            self._hand.communicate()  # end of input: it ends
            self._hand = None
        for process in self._running:
            self._tell(process, signal.SIGTERM)
        for process in self._running:
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                self._tell(process, signal.SIGKILL)
                process.wait()
        self._running.clear()

    def kill(self) -> None:
        """kill -9 of everything the house runs, at once and without a word."""
        for process in self._running:
            self._tell(process, signal.SIGKILL)
        for process in self._running:
            process.wait()
        self._running.clear()
        until = time.monotonic() + 10
        while self.answers() and time.monotonic() < until:
            time.sleep(0.1)  # the last of the group may be a moment behind the first

    @staticmethod
    def _tell(process: subprocess.Popen, number: signal.Signals) -> None:
        # Each was started as the leader of a group of its own, so nobody else can be in it.
        with suppress(ProcessLookupError):
            os.killpg(process.pid, number)

    def let_pass(self, *, minutes: int) -> None:
        """Time goes by: everything that waits for the clock waits so much less."""
        self.shell(LET_PASS.format(minutes=minutes))

    def wait_for_work(self, *, seconds: int = 60) -> None:
        """Until nothing that is due is left to do; a parked chore is a failure."""
        left = self.shell(UNTIL_DONE.format(seconds=seconds)).strip()
        assert left == "[]", f"not done after {seconds} s: {left}\n{self.log.read_text()}"


def new_database(url: str) -> str:
    """An empty database beside the one of `url`, on the same PostgreSQL; its URL."""
    name = f"house_{secrets.token_hex(4)}"
    with psycopg.connect(url, autocommit=True) as server:
        server.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
    return urllib.parse.urlunsplit(urllib.parse.urlsplit(url)._replace(path=f"/{name}"))


def drop_database(url: str, server_url: str) -> None:
    name = urllib.parse.urlsplit(url).path.lstrip("/")
    with psycopg.connect(server_url, autocommit=True) as server:
        server.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


def copied(source: Path, target: Path) -> Path:
    """A copy of a folder that another house has left in order."""
    shutil.copytree(source, target, symlinks=True, ignore=shutil.ignore_patterns("static", "*.log"))
    return target
