"""One command starts everything and ends everything."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import closing
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def embedded(tmp_path_factory):
    """A laptop: nothing in the environment but a data folder."""
    data = tmp_path_factory.mktemp("laptop") / "data"
    env = {"PATH": os.environ["PATH"], "SURVEY_DATA": str(data)}
    subprocess.run(
        [sys.executable, "manage.py", "migrate", "--verbosity", "0"], cwd=ROOT, env=env, check=True
    )
    return env


def free_port():
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def family(pid):
    """The process numbers of a process and all below it."""
    children = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except (FileNotFoundError, ProcessLookupError):
            continue
        if fields[0] != "Z":
            children.setdefault(int(fields[1]), []).append(int(stat.parent.name))
    found, todo = [], [pid]
    while todo:
        one = todo.pop()
        found.append(one)
        todo += children.get(one, [])
    return found


def alive(pid):
    try:
        return (Path("/proc") / str(pid) / "stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False


def wait_for(answer, seconds=30):
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if answer():
            return True
        time.sleep(0.1)
    return False


def get(port, path):
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=5) as response:
            return response.read().decode()
    except OSError:
        return None


def serve(env, port):
    return subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", str(port)],
        cwd=ROOT,
        env=env,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        process_group=0,
    )


def end_like_a_terminal(process):
    """Ctrl-C: the whole process group gets the signal."""
    os.killpg(process.pid, signal.SIGINT)


@pytest.mark.parametrize(
    "ending", [end_like_a_terminal, subprocess.Popen.terminate, subprocess.Popen.kill]
)
def test_whatever_ends_the_command_ends_everything_it_started(embedded, ending):
    port = free_port()
    process = serve(embedded, port)
    try:
        assert wait_for(lambda: get(port, "/readyz") == "ready\n")
        started = family(process.pid)
        assert len(started) >= 5, "supervisor, web server and its workers, runner, clock"
    finally:
        ending(process)
        said, _ = process.communicate(timeout=30)
    assert f"http://127.0.0.1:{port}/" in said
    assert "refused" not in said, "every part ended by itself"
    assert wait_for(lambda: not any(alive(pid) for pid in started))


def test_it_can_be_ended_while_its_web_workers_are_still_loading(embedded):
    process = serve(embedded, free_port())
    try:
        assert wait_for(lambda: len(family(process.pid)) >= 6), "two web workers have begun"
        started = family(process.pid)
    finally:
        process.terminate()
        said, _ = process.communicate(timeout=30)
    assert "refused" not in said, "a worker that was loading ended by itself"
    assert wait_for(lambda: not any(alive(pid) for pid in started))


def test_a_part_that_dies_is_started_again(embedded):
    port = free_port()
    process = serve(embedded, port)
    try:
        assert wait_for(lambda: get(port, "/livez") == "alive\n")
        (runner,) = (
            pid
            for pid in family(process.pid)
            if b"run_chores" in (Path("/proc") / str(pid) / "cmdline").read_bytes()
        )
        os.kill(runner, signal.SIGKILL)
        assert wait_for(
            lambda: any(
                pid != runner
                and b"run_chores" in (Path("/proc") / str(pid) / "cmdline").read_bytes()
                for pid in family(process.pid)
                if alive(pid)
            )
        )
    finally:
        process.send_signal(signal.SIGINT)
        said, _ = process.communicate(timeout=30)
    assert "A runner ended (code -9)" in said


def test_an_address_that_is_taken_is_refused_with_words(embedded):
    with closing(socket.socket()) as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        process = serve(embedded, taken.getsockname()[1])
        said, _ = process.communicate(timeout=30)
    assert process.returncode == 1
    assert "cannot be used" in said
