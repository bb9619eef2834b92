"""Work out survival from somebody's own table. Nothing of it is kept."""

import json
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from survey.exports.own_table.answer import Answer, GroupAnswer, answer, as_json
from survey.exports.own_table.columns import FORMS
from survey.exports.own_table.gather import Gathering, gather
from survey.exports.own_table.wording import (
    age_said,
    ask_ages,
    p_said,
    share_said,
    test_name,
    why_said,
)
from survey.exports.reading import UnreadableFile


class Command(BaseCommand):
    help = (
        "Works out survival from your own table: rows of trees, rows of looks, or plain ages with"
        " the columns entry, left, right, count. Nothing is kept."
    )

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path)
        parser.add_argument("--by", default="", metavar="COLUMN", help="column to make groups by")
        parser.add_argument(
            "--at", default="", metavar="AGES", help="ages to ask about, such as 12,24"
        )
        parser.add_argument("--format", choices=["table", "json"], default="table")
        parser.add_argument(
            "--form", choices=sorted(FORMS), default="", help="kind of table; found by its columns"
        )
        parser.add_argument(
            "--column",
            action="append",
            default=[],
            metavar="THEIRS=OURS",
            help="which column of the table is which of ours; may be given many times",
        )
        parser.add_argument(
            "--leave-out-bad-rows",
            action="store_true",
            help="go on without the rows that cannot be read; without this nothing is worked out",
        )

    def handle(self, *args, file, by, at, format, form, column, leave_out_bad_rows, **options):
        try:
            ages = ask_ages(at)
        except ValueError as trouble:
            raise CommandError(f"--at: {trouble}") from None
        try:
            with file.open("rb") as opened:
                found = gather(
                    opened,
                    today=timezone.localdate(),
                    form=form,
                    columns=_columns(column),
                    by=by,
                )
            self._tell_problems(found, leave_out_bad_rows)
            told = answer(found, ages=ages)
        except OSError as trouble:
            raise CommandError(f"{file}: {trouble.strerror}.") from None
        except UnreadableFile as trouble:
            raise CommandError(_printable(f"{file}: {trouble}")) from None
        if format == "json":
            self.stdout.write(json.dumps(as_json(told), indent=2, allow_nan=False))
        else:
            lines = [_read_as(found), "", *_lines(told)]
            self.stdout.write("\n".join(_printable(line) for line in lines))

    def _tell_problems(self, found: Gathering, leave_out: bool) -> None:
        for problem in found.problems:
            self.stderr.write(_printable(str(problem)))
        if found.bad_rows > len({problem.line for problem in found.problems}):
            self.stderr.write("… and more.")
        if found.bad_rows and not leave_out:
            raise UnreadableFile(
                f"{found.bad_rows} of {found.rows} rows cannot be read; nothing was worked out."
                " Mend the rows above, or give --leave-out-bad-rows."
            )


def _columns(pairs: list[str]) -> dict[str, str]:
    """The columns as the reader wants them: ours to theirs."""
    found: dict[str, str] = {}
    for pair in pairs:
        theirs, equals, ours = pair.rpartition("=")
        if not (equals and ours.strip()):
            raise CommandError(f"--column {pair}: write THEIRS=OURS, such as arm_months=left.")
        if ours.strip() in found:
            raise CommandError(f"--column {pair}: “{ours.strip()}” is given twice.")
        found[ours.strip()] = theirs
    return found


def _read_as(found: Gathering) -> str:
    """What the table was taken for, so that a wrong guess is seen."""
    columns = ", ".join(f"{theirs} = {ours}" for ours, theirs in found.mapping.items())
    return f"{found.rows} rows, read as {found.form.name}: {columns}."


def _lines(told: Answer) -> list[str]:
    lines: list[str] = []
    for group in told.groups:
        lines += [*_of_group(group, told.in_months), ""]
    tests = [
        f"  {test_name(name)}: statistic {test.statistic:.4f}, p {p_said(test.p)}"
        for name, test in told.tests.items()
        if test
    ]
    if tests:
        lines += ["Do the groups differ by more than chance?", *tests, ""]
    notes = [*told.notes, *(note for group in told.groups for note in group.notes)]
    if notes:
        lines += ["Before you quote this:", *(f"  {note.said}" for note in notes)]
    return lines


def _of_group(group: GroupAnswer, in_months: bool) -> list[str]:
    counted = f"{group.name}: {group.n} counted, {group.ends} of them known to have ended"
    fitted = f"log-likelihood {group.loglik:.6f}, gap {group.gap:.1e}"
    head = f"{'age':>14}  {'at least':>8}  {'at most':>8}  {'likely between':>16}"
    counts = f"{'alive':>7}  {'ended':>7}  {'unknown':>7}  {'at risk':>7}"
    lines = [f"{counted}; {fitted}", f"{head}  {counts}"]
    for row in group.rows:
        if row.can_be_quoted:
            figures = (
                f"{share_said(row.at_least):>8}  {share_said(row.at_most):>8}"
                f"  {share_said(row.low):>7} – {share_said(row.high):<6}"
            )
        else:
            figures = f"{why_said(row.why):^36}"
        lines.append(
            f"{age_said(row.age, in_months):>14}  {figures}"
            f"  {row.alive:>7}  {row.lost:>7}  {row.unknown:>7}  {row.at_risk:>7}"
        )
    return lines


def _printable(line: str) -> str:
    """A line in which no sign from a stranger's file can steer the terminal."""
    return "".join(sign if sign.isprintable() else "\ufffd" for sign in line)
