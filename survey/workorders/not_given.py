"""What an order does not give, and why: a refusal is a dose too."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from survey.handbook.book import book
from survey.science.care import feeding
from survey.trees.models import Tree
from survey.workorders.facts import Facts, Known
from survey.workorders.problem import tags_of
from survey.workorders.wordings import reasons_said

WOUNDS = {"bark_wound", "bark_torn", "bark_sunken"}
CHIPS_AND_RINGS = {"mulch_ring", "turf_back"}


@dataclass(frozen=True, slots=True)
class Withheld:
    """One thing that is not given: what, why, and when the question comes up again."""

    what: str
    why: str
    then: str = ""


def withheld_of(
    cares: Sequence[str], record: Known, trees: Iterable[Tree], day: date
) -> list[Withheld]:
    """What the trees of an order themselves speak against, then what the handbook refuses for its
    kinds of care. Nothing stands twice."""
    trees = list(trees)
    facts = [record.facts[tree.pk] for tree in trees]
    found = []
    if "fertilize" not in cares:
        found.append(_fertilizer(facts, day))
    wounded = [fact for fact in facts if WOUNDS & fact.signs.keys() or fact.wounds]
    if wounded:
        found.append(
            Withheld(
                _("Coating on the wound"),
                _("only on sound bark, off the wound and its living rim"),
                _("not needed"),
            )
        )
        found.append(
            Withheld(_("Wound dressing"), _("it does not help the wood to close"), _("never"))
        )
    if CHIPS_AND_RINGS & set(cares):
        found.append(
            Withheld(
                _("Cardboard under chips"),
                _("none over a dry ball: it keeps the water out")
                if any(fact.ball == "dry" for fact in facts)
                else _("none over a ball that nobody has probed: it keeps the water out")
                if not all(fact.ball == "wet" for fact in facts)
                else _("it slows the air to the roots"),
            )
        )
    half = [fact for fact in facts if fact.has_lost_half]
    if half:
        found.append(
            Withheld(
                _("Cutting all low shoots"),
                _("keep one to three at %s: below the wound they feed the roots")
                % tags_of(fact.tree for fact in half),
                _("after the next leaf-on"),
            )
        )
    said = {withheld.what for withheld in found}
    for care in cares:
        for refusal in book().care[care].refusals if care in book().care else ():
            if _(refusal.what) not in said and not _told(refusal.what, found):
                said.add(_(refusal.what))
                found.append(Withheld(_(refusal.what), _(refusal.why)))
    return found


def _told(what: str, found: Sequence[Withheld]) -> bool:
    """Whether a refusal of the handbook says what the trees have said already."""
    alike = {
        "Cardboard over a dry ball": _("Cardboard under chips"),
        "A coat on the wound": _("Coating on the wound"),
        "Cutting every shoot below a deep wound": _("Cutting all low shoots"),
        "Cutting every low shoot": _("Cutting all low shoots"),
        "Fertilizer instead": _("Fertilizer"),
    }
    return alike.get(what) in {withheld.what for withheld in found}


def _fertilizer(facts: Sequence[Facts], day: date) -> Withheld:
    reasons: dict[str, None] = {}
    years = min((fact.age_months(day) / 12 for fact in facts), default=0.0)
    for fact in facts:
        told = {
            "thirsty": fact.is_thirsty,
            "root_rot": fact.may_rot,
            "wet_ball": fact.ball == "wet",
        }
        codes = feeding.refusals(
            years_planted=fact.age_months(day) / 12, found=[code for code, so in told.items() if so]
        )
        reasons |= dict.fromkeys(codes)
    then = _("a soil test first")
    if "first_two_years" in reasons:
        then = _("a soil test, from %d on") % (day.year + max(1, round(2 - years)))
    if not reasons:
        return Withheld(_("Fertilizer"), _("no soil test asks for it"), then)
    return Withheld(_("Fertilizer"), reasons_said(tuple(reasons)), then)
