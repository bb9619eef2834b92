"""Makes the first account, which keeps all others."""

import getpass
import sys

from django.core.exceptions import PermissionDenied, ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from survey.people.actions import create_account
from survey.people.models import Person


class Command(BaseCommand):
    help = (
        "Make the first account. It keeps the accounts: everybody else gets theirs from it, on the "
        "people page. The password is asked for, or read from standard input when that is no "
        "terminal: first_account --sign-in ada --name 'Ada Osei' < password.txt"
    )

    def add_arguments(self, parser):
        parser.add_argument("--sign-in", required=True, help="the name to sign in with")
        parser.add_argument("--name", required=True, help="the name that others see")
        parser.add_argument("--email", default="", help="e-mail address, if there is one")

    def handle(self, *args, **options):
        if Person.objects.exists():
            raise CommandError("There are accounts already: ask whoever keeps them for one.")
        try:
            person = create_account(
                sign_in=options["sign_in"],
                name=options["name"],
                email=options["email"],
                role=Person.Role.KEEPER,
                password=_password(),
                by=None,
                at=timezone.now(),
            )
        except ValidationError as wrong:
            lines = [f"{name}: {' '.join(said)}" for name, said in wrong.message_dict.items()]
            raise CommandError("Nothing was made.\n" + "\n".join(lines)) from wrong
        except PermissionDenied as refused:
            raise CommandError(str(refused)) from refused
        self.stdout.write(f"Made. {person.name} can sign in as {person.sign_in}.")


def _password() -> str:
    """Typed twice at a terminal, where it is not shown; one line from anything else."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    password = getpass.getpass("Password, at least 12 letters (it is not shown): ")
    if getpass.getpass("The same again: ") != password:
        raise CommandError("The two were not the same. Nothing was made.")
    return password
