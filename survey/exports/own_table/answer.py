"""What somebody's own table says of survival: masses, curve, limits, tests, things to know."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from survey.exports.columns import Column, Table
from survey.exports.own_table.figures import (
    Carried,
    Mass,
    Row,
    Turn,
    ages_asked,
    carried,
    curve_ages,
    curve_of,
    limits_at,
    masses_of,
    rows_of,
)
from survey.exports.own_table.gather import Gathered, Gathering
from survey.exports.own_table.notes import QUIET, Note, notes_of_group, notes_of_table
from survey.exports.reading import UnreadableFile
from survey.science.records import Spells
from survey.science.survival.cells import cells_of
from survey.science.survival.increments import NoConvergence
from survey.science.survival.score_tests import Scores, permutation_test
from survey.science.survival.turnbull import turnbull

TESTS = {
    "sun_logrank": Scores.SUN,
    "finkelstein_logrank": Scores.FINKELSTEIN,
    "wilcoxon": Scores.WILCOXON,
}

SHARE = "share, 0 to 1"

FIGURES = Table(
    "own_table",
    gettext_lazy("Survival of your own table"),
    gettext_lazy("One row for each group and age."),
    (
        Column("group", gettext_lazy("The group; all, where there are none.")),
        Column("age", gettext_lazy("The age asked about, in the table's own unit."), "number"),
        Column("at_least", gettext_lazy("Survival, if every loss fell early."), "number", SHARE),
        Column("at_most", gettext_lazy("Survival, if every loss fell late."), "number", SHARE),
        Column("limit_low", gettext_lazy("Lower 95 % limit."), "number", SHARE),
        Column("limit_high", gettext_lazy("Upper 95 % limit."), "number", SHARE),
        Column("at_risk", gettext_lazy("Under watch and known alive just before."), "whole number"),
        Column(
            "known_alive", gettext_lazy("Of all in the group, known alive then."), "whole number"
        ),
        Column("known_lost", gettext_lazy("Known lost by then."), "whole number"),
        Column("not_known", gettext_lazy("Neither is known."), "whole number"),
        Column("withheld", gettext_lazy("Why the figure is missing or not to be quoted."), "code"),
    ),
)


@dataclass(frozen=True, slots=True)
class Tested:
    """One test of "all groups come to their end alike"; see `tests_of`."""

    statistic: float
    p: float
    freedom: int


@dataclass(frozen=True, slots=True, eq=False)
class GroupAnswer:
    """What is said of one group. `curve` holds (age, at least, at most, low, high)."""

    name: str
    n: int
    ends: int
    masses: tuple[Mass, ...]
    loglik: float
    gap: float
    carried: Carried | None
    rows: tuple[Row, ...]
    curve: tuple[Turn, ...]
    spells: Spells
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """What is said of a whole table."""

    groups: tuple[GroupAnswer, ...]
    notes: tuple[Note, ...]
    in_months: bool
    tests: dict[str, Tested | None] = field(default_factory=lambda: dict.fromkeys(TESTS))


def answer(
    found: Gathering,
    *,
    ages: Sequence[float] = (),
    most_work: int | None = None,
    with_curve: bool = False,
) -> Answer:
    """Work the figures out. Without `ages`, those of trees (12, 24, 36, 60 months) or those at
    which the curve changes.

    `most_work` bounds what is worked out: the cubes of the cells that each group tells apart, added
    up. Raises UnreadableFile where there is more, where no life is left to count, and where no
    curve can be fitted to the accuracy that is promised.
    """
    notes, counted = [], []
    for name in sorted(found.groups):
        if found.groups[name].n:
            counted.append((found.groups[name], spells_of(found.groups[name])))
        else:
            said = _("Group “%s”: no row of it can be counted.") % name
            notes.append(Note("empty", name, said))
    work = sum(len(cells_of(spells)) ** 3 for _life, spells in counted)
    if most_work is not None and work > most_work:
        raise UnreadableFile(
            _(
                "The table tells apart too many ages to be worked out here. Make fewer groups, or"
                " give ages in a larger unit; the command on your own machine takes any table."
            )
        )
    if not counted:
        raise UnreadableFile(_("No row of the table can be counted."))
    notes += notes_of_table(found)
    try:
        groups = [_group(group, spells, found, ages, with_curve) for group, spells in counted]
        tests = tests_of([spells for _life, spells in counted])
    except NoConvergence:
        raise UnreadableFile(
            _("No curve could be fitted to this table. Please tell whoever runs this service.")
        ) from None
    return Answer(tuple(groups), tuple(notes), found.form.ages_in_months, tests)


def as_json(told: Answer) -> dict:
    """The answer as plain values, fit for JSON: the same table, the same text."""
    said = {
        "groups": [
            {
                "group": group.name,
                "n": group.n,
                "masses": [
                    {"left": left, "right": None if math.isinf(right) else right, "mass": mass}
                    for left, right, mass in group.masses
                ],
                "loglik": group.loglik,
                "gap": group.gap,
                "survival": [
                    {
                        "age": row.age,
                        "at_least": row.at_least,
                        "at_most": row.at_most,
                        "lo": row.low,
                        "hi": row.high,
                        "at_risk": row.at_risk,
                    }
                    for row in group.rows
                ],
            }
            for group in told.groups
        ],
        "tests": {
            name: test and {"statistic": test.statistic, "p": test.p}
            for name, test in told.tests.items()
        },
    }
    notes = [*told.notes, *(note for group in told.groups for note in group.notes)]
    loud = [note.said for note in notes if note.code not in QUIET]
    return said | ({"notes": loud} if loud else {})


def figure_rows(told: Answer) -> Iterator[tuple]:
    """The rows of `FIGURES`."""
    for group in told.groups:
        for row in group.rows:
            yield (
                group.name, row.age, row.at_least, row.at_most, row.low, row.high,
                row.at_risk, row.alive, row.lost, row.unknown, row.why,
            )  # fmt: skip


def tests_of(groups: Sequence[Spells]) -> dict[str, Tested | None]:
    """Whether the groups differ by more than chance, by three scores; None with one group.

    The normal approximation to shuffling the labels: Z of the last group when there are two
    (positive: it ended earlier than expected), otherwise chi-square with one degree of freedom less
    than groups. Also None where no end, or no difference of scores, leaves anything to shuffle.
    """
    told: dict[str, Tested | None] = dict.fromkeys(TESTS)
    if len(groups) < 2:
        return told
    for name, scores in TESTS.items():
        found = permutation_test(groups, scores)
        statistic = found.chi_square if found.z is None else found.z
        if found.freedom and math.isfinite(statistic) and math.isfinite(found.p):
            told[name] = Tested(round(statistic, 10), float(f"{found.p:.10g}"), found.freedom)
    return told


def spells_of(group: Gathered) -> Spells:
    """The lives of a group as the science takes them."""
    rows = sorted(group.lives.items())
    return Spells.from_columns(
        entry=[entry for (entry, _left, _right), _count in rows],
        left=[left for (_entry, left, _right), _count in rows],
        right=[right for (_entry, _left, right), _count in rows],
        count=[count for _life, count in rows],
    )


def _group(
    group: Gathered,
    spells: Spells,
    found: Gathering,
    ages: Sequence[float],
    with_curve: bool,
) -> GroupAnswer:
    fit = turnbull(spells)
    where = carried(fit)
    months = found.form.ages_in_months
    asked = sorted({float(age) for age in ages}) or ages_asked(fit, where, months)
    turns = curve_ages(fit, where) if with_curve else []
    limits = limits_at(fit, where, [*asked, *turns])
    rows = rows_of(fit, where, asked, limits)
    return GroupAnswer(
        name=group.name,
        n=spells.trees,
        ends=spells.deaths,
        masses=masses_of(fit, where),
        loglik=round(fit.loglik, 10) + 0.0,
        gap=fit.certificate,
        carried=where,
        rows=rows,
        curve=curve_of(turns, limits),
        spells=spells,
        notes=tuple(notes_of_group(group, fit, where, rows, found)),
    )
