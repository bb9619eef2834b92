"""Which room does which kind of work, what repeats, and what is asked by night."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from celery import shared_task

from survey.chores import bell, runner
from survey.chores.runner import Handler, Work

Question = Callable[[], Iterable[tuple[str, str]]]


@dataclass(frozen=True, slots=True)
class Rhythm:
    """How often a chore comes again: every night, or every so many minutes of the hour."""

    kind: str
    nightly: bool = False
    minutes: int = 0


handlers: dict[str, Handler] = {}
rhythms: dict[str, Rhythm] = {}
questions: dict[str, Question] = {}


def handles(kind: str, *, computes: Callable[[str], Any] | None = None) -> Callable[[Work], Work]:
    """Register `work(key)` as the one way to do chores of this kind.

        @handles("believe_tree")
        def believe_tree(key: str) -> None: ...

    The work may be started more than once for one chore, but its writes are kept exactly once:
    they commit together with the mark that the chore is done. It should therefore write nothing
    but the database. Long computing, files, and anything that waits for another machine belong
    into `computes(key)`, which holds no transaction; its result becomes the second argument of
    the work. `computes` must bear being run again.

    Any exception means "not done": the error is kept and the chore is tried again later.
    The same work becomes the Celery task `chores.<kind>`, which takes the chore's number.
    """

    def register(work: Work) -> Work:
        if kind in handlers:
            raise ValueError(f"Two functions claim chores of kind {kind!r}.")
        handlers[kind] = Handler(kind, work, computes)

        @shared_task(name=bell.task_name(kind), ignore_result=True)
        def answer(number: int) -> None:
            runner.perform(number, handlers[kind])

        return work

    return register


def every(rhythm: str | None = None, *, minutes: int | None = None) -> Callable[[Work], Work]:
    """Let registered work repeat: `@every("nightly")`, `@every("hourly")`, `@every(minutes=5)`.

    Stands above `@handles`. The key of such a chore is its period ("2026-11-25",
    "2026-11-25T14:00Z", "2026-11-25T14:05Z"). A clock that was stopped catches up with the latest
    period only.
    """
    if (rhythm is None) == (minutes is None):
        raise ValueError("Say either a rhythm or a number of minutes.")
    if rhythm not in (None, "nightly", "hourly"):
        raise ValueError(f"No such rhythm: {rhythm!r}. There are nightly and hourly.")
    if minutes is not None and (minutes < 1 or 60 % minutes):
        raise ValueError("The minutes must divide an hour.")

    def register(work: Work) -> Work:
        for handler in handlers.values():
            if handler.work is work:
                rhythms[handler.kind] = (
                    Rhythm(handler.kind, nightly=True)
                    if rhythm == "nightly"
                    else Rhythm(handler.kind, minutes=minutes or 60)
                )
                return work
        raise ValueError(f"{work.__qualname__} repeats, but handles no kind of chore.")

    return register


def heals(question: Question) -> Question:
    """Register a question asked every night: which chores ought to exist?

    It returns pairs of kind and key, found by looking at the record alone ("trees whose evidence
    is newer than their belief"). Those that do not wait already are written.
    """
    questions[f"{question.__module__}.{question.__qualname__}"] = question
    return question
