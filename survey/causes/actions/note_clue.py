"""The answer to a check is written down: clues of one tree, or of its whole site."""

from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.causes.answers import noted_by_answer
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
    who = f"person:{by.key}"
    rows = []
    for noted in noted_by_answer(tree, check, yes=yes):
        place = {name: noted[name] for name in ("tree", "site", "clue")}
        row = ClueNoted.objects.filter(**place, day=day).order_by("-pk").first()
        # Who changes their mind twice in a day is heard the second time too.
        if row is None or (row.so, row.by) != (noted["so"], who):
            row = ClueNoted.objects.create(
                **noted, day=day, by=who, trained=trained, note=words, look=look, at=at
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
