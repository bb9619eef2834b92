"""Why a tree is believed to be what it is, from the record to the words."""

from dataclasses import asdict
from datetime import date, timedelta

import pytest

from survey.condition import beliefs, learning
from survey.condition.models import Belief, Overruling
from survey.condition.why import NotOnTheList, view_of, why
from survey.science.condition.story import points_of
from survey.trees.models import Look
from tests.factories import (
    NOON,
    LookFactory,
    ObserverFactory,
    PersonFactory,
    TreeFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def tree():
    return TreeFactory()


def neighbor():
    return ObserverFactory(kind="resident")


def saw(tree, day, condition="holding", **more):
    return LookFactory(tree=tree, day=day, condition=condition, **more)


def wrote(tree, day, condition="dead", **more):
    """A neighbor's note: untrained, and because somebody was worried."""
    more = {"observer": neighbor()} | more
    return saw(tree, day, condition, trained=False, channel="complaint", **more)


def looked(tree, day, condition="dead", **more):
    """A neighbor who looks after the tree: untrained, and asked to look."""
    more = {"observer": neighbor()} | more
    return saw(tree, day, condition, trained=False, channel="adopter", **more)


def learn(area):
    learning.keep(learning.work_out(str(area.pk)))


def told(rows):
    return [(row.kind, row.looks, row.title) for row in rows]


def test_neighbors_who_said_the_same_in_one_month_are_told_together(tree):
    saw(tree, date(2025, 9, 3), "thriving")
    looked(tree, date(2026, 2, 3))
    looked(tree, date(2026, 2, 20))
    saw(tree, date(2026, 5, 20), "dead", scratch="brown")
    reasons = why(tree)
    looks = [row for row in reasons.rows if row.kind == "looks"]
    assert [(row.looks, row.day) for row in looks] == [
        (1, date(2025, 9, 3)),
        (2, date(2026, 2, 20)),
        (1, date(2026, 5, 20)),
    ]
    february, may = looks[1:]
    assert february.words == (
        "Two neighbors said in February that it looked dead. Linden trees are bare in February, so"
        f" this says little (+{round(february.points)} points)."
    )
    assert 1.5 < february.points < 4.5
    assert "A scratch test was brown under the bark." in may.words
    assert (may.strength, may.points > 15) == ("much", True)


def test_the_rows_add_up_to_the_belief(tree):
    saw(tree, date(2024, 9, 3), "thriving")
    wrote(tree, date(2025, 2, 3))
    wrote(tree, date(2025, 7, 9), "slipping")
    saw(tree, date(2026, 5, 20), "dead")
    saw(TreeFactory(planting=tree.planting), date(2026, 5, 20))
    learn(tree.area)
    for claim, states in (("lost", (4, 5)), ("worse", (2, 3, 4, 5))):
        reasons = why(tree, claim)
        assert sum(row.points for row in reasons.rows) == pytest.approx(
            reasons.points - reasons.start, abs=1e-9
        )
        assert reasons.points == pytest.approx(points_of(reasons.shares, states), abs=1e-9)
        for row in reasons.rows:
            assert sum(part.points for part in row.parts) == pytest.approx(row.points, abs=1e-9)


def test_it_explains_the_belief_that_is_kept(tree):
    saw(tree, date(2025, 9, 3), "holding")
    wrote(tree, date(2026, 4, 3))
    learn(tree.area)
    beliefs.keep(beliefs.work_out(str(tree.pk)))
    kept, reasons = Belief.objects.get(tree=tree), why(tree)
    assert reasons.shares == pytest.approx(kept.shares, abs=1e-9)
    assert (reasons.month, reasons.learning) == (kept.month, kept.learning)
    assert (reasons.died.first, reasons.died.about, reasons.died.last) == (
        kept.died_from,
        kept.died_about,
        kept.died_to,
    )


def test_a_tree_that_nobody_looked_at_says_so(tree):
    reasons = why(tree)
    assert told(reasons.rows) == [("between", 0, "Nobody looked")]
    assert reasons.notes == (
        (
            "Nobody has looked at it since it came on the list in November 2023. What stands here"
            " is what trees of its age are like in this town."
        ),
    )
    assert reasons.start_words.startswith("It was planted and put on the list in November 2023.")
    assert reasons.hinge == ""


def test_a_tree_registered_dead_is_not_given_a_day_of_death(tree):
    tree.registered_on = date(2025, 6, 4)
    tree.registered_because = "report"
    tree.save()
    saw(tree, date(2025, 6, 4), "dead", scratch="brown", channel="registration")
    saw(tree, date(2025, 7, 4), "dead", scratch="brown")
    reasons = why(tree)
    assert reasons.opening == "Almost surely dead"
    assert reasons.died_words == "It was so already when it came on the list in June 2025."
    assert reasons.start_words.startswith("It came on the list in June 2025.")


def test_a_tree_seen_after_its_stump_is_said_to_be_a_mistake(tree):
    saw(tree, date(2025, 6, 4), "", presence="stump")
    saw(tree, date(2025, 9, 4), "thriving", observer=ObserverFactory(kind="staff"))
    reasons = why(tree)
    assert reasons.notes == (
        (
            "A stump was seen in June 2025 and a standing tree in September 2025. One of the two"
            " was about another tree."
        ),
    )
    assert "found only a stump in June 2025" in reasons.rows[1].words


def test_alive_after_dead_in_leaf_is_said_to_be_a_mistake_and_after_dead_in_winter_is_not(tree):
    saw(tree, date(2025, 1, 4), "dead")
    saw(tree, date(2025, 7, 4), "holding")
    assert why(tree).notes == ()
    saw(tree, date(2025, 8, 4), "dead", observer=ObserverFactory())
    saw(tree, date(2025, 9, 4), "holding")
    (note,) = why(tree).notes
    assert note.startswith("It was called dead in leaf in August 2025 and alive in September 2025.")


def test_an_overruling_is_told_with_its_reason_to_those_with_an_account(tree):
    saw(tree, date(2026, 1, 4), "dead")
    Overruling.objects.create(
        tree=tree,
        state="holding",
        day=date(2026, 2, 10),
        reason="Buds are plump all over.",
        by_key="person:ada",
        by_name="Ada Osei",
        at=NOON,
    )
    shown = why(tree, view="account")
    (decided,) = [row for row in shown.rows if row.kind == "decision"]
    assert decided.title == "Decided by trained staff: “holding”"
    assert decided.reason == "Buds are plump all over."
    assert decided.strength == "settles"
    assert sum(part.points for part in decided.parts) == pytest.approx(decided.points)
    assert decided.without > 0.1 > shown.share
    hidden = repr(asdict(why(tree)))
    assert "Buds" not in hidden
    assert "Ada" not in repr(asdict(shown))


def test_a_tree_taken_off_the_list_as_dead_is_told_so(tree):
    tree.left, tree.left_from, tree.left_to = "died", date(2025, 4, 1), date(2025, 5, 31)
    tree.save()
    reasons = why(tree)
    (left,) = [row for row in reasons.rows if row.kind == "departure"]
    assert left.words.startswith("It was taken off the list in May 2025 as a tree that died.")
    assert reasons.opening == "Almost surely dead"


def test_a_removal_on_record_is_told_so(tree):
    tree.left = "removed_health"
    tree.left_from = tree.left_to = date(2025, 5, 31)
    tree.save()
    reasons = why(tree)
    (removal,) = [row for row in reasons.rows if row.kind == "removal"]
    assert (removal.title, removal.day) == ("Removal written down", date(2025, 5, 1))
    assert reasons.opening == "Almost surely gone"


def test_what_hangs_on_one_look_says_so(tree):
    saw(tree, date(2025, 9, 3), "thriving")
    saw(tree, date(2026, 5, 20), "dead", scratch="brown", leaf="bare", observer=ObserverFactory())
    reasons = why(tree)
    assert reasons.hinge.startswith("Most of this rests on one thing (Volunteer")
    (look,) = [row for row in reasons.rows if row.day == date(2026, 5, 20)]
    assert look.without < 0.1 < reasons.share


def test_a_tree_that_is_well_with_or_without_its_last_look_hangs_on_nothing(tree):
    for month in (3, 4, 5):
        saw(tree, date(2026, month, 3), "thriving", observer=ObserverFactory(kind="staff"))
    reasons = why(tree)
    assert reasons.share < 0.01
    assert reasons.hinge == ""


def test_staff_read_that_an_observers_looks_count_less_and_others_do_not(tree):
    grudge = neighbor()
    for number in range(12):
        other = TreeFactory(planting=tree.planting)
        saw(other, date(2025, 6, 1) + timedelta(days=number), "thriving", leaf="full")
        looked(other, date(2025, 7, 1) + timedelta(days=number), "dead", observer=grudge)
        saw(other, date(2025, 8, 1) + timedelta(days=number), "thriving", leaf="full")
    looked(tree, date(2026, 5, 20), "dead", observer=grudge)
    learn(tree.area)
    for view, note in (
        ("staff", "This observer's looks count less here."),
        ("account", ""),
        ("public", ""),
    ):
        (look,) = [row for row in why(tree, view=view).rows if row.kind == "looks"]
        assert look.note == note
    assert abs(look.points) < 3


def test_nothing_tells_who_looked(tree):
    person = PersonFactory(name="Ada Osei", role="volunteer")
    observer = ObserverFactory(person=person, key=f"person:{person.key}")
    saw(tree, date(2025, 9, 3), "thriving", observer=observer, note="the fence of Mrs. Quill")
    for view in ("public", "account", "staff"):
        said = repr(asdict(why(tree, view=view))).replace(repr(tree), "")
        assert not any(word in said for word in ("Ada", "Quill", person.key))


def test_it_can_look_back_to_a_month_and_not_before_the_tree(tree):
    saw(tree, date(2025, 9, 3), "thriving")
    saw(tree, date(2026, 5, 20), "dead", scratch="brown")
    back = why(tree, at=date(2025, 12, 24))
    assert back.month == date(2025, 12, 1)
    assert back.share < 0.05 < why(tree).share
    with pytest.raises(NotOnTheList):
        why(tree, at=date(2023, 10, 31))


def test_the_strip_has_a_belief_for_every_month(tree):
    saw(tree, date(2025, 9, 3), "thriving")
    reasons = why(tree, "worse")
    assert len(reasons.strip) == 32
    assert (reasons.strip[0].month, reasons.strip[-1].month) == (date(2023, 11, 1), reasons.month)
    assert reasons.strip[-1].claim == pytest.approx(reasons.share)
    assert all(sum(month.shares) == pytest.approx(1) for month in reasons.strip)


def test_what_it_rests_on_stands_in_the_last_line(tree):
    assert why(tree).basis == (
        "Nothing was learnt in this town yet: worked out with what is usual."
    )
    learn(tree.area)
    assert why(tree).basis == (
        f"Worked out by the method “{learning.METHOD}”, as learnt on June 16, 2026 (version 1)."
    )


def test_one_tree_is_explained_with_few_questions(tree, django_assert_max_num_queries):
    for month in range(1, 13):
        saw(tree, date(2025, month, 3))
    learn(tree.area)
    with django_assert_max_num_queries(16):
        why(tree)


def test_a_thousand_looks_by_one_account_in_a_month_are_one(tree):
    spammer = neighbor()
    looks = [looked(tree, date(2025, 7, 3), observer=spammer) for _ in range(2)]
    copies = [
        Look(tree=tree, observer=spammer, day=date(2025, 7, 3), channel="adopter", trained=False,
             presence="standing", condition="dead", entered_at=NOON)
        for _ in range(998)
    ]  # fmt: skip
    Look.objects.bulk_create(copies)
    (row,) = [row for row in why(tree).rows if row.kind == "looks"]
    assert (row.looks, len(row.look_ids)) == (1, 1000)
    assert {look.pk for look in looks} <= set(row.look_ids)
    assert row.words.startswith("A neighbor said in July 2025 that it looked dead.")


def test_two_hundred_neighbors_who_said_the_same_are_one_row(tree):
    saw(tree, date(2025, 6, 3), "thriving")
    for _ in range(200):
        looked(tree, date(2025, 7, 3))
    reasons = why(tree)
    row = reasons.rows[-2]
    assert (row.looks, row.strength) == (200, "settles")
    assert row.words.startswith("200 neighbors said in July 2025 that it looked dead.")
    assert row.without < 0.2
    assert sum(row.points for row in reasons.rows) == pytest.approx(
        reasons.points - reasons.start, abs=1e-9
    )


def test_a_look_from_before_the_tree_was_planted_is_not_in_its_story(tree):
    saw(tree, date(2022, 5, 3), "dead")
    assert [row.kind for row in why(tree).rows] == ["between"]


@pytest.mark.parametrize(
    ("role", "view"),
    [("staff", "staff"), ("keeper", "staff"), ("volunteer", "account"), ("liaison", "account")],
)
def test_each_role_has_its_view(role, view):
    assert view_of(PersonFactory(role=role)) == view


def test_nobody_signed_in_has_the_public_view():
    assert view_of(None) == "public"
