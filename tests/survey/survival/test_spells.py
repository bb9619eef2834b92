"""The verified reading, rule by rule, on trees whose story is told in one line each."""

import math
from datetime import date

import pytest

from survey.survival.keys import Keys, supplier_key, trees_in
from survey.survival.spells import lives
from survey.trees.models import Tree
from survey.trees.species import kinds_in
from tests.factories import LookFactory, PlantingFactory, SiteFactory, TreeFactory

pytestmark = pytest.mark.django_db

PLANTED = date(2023, 11, 14)


def life(tree):
    found = list(lives(Tree.objects.filter(pk=tree.pk), tree.area, kinds_in(tree.area)))
    assert len(found) == 1
    return found[0]


def look(tree, day, said="holding", **more):
    where = {"gone": "gone", "stump": "stump"}.get(said, "standing")
    condition = "" if where != "standing" else said
    return LookFactory(tree=tree, day=day, presence=where, condition=condition, **more)


def test_a_tree_lives_from_its_last_look_alive_to_the_first_of_the_final_run_of_dead():
    tree = TreeFactory()
    look(tree, date(2024, 6, 3))
    look(tree, date(2024, 8, 1), "dead")  # contradicted in September: breaks no life
    look(tree, date(2024, 9, 5), "slipping")
    look(tree, date(2025, 6, 2), "dead")
    look(tree, date(2025, 9, 1), "gone")
    told = life(tree)
    # whole calendar months from November 2023
    assert (told.entry, told.left, told.right) == (None, 10, 19)
    assert (told.outcome, told.status, told.excluded) == ("died", "gone", "")


def test_a_tree_never_found_dead_is_open_after_its_last_look_alive():
    tree = TreeFactory()
    look(tree, date(2025, 7, 1))
    told = life(tree)
    assert (told.left, told.right, told.outcome, told.status) == (20, math.inf, "", "alive")


def test_neighbors_corrected_looks_and_could_not_look_say_nothing():
    tree = TreeFactory()
    slip = look(tree, date(2024, 6, 3), "dead")
    look(tree, date(2024, 6, 3), supersedes=slip)
    look(tree, date(2025, 6, 3), "dead", trained=False)
    LookFactory(tree=tree, day=date(2025, 8, 3), presence="not_seen", condition="")
    told = life(tree)
    assert (told.left, told.right) == (7, math.inf)
    assert told.last_seen == date(2024, 6, 3)


def test_top_dead_but_sprouting_is_alive():
    tree = TreeFactory()
    LookFactory(tree=tree, day=date(2025, 6, 3), presence="sprouting", condition="dead")
    assert life(tree).right == math.inf


@pytest.mark.parametrize(
    ("month", "age"),
    [(1, 14), (10, 23), (5, 18)],
    ids=["bare", "shoulder in fall", "shoulder in spring"],
)
def test_a_dead_said_of_a_tree_that_may_stand_bare_waits_for_agreement(month, age):
    tree = TreeFactory(species="linden")
    look(tree, date(2024, 7, 1))
    look(tree, date(2025, month, 10), "dead")
    assert life(tree).right == math.inf
    look(tree, date(2025, 11, 20), "dead")  # a later trained look agrees
    assert life(tree).right == age


def test_a_bare_dead_is_believed_when_the_tree_was_then_taken_away():
    tree = TreeFactory(
        species="linden", left="died", left_from=date(2025, 1, 20), left_to=date(2025, 1, 20)
    )
    look(tree, date(2024, 7, 1))
    look(tree, date(2025, 1, 10), "dead")
    assert life(tree).right == 14


def test_a_bare_dead_that_the_next_look_contradicts_never_counts():
    tree = TreeFactory(species="linden")
    look(tree, date(2025, 1, 10), "dead")
    look(tree, date(2025, 7, 1), "thriving")
    told = life(tree)
    assert (told.left, told.right) == (20, math.inf)


def test_a_gone_in_winter_needs_no_agreement():
    tree = TreeFactory(species="linden")
    look(tree, date(2025, 1, 10), "stump")
    assert life(tree).right == 14


def test_months_turn_round_in_the_south():
    planting = PlantingFactory(
        area__hemisphere="south", area__ref="southtown", area__is_home=False, area__name="Southtown"
    )
    tree = TreeFactory(planting=planting, site=SiteFactory(area=planting.area), species="linden")
    look(tree, date(2025, 7, 10), "dead")  # winter there
    assert life(tree).right == math.inf
    # planted in November 2023, so the summer then begun is the first: second ends in March 2025
    assert life(tree).second == (16, 16)


def test_seen_alive_and_found_dead_in_one_month_dies_within_that_month():
    tree = TreeFactory()
    look(tree, date(2024, 7, 2))
    look(tree, date(2024, 7, 30), "dead")
    told = life(tree)
    assert (told.left, told.right) == (7, 8)


def test_a_tree_registered_later_counts_from_then_if_it_was_found_alive():
    tree = TreeFactory(registered_on=date(2024, 7, 1), registered_because="inventory")
    assert life(tree).excluded == "not_found_alive"
    look(tree, date(2024, 7, 1))
    told = life(tree)
    assert (told.entry, told.excluded, told.late) == (8, "", True)


def test_a_tree_found_dead_when_registered_late_is_out_of_the_rates():
    tree = TreeFactory(registered_on=date(2024, 7, 1), registered_because="inventory")
    look(tree, date(2024, 7, 1), "dead")
    assert life(tree).excluded == "not_found_alive"


def test_a_look_before_registration_is_no_proof_that_it_was_found_alive():
    tree = TreeFactory(registered_on=date(2025, 7, 1), registered_because="inventory")
    look(tree, date(2024, 7, 1))
    assert life(tree).excluded == "not_found_alive"


def test_a_tree_registered_at_planting_counts_even_if_nobody_looked():
    told = life(TreeFactory())
    assert (told.entry, told.left, told.right, told.status) == (None, 0, math.inf, "unseen")


def test_a_tree_registered_because_of_a_report_is_counted_beside_the_rates():
    tree = TreeFactory(registered_because="report", registered_on=date(2024, 7, 1))
    look(tree, date(2024, 7, 1))
    assert life(tree).excluded == "because_of_report"


def test_a_tree_that_was_never_planted_is_no_death():
    tree = TreeFactory()
    LookFactory(tree=tree, day=date(2024, 6, 1), presence="never_planted", condition="")
    told = life(tree)
    assert (told.excluded, told.right, told.status) == ("never_planted", math.inf, "never_planted")


def test_entry_never_lies_after_the_last_look_alive():
    tree = TreeFactory(registered_on=date(2024, 7, 20), registered_because="inventory")
    look(tree, date(2024, 7, 25))
    look(tree, date(2024, 7, 28), "dead")
    told = life(tree)
    assert (told.entry, told.left, told.right) == (7, 7, 8)


def test_a_year_known_planting_widens_both_ends_of_an_age():
    planting = PlantingFactory(
        planted_from=date(2023, 1, 1), planted_to=date(2023, 12, 31), planted_precision="year"
    )
    tree = TreeFactory(
        planting=planting, registered_on=date(2024, 3, 1), registered_because="inventory"
    )
    look(tree, date(2024, 3, 1))
    look(tree, date(2025, 6, 1), "dead")
    told = life(tree)
    # alive at 3 months at least, dead by 29 at most; under watch no earlier than it is sure to be
    assert (told.entry, told.left, told.right, told.wide_date) == (3, 3, 29, True)


@pytest.mark.parametrize(
    ("left", "outcome", "status"),
    [
        ("died", "died", "gone"),
        ("removed_health", "removed_health", "removed_health"),
        ("removed_other", "removed_other", "removed_other"),
    ],
)
def test_a_recorded_departure_ends_a_life_with_its_outcome(left, outcome, status):
    day = date(2025, 2, 10)
    tree = TreeFactory(left=left, left_from=day, left_to=day)
    look(tree, date(2024, 7, 1))
    told = life(tree)
    assert (told.outcome, told.status, told.right) == (outcome, status, 15)
    assert told.left == (8 if left == "died" else 14)


def test_a_tree_lost_from_sight_leaves_at_its_last_look():
    tree = TreeFactory(left="lost", left_from=date(2025, 2, 1), left_to=date(2025, 2, 1))
    look(tree, date(2024, 7, 1))
    told = life(tree)
    assert (told.left, told.right, told.status) == (8, math.inf, "lost")


def test_a_tree_seen_alive_after_its_departure_is_alive():
    tree = TreeFactory(left="died", left_from=date(2025, 2, 1), left_to=date(2025, 2, 1))
    look(tree, date(2025, 7, 1))
    assert life(tree).right == math.inf


def test_a_replacement_has_a_life_of_its_own():
    old = TreeFactory(left="died", left_from=date(2025, 2, 1), left_to=date(2025, 2, 1))
    new = TreeFactory(
        planting=PlantingFactory(planted_from=date(2025, 11, 3)), site=old.site, replaces=old
    )
    look(new, date(2026, 6, 1))
    assert life(old).right == 15
    assert (life(new).left, life(new).right, life(new).entry) == (7, math.inf, None)


def test_second_summer_ends_on_the_second_last_of_september():
    assert life(TreeFactory()).second == (22, 22)


def test_an_old_look_is_stale_after_a_year():
    tree = TreeFactory()
    look(tree, date(2025, 6, 15))
    assert life(tree).status == "stale"
    look(tree, date(2025, 6, 16))
    assert life(tree).status == "alive"


def test_thousands_of_looks_cost_a_handful_of_questions(django_assert_max_num_queries):
    trees = TreeFactory.create_batch(30, planting=PlantingFactory(), site=SiteFactory())
    for tree in trees:
        look(tree, date(2024, 6, 3))
        look(tree, date(2025, 6, 3))
    area = trees[0].area
    kinds = kinds_in(area)
    with django_assert_max_num_queries(4):
        assert len(list(lives(trees_in(area, "town", "all"), area, kinds))) == 30


def test_a_tree_seen_dead_after_the_first_day_of_its_removal_died():
    first, last = date(2025, 6, 1), date(2025, 8, 1)
    tree = TreeFactory(left="removed_other", left_from=first, left_to=last)
    look(tree, date(2025, 7, 1), "dead")
    assert (life(tree).outcome, life(tree).status) == ("died", "gone")


def test_a_tree_belongs_to_one_group_of_each_grouping():
    tree = TreeFactory()
    keys = life(tree).keys
    assert keys == Keys(
        tree.planting.ref, "linden", tree.site.ref, "2023", "north-quay-nursery", "all"
    )
    for by, key in keys.pairs():
        assert tree in trees_in(tree.area, by, key)


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("North Quay", "north  quay", True),
        ("A/B", "A B", False),
        ("苗木", "苗圃", False),
        ("Müller", "Muller", False),
    ],
)
def test_suppliers_are_told_apart_by_name(one, other, same):
    assert (supplier_key(one) == supplier_key(other)) is same
    assert "/" not in supplier_key(one)
    assert supplier_key(one)
