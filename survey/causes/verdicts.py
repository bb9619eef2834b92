"""How often the words were right in an area, by the verdicts of trained people."""

from survey.causes.models import Verdict
from survey.science.causes.calibration import Calibrated, calibrate
from survey.science.causes.records import Word
from survey.trees.models import Area, Tree


def calibration_of(area: Area) -> dict[Word, Calibrated]:
    """For *likely* and *possible*: how many of those judged were confirmed. One query."""
    verdicts = Verdict.objects.in_force().filter(tree__area=area).values_list("said", "was")
    return calibrate((said, was == Verdict.Was.CONFIRMED) for said, was in verdicts)


def verdicts_on(tree: Tree) -> dict[str, Verdict]:
    """The verdicts in force on one tree, by cause. One query."""
    return {verdict.cause: verdict for verdict in Verdict.objects.in_force().filter(tree=tree)}
