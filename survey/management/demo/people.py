"""Who works in a demo town: accounts, observers, and the sheet with the sign-ins."""

import hashlib

from django.contrib.auth.hashers import make_password

from survey.management.demo.plan import Plan
from survey.names import LETTERS
from survey.people.models import Observer, Person

PASSWORD = "bare, but alive"  # noqa: S105 - the demo's one password, printed for everybody
KINDS = {"volunteer": Observer.Kind.VOLUNTEER, "crew": Observer.Kind.CREW}


def key_for(words: str) -> str:
    """A short key that looks like those of the house, the same for the same words."""
    told = hashlib.sha256(words.encode()).digest()
    return "".join(LETTERS[byte % len(LETTERS)] for byte in told[:8])


def enter_people(plan: Plan) -> dict[str, Person]:
    """Make the town's accounts, by sign-in. Only those on the sheet have a password."""
    usable = make_password(PASSWORD)
    people = Person.objects.bulk_create(
        Person(
            key=key_for(f"{plan.short} {table['sign_in']}"),
            sign_in=table["sign_in"],
            name=table["name"],
            email=f"{table['sign_in']}@{plan.neighbors['domain']}",
            role=table["role"],
            trained_on=table.get("trained_on"),
            qualified_until=table.get("qualified_until"),
            password=usable if table.get("sheet") else make_password(None),
        )
        for table in plan.people
    )
    return {person.sign_in: person for person in people}


def enter_observers(people: dict[str, Person]) -> dict[str, Observer]:
    """The observers behind the accounts, by sign-in; those who read only need none."""
    lookers = [person for person in people.values() if person.role != Person.Role.LIAISON]
    observers = Observer.objects.bulk_create(
        Observer(
            key=f"person:{person.key}",
            kind=KINDS.get(person.role, Observer.Kind.STAFF),
            person=person,
        )
        for person in lookers
    )
    return {person.sign_in: observer for person, observer in zip(lookers, observers, strict=True)}


def sign_in_sheet(plan: Plan, links: list[tuple[str, str]]) -> str:
    """What is printed after loading: who may sign in, with what, and pages worth a look."""
    rows = [
        (table["sign_in"], table["name"], table["sheet"])
        for table in plan.people
        if table.get("sheet")
    ]
    wide = max(len(row[0]) for row in rows)
    lines = [
        f"{plan.area['name']} is invented: every person, tree and number in it.",
        f"Its today is {plan.today:%B} {plan.today.day}, {plan.today.year}.",
        "",
        f'Sign-ins (the password of all of them: "{PASSWORD}", without the quotes)',
        *(f"  {sign_in:<{wide}}  {name:<9} {what}" for sign_in, name, what in rows),
        "",
        *(f"{label}\n  {link}" for label, link in links),
        "",
    ]
    return "\n".join(lines)
