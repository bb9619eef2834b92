"""The chores about chores."""

from datetime import timedelta

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from survey.chores import wishes
from survey.chores.models import Chore
from survey.chores.registry import every, handles, questions

A_BATCH = 500


def ask_questions(key: str) -> None:
    """Ask every room which chores ought to exist and write those that are missing.

    Each question keeps what it found even when another one fails.
    """
    troubles = []
    for name, question in sorted(questions.items()):
        try:
            missing = sorted(set(question()))
            for start in range(0, len(missing), A_BATCH):
                with transaction.atomic():
                    wishes.put(missing[start : start + A_BATCH])
        except Exception as trouble:  # noqa: BLE001 - one broken question must not silence the others
            trouble.add_note(f"while asking {name}")
            troubles.append(trouble)
    if troubles:
        raise ExceptionGroup("Some questions could not be asked", troubles)


@every("nightly")
@handles("reconcile", computes=ask_questions)
def reconcile(key: str, asked: None) -> None:
    """The asking has written its chores already; nothing is left but the mark."""


@every("nightly")
@handles("forget_chores")
def forget_chores(key: str) -> None:
    """Finished chores are of no use after a while; everything else is kept."""
    long_ago = timezone.now() - timedelta(days=settings.CHORE_KEPT_DAYS)
    Chore.objects.finished().filter(done_at__lt=long_ago).order_by().delete()
