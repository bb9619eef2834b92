"""Looks that cannot all be right: told to the reader, never smoothed away."""

from collections.abc import Sequence
from datetime import date, timedelta

from survey.science.saving.facts import Facts, Line, Seen, StateName
from survey.science.saving.signs import ALIVE_WORDS, TREE, is_alive, is_suspect

SURE = 0.9  # from here a belief that says otherwise is told as a contradiction
OVER = timedelta(days=365)  # so old, what did not fit together explains nothing of today (own rule)
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
    seen_again: set[date] = set()
    for dead_on in called_dead:
        later = next((day for day in alive if day > dead_on), None)
        if later is not None and later not in seen_again:
            seen_again.add(later)
            told.append(Line("dead_then_alive", day=dead_on, other=later))
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


def settled(facts: Facts, looks: Sequence[Seen], told: Sequence[Line]) -> tuple[Line, ...]:
    """Those of the contradictions `told` that are over: a year old, or a later trained look said
    whether the tree lives. What the belief says is of today and is never over.

    The look that contradicts settles it by itself where it was a trained one.
    """
    trained = [
        look.day
        for look in looks
        if look.trained and (is_alive(look, facts) or is_suspect(look) or look.presence in NO_TREE)
    ]
    over = []
    for line in told:
        if line.day is None:
            continue
        last = max(line.day, line.other or line.day)
        later = any(day >= last if last > line.day else day > last for day in trained)
        if later or facts.day - last > OVER:
            over.append(line)
    return tuple(over)
