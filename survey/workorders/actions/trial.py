"""Side by side trials: drawn by lot from a number that is kept, and ended with a reason."""

import secrets
from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.handbook.book import book
from survey.people.models import Person
from survey.people.policy import may_plan_work
from survey.science.care.trials import MOST_TREES, draw_lots
from survey.trees.models import Area, Tree
from survey.workorders.models import Trial, TrialTree
from survey.workorders.trials import TIME_TO_ANSWER, USUAL_CARE, block_of, not_by_lot

LOT_BITS = 48


def _check_care(care: str, instead: str) -> None:
    """Only care in dispute is drawn by lot, on either side: nobody loses by the lot."""
    wrong = {}
    if care not in book().care:
        wrong["care"] = _("Choose a kind of care from the list.")
    elif why := not_by_lot(care):
        wrong["care"] = why
    if instead == care:
        wrong["instead"] = _("Both halves would get the same. Choose something else.")
    elif instead != USUAL_CARE:
        if instead not in book().care:
            wrong["instead"] = _("Choose what the others get from the list.")
        elif why := not_by_lot(instead):
            wrong["instead"] = why
    if wrong:
        raise ValidationError(wrong)


def _check(area: Area, care: str, trees: Sequence[Tree], until: date, at: datetime) -> None:
    if len(trees) < 2:
        raise ValidationError({"trees": _("A trial needs at least two trees.")})
    if len(trees) > MOST_TREES:
        raise ValidationError({"trees": _("That is more than %d trees.") % MOST_TREES})
    for tree in trees:
        if tree.area_id != area.pk:
            raise ValidationError({"trees": _("%s is in another town.") % tree})
        if tree.left:
            raise ValidationError({"trees": _("%s is not there any more.") % tree})
    if until < area.today() + TIME_TO_ANSWER:
        raise ValidationError(
            {"until": _("A tree needs four weeks to answer: choose a later day.")}
        )
    busy = TrialTree.objects.filter(
        tree__in=trees, trial__ended_at=None, trial__care=care
    ).select_related("tree")
    if taken := [str(row.tree) for row in busy[:10]]:
        raise ValidationError(
            {"trees": _("In another trial of the same care already: %s.") % ", ".join(taken)}
        )


@transaction.atomic
def create_trial(
    *,
    area: Area,
    question: str,
    care: str,
    instead: str,
    trees: Sequence[Tree],
    until: date,
    by: Person,
    at: datetime,
    lot: int | None = None,
) -> Trial:
    """Draw lots: half the trees of each site and species get the care, the others `instead`.

    The lot is a number from the machine's own dice; it is kept, so that anybody can draw again and
    get the same. `care` is the code of a kind that may be tried, `instead` of another one or
    USUAL_CARE. Raises ValidationError by field, PermissionDenied.
    """
    if not may_plan_work(by):
        raise PermissionDenied
    trees = list({tree.pk: tree for tree in trees}.values())
    Area.objects.select_for_update(no_key=True).get(pk=area.pk)
    _check_care(care, instead)
    _check(area, care, trees, until, at)
    trial = Trial(
        area=area,
        question=question.strip(),
        care=care,
        instead=instead,
        lot=secrets.randbits(LOT_BITS) if lot is None else lot,
        until=until,
        created_by=f"person:{by.key}",
        created_at=at,
    )
    trial.full_clean()
    trial.save()
    blocks: dict[str, list[str]] = defaultdict(list)
    for tree in trees:
        blocks[block_of(tree)].append(tree.ref)
    by_ref = {tree.ref: tree for tree in trees}
    drawn = draw_lots(blocks, trial.lot)
    TrialTree.objects.bulk_create(
        TrialTree(trial=trial, tree=by_ref[one.tree], block=one.block, gets_care=one.gets_care)
        for one in drawn
    )
    record(
        "trial.created",
        subject=f"trial:{trial.ref}",
        by=by,
        at=at,
        care=care,
        instead=instead,
        lot=trial.lot,
        trees=len(trees),
    )
    return trial


@transaction.atomic
def end_trial(*, trial: Trial, because: str, by: Person, at: datetime) -> Trial:
    """End a trial; its trees are free again, and looks from now on no longer count for it."""
    if not may_plan_work(by):
        raise PermissionDenied
    trial = Trial.objects.select_for_update(no_key=True).select_related(None).get(pk=trial.pk)
    if trial.ended_at is not None:
        raise ValidationError(_("This trial has ended already."))
    if not because.strip():
        raise ValidationError({"because": _("Say why it ends: the next person will ask.")})
    trial.ended_at, trial.ended_because = at, because.strip()
    trial.full_clean(exclude=["area"])
    trial.save(update_fields=["ended_at", "ended_because"])
    record("trial.ended", subject=f"trial:{trial.ref}", by=by, at=at, because=because.strip())
    return trial
