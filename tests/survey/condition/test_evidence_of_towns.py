"""A town read from its folder and the same town read back from the database are one evidence."""

from pathlib import Path

import numpy as np
import pytest
from django.utils import timezone

from survey.condition.evidence import load
from survey.exports.town import import_town
from survey.exports.town_folder import evidence_of, read_town
from survey.people.models import Observer
from survey.science.condition.chain import posterior
from survey.science.condition.learnt import Learnt
from survey.trees.models import Planting, Site, Tree
from tests.simulate.invented_town import invent, write

pytestmark = pytest.mark.django_db
TOWNS = Path(__file__).parents[3] / "fixtures" / "towns"


def rows_of(evidence, trees, sites, cohorts, observers):
    """Everything in the evidence by name, whatever numbers it has."""
    looks, kinds = evidence.looks, evidence.observers
    listed = evidence.trees
    columns = ("month", "label", "scratch", "leaf", "signs", "leaf_off", "complaint", "sure")
    return {
        "trees": {
            (name, int(p), int(f), int(u), sites[s], cohorts[c])
            for name, p, f, u, s, c in zip(
                trees,
                listed.planted,
                listed.first,
                listed.last,
                listed.site,
                listed.cohort,
                strict=True,
            )
        },
        "looks": {
            (trees[tree], observers[who], int(kinds[who]), *map(int, row))
            for tree, who, row in zip(
                looks.tree,
                looks.observer,
                zip(*(getattr(looks, name) for name in columns), strict=True),
                strict=True,
            )
        },
        "care": {(trees[tree], int(month)) for tree, month in evidence.care},
        "removals": {(trees[tree], int(month)) for tree, month in evidence.removals},
        "south": evidence.south,
        "sizes": (evidence.sites, evidence.cohorts, looks.number),
    }


@pytest.fixture(params=["alder", "southern", "hard"])
def folder(request, tmp_path):
    """A town of fixtures, and two small invented ones: the year turned, and every fault."""
    if request.param == "alder":
        return TOWNS / "alder"
    write(invent(request.param, 2, trees=90, sites=3, months=40, cohorts=(2, 10)), tmp_path)
    return tmp_path


def test_the_folder_and_the_database_say_the_same(folder):
    town = read_town(folder)
    read = evidence_of(town)
    area = import_town(folder=folder, name="Some town", at=timezone.now()).area
    loaded = load(area)

    def names(model, keys, attribute):
        named = dict(model.objects.values_list("pk", attribute))
        return [named.get(int(key), "") for key in keys]

    tags = names(Tree, loaded.trees, "tag")
    observers = [name.split(":")[-1] for name in names(Observer, loaded.observer_ids, "key")]
    ours = rows_of(
        read, [tree.tree for tree in town.trees], town.sites, town.cohorts, town.observers
    )
    stored = rows_of(
        loaded.evidence,
        tags,
        names(Site, loaded.sites, "name"),
        names(Planting, loaded.plantings, "name"),
        observers,
    )
    for part in ours:
        assert ours[part] == stored[part], part

    # and so they are believed alike
    one = posterior(read, Learnt.usual(read))
    other = posterior(loaded.evidence, Learnt.usual(loaded.evidence))
    lost = dict(zip([tree.tree for tree in town.trees], one.lost[one.offsets[1:] - 1], strict=True))
    again = dict(zip(tags, other.lost[other.offsets[1:] - 1], strict=True))
    assert np.allclose([lost[tag] for tag in tags], [again[tag] for tag in tags], atol=1e-12)
