"""Letters that a mail server refuses."""

import smtplib

import pytest
from django.core.mail import EmailMessage

from survey.people import post
from survey.people.models import Mail
from tests.factories import NOON, ContactFactory

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    "trouble",
    [
        smtplib.SMTPRecipientsRefused({"ann@pellworth.example": (550, b"no such user")}),
        smtplib.SMTPDataError(554, b"ann@pellworth.example is full"),
        ConnectionRefusedError(111, "refused"),
    ],
)
def test_a_letter_that_is_refused_says_why_and_not_whose_it_was(monkeypatch, trouble):
    def refuse(letter):
        raise trouble

    monkeypatch.setattr(EmailMessage, "send", refuse)
    contact = ContactFactory(email="ann@pellworth.example")
    letter = Mail.objects.create(
        key="decision:1:1", contact=contact, subject="a", body="b", due_at=NOON
    )
    with pytest.raises(post.NotSent) as told:
        post.deliver(str(letter.pk))
    assert type(trouble).__name__ in str(told.value)
    assert "ann@" not in str(told.value)
    assert told.value.__suppress_context__
    letter.refresh_from_db()
    assert letter.state == Mail.State.WAITING
