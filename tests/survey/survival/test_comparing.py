"""Groups beside each other, counted from stands: who is in which group, and what else differs."""

from datetime import date

import pytest

from survey.survival import roll_up
from survey.survival.comparing import (
    AT_PLANTING,
    LATER,
    CannotCompare,
    compare_groups,
)
from survey.survival.models import Group
from survey.trees.models import Tree
from tests.factories import (
    AreaFactory,
    LookFactory,
    ObserverFactory,
    PlantingFactory,
    SiteFactory,
    TreeFactory,
)

LOST = {"Heron": 12, "Otter": 3}


@pytest.fixture
def area(db):
    """Two suppliers of twenty trees each, seen in June 2024 and a year or two later.

    Of each supplier's trees five are lindens; Otter's all came on the list in June 2024.
    """
    area, observer = AreaFactory(), ObserverFactory()
    site = SiteFactory(area=area)
    for name, lost in LOST.items():
        planting = PlantingFactory(area=area, supplier=name, stock_form=f"{name} pot")
        for n in range(20):
            late = {"registered_on": date(2024, 6, 3), "registered_because": "inventory"}
            tree = TreeFactory(
                planting=planting,
                site=site,
                species="linden" if n % 4 == 0 else "red_maple",
                **(late if name == "Otter" else {}),
            )
            LookFactory(tree=tree, observer=observer, day=date(2024, 6, 3))
            day = date(2025, 6, 3) if n < lost else date(2026, 6, 3)
            LookFactory(tree=tree, observer=observer, day=day, dead=n < lost)
    roll_up.catch_up(area)
    return area


def difference(compared, attribute):
    return next(one for one in compared.else_differs if one.attribute == attribute)


def test_the_counts_are_those_of_the_groups_as_rolled_up(area):
    compared = compare_groups(area, "supplier", ["heron", "otter"])
    for beside in compared.groups:
        group = Group.objects.get(by="supplier", key=beside.key)
        assert beside.trees == group.counts["in_rates"] == 20
        assert beside.losses == group.counts["losses"]
        assert beside.gap == group.counts["median_gap_days"]
    assert compared.together.losses == (12, 3)
    assert compared.together.ratio < 1
    assert not compared.together.refused
    assert compared.pairs == ()


def test_swapping_the_groups_turns_the_ratio(area):
    there = compare_groups(area, "supplier", ["heron", "otter"]).together
    back = compare_groups(area, "supplier", ["otter", "heron"]).together
    assert back.ratio == pytest.approx(1 / there.ratio, rel=1e-5)
    assert back.low == pytest.approx(1 / there.high, rel=1e-4)
    assert back.p == pytest.approx(there.p, rel=1e-5)


def test_what_else_differs_is_counted_tree_by_tree(area):
    compared = compare_groups(area, "supplier", ["heron", "otter"])
    entry = difference(compared, "entry")
    assert entry.total_variation == 1
    assert {share.value: share.counts for share in entry.shares} == {
        AT_PLANTING: (20, 0),
        LATER: (0, 20),
    }
    species = difference(compared, "species")
    assert {s.value: s.counts for s in species.shares} == {"linden": (5, 5), "red_maple": (15, 15)}
    assert species.total_variation == 0
    assert difference(compared, "stock_form").total_variation == 1
    assert compared.else_differs[-1].total_variation == 0
    # each planting has one supplier: nothing is said by that
    assert "planting" not in {one.attribute for one in compared.else_differs}
    assert "supplier" not in {one.attribute for one in compared.else_differs}
    by_species = compare_groups(area, "species", ["linden", "red_maple"])
    assert difference(by_species, "planting").total_variation == 0


def test_trees_are_compared_with_their_like_alone_where_asked(area):
    within = compare_groups(area, "supplier", ["heron", "otter"], within="species")
    assert within.together.trees == (20, 20)
    assert within.together.losses == (12, 3)
    Tree.objects.filter(planting__supplier="Otter").update(species="field_maple")
    roll_up.catch_up(area)
    apart = compare_groups(area, "supplier", ["heron", "otter"], within="species")
    assert apart.together.refused == "not_at_risk_together"
    assert not compare_groups(area, "supplier", ["heron", "otter"]).together.refused


def test_three_groups_have_pairs_corrected_for_how_many_were_compared(area):
    planting = PlantingFactory(area=area, supplier="Plover")
    for n, tree in enumerate(TreeFactory.create_batch(20, planting=planting)):
        LookFactory(tree=tree, day=date(2024, 6, 3))
        LookFactory(tree=tree, day=date(2025, 6, 3), dead=n < 9)
    roll_up.catch_up(area)
    compared = compare_groups(area, "supplier", ["heron", "otter", "plover"])
    assert compared.together.ratio is None
    assert [(pair.first, pair.second) for pair in compared.pairs] == [(0, 1), (0, 2), (1, 2)]
    assert all(pair.comparison.corrected_p >= pair.comparison.p for pair in compared.pairs)
    alone = compare_groups(area, "supplier", ["heron", "plover"]).together
    assert compared.pairs[1].comparison.p == alone.p


def test_another_town_and_an_unknown_key_have_no_trees_here(area):
    other = AreaFactory(ref="alder", name="Alder", is_home=False)
    assert compare_groups(other, "supplier", ["heron", "otter"]).together.refused == "too_few_trees"
    missing = compare_groups(area, "supplier", ["heron", "nobody"])
    assert missing.groups[1].trees == 0
    assert missing.together.refused == "too_few_trees"


@pytest.mark.parametrize(
    ("by", "keys", "within"),
    [
        ("supplier", ["heron"], ""),
        ("supplier", ["heron", "heron"], ""),
        ("supplier", [f"n{n}" for n in range(13)], ""),
        ("town", ["all", "none"], ""),
        ("mood", ["good", "bad"], ""),
        ("supplier", ["heron", "otter"], "supplier"),
        ("supplier", ["heron", "otter"], "planting"),
    ],
)
def test_what_cannot_be_compared_is_refused(area, by, keys, within):
    with pytest.raises(CannotCompare):
        compare_groups(area, by, keys, within=within)
