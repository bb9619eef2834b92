"""Works a group out from the record, and keeps the result."""

from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256

from django.db import transaction
from django.utils import timezone

from survey.survival import figures
from survey.survival.cautions import cautions_of
from survey.survival.figures import METHOD, Worked
from survey.survival.keys import keys_of, label_of, trees_in
from survey.survival.models import Figure, Group
from survey.survival.spells import lives
from survey.trees.models import Area, Planting
from survey.trees.species import kinds_in

READING = "verified"


@dataclass(frozen=True, slots=True)
class Result:
    """A group as worked out; `worked` is None when the stored row says the same already."""

    area: Area
    by: str
    key: str
    trees: int
    evidence: str
    label: str = ""
    planted: int | None = None
    worked: Worked | None = None


def name_of(area: Area, by: str, key: str) -> str:
    """The key of the chore that rolls this group up."""
    return f"{area.pk}|{by}|{key}"


def evidence_of(area: Area, by: str, key: str, label: str, planted: int | None, sums) -> str:
    """A digest of everything that goes into a group's row.

    `sums` are how many trees there are and the sum of their fingerprints, so that it can be
    gathered tree by tree in any order.
    """
    trees, total = sums
    told = (METHOD, area.ref, by, key, label, planted, area.today(), trees, total % 2**256)
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
    members = list(lives(trees_in(area, by, key), area, kinds_in(area)))
    label, planted = label_of(area, by, key), planted_in(area, by, key)
    sums = len(members), sum(life.fingerprint() for life in members)
    evidence = evidence_of(area, by, key, label, planted, sums)
    result = Result(area, by, key, len(members), evidence, label, planted)
    known = Group.objects.filter(area=area, by=by, key=key, reading=READING)
    if not members or known.filter(evidence=evidence).exists():
        return result
    worked = figures.work_out(members, seed=seed_of(area, by, key), as_of=area.today())
    return Result(area, by, key, len(members), evidence, label, planted, worked)


def seed_of(area: Area, by: str, key: str) -> int:
    """The dice of a group: its own name, so that the same trees always give the same limits."""
    return int.from_bytes(sha256(f"{area.ref}|{by}|{key}".encode()).digest()[:8], "big")


@transaction.atomic
def keep(result: Result | None) -> None:
    """Replace the group's row and figures; remove the row of a group that has no trees left."""
    if result is None:
        return
    row = {"area": result.area, "by": result.by, "key": result.key, "reading": READING}
    if not result.trees:
        Group.objects.filter(**row).delete()
        return
    if result.worked is None:
        return
    worked = result.worked
    counts = worked.counts | {"planted": result.planted}
    group, _made = Group.objects.update_or_create(
        **row,
        defaults={
            "label": result.label[:120],
            "as_of": result.area.today(),
            "counts": counts,
            "curves": worked.curves,
            "mortality": worked.mortality,
            "cautions": cautions_of(counts, worked, by=result.by, invented=result.area.invented),
            "method": METHOD,
            "evidence": result.evidence,
            "computed_at": timezone.now(),
        },
    )
    group.figures.all().delete()
    Figure.objects.bulk_create(
        Figure(
            group=group,
            curve=told.curve,
            milestone=told.milestone,
            age_months=told.age,
            at_risk=told.at_risk,
            events=told.events,
            at_least=told.at_least,
            at_most=told.at_most,
            low=told.low,
            high=told.high,
            count_alive=told.alive,
            count_lost=told.lost,
            count_unknown=told.unknown,
            withheld=told.withheld,
        )
        for told in worked.figures
    )


def out_of_date(area: Area) -> Iterator[str]:
    """Names of the groups of an area whose row is missing, or says other than the record does."""
    sums: dict[tuple[str, str], list[int]] = {}
    for life in lives(trees_in(area, "town", "all"), area, kinds_in(area)):
        mark = life.fingerprint()
        for pair in life.keys.pairs():
            of_pair = sums.setdefault(pair, [0, 0])
            of_pair[0] += 1
            of_pair[1] += mark
    stored = {
        (by, key): evidence
        for by, key, evidence in Group.objects.filter(area=area, reading=READING).values_list(
            "by", "key", "evidence"
        )
    }
    for by, key in sorted({*sums, *stored}):
        if (by, key) in sums:
            label, planted = label_of(area, by, key), planted_in(area, by, key)
            evidence = evidence_of(area, by, key, label, planted, sums[by, key])
            if stored.get((by, key)) == evidence:
                continue
        yield name_of(area, by, key)


def groups_of(area: Area) -> list[str]:
    """The names of all groups that the trees of an area make today."""
    trees = trees_in(area, "town", "all").select_related("planting", "site")
    pairs = {pair for tree in trees.iterator(chunk_size=2000) for pair in keys_of(tree).pairs()}
    return [name_of(area, by, key) for by, key in sorted(pairs)]
