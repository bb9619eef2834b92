"""Sends what is due. Without a mail server the letters are kept in a folder."""

from smtplib import SMTPException

from django.core.mail import EmailMessage
from django.utils import timezone

from survey.people.models import Mail


class NotSent(Exception):
    """The mail server did not take a message. Says why, and not whose address it was: a chore
    that failed is kept and logged, where nobody could erase it."""


def deliver(key: str) -> str:
    """Send one message if it still waits, and say what state that leaves it in.

    A runner killed between sending and settling sends again: the Message-ID stays the same, by
    which mail programs know a repeat.
    """
    mail = Mail.objects.select_related("contact").get(pk=int(key))
    if mail.state != Mail.State.WAITING:
        return mail.state
    contact = mail.contact
    if contact is None or contact.erased_at is not None:
        return Mail.State.UNREACHABLE
    if not contact.email:
        return Mail.State.BY_PHONE
    letter = EmailMessage(
        mail.subject,
        mail.body,
        to=[contact.email],
        headers={"Message-ID": f"<{mail.key}@second-summer>"},
    )
    try:
        letter.send()
    except (SMTPException, OSError) as trouble:
        why = f"{type(trouble).__name__}: {trouble}".replace(contact.email, "(address)")
        raise NotSent(why) from None
    return Mail.State.SENT


def settle(key: str, state: str) -> None:
    """Write down what became of a message, unless it was settled otherwise meanwhile."""
    Mail.objects.filter(pk=int(key), state=Mail.State.WAITING).exclude(state=state).update(
        state=state, settled_at=timezone.now()
    )
