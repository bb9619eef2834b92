"""What is done with accounts, contacts and mail."""

from datetime import date, datetime, timedelta

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import connection, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.chores.actions import write_chore
from survey.people.letters import forget_letters_to
from survey.people.models import Contact, Mail, Observer, Person
from survey.people.policy import may_keep_accounts, may_see_contacts


def _checked_password(password: str, person: Person) -> str:
    try:
        validate_password(password, person)
    except ValidationError as weak:
        raise ValidationError({"password": weak.messages}) from weak
    return password


def _hold_the_first_account() -> None:
    """Let nobody else make an account until this transaction ends; SQLite has one writer anyway."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("LOCK TABLE survey_person IN SHARE ROW EXCLUSIVE MODE")


@transaction.atomic
def create_account(
    *,
    sign_in: str,
    name: str,
    role: str,
    password: str,
    at: datetime,
    by: Person | None,
    email: str = "",
    trained_on: date | None = None,
    qualified_until: date | None = None,
) -> Person:
    """Make an account. The first one of all may be made by nobody, and must keep the accounts.

    Raises ValidationError keyed by field; PermissionDenied unless `by` keeps the accounts.
    """
    if by is None:
        _hold_the_first_account()
        if Person.objects.exists():
            raise PermissionDenied(_("There are accounts already: ask whoever keeps them."))
        if role != Person.Role.KEEPER:
            raise ValidationError({"role": _("The first account keeps the others.")})
    elif not may_keep_accounts(by):
        raise PermissionDenied
    _refuse_training_to_come(trained_on, at)
    person = Person(
        sign_in=sign_in.strip().lower(),
        name=name.strip(),
        email=email.strip(),
        role=role,
        trained_on=trained_on,
        qualified_until=qualified_until,
    )
    person.set_password(password)
    person.full_clean()
    _checked_password(password, person)
    person.save()
    record("account.made", subject=f"person:{person.key}", by=by, at=at, **_rights(person))
    return person


def _refuse_training_to_come(trained_on: date | None, at: datetime) -> None:
    """Nobody is trained on a day that has begun nowhere on earth yet; the page knows the town's."""
    if trained_on is not None and trained_on > at.date() + timedelta(days=1):
        raise ValidationError({"trained_on": _("That day has not come yet.")})


def _rights(person: Person) -> dict:
    """What an account may do, as the audit keeps it."""
    return {
        "role": person.role,
        "active": person.is_active,
        "trained_on": person.trained_on and person.trained_on.isoformat(),
        "qualified_until": person.qualified_until and person.qualified_until.isoformat(),
    }


@transaction.atomic
def change_account(
    *,
    person: Person,
    at: datetime,
    by: Person,
    name: str,
    email: str,
    role: str,
    trained_on: date | None,
    qualified_until: date | None,
    is_active: bool,
    password: str = "",
) -> Person:
    """Change what an account may do. Nobody can take the last keeper away.

    Closing an account takes its password away, which ends its sessions for good: opening it again
    needs a new one. A new password ends them too. Raises ValidationError keyed by field.
    """
    if not may_keep_accounts(by):
        raise PermissionDenied
    standing = Person.objects.filter(role=Person.Role.KEEPER, is_active=True).order_by("pk")
    keepers = {keeper.pk for keeper in standing.select_for_update()}
    if by.pk not in keepers:  # taken away while the page was open
        raise PermissionDenied
    person = Person.objects.select_for_update().get(pk=person.pk)
    stays_keeper = is_active and role == Person.Role.KEEPER
    if not stays_keeper and not keepers - {person.pk}:
        raise ValidationError({"role": _("Somebody must keep the accounts: this is the last one.")})
    before = _rights(person)
    if trained_on != person.trained_on:
        _refuse_training_to_come(trained_on, at)
    person.name, person.email, person.role = name.strip(), email.strip(), role
    person.trained_on, person.qualified_until = trained_on, qualified_until
    person.is_active = is_active
    if password:
        person.set_password(_checked_password(password, person))
    if not is_active:
        person.set_unusable_password()
    elif not person.has_usable_password():
        raise ValidationError({"password": _("Give a new password: the old one was taken away.")})
    person.full_clean()
    person.save()
    record(
        "account.changed",
        subject=f"person:{person.key}",
        by=by,
        at=at,
        before=before,
        after=_rights(person),
        new_password=bool(password),
    )
    return person


@transaction.atomic
def change_own_settings(*, by: Person, name: str, units: str, language: str) -> Person:
    """Change what is one's own: name, units and language. Raises ValidationError by field."""
    person = Person.objects.select_for_update().get(pk=by.pk)
    person.name, person.units, person.language = name.strip(), units, language
    if language not in dict(settings.LANGUAGES):
        raise ValidationError({"language": _("Choose from the list.")})
    person.full_clean()
    person.save(update_fields=["name", "units", "language"])
    return person


@transaction.atomic
def change_own_password(*, by: Person, old: str, new: str, at: datetime) -> Person:
    """Change one's own password; every other session of the account ends."""
    person = Person.objects.select_for_update().get(pk=by.pk)
    if not person.check_password(old):
        raise ValidationError({"old": _("That is not your password now.")})
    person.set_password(_checked_password(new, person))
    person.save(update_fields=["password"])
    record("account.password_changed", subject=f"person:{person.key}", by=person, at=at)
    return person


def observer_of(person: Person) -> Observer:
    """The observer that stands for an account, made when it first looks at a tree."""
    kind = {
        Person.Role.VOLUNTEER: Observer.Kind.VOLUNTEER,
        Person.Role.CREW: Observer.Kind.CREW,
    }.get(person.role, Observer.Kind.STAFF)
    observer, _made = Observer.objects.get_or_create(
        person=person, defaults={"key": f"person:{person.key}", "kind": kind}
    )
    return observer


def neighbor_observer(contact: Contact | None) -> Observer:
    """The observer behind a report: one for each contact, one for all who left none."""
    key = f"neighbor:{contact.pk}" if contact else "neighbor:unsigned"
    observer, _made = Observer.objects.get_or_create(
        key=key, defaults={"kind": Observer.Kind.RESIDENT}
    )
    return observer


def keep_contact(*, email: str, phone: str, language: str, at: datetime) -> Contact | None:
    """Keep how to answer somebody; nothing when they left neither address nor number."""
    email, phone = email.strip(), phone.strip()
    if not email and not phone:
        return None
    return Contact.objects.create(email=email, phone=phone, language=language, created_at=at)


@transaction.atomic
def erase_contact(*, contact: Contact, at: datetime, by: Person | None) -> None:
    """Empty a contact for good. What was seen of the tree stays, linked to nobody.

    Messages that still wait, and answers still to be given by phone, reach nobody any more.
    Letters kept in a folder are thrown away. `by` is None for the house itself.
    """
    if by is not None and not may_see_contacts(by):
        raise PermissionDenied
    contact = Contact.objects.select_for_update().get(pk=contact.pk)
    if contact.erased_at is not None:
        return
    forget_letters_to(contact.email)
    contact.email = contact.phone = ""
    contact.erased_at = at
    contact.save(update_fields=["email", "phone", "erased_at"])
    letters = Mail.objects.filter(contact=contact)
    now = timezone.now()
    letters.filter(state=Mail.State.WAITING).update(state=Mail.State.WITHDRAWN, settled_at=now)
    letters.filter(state=Mail.State.BY_PHONE).update(state=Mail.State.UNREACHABLE, settled_at=now)
    record("contact.erased", subject=f"contact:{contact.pk}", by=by, at=at)


def queue_mail(
    *, key: str, contact: Contact | None, subject: str, body: str, due_at: datetime
) -> Mail | None:
    """Write a message that leaves when it is due; None when there is nobody to tell.

    Call it inside the transaction of the act it tells about. The same key makes one message.
    """
    if contact is None or contact.erased_at is not None:
        return None
    mail, made = Mail.objects.get_or_create(
        key=key,
        defaults={"contact": contact, "subject": subject, "body": body, "due_at": due_at},
    )
    if made:
        write_chore(kind="send_mail", key=str(mail.pk), due_at=due_at)
    return mail


def withdraw_mail(*, mail: Mail, at: datetime) -> bool:
    """Stop a message that has not left yet; says whether it was in time."""
    stopped = Mail.objects.filter(pk=mail.pk, state=Mail.State.WAITING).update(
        state=Mail.State.WITHDRAWN, settled_at=at
    )
    return bool(stopped)


@transaction.atomic
def settle_call(*, mail: Mail, at: datetime, by: Person) -> None:
    """Somebody has told the neighbor by phone. Doing it twice is doing it once."""
    if not may_see_contacts(by):
        raise PermissionDenied
    mail = Mail.objects.select_for_update().get(pk=mail.pk)
    if mail.state != Mail.State.BY_PHONE:
        return
    mail.state, mail.settled_at = Mail.State.SENT, timezone.now()
    mail.save(update_fields=["state", "settled_at"])
    record("mail.told_by_phone", subject=f"mail:{mail.pk}", by=by, at=at)
