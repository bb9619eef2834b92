"""A trained person says that a cause was, or was not, behind a tree's trouble, or takes it back."""

from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.causes.models import Verdict
from survey.causes.verdicts import speaks
from survey.handbook.book import book
from survey.people.models import Person
from survey.people.policy import may_rule_locally
from survey.trees.models import Tree

LONGEST_REASON = 500


@transaction.atomic
def give_verdict(
    *, tree: Tree, cause: str, was: str, said: str, reason: str, by: Person, at: datetime
) -> Verdict:
    """Confirm a cause or rule it out for one tree, with the reason.

    `said` is the word that stood beside the cause at that moment, empty if it was not told: by it
    the words are held against verdicts. The same verdict given twice is one; one that speaks no
    more is replaced. Raises ValidationError keyed by field (also when the opposite speaks: take
    that back first); PermissionDenied unless `by` is trained staff.
    """
    day = _allowed(tree, by)
    if cause not in book().causes:
        raise ValidationError({"cause": _("The handbook has no such cause.")})
    if was not in Verdict.Was.values:
        raise ValidationError({"was": _("Choose confirmed or ruled out.")})
    words = _reason(reason)
    # The tree is held, so that two sendings of one form cannot pass each other.
    tree = Tree.objects.select_for_update(no_key=True, of=("self",)).get(pk=tree.pk)
    standing = Verdict.objects.in_force().filter(tree=tree, cause=cause).first()
    if standing is not None and not speaks(standing, day):
        _take_back(standing, reason="more than a year old, judged again", by=by, at=at)
    elif standing is not None:
        if standing.was == was:
            return standing
        raise ValidationError(
            {"was": _("The opposite is in force since %s. Take that back first.") % standing.day}
        )
    verdict = Verdict(
        tree=tree,
        cause=cause,
        was=was,
        said=said,
        reason=words,
        day=day,
        by=f"person:{by.key}",
        at=at,
    )
    verdict.full_clean(validate_constraints=False)
    verdict.save()
    record(
        "cause.judged",
        subject=f"tree:{tree.ref}",
        by=by,
        at=at,
        cause=cause,
        was=was,
        said=said,
        reason=words,
    )
    return verdict


@transaction.atomic
def withdraw_verdict(*, verdict: Verdict, reason: str, by: Person, at: datetime) -> Verdict:
    """Take a verdict back, with a reason: it counts no more and stays to be read.

    One that was taken back already is returned as it is. Raises ValidationError keyed by field;
    PermissionDenied unless `by` is trained staff.
    """
    verdict = (
        Verdict.objects.select_for_update(no_key=True, of=("self",))
        .select_related("tree__area")
        .get(pk=verdict.pk)
    )
    _allowed(verdict.tree, by)
    words = _reason(reason)
    if verdict.withdrawn_at is not None:
        return verdict
    _take_back(verdict, reason=words, by=by, at=at)
    return verdict


def _take_back(verdict: Verdict, *, reason: str, by: Person, at: datetime) -> None:
    verdict.withdrawn_at, verdict.withdrawn_by = at, f"person:{by.key}"
    verdict.save()
    record(
        "cause.unjudged",
        subject=f"tree:{verdict.tree.ref}",
        by=by,
        at=at,
        cause=verdict.cause,
        was=verdict.was,
        reason=reason,
    )


def _allowed(tree: Tree, by: Person) -> date:
    day = tree.area.today()
    if not may_rule_locally(by, day):
        raise PermissionDenied
    return day


def _reason(reason: str) -> str:
    words = " ".join(reason.replace("\x00", " ").split())
    if not words:
        raise ValidationError({"reason": _("Say what you saw.")})
    if len(words) > LONGEST_REASON:
        raise ValidationError(
            {"reason": _("Keep it to %(most)d letters.") % {"most": LONGEST_REASON}}
        )
    return words
