"""Practice rounds: telling look-alikes apart on drawings, until they are told apart.

Which pictures a round shows follows from whose round it is and how many came before it, so that
the same page shown twice is the same round.
"""

import random
from collections.abc import Mapping
from datetime import datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.handbook.book import book
from survey.handbook.records import PracticeItem
from survey.people.models import Person, PracticeRound
from survey.people.policy import may_practice

# Own rules of this project.
ROUND_PICTURES = 8
ENOUGH_RIGHT = 6


class AlreadyKept(Exception):
    """This round was finished before; `kept` is what was said then."""

    def __init__(self, kept: PracticeRound) -> None:
        super().__init__(f"round {kept.pk} is kept already")
        self.kept = kept


def pictures_of_round(person: Person, earlier: int) -> list[PracticeItem]:
    """The pictures of the round that somebody begins after so many earlier ones.

    No two of them are taken for each other: each is of another group of look-alikes, as long as
    there are groups enough.
    """
    dice = random.Random(f"{person.key}:{earlier}")  # noqa: S311 - a shuffle, not a secret
    groups: dict[str, list[PracticeItem]] = {}
    for item in book().practice.values():
        groups.setdefault(item.alike, []).append(item)
    shuffled = sorted(groups)
    dice.shuffle(shuffled)
    return [dice.choice(groups[name]) for name in shuffled[:ROUND_PICTURES]]


def rounds_of(person: Person) -> int:
    """How many rounds somebody has finished."""
    return PracticeRound.objects.filter(person=person).count()


def is_enough(practice: PracticeRound) -> bool:
    """Whether a round is good enough to be signed off: six of eight, or as many of another size."""
    return practice.right * ROUND_PICTURES >= ENOUGH_RIGHT * practice.of


@transaction.atomic
def finish_round(
    *, person: Person, earlier: int, said: Mapping[str, str], by: Person, at: datetime
) -> PracticeRound:
    """Keep the answers of the round that began after `earlier` finished ones.

    `said` holds a choice for each picture's code. Raises ValidationError keyed by the picture's
    code where an answer is missing or is no choice, AlreadyKept where this round was finished
    before, PermissionDenied when somebody answers for another.
    """
    if not may_practice(by) or by.pk != person.pk:
        raise PermissionDenied
    person = Person.objects.select_for_update().get(pk=person.pk)
    kept = list(PracticeRound.objects.filter(person=person).order_by("at", "pk"))
    if 0 <= earlier < len(kept):
        raise AlreadyKept(kept[earlier])
    if earlier != len(kept):
        raise ValidationError(_("That round has not begun. This is the next one."))
    pictures = pictures_of_round(person, earlier)
    _refuse_what_is_no_answer(pictures, said)
    answers = [
        {"item": item.code, "said": said[item.code], "right": said[item.code] == item.right}
        for item in pictures
    ]
    finished = PracticeRound.objects.create(
        person=person,
        answers=answers,
        right=sum(answer["right"] for answer in answers),
        of=len(answers),
        at=at,
    )
    record(
        "training.practiced",
        subject=f"person:{person.key}",
        by=by,
        at=at,
        right=finished.right,
        of=finished.of,
    )
    return finished


def _refuse_what_is_no_answer(pictures: list[PracticeItem], said: Mapping[str, str]) -> None:
    asked = {item.code for item in pictures}
    if set(said) - asked:
        raise ValidationError(_("There is an answer to a picture that this round does not show."))
    wrong = {
        item.code: _("Pick one answer.")
        for item in pictures
        if said.get(item.code) not in {choice.code for choice in item.choices}
    }
    if wrong:
        raise ValidationError(wrong)
