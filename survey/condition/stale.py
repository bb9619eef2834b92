"""Which beliefs are behind the record: asked of the database, never remembered by message.

A tree's stamp is what its evidence comes to without reading it: how many looks, which was the
newest, how much care, which overrulings, and what its own row says. A belief keeps the stamp it
was made under; where the two differ, the belief is made again.
"""

from collections.abc import Iterable, Iterator
from hashlib import sha256

from django.db.models import Count, Max

from survey.condition.models import Belief, Learning, Overruling
from survey.trees.models import Area, CareGiven, Look, Tree

RANGE = 2000
FEW = 20  # so many trees of a range are believed one by one; more are read together


def stamps(tree_ids: Iterable[int]) -> dict[int, str]:
    """The stamp of each of these trees, in four questions."""
    wanted = list(tree_ids)

    def counted(model, **more) -> dict[int, tuple]:
        rows = model.objects.filter(tree_id__in=wanted).order_by().values_list("tree_id")
        found = rows.annotate(many=Count("pk"), newest=Max("pk"), **more)
        return {row[0]: row[1:] for row in found}

    looks = counted(Look)
    care = counted(CareGiven)
    overruled = counted(Overruling, withdrawn=Count("withdrawn_at"))
    rows = Tree.objects.filter(pk__in=wanted).values_list(
        "pk",
        "site_id",
        "planting_id",
        "species",
        "planted_from",
        "planted_to",
        "registered_on",
        "left",
        "left_to",
    )
    return {
        row[0]: _digest(looks.get(row[0]), care.get(row[0]), overruled.get(row[0]), *row[1:])
        for row in rows
    }


def _digest(*parts) -> str:
    return sha256("|".join(map(str, parts)).encode()).hexdigest()


def ranges_of(area: Area) -> Iterator[str]:
    """Names of ranges of trees that together hold the whole area: area, first and last tree."""
    pks = list(Tree.objects.filter(area=area).order_by("pk").values_list("pk", flat=True))
    for begin in range(0, len(pks), RANGE):
        chunk = pks[begin : begin + RANGE]
        yield f"{area.pk}|{chunk[0]}|{chunk[-1]}"


def trees_behind(area: Area) -> Iterator[int]:
    """Trees without a belief, with one of an earlier month, or with other evidence by now."""
    for _, trees in _behind(area):
        yield from trees


def wishes(area: Area) -> Iterator[tuple[str, str]]:
    """The chores that would believe those trees again: one by one, or a whole range of them."""
    for name, trees in _behind(area):
        if len(trees) > FEW:
            yield "believe_trees", name
        else:
            yield from (("believe_tree", str(tree)) for tree in trees)


def _behind(area: Area) -> Iterator[tuple[str, list[int]]]:
    if Learning.objects.newest_of(area) is None:
        return  # learning comes first, and asks for every belief
    month = area.today().replace(day=1)
    for name in ranges_of(area):
        _, first, last = map(int, name.split("|"))
        trees = Tree.objects.filter(area=area, pk__range=(first, last)).order_by("pk")
        pks = list(trees.values_list("pk", flat=True))
        now = stamps(pks)
        beliefs = Belief.objects.filter(tree_id__in=pks)
        kept = {row[0]: row[1:] for row in beliefs.values_list("tree_id", "evidence", "month")}
        yield name, [tree for tree in pks if kept.get(tree) != (now[tree], month)]
