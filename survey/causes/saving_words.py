"""The decision in words: for trained people line by line with its grounds, for everybody kindly."""

from dataclasses import dataclass

from django.utils.formats import number_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from survey.causes.saving import Decision
from survey.causes.wound_words import Told, basis_of, day_said, outlook_told
from survey.science.saving.facts import Line, Need
from survey.science.saving.grounds import GROUNDS

TITLES: dict[str, str | Promise] = {
    "gone": gettext_lazy("It is no longer there"),
    "asleep": gettext_lazy("Asleep"),
    "cannot_tell": gettext_lazy("Cannot tell yet"),
    "alive": gettext_lazy("Alive"),
    "top_dead": gettext_lazy("Top dead, sprouting from below"),
    "dead": gettext_lazy("Dead"),
}
VERDICTS: dict[str, str | Promise] = {
    "nothing_to_do": gettext_lazy("Nothing to decide"),
    "save": gettext_lazy("Save it"),
    "watch": gettext_lazy("Watch it"),
    "replace": gettext_lazy("Replace it"),
}
LINES: dict[str, str | Promise] = {
    "gone": gettext_lazy("No tree stands there now."),
    "never_looked_at": gettext_lazy("Nobody has looked at it yet."),
    "two_visits": gettext_lazy(
        "Two visits, on %(day)s and %(other)s, found nothing alive. The second was by a trained "
        "person, at least four weeks later."
    ),
    "no_shoots_no_green": gettext_lazy("No green under the bark and no shoots from below since."),
    "in_growing_season": gettext_lazy("Both visits were in its growing season."),
    "sprouts_below": gettext_lazy("On %(day)s the top was dead and shoots came from below."),
    "roots_alive": gettext_lazy("So the roots are alive, and the tree is not dead."),
    "drops_in_drought": gettext_lazy(
        "It drops its leaves when it is dry, and it has been dry since %(day)s. Wait until six "
        "weeks after rain."
    ),
    "bare_window": gettext_lazy(
        "Its kind stands bare at this time of the year. Wait until %(other)s."
    ),
    "late_window": gettext_lazy(
        "It may be late. A bare tree is no news until six weeks after its kind has leafed out: "
        "%(other)s."
    ),
    "alive_before": gettext_lazy("It was alive on %(day)s."),
    "winter_look_proves_nothing": gettext_lazy("A bare tree in this season proves nothing."),
    "in_leaf": gettext_lazy("It had leaves on %(day)s."),
    "scratch_green": gettext_lazy("A twig was green under the bark on %(day)s."),
    "called_alive": gettext_lazy("Somebody saw it alive on %(day)s."),
    "neighbor_saw_alive": gettext_lazy("A neighbor saw it alive on %(day)s."),
    "green_is_not_saved": gettext_lazy(
        "Alive is not the same as saved: a tree can live on stored food for a season."
    ),
    "look_overdue": gettext_lazy("The next look is late. It is due by %(day)s."),
    "frost_wait": gettext_lazy(
        "Frost hit on %(day)s. New growth shows what it killed: wait until %(other)s."
    ),
    "looked_after_frost_or_drought": gettext_lazy(
        "What was seen on %(day)s can come from frost or drought. It does not count as dead."
    ),
    "looked_while_bare": gettext_lazy(
        "The look on %(day)s was outside its growing season. It does not count as dead."
    ),
    "looked_too_early": gettext_lazy(
        "The look on %(day)s was less than six weeks after its kind leafed out. It does not count "
        "as dead."
    ),
    "two_visits_no_photo": gettext_lazy(
        "Two visits, on %(day)s and %(other)s, found nothing alive, but there is no photo."
    ),
    "one_visit": gettext_lazy(
        "A visit on %(day)s found nothing alive. One visit is not enough."
    ),
    "bare_in_leaf_time": gettext_lazy(
        "It was bare on %(day)s, when its kind has leaves. Nobody has scratched a twig."
    ),
    "nothing_said_of_life": gettext_lazy("The looks so far do not say whether it is alive."),
    "sprouts_seen_asleep": gettext_lazy(
        "On %(day)s shoots came from below. That was outside its growing season, so the top may "
        "only have been asleep."
    ),
    "green_and_dead": gettext_lazy(
        "On %(day)s a twig was green, and the same look says “dead”. Green means alive that day."
    ),
    "leaf_and_dead": gettext_lazy("On %(day)s it had leaves, and the same look says “dead”."),
    "brown_and_alive": gettext_lazy(
        "On %(day)s twig, branch and trunk were brown, and the same look says that it lives."
    ),
    "green_and_top_dead": gettext_lazy(
        "On %(day)s a twig was green, and the same look says that the top is dead."
    ),
    "dead_then_alive": gettext_lazy("It was called dead on %(day)s and seen alive on %(other)s."),
    "dead_and_alive_on_one_day": gettext_lazy(
        "On %(day)s one look says “dead” and another saw it alive."
    ),
    "gone_then_there": gettext_lazy(
        "It was said to be gone on %(day)s, and it stood there on %(other)s."
    ),
    "belief_says_dead": gettext_lazy(
        "All looks weighed together say that it is most likely dead. That is no proof: the two "
        "visits decide."
    ),
    "belief_says_alive": gettext_lazy(
        "All looks weighed together say that it is most likely alive. Look once more before it is "
        "taken out."
    ),
    "no_tree_here": gettext_lazy("There is no tree to decide about."),
    "dead_is_replaced": gettext_lazy("It is dead by two visits. Plant a new one in season."),
    "wait_before_choosing": gettext_lazy(
        "Nothing is cut or replaced before it has had its time to leaf out."
    ),
    "graft_not_known": gettext_lazy(
        "Whether it was grafted is not known. On a grafted tree the shoots are only the rootstock."
    ),
    "shoots_are_rootstock": gettext_lazy(
        "It was grafted, so the shoots are the rootstock, another kind of tree. Usually it is "
        "replaced."
    ),
    "keep_low_shoots": gettext_lazy(
        "It was not grafted. Keep one to three low shoots: they feed the roots, and one can become "
        "the new trunk."
    ),
    "bark_under_quarter": gettext_lazy("Less than a quarter of the bark is lost at its widest."),
    "bark_quarter_to_half": gettext_lazy("A quarter to half of the bark is lost."),
    "bark_half_or_more": gettext_lazy("Half of the bark or more is lost."),
    "bark_all_round": gettext_lazy("The bark is lost all the way round."),
    "one_band_worse": gettext_lazy("We treat the wound as one step worse than it measures."),
    "green_with_girdle": gettext_lazy("Green leaves do not speak against such a wound."),
    "share_not_sure": gettext_lazy(
        "How much is lost is known only roughly, and that would change the choice."
    ),
    "too_young_to_graft": gettext_lazy(
        "Young or small trees cut all round are replaced, not grafted."
    ),
    "bridge_graft": gettext_lazy(
        "A valued old tree may be bridged by grafts, in spring, by a specialist. Ask an arborist."
    ),
    "crown_failing": gettext_lazy("More than half of the crown is dead, thin or wilted."),
    "crown_slipping": gettext_lazy(
        "A quarter to half of the crown is dead or thin. It needs help now."
    ),
    "decide_after_flush": gettext_lazy(
        "Decide after the next first flush, about %(day)s, when the rim has stopped dying back."
    ),
    "flush_is_over": gettext_lazy(
        "A first flush has passed since the wound was seen. Measure it again now, and decide."
    ),
    "nothing_against_it": gettext_lazy("Nothing we know speaks against it."),
    "stop_cause_first": gettext_lazy(
        "What did this still goes on. Stop it first: keep the trunk clear, and make a mulch ring."
    ),
    "cause_not_known": gettext_lazy(
        "Whether the cause still goes on is not known. Look for fresh cuts inside old ones."
    ),
    "cause_before_new_tree": gettext_lazy(
        "What did this still goes on. Stop it before a new tree is planted."
    ),
    "years_lost": gettext_lazy(
        "A new tree needs %(number)s to %(to_number)s years to be where this one is: its years in "
        "the ground, and three months to a year an inch to establish, for 2 in (5 cm) stock."
    ),
    "plant_window": gettext_lazy("Plant from %(day)s."),
}  # fmt: skip
NEEDS: dict[str, str | Promise] = {
    "first_look": gettext_lazy("A first look."),
    "look_in_leaf": gettext_lazy("A look from %(day)s on, when it should be in leaf."),
    "scratch_twigs": gettext_lazy(
        "Scratch thin twigs with a fingernail, from the tip toward the trunk, on several sides. "
        "Never start at the trunk."
    ),
    "second_visit": gettext_lazy(
        "A second visit by a trained person, from %(day)s on: buds, twigs, branches, and at most "
        "one small window (1/4 in, 6 mm) at the trunk."
    ),
    "photo": gettext_lazy("A photo of the twigs and of the base of the trunk."),
    "find_graft": gettext_lazy(
        "Find out whether it was grafted: ask the nursery, or look for a bend or a change of bark "
        "low on the trunk."
    ),
    "tape_the_wound": gettext_lazy("Measure the wound with a tape."),
    "look_again": gettext_lazy("Look again by %(day)s."),
}


@dataclass(frozen=True, slots=True)
class Said:
    """The decision as a page shows it: two titles, and the lines under each with their basis.

    `settled` are contradictions that are over, for whoever wants to read them.
    """

    state: str
    title: str
    sentence: str
    why: list[Told]
    contradictions: list[Told]
    settled: list[Told]
    needs: list[Told]
    verdict: str
    verdict_title: str
    reasons: list[Told]


def told(line: Line) -> Told:
    """A line with its days and numbers filled in."""
    return Told(line.code, str(LINES[line.code]) % _filled(line), basis_of(GROUNDS[line.code]))


def need_told(need: Need) -> Told:
    text = str(NEEDS[need.code]) % {"day": day_said(need.from_day)}
    return Told(need.code, text, basis_of(GROUNDS[need.code]))


def _filled(line: Line) -> dict[str, str]:
    none = _("not known")
    return {
        "day": day_said(line.day) if line.day else none,
        "other": day_said(line.other) if line.other else none,
        "number": _years(line.number),
        "to_number": _years(line.to_number),
    }


def _years(number: float | None) -> str:
    """Rounded to half years: "3", "4.5"."""
    if number is None:
        return ""
    halves = round(number * 2)
    return number_format(halves / 2, decimal_pos=halves % 2, use_l10n=True)


def said_of(decision: Decision) -> Said:
    """Everything the desk reads of one decision."""
    state, choice = decision.state, decision.choice
    needs = [need_told(need) for need in dict.fromkeys([*state.needs, *choice.needs])]
    reasons = [told(line) for line in choice.reasons]
    outlook = decision.wounds.outlook
    worse = next((one for one in outlook_told(outlook) if one.code == "one_band_worse"), None)
    if worse is not None:  # with what makes it worse, and whether its step moves
        reasons = [worse if reason.code == worse.code else reason for reason in reasons]
    if not outlook.is_known:  # a range is told as one
        reasons = [
            outlook_told(outlook)[0] if reason.code == f"bark_{outlook.high}" else reason
            for reason in reasons
        ]
    return Said(
        state=state.name,
        title=str(TITLES[state.name]),
        sentence=plainly(decision),
        why=[told(line) for line in state.lines],
        contradictions=[told(line) for line in state.contradictions if line not in state.settled],
        settled=[told(line) for line in state.settled],
        needs=needs,
        verdict=choice.verdict,
        verdict_title=str(VERDICTS[choice.verdict]),
        reasons=reasons,
    )


def plainly(decision: Decision) -> str:
    """One or two kind sentences for everybody. Never "saved"; never more than is known."""
    state = decision.state
    again = ""
    if state.look_by is not None:
        again = _("We look again by %(day)s.") % {"day": day_said(state.look_by)}
    if state.name == "gone":
        return _("This tree is no longer there.")
    if state.name == "dead":
        return _("This tree is dead. Two visits found no life in it.")
    if state.name == "top_dead":
        words = _("The top is dead, but shoots come from below. The roots are alive.")
    elif state.name == "asleep":
        words = _("It is bare, and that is normal for its kind now. We think it is asleep.")
        if any(line.code == "late_window" for line in state.lines):
            words = _("It may be late to leaf out. That is no bad sign yet.")
        elif any(line.code == "drops_in_drought" for line in state.lines):
            words = _("It is bare because it is dry. Its kind does that.")
    elif state.name == "alive":
        if state.seen_by != "trained":
            day = {"day": day_said(state.seen_on)}
            words = (
                _("A neighbor saw it alive on %(day)s.") % day
                if state.seen_by == "neighbor"
                else _("Somebody saw it alive on %(day)s.") % day
            )
        elif state.seen_on == decision.day:
            words = _("Alive today.")
        else:
            words = _("Alive when we last looked, on %(day)s.") % {"day": day_said(state.seen_on)}
    elif any(need.code == "first_look" for need in state.needs):
        words = _("Nobody has looked at it yet.")
    else:
        words = _("We cannot tell yet whether it is alive.")
    return f"{words} {again}".strip()
