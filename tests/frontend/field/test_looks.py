"""Looks on a walk and off it, acceptance, care, happenings, departures."""

import uuid
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from survey.people.actions import observer_of
from survey.trees.models import CareGiven, Happening, Look
from tests.factories import (
    LookFactory,
    OrderLineFactory,
    PersonFactory,
    ReportFactory,
    SiteFactory,
    TreeFactory,
    WorkOrderFactory,
)
from tests.pictures import picture
from tests.survey.test_constraints import care as given_care


@pytest.fixture(autouse=True)
def _own_media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def typed(**more):
    fields = {"repeat_key": str(uuid.uuid4()), "presence": "standing", "condition": "holding"}
    return fields | {"day": "2026-06-16", "channel": "walk"} | more


def test_a_look_is_written_down_with_signs_girth_and_photos(sign_in):
    client = sign_in("volunteer")
    tree = TreeFactory()
    client.post(
        f"/trees/{tree.ref}/look/",
        typed(
            condition="slipping",
            leaf="partial",
            scratch="green",
            signs=["bark_wound", "wilting"],
            extent_bark_wound="half_or_more",
            side_bark_wound="street",
            girth1="8",
            note="cut low",
            base_photo=SimpleUploadedFile("b.jpg", picture(), "image/jpeg"),
            whole_photo=SimpleUploadedFile("w.jpg", picture(), "image/jpeg"),
        ),
    )
    look = Look.objects.get()
    assert (look.condition, look.leaf, look.scratch, look.trained) == (
        "slipping",
        "partial",
        "green",
        True,
    )
    assert set(look.signs.values_list("sign", "extent", "side")) == {
        ("bark_wound", "half_or_more", "street"),
        ("wilting", "", ""),
    }
    assert look.measures.get().girth_m == pytest.approx(0.2032)  # 8 in of 25.4 mm
    assert set(look.photos.values_list("part", "taken_on")) == {
        ("base", look.day),
        ("whole", look.day),
    }


def test_a_walk_goes_from_tree_to_tree_and_round_a_danger(sign_in):
    site = SiteFactory(ref="ferry")
    trees = [
        TreeFactory(site=site, walk_order=n, latitude=36.62 + n / 1000, longitude=-34.91)
        for n in range(4)
    ]
    ReportFactory(tree=trees[1], danger="hanging_limb")
    client = sign_in("volunteer")
    first = client.post(f"/trees/{trees[0].ref}/look/?walk=1", typed())
    assert first.url == f"/trees/{trees[2].ref}/look/?walk=1"
    client.post(first.url, typed())
    last = client.post(f"/trees/{trees[3].ref}/look/?walk=1", typed())
    assert last.url == "/walks/ferry/"


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ({"day": "2026-06-17"}, "That day has not come yet."),
        ({"day": "2023-11-13"}, "That is before the tree was planted."),
        ({"day": "2026-02-30"}, "Enter a valid date."),
        ({"condition": ""}, "Say how it is doing"),
        ({"condition": "fine"}, "fine"),
        ({"presence": "gone"}, "A condition needs a tree that stands."),
        ({"presence": ""}, "This field is required."),
        ({"presence": "gone", "condition": "", "signs": "wilting"}, "need a tree to look at"),
        ({"signs": "haunted"}, "haunted"),
        ({"signs": "bark_wound", "extent_bark_wound": "a bit"}, "a bit"),
        ({"girth1": "-3"}, "A girth is more than 0"),
        ({"channel": "complaint"}, "complaint"),
        ({"note": "x" * 2001}, "at most 2000 characters"),
        ({"observer": "nobody"}, "nobody"),
    ],
)
def test_what_is_typed_wrong_is_said_and_everything_typed_is_kept(sign_in, bad, said):
    tree = TreeFactory()
    form = {"note": "<b>low</b> & new"} | bad
    response = sign_in("staff").post(f"/trees/{tree.ref}/look/", typed(**form))
    page = response.content.decode()
    assert response.status_code == 200
    assert said in page
    if "note" not in bad:
        assert "&lt;b&gt;low&lt;/b&gt; &amp; new" in page
    assert not Look.objects.exists()


def test_a_bare_tree_may_be_left_without_a_condition(sign_in):
    tree = TreeFactory()
    sign_in("volunteer").post(f"/trees/{tree.ref}/look/", typed(condition="", leaf="bare"))
    assert Look.objects.get().leaf == "bare"


def test_a_look_sent_twice_is_one(sign_in):
    tree, form = TreeFactory(), typed()
    client = sign_in("volunteer")
    client.post(f"/trees/{tree.ref}/look/", form)
    client.post(f"/trees/{tree.ref}/look/", form)
    assert Look.objects.count() == 1


def test_an_old_look_of_somebody_else_is_entered_by_staff(sign_in):
    saw = PersonFactory(role="volunteer", trained_on=date(2024, 6, 1))
    client = sign_in("staff")
    tree = TreeFactory()
    for day in ("2024-05-31", "2024-06-01"):
        client.post(f"/trees/{tree.ref}/look/", typed(day=day, observer=saw.key))
    assert list(Look.objects.in_order().values_list("observer__person", "trained")) == [
        (saw.pk, False),
        (saw.pk, True),
    ]


def test_a_volunteer_is_not_asked_who_looked(sign_in):
    tree = TreeFactory()
    page = sign_in("volunteer").get(f"/trees/{tree.ref}/look/").content.decode()
    assert "Who looked" not in page


def test_a_slip_is_corrected_by_a_look_that_supersedes(sign_in):
    client = sign_in("volunteer")
    tree = TreeFactory()
    old = LookFactory(tree=tree, observer=observer_of(client.person), condition="dead", note="dry")
    address = f"/trees/{tree.ref}/look/?correct={old.pk}"
    page = client.get(address)
    assert page.context["form"].initial["condition"] == "dead"
    assert "dry" in page.content.decode()
    client.post(address, typed(day="2024-06-01", condition="failing"))
    new = Look.objects.get(supersedes=old)
    assert (new.condition, new.trained, new.observer) == ("failing", True, old.observer)


def test_a_volunteer_corrects_only_their_own(sign_in):
    old = LookFactory()
    address = f"/trees/{old.tree.ref}/look/?correct={old.pk}"
    assert sign_in("volunteer").get(address).status_code == 403
    assert sign_in("staff").get(address).status_code == 200


@pytest.mark.parametrize("key", ["0", "x", "9" * 30, "-1"])
def test_a_look_that_is_not_there_is_not_corrected(sign_in, key):
    tree = TreeFactory()
    assert sign_in().get(f"/trees/{tree.ref}/look/?correct={key}").status_code == 404


SIDES = {f"base_{side}": "whole" for side in ("street", "path", "left", "right")}
ACCEPTED = SIDES | {"flare": "visible", "ties": "none", "condition": "holding"}
ACCEPTED |= {"accepted": "yes", "day": "2026-06-16"}


def test_a_tree_is_accepted(sign_in):
    tree = TreeFactory()
    sign_in("volunteer").post(f"/trees/{tree.ref}/acceptance/", ACCEPTED | {"base_left": "marked"})
    look = Look.objects.get()
    assert (look.channel, look.acceptance.accepted, look.acceptance.base_left) == (
        "acceptance",
        True,
        "marked",
    )


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ({"accepted": "no"}, "Say why it is refused."),
        ({"base_path": ""}, "This field is required."),
        ({"flare": "odd"}, "odd"),
        ({"day": "2026-06-17"}, "That day has not come yet."),
    ],
)
def test_an_acceptance_that_lacks_something_is_given_back(sign_in, bad, said):
    tree = TreeFactory()
    form = ACCEPTED | {"note": "two deep cuts"} | bad
    page = sign_in().post(f"/trees/{tree.ref}/acceptance/", form).content.decode()
    assert said in page
    assert "two deep cuts" in page
    assert not Look.objects.exists()


def test_old_care_is_entered_with_its_own_date(sign_in):
    tree = TreeFactory()
    form = {"care": "water", "given": "2024-02-10", "precision": "month", "dose": "10 gal"}
    sign_in("crew").post(f"/trees/{tree.ref}/care/", form)
    given = CareGiven.objects.get()
    assert (given.given_from, given.given_to) == (date(2024, 2, 1), date(2024, 2, 29))


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ({"given": "2026-06-17"}, "That day has not come yet."),
        ({"given": "2020-01-01"}, "That is before the tree was planted."),
        ({"care": "singing"}, "singing"),
    ],
)
def test_care_that_makes_no_sense_is_given_back(sign_in, bad, said):
    tree = TreeFactory()
    form = {"care": "water", "given": "2026-06-16", "precision": "day", "dose": "a lot"} | bad
    page = sign_in().post(f"/trees/{tree.ref}/care/", form).content.decode()
    assert said in page
    assert "a lot" in page
    assert not CareGiven.objects.exists()


@pytest.mark.parametrize("kind", ["tree", "site", "planting"])
def test_something_that_happened_is_written_down_at_its_place(sign_in, kind):
    tree = TreeFactory()
    place = {"tree": tree, "site": tree.site, "planting": tree.planting}[kind]
    form = {"kind": "mowing", "from_day": "2026-06-04"}
    response = sign_in("volunteer").post(f"/{kind}s/{place.ref}/happening/", form)
    assert response.url == f"/{kind}s/{place.ref}/"
    assert getattr(Happening.objects.get(), kind) == place


def test_a_happening_that_ends_before_it_begins_is_given_back(sign_in):
    site = SiteFactory()
    form = {"kind": "mowing", "from_day": "2026-06-04", "to_day": "2026-06-03", "note": "wet"}
    page = sign_in().post(f"/sites/{site.ref}/happening/", form).content.decode()
    assert "The last day comes before the first." in page
    assert "wet" in page


def test_a_tree_leaves_and_comes_back(sign_in):
    tree = TreeFactory()
    client = sign_in("staff")
    form = {"left": "lost", "left_from": "2026-05-01", "left_to": "2026-06-01", "why": "paved"}
    client.post(f"/trees/{tree.ref}/left/", form)
    tree.refresh_from_db()
    assert tree.left == "lost"
    client.post(f"/trees/{tree.ref}/left/", {"why": "behind the hedge"})
    tree.refresh_from_db()
    assert tree.left == ""


def test_a_volunteer_does_not_bring_a_tree_back(sign_in):
    tree = TreeFactory(left="lost", left_from=date(2026, 5, 1), left_to=date(2026, 6, 1))
    assert sign_in("volunteer").get(f"/trees/{tree.ref}/left/").status_code == 403


def test_a_walk_list_shows_ages_closed_stretches_and_looks_that_are_due(sign_in):
    site = SiteFactory(ref="ferry", latitude=None, longitude=None)
    trees = [
        TreeFactory(
            site=site, tag=f"020{n}", walk_order=n, latitude=36.62 + n / 1000, longitude=-34.91
        )
        for n in range(3)
    ]
    LookFactory(tree=trees[0], day=date(2026, 6, 8))
    report = ReportFactory(tree=trees[1], danger="hanging_limb")
    order = WorkOrderFactory(
        state="done", done_on=date(2026, 5, 1), done_by="A", look_due=date(2026, 6, 5)
    )
    OrderLineFactory(order=order, tree=trees[2], outcome="given", given=given_care())
    page = sign_in("volunteer").get("/walks/ferry/").content.decode()
    assert "8 days ago" in page
    assert f"note {report.number}" in page
    assert f"/trees/{trees[1].ref}/look/" not in page
    assert f"/trees/{trees[2].ref}/look/?walk=1&amp;channel=followup" in page
    assert f"look after order {order.number} is due" in page


def test_nobody_meets_where_a_danger_is(sign_in):
    site = SiteFactory(ref="ferry", walk_from="the bus shelter")
    TreeFactory(site=site)
    assert "begins at the bus shelter" in sign_in().get("/walks/ferry/").content.decode()
    ReportFactory(tree=None, site=site, area=site.area, danger="hanging_limb")
    page = sign_in().get("/walks/ferry/").content.decode()
    assert "do not meet there: closed" in page
    assert "Next tree" not in page
    assert "Big branch hanging" in sign_in().get("/walks/").content.decode()


def test_a_danger_that_nobody_could_place_is_told_on_every_walk(sign_in, home):
    TreeFactory(site=SiteFactory(ref="ferry"))
    ReportFactory(tree=None, site=None, area=home, landmark="the old well", danger="hanging_limb")
    for address in ("/walks/", "/walks/ferry/"):
        assert "the old well" in sign_in().get(address).content.decode()


def test_a_walk_of_a_hundred_trees_asks_nine_questions(sign_in, django_assert_num_queries):
    site = SiteFactory(ref="ferry")
    for n in range(100):
        tree = TreeFactory(site=site, walk_order=n)
        LookFactory(tree=tree)
    ReportFactory(tree=tree, danger="hanging_limb")
    client = sign_in("volunteer")
    with django_assert_num_queries(9):
        client.get("/walks/ferry/")


def test_the_list_of_walks_asks_as_many_questions_for_many_sites(
    sign_in, django_assert_num_queries
):
    for _ in range(12):
        LookFactory()
    client = sign_in("volunteer")
    with django_assert_num_queries(7):
        client.get("/walks/")


ON_FOOT = ["look", "acceptance", "care", "left", "happening"]


@pytest.mark.parametrize("page", ON_FOOT)
@pytest.mark.parametrize(
    ("role", "status"), [(None, 302), ("liaison", 403), ("crew", 200), ("volunteer", 200)]
)
def test_who_may_write_things_down(client, sign_in, page, role, status):
    tree = TreeFactory()
    if role:
        sign_in(role)
    assert client.get(f"/trees/{tree.ref}/{page}/").status_code == status
    if status != 200:
        assert client.post(f"/trees/{tree.ref}/{page}/", typed()).status_code == status


@pytest.mark.parametrize("address", ["/walks/", "/walks/ferry/"])
@pytest.mark.parametrize(("role", "status"), [(None, 302), ("liaison", 403), ("crew", 200)])
def test_who_may_walk(client, sign_in, address, role, status):
    SiteFactory(ref="ferry")
    if role:
        sign_in(role)
    assert client.get(address).status_code == status
