"""Works a group out from its stands, and keeps the result."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from hashlib import sha256

from django.db import transaction
from django.utils import timezone

from survey.survival import figures, pooling, stands, weighed
from survey.survival.cautions import cautions_of
from survey.survival.fates import Fates
from survey.survival.figures import METHOD, Worked
from survey.survival.kept import figure_of
from survey.survival.keys import label_of, name_of
from survey.survival.models import Figure, Group, Stand
from survey.trees.models import Area, Planting

READING = "verified"


@dataclass(frozen=True, slots=True)
class Result:
    """A group as worked out; `worked` is None when the stored row rests on the same evidence.

    `as_of` is the day on which the oldest of its stands was counted; None when it has none.
    """

    area: Area
    by: str
    key: str
    as_of: date | None
    evidence: str
    label: str = ""
    planted: int | None = None
    worked: Worked | None = None


def evidence_of(
    area: Area, by: str, key: str, label: str, planted: int | None, parts: Iterable[str]
) -> str:
    """A digest of everything that goes into a group's row; `parts` are its stands' evidence."""
    told = (METHOD, area.ref, area.invented, by, key, label, planted, *sorted(parts))
    return sha256(repr(told).encode()).hexdigest()


def planted_in(area: Area, by: str, key: str) -> int | None:
    """How many trees the planting's papers say were planted; only a planting has such papers."""
    if by != "planting":
        return None
    papers = Planting.objects.filter(area=area, ref=key)
    return papers.values_list("planted_count", flat=True).first()


def work_out(name: str) -> Result | None:
    """Everything slow about a roll-up, outside any transaction. None when the area is gone."""
    area_id, by, key = name.split("|", 2)
    area = Area.objects.filter(pk=int(area_id)).first()
    if area is None:
        return None
    parts = Stand.objects.filter(area=area).of_group(by, key).order_by("pk")
    # one planting is read at once; a town's stands are not, before it is known that they must be
    rows = parts.values_list("evidence", "counted_on", "fates", "newest")
    told = list(rows) if by == "planting" else parts.values_list("evidence", "counted_on")
    marks = [(row[0], row[1]) for row in told]
    label, planted = label_of(area, by, key), planted_in(area, by, key)
    evidence = evidence_of(area, by, key, label, planted, (mark for mark, _ in marks))
    as_of = min((on for _, on in marks), default=None)
    result = Result(area, by, key, as_of, evidence, label, planted)
    known = Group.objects.filter(area=area, by=by, key=key, reading=READING)
    if as_of is None or known.filter(evidence=evidence).exists():
        return result
    read = told if by == "planting" else rows.iterator(chunk_size=2000)
    fates = Fates.together(Fates.from_rows(row[2], row[3]) for row in read)
    return replace(result, worked=figures.work_out(fates))


@transaction.atomic
def keep(result: Result | None) -> None:
    """Replace the group's row and figures; remove the row of a group that has no trees left."""
    if result is None:
        return
    row = {"area": result.area, "by": result.by, "key": result.key, "reading": READING}
    if result.as_of is None:
        Group.objects.filter(**row).delete()
        return
    if result.worked is None:
        Group.objects.filter(**row).update(as_of=result.as_of)
        return
    worked = result.worked
    counts = worked.counts | {"planted": result.planted}
    group, made = Group.objects.update_or_create(
        **row,
        defaults={
            "label": result.label[:120],
            "as_of": result.as_of,
            "counts": counts,
            "curves": worked.curves,
            "mortality": worked.mortality,
            "cautions": cautions_of(counts, worked, by=result.by, invented=result.area.invented),
            "method": METHOD,
            "evidence": result.evidence,
            "computed_at": timezone.now(),
        },
    )
    pooling.ask(result.area)
    if not made:
        group.figures.all().delete()
    Figure.objects.bulk_create(figure_of(group, told) for told in worked.figures)


def out_of_date(area: Area) -> Iterator[str]:
    """Names of the groups of an area whose row is missing, or says other than its stands do."""
    marks: dict[tuple[str, str], list[str]] = defaultdict(list)
    days: dict[tuple[str, str], date] = {}
    kept_stands = Stand.objects.filter(area=area).select_related("planting", "site").defer("fates")
    for stand in kept_stands.iterator(chunk_size=2000):
        for pair in stands.keys_of(stand).pairs():
            marks[pair].append(stand.evidence)
            days[pair] = min(days.get(pair, stand.counted_on), stand.counted_on)
    kept = {
        (by, key): (evidence, as_of)
        for by, key, evidence, as_of in Group.objects.filter(
            area=area, reading=READING
        ).values_list("by", "key", "evidence", "as_of")
    }
    for by, key in sorted({*marks, *kept}):
        if (by, key) in marks:
            label, planted = label_of(area, by, key), planted_in(area, by, key)
            evidence = evidence_of(area, by, key, label, planted, marks[by, key])
            if kept.get((by, key)) == (evidence, days[by, key]):
                continue
        yield name_of(area, by, key)


def catch_up(area: Area) -> None:
    """Count and work out, here and now, whatever of an area is behind the record."""
    for planting in list(stands.behind(area)):
        stands.keep(stands.count(str(planting)))
    for name in out_of_date(area):
        keep(work_out(name))
    if pooling.is_behind(area):
        pooling.keep(pooling.work_out(str(area.pk)))
    if weighed.is_behind(area):
        weighed.keep(weighed.work_out(str(area.pk)))
