"""What a run found becomes rows; a judged finding opens again on new evidence only."""

from datetime import date

from survey.audit.log import record
from survey.causes.models import Finding
from survey.causes.patterns import Pattern, Searched
from survey.trees.models import Area


def keep(searched: Searched | None) -> None:
    """Write what a run found. A judged finding opens again only on new evidence: more trees with
    the sign, or another conclusion. One that is no longer found is gone from that day on."""
    if searched is None:
        return
    area = Area.objects.select_for_update(no_key=True).get(pk=searched.area)
    known = {(row.sign, row.follows, row.subject): row for row in Finding.objects.filter(area=area)}
    number = max((row.number for row in known.values()), default=0)
    for pattern in searched.patterns:
        row = known.pop((pattern.sign, pattern.follows, pattern.subject), None)
        if row is None:
            number += 1
            row = Finding(
                area=area,
                number=number,
                sign=pattern.sign,
                follows=pattern.follows,
                subject=pattern.subject,
                found_on=searched.day,
            )
        _renew(row, pattern, searched.day)
    for row in known.values():
        if row.gone_on is None:
            row.gone_on = row.weighed_on = max(searched.day, row.found_on)
            row.version += 1
            row.save(update_fields=["gone_on", "weighed_on", "version"])


def _renew(row: Finding, pattern: Pattern, day: date) -> None:
    changed = row.evidence != pattern.evidence or row.gone_on is not None
    if row.state != Finding.State.OPEN and is_new_evidence(row, pattern):
        _open_again(row, pattern)
        changed = True
    kept = {name: row.facts[name] for name in ("judged", "earlier") if name in row.facts}
    row.site_id, row.planting_id = pattern.site, pattern.planting
    row.with_sign, row.of_trees = pattern.with_sign, pattern.of_trees
    row.chance, row.after_many = pattern.chance, pattern.after_many
    row.facts = pattern.facts | kept
    row.evidence = pattern.evidence
    row.weighed_on = max(day, row.found_on)
    row.gone_on = None
    row.version += 1 if changed and row.pk else 0
    row.full_clean(exclude=["area", "site", "planting"])
    row.save()
    if changed:
        row.trees.set(pattern.trees)


def is_new_evidence(row: Finding, pattern: Pattern) -> bool:
    """Whether a run rests on more than what a finding was judged on."""
    if row.judged_on == pattern.evidence:
        return False
    judged = row.facts.get("judged", {})
    more = set(pattern.trees) - set(judged.get("trees", ()))
    return bool(more) or judged.get("standing") != pattern.standing


def _open_again(row: Finding, pattern: Pattern) -> None:
    judged = row.facts.pop("judged", {})
    row.facts.setdefault("earlier", []).append(
        {
            "state": row.state,
            "reason": row.reason,
            "by": row.judged_by,
            "at": row.judged_at.isoformat(),
            "new_trees": len(set(pattern.trees) - set(judged.get("trees", ()))),
            "was": judged.get("standing", ""),
        }
    )
    record(
        "finding.reopened",
        subject=f"finding:{row.area.ref}:{row.number}",
        at=row.area.now(),
        was=row.state,
    )
    row.state, row.reason, row.judged_by = Finding.State.OPEN, "", ""
    row.judged_at, row.judged_on = None, ""
