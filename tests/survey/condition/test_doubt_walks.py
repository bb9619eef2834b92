"""Walks to the trees in doubt, planned from what is kept of each."""

from datetime import date

import pytest

from survey.condition import beliefs
from survey.condition.doubt_walks import (
    BEST_SITES,
    NAMED,
    OtherDoubts,
    other_doubts,
    plan_doubt_walk,
)
from survey.condition.models import Belief
from survey.science.survival.next_looks import BadWalk
from tests.factories import LookFactory, ObserverFactory, PlantingFactory, SiteFactory, TreeFactory
from tests.survey.belief_rows import belief
from tests.survey_rows import learning_of

pytestmark = pytest.mark.django_db

JUNE, JULY, NEXT_MAY = date(2026, 6, 1), date(2026, 7, 1), date(2027, 5, 1)
A_DEGREE = 111_195  # meters of a degree of latitude, on a sphere of 6,371,009 m radius
IN_DOUBT = {
    "thriving": 0.2, "holding": 0.2, "slipping": 0.1, "failing": 0.1, "dead": 0.35, "gone": 0.05,
    "lost": 0.4,
}  # fmt: skip
LOOK = {"settle": "look", "settle_month": JUNE, "settle_gain": 0.15}
SCRATCH = {"settle": "scratch", "settle_month": JUNE, "settle_gain": 0.12}


@pytest.fixture
def planting():
    return PlantingFactory()


@pytest.fixture
def area(planting):
    return planting.area


@pytest.fixture
def street(planting):
    """A site of trees in doubt, so many meters north of the town's middle, ten meters apart."""

    def made(name, many, north=0.0, **asked):
        site = SiteFactory(name=name, ref=name.lower().replace(" ", "-"))
        for place in range(many):
            tree = TreeFactory(
                planting=planting, site=site, tag=f"{name[0]}{place:03d}", walk_order=place,
                latitude=36.62 + (north + 10 * place) / A_DEGREE, longitude=-34.91,
            )  # fmt: skip
            belief(tree=tree, **IN_DOUBT | LOOK | asked)
        return site

    return made


def tags(walk):
    return [stop.tree.tag for one in walk.sites for stop in one.stops]


def test_the_walk_tells_each_tree_in_order_with_its_look(area, street):
    site = street("Ferry Road", 4)
    Belief.objects.filter(tree__tag="F002").update(**SCRATCH)
    walk = plan_doubt_walk(area, minutes=30)
    [one] = walk.sites
    assert one.site == site
    assert [(s.tree.tag, s.look) for s in one.stops] in (
        [("F000", "look"), ("F001", "look"), ("F002", "scratch"), ("F003", "look")],
        [("F003", "look"), ("F002", "scratch"), ("F001", "look"), ("F000", "look")],
    )
    # ten minutes to get there, three looks, one scratch test, and 30 m at 75 m a minute with bends
    assert walk.minutes == pytest.approx(10 + 3 * 1.5 + 2.5 + 30 * 1.3 / 75, abs=0.01)
    assert (walk.stops, one.listed, walk.unsure) == (4, 4, 4)
    assert walk.has_scratch_tests
    assert walk.choices == (site,)


def test_the_minutes_are_kept_and_more_of_them_see_more(area, street):
    street("Ferry Road", 30)
    walks = {minutes: plan_doubt_walk(area, minutes=minutes) for minutes in (11, 30, 60, 120)}
    assert all(walk.minutes <= minutes for minutes, walk in walks.items())
    counts = [walk.stops for walk in walks.values()]
    assert counts[0] == 0
    assert counts == sorted(set(counts))
    assert {walk.sites[0].listed for walk in list(walks.values())[1:]} == {30}


def test_the_most_telling_trees_are_taken_and_then_the_site_next_to_them(area, street):
    near, far = street("Near By", 3, north=200), street("Over There", 3, north=9000)
    first = street("Ferry Road", 3, settle_gain=0.2)
    walk = plan_doubt_walk(area, minutes=30)
    assert {one.site for one in walk.sites} == {first, near}
    assert far in walk.choices


def test_a_tree_without_a_point_stands_at_the_end_of_its_street(area, street):
    site = street("Ferry Road", 3)
    lost = TreeFactory(site=site, planting=area.plantings.get(), tag="F-lost", walk_order=0,
                       latitude=None, longitude=None)  # fmt: skip
    belief(tree=lost, **IN_DOUBT | LOOK)
    walk = plan_doubt_walk(area, minutes=60, site=site)
    assert tags(walk) == ["F000", "F001", "F002", "F-lost"]


def test_a_walk_on_one_site_sees_no_other(area, street):
    street("Ferry Road", 4, settle_gain=0.2)
    mill = street("Mill Lane", 2)
    walk = plan_doubt_walk(area, minutes=120, site=mill)
    assert (tags(walk), [one.site for one in walk.sites]) == (["M000", "M001"], [mill])


def test_nobody_is_sent_to_a_closed_site_a_tree_that_left_or_one_with_nothing_in_doubt(
    area, street
):
    closed, site = street("Ferry Road", 4, settle_gain=0.2), street("Mill Lane", 3)
    died = {"left": "died", "left_from": JUNE, "left_to": JUNE}
    site.trees.filter(tag="M000").update(**died)
    Belief.objects.filter(tree__tag="M001").update(settle="", settle_month=None, settle_gain=0)
    walk = plan_doubt_walk(area, minutes=60, closed={closed.pk})
    assert tags(walk) == ["M002"]
    assert closed not in walk.choices
    assert plan_doubt_walk(area, minutes=60, site=closed, closed={closed.pk}).sites == ()


def test_no_other_town_is_walked(area, street):
    street("Ferry Road", 2)
    other = PlantingFactory(
        area__ref="elsewhere", area__name="Elsewhere", area__is_home=False, name="There"
    ).area
    assert plan_doubt_walk(other, minutes=60).sites == ()
    assert other_doubts(other) == OtherDoubts((), ())


def test_what_waits_for_leaves_is_listed_by_month_until_the_month_has_come(area, street):
    street("Ferry Road", 2)
    Belief.objects.filter(tree__tag="F000").update(settle="leaf", settle_month=NEXT_MAY)
    Belief.objects.filter(tree__tag="F001").update(settle="leaf", settle_month=JULY)
    assert plan_doubt_walk(area, minutes=60).sites == ()
    told = [(one.month, one.trees, [t.tag for t in one.named]) for one in other_doubts(area).later]
    assert told == [(JULY, 1, ["F001"]), (NEXT_MAY, 1, ["F000"])]
    area.data_date = date(2026, 7, 4)
    [stop] = plan_doubt_walk(area, minutes=60).sites[0].stops
    assert (stop.tree.tag, stop.look) == ("F001", "look")
    assert [one.month for one in other_doubts(area).later] == [NEXT_MAY]


def test_of_many_that_wait_the_most_telling_are_named(area, street):
    street("Ferry Road", NAMED + 3, settle="leaf", settle_month=NEXT_MAY)
    Belief.objects.filter(tree__tag="F014").update(settle_gain=0.3)
    [waiting] = other_doubts(area).later
    assert (waiting.trees, len(waiting.named), waiting.at_least) == (NAMED + 3, NAMED, False)
    assert waiting.named[0].tag == "F014"


def test_a_tree_that_a_photo_would_settle_is_for_the_desk_and_not_for_a_walk(area, street):
    closed = street("Ferry Road", 1, settle="photo")
    site = street("Mill Lane", 2, settle="photo")
    assert plan_doubt_walk(area, minutes=60).sites == ()
    assert {tree.tag for tree in other_doubts(area).photos} == {"F000", "M000", "M001"}
    asked = other_doubts(area, closed={closed.pk}).photos
    assert {tree.tag for tree in asked} == {"M000", "M001"}
    assert len(other_doubts(area, site=site).photos) == 2


def test_of_how_many_one_would_be_sure_is_between_none_and_all_that_are_unsure(area, street):
    street("Ferry Road", 6)
    # sure to live, in doubt only whether it slips: on the walk, and not among the unsure
    only_ailing = {"thriving": 0.3, "holding": 0.3, "slipping": 0.38, "failing": 0.01,
                   "dead": 0.01, "gone": 0.0, "lost": 0.01}  # fmt: skip
    Belief.objects.filter(tree__tag="F000").update(**only_ailing)
    assert plan_doubt_walk(area, minutes=60).settled == 0  # before anything was learnt
    LookFactory(tree=area.trees.first())
    learning_of(area)
    walk = plan_doubt_walk(area, minutes=60)
    [one] = walk.sites
    assert (len(one.stops), one.listed, one.unsure) == (6, 6, 5)
    assert 1 < one.settled < 5


def test_a_look_takes_the_tree_off_the_list(area, planting):
    trees = TreeFactory.create_batch(3, planting=planting)
    for tree in trees:
        LookFactory(tree=tree, day=date(2024, 6, 1), condition="thriving")
    doubted = trees[0]
    neighbor = ObserverFactory(kind="resident")
    LookFactory(tree=doubted, observer=neighbor, day=date(2026, 6, 10), condition="dead",
                trained=False, channel="complaint")  # fmt: skip
    learning_of(area)
    beliefs.keep(beliefs.believe(area, [tree.pk for tree in trees]))
    assert doubted.tag in tags(plan_doubt_walk(area, minutes=60))
    for observer in ObserverFactory.create_batch(2):
        LookFactory(tree=doubted, observer=observer, day=date(2026, 6, 16), condition="thriving",
                    leaf="full")  # fmt: skip
    beliefs.keep(beliefs.work_out(str(doubted.pk)))
    assert doubted.tag not in tags(plan_doubt_walk(area, minutes=60))


def test_a_town_of_any_size_costs_the_same_questions(area, street, django_assert_num_queries):
    for place in range(BEST_SITES + 4):
        street(f"{chr(65 + place)} Street", 3, north=400 * place)
    LookFactory(tree=area.trees.first())
    learning_of(area)
    with django_assert_num_queries(4):
        walk = plan_doubt_walk(area, minutes=120)
    assert len(walk.sites) > 1
    with django_assert_num_queries(1):
        assert other_doubts(area) == OtherDoubts((), ())
    Belief.objects.filter(tree__walk_order=0).update(settle="leaf", settle_month=NEXT_MAY)
    Belief.objects.filter(tree__walk_order=1).update(settle="photo")
    with django_assert_num_queries(2):
        found = other_doubts(area)
        assert len(found.later[0].named) == len(found.photos) == NAMED
        assert found.photos[0].site.name
    with django_assert_num_queries(3):
        plan_doubt_walk(area, minutes=120, site=walk.sites[0].site)


@pytest.mark.parametrize("minutes", [-1, float("nan"), float("inf")])
def test_a_walk_has_minutes(area, street, minutes):
    street("Ferry Road", 1)
    with pytest.raises(BadWalk):
        plan_doubt_walk(area, minutes=minutes)


def test_a_billion_minutes_see_every_tree_once(area, street):
    street("Ferry Road", 5)
    assert sorted(tags(plan_doubt_walk(area, minutes=1e9))) == [f"F00{n}" for n in range(5)]
