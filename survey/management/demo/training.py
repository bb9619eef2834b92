"""Writes down how the demo's volunteers learned: rounds, walks and the sign-off."""

from datetime import timedelta

from survey.management.demo.enter import Register, put
from survey.management.demo.plan import Table
from survey.people.models import PairedWalk, Person, PracticeRound
from survey.people.training import pictures_of_round

EVENING, NEXT_MORNING = 20, 10


def enter_training(register: Register) -> None:
    """Practice rounds and sign-offs as the plan says, and the walks that were made."""
    rounds = [
        row
        for table in register.town.plan.people
        for row in _rounds(register, register.people[table["sign_in"]], table)
    ]
    put(rounds)
    put(
        PairedWalk(
            person=register.people[walk.learner],
            partner=register.people[walk.partner],
            day=walk.day,
            where=walk.site,
            at=register.moment(walk.day, EVENING),
        )
        for walk in register.town.walks
    )
    for walk in register.town.walks:
        register.note(
            "training.walk_noted",
            f"person:{register.people[walk.learner].key}",
            register.moment(walk.day, EVENING),
            walk.partner,
            partner=register.by(walk.partner),
            day=walk.day.isoformat(),
            where=walk.site,
        )
    for table in register.town.plan.people:
        if table.get("signed_off_by"):
            _sign_off(register, table)


def _rounds(register: Register, person: Person, table: Table) -> list[PracticeRound]:
    """Rounds with the pictures that this person would have been shown; the first ones wrong."""
    made = []
    for earlier, (day, right) in enumerate(table.get("rounds", ())):
        pictures = pictures_of_round(person, earlier)
        wrong = len(pictures) - right
        answers = [
            {
                "item": item.code,
                "said": item.right
                if place >= wrong
                else next(c.code for c in item.choices if c.code != item.right),
                "right": place >= wrong,
            }
            for place, item in enumerate(pictures)
        ]
        at = register.moment(day, EVENING)
        made.append(
            PracticeRound(person=person, answers=answers, right=right, of=len(answers), at=at)
        )
        register.note(
            "training.practiced",
            f"person:{person.key}",
            at,
            table["sign_in"],
            right=right,
            of=len(answers),
        )
    return made


def _sign_off(register: Register, table: Table) -> None:
    day = table["trained_on"]
    register.note(
        "training.signed_off",
        f"person:{register.people[table['sign_in']].key}",
        register.moment(day, NEXT_MORNING) + timedelta(minutes=5),
        table["signed_off_by"],
        trained_on=day.isoformat(),
        reason="",
        rounds=len(table.get("rounds", ())),
        walks=table.get("walks", 0),
        was_complete=True,
    )
