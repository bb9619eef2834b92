"""Hold what is believed of a simulated town against its truth, or only say what is believed."""

import math
from pathlib import Path

import numpy as np
from django.core.management.base import BaseCommand, CommandError

from survey.exports.town_answer import write_answer
from survey.exports.town_folder import BadTown, TownFolder, evidence_of, read_town
from survey.exports.town_truth import has_truth, read_truth
from survey.science.condition.baselines import last_report, majority_of_three
from survey.science.condition.judging import AGES, Answer, Truth, judge
from survey.science.condition.learning import learn
from survey.science.condition.learnt import Learnt
from survey.science.condition.outlook import WEIGHTS
from survey.science.condition.records import KINDS, STATES, Evidence
from survey.science.condition.whole_town import believe, static

METHODS = ("last report", "majority of 3", "latent class", "all weighed")
SAYS_LITTLE = "latent class"
"""The static model says what state a tree is in, and nothing of dates, survival, sites, people."""

STATUS, DATES, SURVIVAL, OUTLOOK, PEOPLE = "status", "death", "survival", "outlook", "spam"
TABLE = (
    ("Condition in the last month", STATUS, None),
    ("the right one of five", "accuracy", 4),
    ("rightly dead or alive", "accuracy_lost", 4),
    ("Brier score of P(dead)", "brier", 4),
    ("log score of P(dead)", "log_score", 4),
    ("calibration error of P(dead)", "ece", 4),
    ("believed dead minus dead", "sum_p_minus_lost", 1),
    ("Month of death (90 % limits)", DATES, None),
    ("trees dated", "death_asked", 0),
    ("mean error, months", "death_mae", 2),
    ("bias, months", "death_bias", 2),
    ("share within limits", "death_cover", 4),
    ("width, months", "death_width", 1),
    ("Survival at 12, 24 and 36 months (95 % limits)", SURVIVAL, None),
    ("bias", "survival_bias", 4),
    ("root mean square error", "survival_rmse", 4),
    ("share within limits", "survival_cover", 4),
    ("width", "survival_width", 4),
    ("Outlook of sites by month, of 100 trees (95 % limits)", OUTLOOK, None),
    ("bias", "outlook_bias", 2),
    ("mean error", "outlook_mae", 2),
    ("share within limits", "outlook_cover", 4),
    ("width", "outlook_width", 1),
    ("Honest neighbors told from spam (.5 is chance)", PEOPLE, None),
    ("1 to 4 looks", "spam_auc_1", 4),
    ("5 to 9 looks", "spam_auc_5", 4),
    ("10 looks and more", "spam_auc_10", 4),
)
"""What a line says, the score it shows, and its decimals; a heading has none."""


class Command(BaseCommand):
    help = (
        "Reads a simulated town from its folder, without the database, learns from it and says what"
        " is believed. With --truth it holds that against the town's truth, beside three simpler"
        " methods."
    )

    def add_arguments(self, parser):
        parser.add_argument("folder", type=Path, metavar="TOWN_DIR")
        parser.add_argument(
            "--answer",
            type=Path,
            metavar="OUT_DIR",
            help="write posterior.csv, death.csv, survival.csv, sites.csv and reporters.csv there",
        )
        parser.add_argument(
            "--truth",
            action="store_true",
            help="read TOWN_DIR/truth and print a table of scores; without this it is never read",
        )

    def handle(self, *args, folder, answer, truth, **options):
        if truth and not has_truth(folder):
            raise CommandError(_printable(f"{folder} holds no truth; leave --truth out."))
        if answer and answer.exists() and not answer.is_dir():
            raise CommandError(_printable(f"{answer} is a file; --answer takes a folder."))
        try:
            town = read_town(folder)
            evidence = evidence_of(town)
            learnt = learn(evidence)
            believed = believe(evidence, learnt)
            real = read_truth(folder, town) if truth else None
        except BadTown as trouble:
            for problem in trouble.problems[:50]:
                self.stderr.write(_printable(problem))
            if len(trouble.problems) > 50:
                self.stderr.write("… and more.")
            many = len(trouble.problems)
            told = "1 problem" if many == 1 else f"{many} problems"
            raise CommandError(f"{told}; nothing was worked out or written.") from None
        lines = [*_town_lines(town), ""]
        if real is None:
            lines += [*_belief_lines(evidence, learnt, believed), "", "The truth was not read."]
        else:
            lines += _score_lines(town, evidence, believed, real)
        if answer:
            try:
                write_answer(answer, town, believed)
            except OSError as trouble:
                raise CommandError(_printable(f"{answer}: {trouble.strerror}.")) from None
            lines += ["", f"The answer is in {answer}."]
        self.stdout.write("\n".join(_printable(line) for line in lines))


def _town_lines(town: TownFolder) -> list[str]:
    places = f"{len(town.sites)} sites, {len(town.cohorts)} plantings, {town.months} months"
    people = f"{len(town.observers)} observers, {len(town.care)} care visits"
    return [
        f"{len(town.trees)} trees on the list, {places}",
        f"{len(town.reports)} reports by {people}",
    ]


def _belief_lines(evidence: Evidence, learnt: Learnt, believed: Answer) -> list[str]:
    status = believed.status
    sure = believed.p_lost
    lines = [
        "Believed of the last month, summed over trees:",
        *(
            f"  {name:<22}{status[:, place].sum():9.1f}"
            for place, name in enumerate([*STATES[:4], "dead or gone"])
        ),
        f"  {'P(dead) above .9':<22}{(sure > 0.9).sum():9d}",
        f"  {'P(dead) .1 to .9':<22}{((sure >= 0.1) & (sure <= 0.9)).sum():9d}",
        "",
        "Survival of the plantings together, with the range over plantings:",
    ]
    for place, age in enumerate(AGES):
        shares = believed.survival[:, place, 0]
        if (known := shares[~np.isnan(shares)]).size:
            lines.append(
                f"  {age:>2} months{known.mean():13.3f}   {known.min():.3f} to {known.max():.3f}"
            )
    kinds = evidence.observers
    lines += [
        "",
        f"Learnt in {learnt.rounds} rounds:",
        f"  {'getting worse, a month':<32}{_rates(learnt.worse)}",
        f"  {'getting better, a month':<32}{_rates(learnt.better)}",
        f"  {'dying, a month':<32}{_rates(learnt.death)}",
        f"  {'dead trees removed, a month':<32}{learnt.removal:8.4f}",
        f"  {'share of removals on record':<32}{learnt.logged:8.4f}",
        *(
            f"  {f'weight of {name} looks':<32}{learnt.rho[kinds == kind].mean():8.4f}"
            for kind, name in enumerate(KINDS)
            if (kinds == kind).any()
        ),
    ]
    return lines


def _rates(rates: np.ndarray) -> str:
    return "".join(f"{rate:8.4f}" for rate in rates)


def _score_lines(town: TownFolder, evidence: Evidence, believed: Answer, real: Truth) -> list[str]:
    points = np.array(WEIGHTS, dtype=np.float64)
    answers = (
        last_report(evidence, points),
        majority_of_three(evidence, points),
        static(evidence),
        believed,
    )
    scores = [judge(answer, real, months=town.months) for answer in answers]
    head, *table = TABLE
    part = head[1]
    lines = [f"{head[0]:<32}" + "".join(f"{name:>15}" for name in METHODS)]
    for said, name, decimals in table:
        if decimals is None:
            part = name
            lines += ["", said]
            continue
        cells = [
            _cell(found[name], decimals, part, method)
            for method, found in zip(METHODS, scores, strict=True)
        ]
        lines.append(f"  {said:<30}" + "".join(f"{cell:>15}" for cell in cells))
    return lines


def _cell(value: float, decimals: int, part: str, method: str) -> str:
    says = part == STATUS or (part != PEOPLE and method != SAYS_LITTLE) or method == METHODS[-1]
    if not says or math.isnan(value):
        return "–"
    return f"{value:.{decimals}f}"


def _printable(line: str) -> str:
    """A line in which no sign from a stranger's file can steer the terminal."""
    return "".join(sign if sign.isprintable() else "\ufffd" for sign in line)
