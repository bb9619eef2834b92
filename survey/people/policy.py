"""Who may do what: one predicate for each right, asked by the pages, the API and the actions."""

from datetime import date

from survey.people.models import Person

Role = Person.Role


def _is(person, *roles: str) -> bool:
    return bool(
        person is not None
        and getattr(person, "is_authenticated", False)
        and person.is_active
        and person.role in roles
    )


def may_look(person) -> bool:
    """Enter looks, walk a list, register trees on foot."""
    return _is(person, Role.VOLUNTEER, Role.CREW, Role.STAFF, Role.KEEPER)


def may_register_trees(person) -> bool:
    return _is(person, Role.VOLUNTEER, Role.STAFF, Role.KEEPER)


def may_enter_for_others(person) -> bool:
    """Write down or correct what somebody else saw."""
    return _is(person, Role.STAFF, Role.KEEPER)


def may_triage(person) -> bool:
    """See dockets and neighbors' words, and decide."""
    return _is(person, Role.STAFF, Role.KEEPER)


def may_see_orders(person) -> bool:
    return _is(person, Role.VOLUNTEER, Role.CREW, Role.STAFF, Role.KEEPER)


def may_plan_work(person) -> bool:
    return _is(person, Role.STAFF, Role.KEEPER)


def may_do_work(person) -> bool:
    """Report an order done."""
    return _is(person, Role.VOLUNTEER, Role.CREW, Role.STAFF, Role.KEEPER)


def may_clear_danger(person, on: date) -> bool:
    """Only somebody qualified on that day may say that a danger is over."""
    return (
        may_triage(person) and person.qualified_until is not None and person.qualified_until >= on
    )


def may_see_contacts(person) -> bool:
    return may_triage(person)


def may_import(person) -> bool:
    return _is(person, Role.STAFF, Role.KEEPER)


def may_read_survival(person) -> bool:
    """The survival pages and downloads name no person: anybody signed in may read them."""
    return _is(person, *Role.values)


def may_see_operations(person) -> bool:
    return _is(person, Role.STAFF, Role.KEEPER)


def may_keep_accounts(person) -> bool:
    return _is(person, Role.KEEPER)


def counts_as_trained(person, on: date) -> bool:
    """Whether a look by this person on that day is a trained look."""
    if not may_look(person):
        return False
    if person.role == Role.VOLUNTEER:
        return person.trained_on is not None and person.trained_on <= on
    return True
