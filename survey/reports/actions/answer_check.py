"""A neighbor answers the one question of their private page: kept as clues of the tree."""

from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.causes.models import ClueNoted
from survey.handbook.book import book
from survey.reports.answered import NOTED
from survey.reports.models import Report


@transaction.atomic
def answer_check(*, report: Report, check: str, yes: bool, at: datetime) -> list[ClueNoted]:
    """Keep what an answer makes known, as an untrained word of whoever made this report.

    It is the same witness as the report itself, so it never counts as a second pair of eyes. The
    same answer on the same day is kept once; another answer that day takes its place. Raises
    ValidationError for a report without a tree, one of a danger, and a check that is not for
    anybody or not safe beside the signs of the report.
    """
    asked = book().checks.get(check)
    if asked is None or asked.who != "anyone":
        raise ValidationError({"check": _("This question is not asked of neighbors.")})
    if report.tree is None:
        raise ValidationError({"check": _("We do not know yet which tree it is.")})
    if report.danger and report.danger_cleared_at is None:
        raise ValidationError({"check": _("Stay away. Somebody qualified looks first.")})
    if set(asked.not_with) & {sign.sign for sign in report.signs.all()}:
        raise ValidationError({"check": _("This is not safe beside what you saw. Leave it.")})
    by, day = witness_of(report), report.area.today()
    so, not_so = (asked.yes_means, asked.yes_denies) if yes else (asked.no_means, asked.no_denies)
    taken_back = [*asked.yes_means, *asked.yes_denies, *asked.no_means, *asked.no_denies]
    ClueNoted.objects.filter(by=by, day=day, clue__in=taken_back).delete()
    rows = []
    for clue, value in (*((code, True) for code in so), *((code, False) for code in not_so)):
        of_site = book().clues[clue].kept_for == "site"
        rows.append(
            ClueNoted.objects.create(
                tree=None if of_site else report.tree,
                site=report.tree.site if of_site else None,
                clue=clue,
                so=value,
                day=day,
                by=by,
                at=at,
            )
        )
    record(
        NOTED,
        subject=f"report:{report.pk}",
        at=at,
        check=check,
        answer="yes" if yes else "no",
        clues={row.clue: row.so for row in rows},
        day=day.isoformat(),
    )
    return rows


def witness_of(report: Report) -> str:
    """The name under which everything that one report says is weighed."""
    return f"report:{report.client_ref}"
