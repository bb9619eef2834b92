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


def may_overrule(person, on: date) -> bool:
    """Lay down a tree's condition against what the looks say: staff who count as trained."""
    return _is(person, Role.STAFF, Role.KEEPER) and counts_as_trained(person, on)


def may_rule_locally(person, on: date) -> bool:
    """Propose, approve or withdraw a rule of this place: staff who count as trained that day."""
    return _is(person, Role.STAFF, Role.KEEPER) and counts_as_trained(person, on)


def may_practice(person) -> bool:
    """Tell look-alikes apart on drawings, and see one's own walks and what is missing."""
    return may_look(person)


def may_sign_off(person) -> bool:
    """Say that somebody is trained, or take that back."""
    return _is(person, Role.STAFF, Role.KEEPER)


def may_note_walk_with(by, partner, on: date) -> bool:
    """Write down a paired walk: the trained partner of that day, or whoever signs off."""
    return may_sign_off(by) or (
        by is not None and by.pk == partner.pk and counts_as_trained(by, on)
    )


def may_lead_walks(person, on: date) -> bool:
    """Be the trained partner of somebody who learns."""
    return may_sign_off(person) or counts_as_trained(person, on)


def may_see_training_of(person, whom) -> bool:
    """Rounds, walks and agreement are one's own, and the desk's."""
    return may_sign_off(person) or (may_practice(person) and person.pk == whom.pk)


def may_see_observers(person) -> bool:
    """What a look of each observer counts; nobody else ever sees it."""
    return _is(person, Role.STAFF, Role.KEEPER)
