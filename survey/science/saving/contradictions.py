"""Looks that cannot all be right: told to the reader, never smoothed away."""

from collections.abc import Sequence

from survey.science.saving.facts import Facts, Line, Seen, StateName
from survey.science.saving.signs import ALIVE_WORDS, TREE, is_alive

SURE = 0.9  # from here a belief that says otherwise is told as a contradiction
NO_TREE = {"gone", "stump", "never_planted"}


def contradictions(facts: Facts, looks: Sequence[Seen], state: StateName) -> tuple[Line, ...]:
    """Everything in the looks (oldest first), or between them and the belief, that clashes."""
    told: list[Line] = []
    for look in looks:
        if look.condition == "dead" and look.green:
            told.append(Line("green_and_dead", day=look.day))
        elif look.condition == "dead" and look.leaf in ("full", "partial"):
            told.append(Line("leaf_and_dead", day=look.day))
        if look.brown_all_over and look.condition in ALIVE_WORDS:
            told.append(Line("brown_and_alive", day=look.day))
        if look.presence == "sprouting" and look.green:
            told.append(Line("green_and_top_dead", day=look.day))
    called_dead = [look.day for look in looks if look.condition == "dead" and not look.green]
    alive = [look.day for look in looks if is_alive(look, facts)]
    if called_dead and alive and alive[-1] > called_dead[0]:
        later = next(day for day in alive if day > called_dead[0])
        told.append(Line("dead_then_alive", day=called_dead[0], other=later))
    same_day = sorted(set(called_dead) & set(alive))
    told += [Line("dead_and_alive_on_one_day", day=day) for day in same_day]
    no_tree = [look.day for look in looks if look.presence in NO_TREE]
    tree = [look.day for look in looks if look.presence in TREE]
    if no_tree and tree and tree[-1] >= no_tree[0]:
        told.append(Line("gone_then_there", day=no_tree[0], other=tree[-1]))
    believed = facts.believed_dead
    if believed is not None and state in ("alive", "asleep") and believed >= SURE:
        told.append(Line("belief_says_dead"))
    if believed is not None and state == "dead" and believed <= 1 - SURE:
        told.append(Line("belief_says_alive"))
    return tuple(dict.fromkeys(told))
