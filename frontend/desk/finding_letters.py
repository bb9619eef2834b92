"""Letters that a finding may lead to: a notice to a mowing crew, a query to a nursery. Paper only.

Both are printed in English and Spanish side by side, whatever the reader's language, so their words
stand here as pairs and not in the catalogue. Thanks come first, counts next, and nobody is blamed.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.http import Http404
from django.utils.formats import date_format
from django.utils.translation import override

from frontend.desk.findings import Shown, plan_of, trees_of
from survey.causes.models import Finding
from survey.trees.models import CareGiven, Planting
from survey.workorders.actions.from_finding import LASTS
from survey.workorders.models import OrderLine, WorkOrder

NOTICE_SIGNS = ("bark_wound", "bark_torn")
NEVER_OF_A_NURSERY = ("dry_soil", "soggy_soil", "packed_soil")

RING_FT, RING_M = 3, 0.9144
"""Common practice, no source: the handbook's dose of a mulch ring, from the trunk outward."""


@dataclass(frozen=True, slots=True)
class Said:
    """The same words twice."""

    en: str
    es: str


HAVE = {
    "bark_wound": Said("bark gone at the base", "corteza perdida en la base"),
    "bark_torn": Said("torn bark", "corteza desgarrada"),
    "bark_sunken": Said("cracked or sunken bark", "corteza agrietada o hundida"),
    "base_shoots": Said("shoots from the base", "brotes en la base"),
    "dieback": Said("twigs dead at the tips", "ramitas secas en las puntas"),
    "buried_flare": Said("no root flare in sight", "el cuello de la raíz enterrado"),
    "circling_root": Said("a root round the trunk", "una raíz alrededor del tronco"),
    "tie_cuts_in": Said("a tie that cuts in", "una atadura que se clava"),
    "loose_ball": Said("a root ball that moves", "un cepellón que se mueve"),
}


def may_have_notice(row: Finding) -> bool:
    """A notice fits wounds at the base of one site's trees."""
    return row.sign in NOTICE_SIGNS and row.site_id is not None


def may_have_query(row: Finding) -> bool:
    """A query fits a load whose nursery is on record, for signs that a tree can bring along."""
    if row.sign in NEVER_OF_A_NURSERY:
        return False
    if row.follows == Finding.Follows.SUPPLIER:
        return True
    return row.follows == Finding.Follows.PLANTING and bool(row.planting and row.planting.supplier)


def letter_of(row: Finding, kind: str) -> dict:
    """What the letter's page needs. Raises Http404 for a letter that this finding cannot have."""
    if kind == "notice" and may_have_notice(row):
        return _notice(row)
    if kind == "query" and may_have_query(row):
        return _query(row)
    raise Http404


def day_in(day: date) -> Said:
    """A day in both languages."""
    with override("en"):
        english = date_format(day, "l, F j")
    with override("es"):
        spanish = date_format(day, r"l j \d\e F")
    return Said(english, spanish)


def _notice(row: Finding) -> dict:
    shown = [one for one in trees_of(row) if not one.tree.left]
    marked = [one for one in shown if one.marked]
    today = row.area.today()
    with override("en"):
        plan = plan_of(row, shown, rings=True)
    laid = _rings_planned([one.tree.pk for one in marked], today)
    ringed = _ringed([one.tree.pk for one in marked], today)
    return {
        "finding": row,
        "today": day_in(today),
        "plan": plan,
        "tags": [str(one.tree) for one in marked],
        "marked": len(marked),
        "with": row.with_sign,
        "of": row.of_trees,
        "laid": [(day_in(day), number) for day, number in laid.items()],
        "ringed": ringed,
        "without_day": max(len(marked) - ringed - sum(laid.values()), 0),
        "since": _since(marked),
        "contractor": row.site.mowing_contractor,
        "ring_ft": RING_FT,
        "ring_m": round(RING_M, 1),
        "have": HAVE[row.sign],
    }


def _rings_planned(trees: Sequence[int], today: date) -> dict[date, int]:
    """On which days from today how many of these trees are to have their ring, by planned orders.
    A tree on several orders counts on the first of them, one that has a ring on none."""
    lines = OrderLine.objects.filter(
        order__state=WorkOrder.State.PLANNED,
        order__planned_for__gte=today,
        care="mulch_ring",
        outcome=OrderLine.Outcome.OPEN,
        tree__in=trees,
    ).exclude(tree__in=_with_ring(trees, today))
    first = dict(lines.order_by("-order__planned_for").values_list("tree", "order__planned_for"))
    return dict(sorted(Counter(first.values()).items()))


def _with_ring(trees: Sequence[int], today: date):
    given = CareGiven.objects.filter(
        care="mulch_ring", tree__in=trees, given_to__gt=today - LASTS, given_to__lte=today
    )
    return given.values("tree")


def _ringed(trees: Sequence[int], today: date) -> int:
    """How many of these trees had their ring within a year."""
    return _with_ring(trees, today).distinct().count()


def _since(marked: Sequence[Shown]) -> Said | None:
    days = [one.first_seen for one in marked if one.first_seen]
    if not days:
        return None
    with override("en"):
        english = date_format(min(days), "F j, Y")
    with override("es"):
        spanish = date_format(min(days), r"j \d\e F \d\e Y")
    return Said(english, spanish)


def _query(row: Finding) -> dict:
    loads = Counter(row.trees.values_list("planting_id", flat=True))
    plantings = Planting.objects.filter(pk__in=loads).order_by("planted_from", "name")
    came = row.facts.get("came", {})
    here = [place["here"] for place in row.facts.get("places", ())]
    there = [place["there"] for place in row.facts.get("places", ())]
    supplier = row.subject if row.follows == Finding.Follows.SUPPLIER else row.planting.supplier
    return {
        "finding": row,
        "today": day_in(row.area.today()),
        "supplier": supplier,
        "loads": [
            {"planting": planting, "with": loads[planting.pk], "on": _since_day(planting)}
            for planting in plantings
        ],
        "have": HAVE.get(row.sign) or Said(f"“{row.sign}”", f"“{row.sign}”"),
        "with": row.with_sign,
        "of": row.of_trees,
        "came": came,
        "looked_when_they_came": came.get("whole", 0) + came.get("marked", 0),
        "others_with": sum(with_sign for with_sign, _of in there),
        "others_of": sum(of for _with, of in there),
        "places": len(here),
        "wounds": row.sign in NOTICE_SIGNS,
    }


def _since_day(planting: Planting) -> Said:
    """When a load was planted, no closer than it is known."""
    forms = {
        "day": ("F j, Y", r"j \d\e F \d\e Y"),
        "month": ("F Y", r"F \d\e Y"),
    }.get(planting.planted_precision, ("Y", "Y"))
    with override("en"):
        english = date_format(planting.planted_from, forms[0])
    with override("es"):
        spanish = date_format(planting.planted_from, forms[1])
    return Said(english, spanish)
