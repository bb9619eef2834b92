"""A trained person proposes a rule of this place, a second one puts it in force, either ends it."""

import unicodedata
from datetime import datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.causes.local import entries_of
from survey.causes.models import LocalRule
from survey.handbook.book import book
from survey.people.models import Person
from survey.people.policy import may_rule_locally
from survey.trees.models import Area

LONGEST_TEXT = 500
LONGEST_SOURCE = 300
LONGEST_REASON = 300
HEAVIEST = 3


@transaction.atomic
def propose_local_rule(
    *,
    area: Area,
    about: str,
    code: str,
    text: str,
    source: str,
    by: Person,
    at: datetime,
    text_es: str = "",
    clue: str = "",
    weight: int | None = None,
) -> LocalRule:
    """Propose a rule or a source beside one entry of the handbook. It is in force only once a
    second trained person has approved it.

    `source` is where it stands, or one of the handbook's marks. With `clue` and `weight` (-3 to 3,
    not 0) a rule about a cause also counts when causes are told apart. The same rule proposed
    twice by the same person is one. Raises ValidationError keyed by field; PermissionDenied unless
    `by` is trained staff.
    """
    if not may_rule_locally(by, area.today()):
        raise PermissionDenied
    if code not in entries_of(about):
        raise ValidationError({"code": _("The handbook has no such entry.")})
    # The area is held, so that two sendings of one form cannot pass each other.
    area = Area.objects.select_for_update(no_key=True).get(pk=area.pk)
    fields = {
        "area": area,
        "about": about,
        "code": code,
        "text": _written("text", text, LONGEST_TEXT, _("Write down the rule.")),
        "text_es": _written("text_es", text_es, LONGEST_TEXT),
        "source": _written(
            "source", source, LONGEST_SOURCE, _("Say where it stands, or how it is known.")
        ),
        "proposed_by": f"person:{by.key}",
        **_weighed(about, clue, weight),
    }
    standing = LocalRule.objects.filter(withdrawn_at__isnull=True, **fields).first()
    if standing is not None:
        return standing
    rule = LocalRule(proposed_at=at, **fields)
    rule.full_clean(validate_constraints=False)
    rule.save()
    record(
        "local_rule.proposed",
        subject=f"local_rule:{rule.ref}",
        by=by,
        at=at,
        about=about,
        code=code,
        text=rule.text,
        source=rule.source,
        clue=rule.clue,
        weight=rule.weight,
    )
    return rule


@transaction.atomic
def approve_local_rule(*, rule: LocalRule, by: Person, at: datetime) -> LocalRule:
    """Put a proposed rule in force. One that is in force already is returned as it is.

    Raises ValidationError for whoever proposed it and for one that was withdrawn;
    PermissionDenied unless `by` is trained staff.
    """
    rule = _held(rule, by)
    if rule.withdrawn_at is not None:
        raise ValidationError(_("It was withdrawn. Propose it again if it holds after all."))
    if rule.approved_at is not None:
        return rule
    if rule.proposed_by == f"person:{by.key}":
        raise ValidationError(
            _("You proposed it, so a second trained person has to approve it. It waits for them.")
        )
    rule.approved_by, rule.approved_at = f"person:{by.key}", at
    rule.save()
    record("local_rule.approved", subject=f"local_rule:{rule.ref}", by=by, at=at)
    return rule


@transaction.atomic
def withdraw_local_rule(*, rule: LocalRule, reason: str, by: Person, at: datetime) -> LocalRule:
    """End a rule, proposed or in force, with a reason: it counts no more and stays to be read.

    One that was withdrawn already is returned as it is. Raises ValidationError keyed by field;
    PermissionDenied unless `by` is trained staff.
    """
    rule = _held(rule, by)
    because = _written("reason", reason, LONGEST_REASON, _("Say why it counts no more."))
    if rule.withdrawn_at is not None:
        return rule
    rule.withdrawn_by, rule.withdrawn_at = f"person:{by.key}", at
    rule.withdrawn_because = because
    rule.save()
    record("local_rule.withdrawn", subject=f"local_rule:{rule.ref}", by=by, at=at, reason=because)
    return rule


def _held(rule: LocalRule, by: Person) -> LocalRule:
    if not may_rule_locally(by, rule.area.today()):
        raise PermissionDenied
    return (
        LocalRule.objects.select_for_update(of=("self",), no_key=True)
        .select_related("area")
        .get(pk=rule.pk)
    )


def _written(field: str, value: str, longest: int, missing: str = "") -> str:
    """The words in one line, without letters that cannot be seen or kept."""
    kept = "".join(
        letter
        for letter in value.replace("\r", " ").replace("\n", " ").replace("\t", " ")
        if unicodedata.category(letter) not in ("Cc", "Cf", "Cs", "Co", "Cn")
    )
    words = " ".join(kept.split())
    if not words and missing:
        raise ValidationError({field: missing})
    if len(words) > longest:
        raise ValidationError(
            {
                field: _("Keep it to %(most)d letters; this has %(now)d.")
                % {"most": longest, "now": len(words)}
            }
        )
    return words


def _weighed(about: str, clue: str, weight: int | None) -> dict:
    """The clue and its weight, both or neither."""
    if not clue and weight is None:
        return {"clue": "", "weight": None}
    if about != LocalRule.About.CAUSE:
        raise ValidationError({"clue": _("Only a rule about a cause can weigh a clue.")})
    if not clue:
        raise ValidationError({"clue": _("Say which clue is weighed, or leave the weight out.")})
    if clue not in book().clues:
        raise ValidationError({"clue": _("The handbook has no such clue.")})
    if weight is None:
        raise ValidationError({"weight": _("Say how much it weighs, or leave the clue out.")})
    if isinstance(weight, bool) or not isinstance(weight, int) or not 0 < abs(weight) <= HEAVIEST:
        raise ValidationError({"weight": _("A weight is a whole number from -3 to 3, and not 0.")})
    return {"clue": clue, "weight": weight}
