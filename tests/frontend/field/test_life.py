"""A visit that asks whether a tree lives: scratches by part, kept in order, and what follows."""

import uuid
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from survey.causes.models import ClueNoted
from survey.causes.saving import decision_of
from survey.trees.models import Look
from tests.factories import AreaFactory, LookFactory, TreeFactory
from tests.pictures import picture

BROWN = {"leaf": "bare", "twig": "brown", "branch": "brown", "trunk": "brown"}


@pytest.fixture(autouse=True)
def _own_media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def july(home):
    """The town's today lies in the growing season of a linden."""
    AreaFactory._meta.model.objects.update(data_date=date(2026, 7, 20))
    return date(2026, 7, 20)


def send(client, tree, **more):
    fields = {"repeat_key": str(uuid.uuid4()), "presence": "standing", "day": "2026-06-16"}
    return client.post(f"/trees/{tree.ref}/alive/", fields | more)


def test_a_second_visit_that_finds_nothing_alive_is_the_end(sign_in, july):
    tree = TreeFactory()
    LookFactory(tree=tree, day=date(2026, 6, 16), condition="dead", leaf="bare", scratch="brown")
    client = sign_in("volunteer")
    page = client.get(f"/trees/{tree.ref}/alive/").content.decode()
    assert "A second visit by a trained person" in page
    answer = send(
        client, tree, **BROWN, day="2026-07-20",
        twig_photo=SimpleUploadedFile("t.jpg", picture(), "image/jpeg"),
    )  # fmt: skip
    assert answer.url == f"/trees/{tree.ref}/"
    look = Look.objects.order_by("day").last()
    assert (look.scratch, look.leaf, look.trained) == ("brown", "bare", True)
    kept = ClueNoted.objects.filter(look=look).order_by("pk").values_list("clue", "so")
    assert list(kept) == [
        ("scratched_twig", False), ("scratched_branch", False), ("scratched_trunk", False),
    ]  # fmt: skip
    assert decision_of(tree).state.name == "dead"


def test_one_green_part_means_alive(sign_in, july):
    tree = TreeFactory()
    send(sign_in("volunteer"), tree, leaf="bare", twig="brown", branch="green", day="2026-07-20")
    assert Look.objects.get().scratch == "green"
    assert decision_of(tree).state.name == "alive"


def test_the_trunk_is_not_offered_to_the_untrained_and_not_taken_from_them(sign_in):
    tree = TreeFactory()
    client = sign_in("volunteer", trained_on=None)
    assert "one window" not in client.get(f"/trees/{tree.ref}/alive/").content.decode()
    send(client, tree, **BROWN)
    assert not ClueNoted.objects.filter(clue="scratched_trunk").exists()


def test_a_day_before_the_training_refuses_the_trunk(sign_in):
    tree = TreeFactory()
    client = sign_in("volunteer", trained_on=date(2026, 6, 10))
    page = send(client, tree, **BROWN, day="2026-06-01", note="<i>snaps</i>").content.decode()
    assert "Only a trained person scratches the trunk" in page
    assert "&lt;i&gt;snaps&lt;/i&gt;" in page
    assert not Look.objects.exists()
    assert not ClueNoted.objects.exists()


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ({"leaf": "bare", "twig": "green", "condition": "dead"}, "Something was green"),
        ({"leaf": "full", "condition": "dead"}, "It has leaves, so it lives today."),
        ({"leaf": "full"}, "Say how it is doing"),
        ({"leaf": "blue"}, "blue"),
        ({"leaf": "bare", "twig": "red"}, "red"),
        ({"leaf": "bare", "presence": "gone"}, "gone"),
        ({"leaf": "bare", "day": "2026-06-17"}, "has not come yet"),
        ({}, "This field is required."),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_kept(sign_in, bad, said):
    tree = TreeFactory()
    answer = send(sign_in("volunteer"), tree, note="<b>low</b>", **bad)
    assert answer.status_code == 200
    assert said in answer.content.decode()
    assert "&lt;b&gt;low&lt;/b&gt;" in answer.content.decode()
    assert not Look.objects.exists()


def test_a_visit_sent_twice_is_one(sign_in):
    client, tree = sign_in("crew"), TreeFactory()
    form = {"repeat_key": str(uuid.uuid4()), "presence": "standing", "day": "2026-06-16", **BROWN}
    for _ in range(2):
        client.post(f"/trees/{tree.ref}/alive/", form)
    assert Look.objects.count() == 1
    assert ClueNoted.objects.count() == 3


def test_sprouts_under_a_dead_top_are_a_state_of_their_own(sign_in, july):
    tree = TreeFactory()
    send(sign_in("crew"), tree, presence="sprouting", leaf="bare", shoots="on", day="2026-07-20")
    assert decision_of(tree).state.name == "top_dead"


@pytest.mark.parametrize(
    "well", [{"leaf": "full", "condition": "thriving"}, {"leaf": "bare", "condition": "thriving"}]
)
def test_brown_all_over_and_well_is_asked_about_once(sign_in, july, well):
    tree, client = TreeFactory(), sign_in("volunteer")
    page = send(client, tree, **BROWN | well, note="odd").content.decode()
    assert "everything that was scratched is brown" in page
    assert not Look.objects.exists()
    assert send(client, tree, **BROWN | well, as_it_is="on").url == f"/trees/{tree.ref}/"
    assert Look.objects.count() == 1


def test_one_brown_twig_on_a_tree_in_leaf_is_not_asked_about(sign_in, july):
    send(sign_in("volunteer"), TreeFactory(), leaf="full", condition="holding", twig="brown")
    assert Look.objects.count() == 1
