"""What staff say of a finding: confirmed, watched or dismissed, each with a reason."""

from datetime import datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.audit.outdated import Outdated
from survey.causes.models import Finding
from survey.people.models import Person
from survey.people.policy import may_triage

LONGEST = 500
WORDS = (Finding.State.CONFIRMED, Finding.State.WATCHED, Finding.State.DISMISSED)


@transaction.atomic
def judge_finding(
    *, finding: Finding, version: int, word: str, reason: str, by: Person, at: datetime
) -> Finding:
    """Confirm, watch or dismiss a finding; it opens again only on new evidence.

    What it rested on is kept with the word: the trees that showed the sign, and the conclusion.
    Raises Outdated when somebody else judged it first or a run changed it, ValidationError
    (keys `word`, `reason`), PermissionDenied.
    """
    if not may_triage(by):
        raise PermissionDenied
    now = (
        Finding.objects.select_for_update(of=("self",), no_key=True)
        .select_related("area")
        .get(pk=finding.pk)
    )
    if now.version != version:
        raise Outdated(now)
    reason = reason.strip()
    if word not in WORDS:
        raise ValidationError({"word": _("Confirm it, watch it or dismiss it.")})
    if not reason:
        raise ValidationError({"reason": _("Say why, in a few words: the next person will ask.")})
    if len(reason) > LONGEST:
        raise ValidationError({"reason": _("Keep the reason under %d letters.") % LONGEST})
    now.state, now.reason = word, reason
    now.judged_by, now.judged_at, now.judged_on = f"person:{by.key}", at, now.evidence
    now.facts = now.facts | {
        "judged": {
            "trees": sorted(now.trees.values_list("pk", flat=True)),
            "standing": now.facts.get("standing", ""),
        }
    }
    now.version += 1
    now.full_clean()
    now.save()
    record(
        f"finding.{word}",
        subject=subject_of(now),
        by=by,
        at=at,
        reason=reason,
        with_sign=now.with_sign,
        of_trees=now.of_trees,
    )
    return now


def subject_of(finding: Finding) -> str:
    """The name of a finding in the audit."""
    return f"finding:{finding.area.ref}:{finding.number}"
