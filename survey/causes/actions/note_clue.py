"""The answer to a check is written down: clues of one tree, or of its whole site."""

from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.causes.models import ClueNoted
from survey.handbook.book import book
from survey.people.models import Person
from survey.people.policy import counts_as_trained, may_look, may_triage
from survey.trees.models import Look, Tree

LONGEST_NOTE = 300


@transaction.atomic
def note_answer(
    *,
    tree: Tree,
    check: str,
    yes: bool,
    day: date,
    by: Person,
    at: datetime,
    note: str = "",
    look: Look | None = None,
) -> list[ClueNoted]:
    """Write down what the answer to a check makes known. The same answer of the same person on the
    same day is written once.

    Clues that hold for the whole site are kept for the site. Whoever is at the desk may write down
    what a neighbor answered; a check that needs a trained person takes one. Raises ValidationError
    keyed by field, PermissionDenied.
    """
    if not (may_look(by) or may_triage(by)):
        raise PermissionDenied
    asked = book().checks.get(check)
    if asked is None:
        raise ValidationError({"check": _("The handbook has no such check.")})
    trained = counts_as_trained(by, day)
    if asked.who != "anyone" and not trained:
        raise ValidationError({"check": _("This check needs a trained person.")})
    if day > tree.area.today():
        raise ValidationError({"day": _("That day is still to come.")})
    if day < tree.planted_from:
        raise ValidationError({"day": _("The tree was not planted yet on that day.")})
    words = " ".join(note.replace("\x00", " ").split())
    if len(words) > LONGEST_NOTE:
        raise ValidationError({"note": _("Keep it to %(most)d letters.") % {"most": LONGEST_NOTE}})
    so, not_so = (asked.yes_means, asked.yes_denies) if yes else (asked.no_means, asked.no_denies)
    rows = []
    for clue, value in (*((code, True) for code in so), *((code, False) for code in not_so)):
        of_site = book().clues[clue].kept_for == "site"
        row, _made = ClueNoted.objects.get_or_create(
            tree=None if of_site else tree,
            site=tree.site if of_site else None,
            clue=clue,
            so=value,
            day=day,
            by=f"person:{by.key}",
            defaults={"trained": trained, "note": words, "look": look, "at": at},
        )
        rows.append(row)
    record(
        "clue.noted",
        subject=f"tree:{tree.ref}",
        by=by,
        at=at,
        check=check,
        answer="yes" if yes else "no",
        clues={row.clue: row.so for row in rows},
        day=day.isoformat(),
    )
    return rows
