"""All evidence weighed: small towns worked out by hand, and the rows that are kept of them."""

import json
import math
from datetime import date, timedelta

import numpy as np
import pytest

from survey.chores.models import Chore
from survey.condition import learning
from survey.condition.models import Learning
from survey.science.survival.drawn import NEVER
from survey.survival import roll_up, weighed
from survey.survival.figures import CURVES, MILESTONES
from survey.survival.members import TreesChanged
from survey.survival.models import Figure, Group
from survey.survival.tasks import areas_behind_their_learning
from survey.trees.models import Look, Tree
from tests.factories import (
    AreaFactory,
    LookFactory,
    ObserverFactory,
    PlantingFactory,
    SiteFactory,
    TreeFactory,
)

pytestmark = pytest.mark.django_db


def plant(name="Ferry Road 2023", trees=20, **more):
    """Trees of one planting at one site, seen thriving in four summers' worth of walks."""
    planting = PlantingFactory(name=name, planted_count=trees, **more)
    site = SiteFactory(name=f"Site of {name}")
    # short names of their own: a tree's dice are thrown by its name
    made = [
        TreeFactory(
            planting=planting, site=site, ref=f"{planting.name.lower().replace(' ', '-')}-{n}"
        )
        for n in range(trees)
    ]
    observer = ObserverFactory()
    for tree in made:
        for day in (date(2024, 6, 3), date(2025, 6, 3), date(2026, 6, 3)):
            LookFactory(tree=tree, observer=observer, day=day, condition="thriving", leaf="full")
    return planting, made


def weigh(area):
    """Learn, work the verified reading out, and weigh."""
    learning.keep(learning.work_out(str(area.pk)))
    roll_up.catch_up(area)


def group(planting, reading="weighed"):
    return Group.objects.get(by="planting", key=planting.ref, reading=reading)


def told(group, milestone, curve="loss"):
    return group.figures.get(curve=curve, milestone=milestone)


def numbers(part):
    """Every number in a piece of JSON."""
    if isinstance(part, dict):
        part = list(part.values())
    if isinstance(part, list):
        return [n for one in part for n in numbers(one)]
    return [part] if isinstance(part, int | float) else []


@pytest.fixture
def fixed(monkeypatch):
    """Months of loss as a test wants them: by tree, the same in every drawing."""
    wanted = {}

    def months_lost(area, loaded, learnt, members):
        row = [wanted.get(pk, NEVER) for pk in loaded.tree_ids]
        return np.tile(np.array(row, dtype=np.int16), (weighed.DRAWS, 1))

    monkeypatch.setattr(weighed, "_months_lost", months_lost)
    return wanted


def month(year, number):
    return year * 12 + number - 1


def test_drawn_losses_are_counted_as_they_would_be_by_hand(fixed):
    planting, trees = plant()
    # planted in November 2023: five lost at 7 months, one at 20
    fixed |= {tree.pk: month(2024, 6) for tree in trees[:5]}
    fixed[trees[5].pk] = month(2025, 7)
    weigh(planting.area)
    found = group(planting)
    year, second = told(found, "12"), told(found, "second_summer")
    assert (year.count_alive, year.count_lost, year.count_unknown) == (15, 5, 0)
    assert (year.at_risk, year.events) == (15, 5)
    assert (second.age_months, second.count_alive, second.events) == (22, 14, 6)
    # at 7 months Beta(5 + 5 h, 15 + 5 (1 - h)): near 15 of 20, drawn a little to the town's hazard
    assert year.at_least == year.at_most == pytest.approx(0.75, abs=0.03)
    assert year.low == pytest.approx(0.55, abs=0.05)
    assert year.high == pytest.approx(0.91, abs=0.05)
    assert told(found, "60").withheld == "not_old_enough"
    assert found.counts["expected_standing"] == {"mean": 14.0, "low": 14, "high": 14}
    assert found.curves["loss"][0] == [0.0, 1.0, 1.0, 1.0, 1.0]
    assert found.curves["under_watch"][:3] == [[0, 20, 0], [6, 20, 0], [12, 15, 5]]
    assert found.curves["second_summer"] == [22.0, 22.0]


def test_every_group_has_both_readings_with_figures_at_the_same_ages(fixed):
    planting, trees = plant()
    fixed[trees[0].pk] = month(2024, 9)
    weigh(planting.area)
    names = set(Group.objects.verified().values_list("by", "key", "label"))
    assert len(names) == 6
    assert set(Group.objects.weighed().values_list("by", "key", "label")) == names
    for one in Group.objects.weighed():
        other = Group.objects.verified().get(by=one.by, key=one.key)
        assert one.figures.count() == len(CURVES) * len(MILESTONES)
        for figure in one.figures.all():
            beside = other.figures.get(curve=figure.curve, milestone=figure.milestone)
            assert figure.age_months == beside.age_months
        assert one.counts["from_age"] == other.counts["from_age"]
        assert one.as_of == other.as_of
        assert one.method.startswith("all evidence weighed")


def test_no_figure_and_no_curve_holds_what_is_not_a_number():
    planting, trees = plant()
    for tree in trees[:4]:
        LookFactory(tree=tree, day=date(2026, 6, 10), dead=True, scratch="brown")
    weigh(planting.area)
    for one in Group.objects.weighed():
        kept = numbers([one.counts, one.curves])
        assert kept
        assert all(math.isfinite(number) for number in kept)
        json.dumps([one.counts, one.curves, one.cautions], allow_nan=False)
        for figure in one.figures.filter(withheld=""):
            assert 0 <= figure.low <= figure.at_least == figure.at_most <= figure.high <= 1


def test_a_tree_on_the_list_because_of_a_report_stays_out_of_the_rates(fixed):
    planting, trees = plant()
    reported = TreeFactory(
        planting=planting, site=trees[0].site, registered_because=Tree.Because.REPORT,
        registered_on=date(2024, 9, 1),
    )  # fmt: skip
    fixed[reported.pk] = month(2024, 10)
    weigh(planting.area)
    found = group(planting)
    assert (found.counts["registered"], found.counts["in_rates"]) == (21, 20)
    assert found.counts["excluded"] == {"because_of_report": 1, "never_planted": 0}
    assert told(found, "12").events == 0
    assert {"code": "left_out", "trees": 1} in found.cautions


def test_a_tree_that_was_never_planted_stays_out_and_one_seen_later_does_not(fixed):
    planting, trees = plant()
    more = TreeFactory.create_batch(2, planting=planting, site=trees[0].site)
    for tree in more:
        LookFactory(tree=tree, presence=Look.Presence.NEVER_PLANTED, condition="")
    LookFactory(tree=more[1], day=date(2024, 8, 1))
    weigh(planting.area)
    assert group(planting).counts["excluded"]["never_planted"] == 1


def test_a_tree_registered_late_counts_from_then_on(fixed):
    planting, trees = plant()
    late = TreeFactory.create_batch(
        10, planting=planting, site=trees[0].site, registered_on=date(2025, 5, 1),
        registered_because=Tree.Because.INVENTORY,
    )  # fmt: skip
    # 18 months old when registered; said to be lost before that they would add nothing
    fixed |= {late[0].pk: month(2025, 5), late[1].pk: month(2025, 8)}
    weigh(planting.area)
    found = group(planting)
    assert found.counts["late"] == 10
    assert (told(found, "12").at_risk, told(found, "12").events) == (20, 0)
    assert (told(found, "24").at_risk, told(found, "24").events) == (28, 1)


def test_a_living_tree_removed_for_another_reason_is_lost_but_did_not_die():
    planting, trees = plant()
    for tree in trees[:6]:
        tree.left = Tree.Left.REMOVED_OTHER
        tree.left_from = tree.left_to = date(2025, 7, 1)
        tree.save()
        tree.looks.filter(day__gt=date(2025, 7, 1)).delete()
    weigh(planting.area)
    found = group(planting)
    loss, death = told(found, "24"), told(found, "24", "death")
    # of the other fourteen, seen thriving twice, hardly one is believed to be lost
    assert loss.events - death.events == 6
    assert death.events <= 1
    assert loss.at_least == pytest.approx(0.7, abs=0.06)
    assert death.at_least > 0.95
    assert found.counts["other_losses"] == 6
    assert set(found.curves) == {"loss", "death", "under_watch", "second_summer"}
    at_two_years = next(row for row in found.curves["loss"] if row[0] == 24)
    assert at_two_years[1] == loss.at_least


def test_what_is_believed_of_a_tree_before_it_was_removed_alive_gives_way_to_the_record():
    planting, trees = plant()
    tree = trees[0]
    tree.looks.all().delete()
    tree.left, tree.left_from, tree.left_to = "removed_other", date(2026, 3, 1), date(2026, 3, 9)
    tree.save()
    weigh(planting.area)
    loaded = weighed.load(planting.area)
    members = weighed.members_of(planting.area, loaded)
    learnt = weighed.numbered_as(Learning.objects.newest_of(planting.area), loaded)
    lost = members.ages_lost(weighed._months_lost(planting.area, loaded, learnt, members))
    place = loaded.tree_ids.index(tree.pk)
    assert set(lost[:, place].tolist()) == {28}  # November 2023 to March 2026


def test_in_a_group_of_fewer_than_five_trees_there_are_counts_only(fixed):
    planting, _ = plant(trees=4)
    weigh(planting.area)
    found = group(planting)
    assert set(found.figures.values_list("withheld", flat=True)) == {"too_few"}
    assert found.curves == {}
    assert {"code": "counts_only", "trees": 4} in found.cautions


def test_where_nobody_looked_no_figure_is_told_and_it_is_said_what_is_usual():
    looked_at, _ = plant()
    bare = PlantingFactory(name="Unseen")
    TreeFactory.create_batch(12, planting=bare, site=SiteFactory())
    weigh(bare.area)
    found = group(bare)
    assert set(found.figures.values_list("withheld", flat=True)) == {"no_looks"}
    assert {"code": "usual_in_town", "months": 0} in found.cautions
    assert told(group(looked_at), "12").withheld == ""


def test_where_nobody_looked_for_long_it_is_said_since_when():
    plant("Seen lately")
    planting, trees = plant()
    Look.objects.filter(tree__in=trees, day__gt=date(2024, 12, 1)).delete()
    weigh(planting.area)
    found = group(planting)
    # last looked at in June 2024; the data end in June 2026
    assert {"code": "usual_in_town", "months": 24} in found.cautions
    assert told(found, "24").withheld == ""


def test_what_nobody_saw_is_less_sure_than_what_was_seen():
    seen, _ = plant("Seen lately")
    planting, trees = plant()
    Look.objects.filter(tree__in=trees, day__gt=date(2024, 12, 1)).delete()
    weigh(planting.area)
    wide, narrow = told(group(planting), "24"), told(group(seen), "24")
    assert wide.high - wide.low > narrow.high - narrow.low
    assert wide.at_least < narrow.at_least


def test_looks_are_counted_by_whose_they_are_and_when(fixed):
    planting, trees = plant()
    neighbor = ObserverFactory()
    for tree in trees[:3]:
        LookFactory(
            tree=tree, observer=neighbor, day=date(2026, 2, 3), trained=False, dead=True,
            channel=Look.Channel.COMPLAINT,
        )  # fmt: skip
    weigh(planting.area)
    counts = group(planting).counts
    assert (counts["looks"], counts["looked_at"]) == (63, 20)
    assert (counts["neighbor_looks"], counts["worried_looks"], counts["bare_looks"]) == (3, 3, 3)
    assert counts["newest_month"] == "2026-06-01"


def test_neighbors_complaints_move_the_weighed_reading_and_not_the_verified_one():
    plant("Elsewhere")
    planting, trees = plant()
    weigh(planting.area)
    before = told(group(planting), "24").at_least
    for tree in trees[:8]:
        tree.looks.filter(day__gt=date(2025, 1, 1)).delete()
        for day in (date(2025, 6, 5), date(2025, 7, 5)):
            LookFactory(
                tree=tree, observer=ObserverFactory(), day=day, trained=False, dead=True,
                leaf="bare", scratch="brown", channel=Look.Channel.COMPLAINT,
            )  # fmt: skip
    weigh(planting.area)
    assert told(group(planting), "24").at_least < before - 0.2
    assert told(group(planting, "verified"), "24").at_least == 1.0


def kept(area):
    """Everything that a reader can see of the weighed rows, by group."""
    rows = {}
    for one in Group.objects.filter(area=area).weighed():
        counts = {name: value for name, value in one.counts.items() if name != "learning"}
        figures = list(
            one.figures.order_by("curve", "milestone").values_list(
                "curve", "milestone", "at_risk", "events", "at_least", "low", "high", "withheld"
            )
        )
        rows[one.by, one.key] = (counts, one.curves, one.cautions, figures)
    return rows


def town_in_order(order):
    """A town of two plantings whose trees are registered in this order."""
    first, second = PlantingFactory(name="One", ref="one"), PlantingFactory(name="Two", ref="two")
    site, observer = SiteFactory(ref="here", name="Here"), ObserverFactory()
    for n in order:
        tree = TreeFactory(ref=f"t{n}", tag=f"{n}", planting=(first, second)[n % 2], site=site)
        LookFactory(tree=tree, observer=observer, day=date(2024, 6, 3))
        LookFactory(tree=tree, observer=observer, day=date(2025, 8, 3), dead=n % 5 == 0)
    return first.area


def test_the_order_in_which_trees_were_registered_changes_nothing():
    area = town_in_order(range(30))
    weigh(area)
    before = kept(area)
    Group.objects.all().delete()
    Look.objects.all().delete()
    Tree.objects.all().delete()
    Learning.objects.all().delete()
    for planting in area.plantings.all():
        planting.delete()
    area.sites.all().delete()
    town_in_order([*range(29, 14, -1), *range(15)])
    weigh(area)
    assert kept(area) == before


def test_the_same_record_and_learning_give_the_same_rows_and_are_not_written_again():
    planting, _ = plant()
    weigh(planting.area)
    before = list(Group.objects.order_by("pk").values())
    figures = list(Figure.objects.order_by("pk").values())
    weighed.keep(weighed.work_out(str(planting.area.pk)))
    assert list(Group.objects.order_by("pk").values()) == before
    assert list(Figure.objects.order_by("pk").values()) == figures
    Group.objects.weighed().delete()
    weighed.keep(weighed.work_out(str(planting.area.pk)))
    same = ("counts", "curves", "cautions", "evidence", "method")
    assert [
        {name: row[name] for name in same} for row in Group.objects.order_by("pk").values()
    ] == [{name: row[name] for name in same} for row in before]


def test_a_row_is_written_in_its_place_and_goes_with_its_last_tree():
    planting, trees = plant()
    weigh(planting.area)
    number = group(planting).pk
    LookFactory(tree=trees[0], day=date(2026, 6, 9), gone=True)
    Tree.objects.filter(pk__in=[tree.pk for tree in trees]).update(species="hornbeam")
    weigh(planting.area)
    assert group(planting).pk == number
    assert group(planting).figures.count() == len(CURVES) * len(MILESTONES)
    species = Group.objects.weighed().filter(by="species")
    assert set(species.values_list("key", flat=True)) == {"hornbeam"}


def test_an_area_is_behind_until_it_is_weighed_by_its_newest_learning():
    planting, _ = plant()
    area = planting.area
    assert not weighed.is_behind(area)
    weighed.keep(weighed.work_out(str(area.pk)))
    assert not Group.objects.exists()
    learning.keep(learning.work_out(str(area.pk)))
    assert Chore.objects.waiting().filter(kind="weigh_survival", key=str(area.pk)).exists()
    assert list(areas_behind_their_learning()) == [("weigh_survival", str(area.pk))]
    weighed.keep(weighed.work_out(str(area.pk)))
    assert list(areas_behind_their_learning()) == []
    learning.keep(learning.work_out(str(area.pk)))
    assert list(areas_behind_their_learning()) == [("weigh_survival", str(area.pk))]


def test_a_new_learning_of_the_same_record_moves_the_day_and_the_version_of_every_row():
    planting, _ = plant()
    area = planting.area
    weigh(area)
    area.data_date += timedelta(days=1)
    area.save()
    weigh(area)
    for one in Group.objects.weighed():
        assert one.as_of == area.data_date
        assert one.counts["learning"] == 2
        assert one.method.endswith("learning 2")


def test_a_town_leans_on_no_weighed_row_and_its_fit_leaves_them_alone():
    planting, _ = plant()
    weigh(planting.area)
    for one in Group.objects.weighed():
        assert one.pooled == one.forecast == one.mortality == {}
    assert group(planting, "verified").pooled["figures"]


def test_a_tree_that_goes_or_comes_while_an_area_is_read_is_noticed_or_left_for_next_time():
    planting, trees = plant(trees=6)
    learning.keep(learning.work_out(str(planting.area.pk)))
    loaded = weighed.load(planting.area)
    more = TreeFactory(planting=planting, site=trees[0].site)
    assert len(weighed.members_of(planting.area, loaded).excluded) == 6
    more.delete()
    trees[0].looks.all().delete()
    trees[0].delete()
    with pytest.raises(TreesChanged):
        weighed.members_of(planting.area, loaded)


def test_names_that_nobody_would_choose_are_groups_like_any_other(fixed):
    """Names with the signs that part keys and marks, and in letters of another script."""
    planting, _ = plant("|planting|<b>'\"\\ 0 ،", supplier="|;DROP TABLE\n ｓ")
    weigh(planting.area)
    names = list(Group.objects.verified().order_by("by").values_list("by", "key", "label"))
    assert list(Group.objects.weighed().order_by("by").values_list("by", "key", "label")) == names
    assert len(names) == 6


def test_an_area_that_is_gone_is_no_error():
    weighed.keep(weighed.work_out("999999"))
    assert not Group.objects.exists()


def test_an_area_without_trees_is_never_behind():
    area = AreaFactory()
    assert learning.work_out(str(area.pk)) is None
    assert not weighed.is_behind(area)


def test_a_tree_planted_some_time_in_a_year_is_told_from_the_middle_of_it():
    planting, _ = plant(
        planted_from=date(2023, 1, 1), planted_to=date(2023, 12, 31), planted_precision="year"
    )
    weigh(planting.area)
    found = group(planting)
    assert found.counts["wide_dates"] == 20
    assert {"code": "wide_dates", "trees": 20} in found.cautions
    # planted by the middle of 2023: its second summer ends on 30 September 2024
    assert found.curves["second_summer"] == [15.0, 15.0]


def test_a_departure_from_before_the_tree_was_registered_adds_nothing():
    planting, trees = plant()
    ghosts = TreeFactory.create_batch(
        5, planting=planting, site=trees[0].site, registered_on=date(2025, 9, 1),
        registered_because=Tree.Because.INVENTORY, left="removed_other",
        left_from=date(2025, 3, 1), left_to=date(2025, 3, 1),
    )  # fmt: skip
    weigh(planting.area)
    found = group(planting)
    assert found.counts["in_rates"] == 20 + len(ghosts)
    assert told(found, "24").events == 0
