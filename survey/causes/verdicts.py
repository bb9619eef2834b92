"""What verdicts of trained people say: of one tree, and how often the words were right."""

from dataclasses import dataclass
from datetime import date, timedelta

from survey.causes.models import Verdict
from survey.science.causes.calibration import Calibrated, calibrate
from survey.science.causes.records import Word
from survey.trees.models import Area, Tree

SPEAKS = timedelta(days=365)
"""How long a verdict speaks of its tree: a year sees every season once. Own rule of this project.
After that it still counts for how often the words were right."""


@dataclass(frozen=True, slots=True)
class Ruling:
    """A verdict that still speaks: `until` is its last day, `by` the key of who gave it."""

    confirmed: bool
    day: date
    until: date
    by: str
    reason: str


def calibration_of(area: Area) -> dict[Word, Calibrated]:
    """For *likely* and *possible*: how many of those judged were confirmed. One query."""
    verdicts = Verdict.objects.in_force().filter(tree__area=area).values_list("said", "was")
    return calibrate((said, was == Verdict.Was.CONFIRMED) for said, was in verdicts)


def verdicts_on(tree: Tree, day: date) -> dict[str, Verdict]:
    """The verdicts that speak of one tree on a day, by cause. One query."""
    standing = Verdict.objects.in_force().filter(tree=tree)
    return {verdict.cause: verdict for verdict in standing if speaks(verdict, day)}


def rulings_on(tree: Tree, day: date) -> dict[str, Ruling]:
    """What they say, by cause, the newest first. One query."""
    return {
        cause: Ruling(
            confirmed=verdict.was == Verdict.Was.CONFIRMED,
            day=verdict.day,
            until=speaks_until(verdict),
            by=verdict.by,
            reason=verdict.reason,
        )
        for cause, verdict in verdicts_on(tree, day).items()
    }


def speaks(verdict: Verdict, day: date) -> bool:
    """Whether a verdict speaks of its tree on this day: not taken back, and given within a year."""
    return verdict.withdrawn_at is None and verdict.day <= day <= speaks_until(verdict)


def speaks_until(verdict: Verdict) -> date:
    """The last day on which it speaks."""
    return verdict.day + SPEAKS
