"""Registering on foot: site, planting, tree after tree, and what is typed wrong."""

import uuid
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from survey.photos.models import Photo
from survey.trees.models import Planting, Site, Tree
from tests.factories import (
    LandManagerFactory,
    PlantingFactory,
    ReportFactory,
    SiteFactory,
    TreeFactory,
)
from tests.pictures import SVG, picture


@pytest.fixture(autouse=True)
def _own_media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def typed(**more):
    fields = {"repeat_key": str(uuid.uuid4()), "species": "linden", "tag": "0401"}
    fields |= {"registered_on": "2026-06-16", "registered_because": "inventory"}
    return fields | more


@pytest.fixture
def here():
    return SiteFactory(ref="ferry"), PlantingFactory(ref="ferry-2023")


ADDRESS = "/register/ferry/ferry-2023/"


def test_a_volunteer_goes_from_site_to_planting_to_tree(sign_in):
    client = sign_in("volunteer")
    owner = LandManagerFactory()
    site = {"name": "Ferry Road", "kind": "street", "land_manager": owner.pk}
    assert client.post("/register/", site).url == "/register/ferry-road/"
    planting = {"name": "Ferry Road 2025", "planted": "2025-11-20", "precision": "month"}
    onward = client.post("/register/ferry-road/", planting).url
    assert onward == "/register/ferry-road/ferry-road-2025/"
    assert Planting.objects.get().planted_to == date(2025, 11, 30)
    assert Site.objects.get().land_manager == owner
    response = client.post(onward, typed(girth1="7.5", condition="holding", street_bearing="90"))
    assert response.url == onward
    tree = Tree.objects.get()
    assert (tree.tag, tree.street_bearing, tree.stems) == ("0401", 90, 1)
    look = tree.looks.get()
    assert look.measures.get().girth_m == pytest.approx(0.1905)  # 7.5 in of 25.4 mm, by definition
    assert look.observer.person == client.person


def test_the_next_tree_carries_over_what_it_shares_with_the_last(sign_in, here):
    client = sign_in("volunteer")
    client.post(ADDRESS, typed(species="hornbeam", tag="0411", street_bearing="180"))
    page = client.get(ADDRESS).content.decode()
    assert '<option value="hornbeam" selected>' in page
    assert 'value="0412"' in page
    assert '<option value="180" selected>' in page


def test_few_things_must_be_filled_in_after_the_first_tree(sign_in, here):
    client = sign_in("volunteer")
    client.post(ADDRESS, typed())
    form = client.get(ADDRESS).context["form"]
    empty = [
        name
        for name, field in form.fields.items()
        if field.required and form.get_initial_for_field(field, name) in (None, "")
    ]
    assert empty == []


def test_the_same_form_sent_twice_is_one_tree(sign_in, here):
    client = sign_in("volunteer")
    form = typed(tag="")
    client.post(ADDRESS, form)
    client.post(ADDRESS, form)
    assert Tree.objects.count() == 1


def test_girths_are_taken_in_the_persons_own_units_and_stem_by_stem(sign_in, here):
    client = sign_in("volunteer", units="metric")
    client.post(ADDRESS, typed(girth1="19,5", girth3="12 cm"))
    tree = Tree.objects.get()
    assert tree.stems == 3
    measures = tree.looks.get().measures.order_by("stem").values_list("stem", "girth_m")
    assert [(stem, round(girth, 4)) for stem, girth in measures] == [(1, 0.195), (3, 0.12)]


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ({"girth1": "-7"}, "A girth is more than 0"),
        ({"girth1": "0"}, "A girth is more than 0"),
        ({"girth1": "1e9"}, "A girth is more than 0"),
        ({"girth1": "nan"}, "A girth is more than 0"),
        ({"girth1": "inf"}, "A girth is more than 0"),
        ({"girth1": "seven"}, "Write the girth as a number"),
        ({"girth1": "7", "girth2": "6", "stems": "1"}, "You measured 2 stems."),
        ({"stems": "41"}, "less than or equal to 40"),
        ({"stems": "0"}, "greater than or equal to 1"),
        ({"species": "triffid"}, "triffid"),
        ({"species": ""}, "This field is required."),
        ({"condition": "fine"}, "fine"),
        ({"street_bearing": "42"}, "42"),
        ({"registered_on": "2026-06-17"}, "That day has not come yet."),
        ({"registered_on": "2023-11-13"}, "That is before the tree was planted."),
        ({"registered_on": "soon"}, "Enter a valid date."),
        ({"latitude": "48.2", "longitude": "16.4"}, "miles from Pellworth"),
        ({"latitude": "36.62"}, "Give both figures of the point"),
        ({"latitude": "north"}, "Enter a number."),
        ({"tag": "0099"}, "Tag 0099 is on another tree already, at Mill Steps."),
        ({"tag": "x" * 31}, "at most 30 characters"),
        ({"note": "x" * 2001}, "at most 2000 characters"),
        ({"repeat_key": "again"}, "Enter a valid UUID."),
        ({"tag": "\x00"}, "Null characters are not allowed."),
    ],
)
def test_what_is_typed_wrong_is_said_and_everything_typed_is_kept(sign_in, here, bad, said):
    TreeFactory(tag="0099", site=SiteFactory(name="Mill Steps"))
    response = sign_in("volunteer").post(ADDRESS, typed(landmark="by the blue door", **bad))
    page = response.content.decode()
    assert response.status_code == 200
    assert said in page
    assert "by the blue door" in page
    assert Tree.objects.count() == 1


def test_a_photo_of_the_base_belongs_to_the_first_look(sign_in, here):
    photo = SimpleUploadedFile("base.jpg", picture(), "image/jpeg")
    sign_in("volunteer").post(ADDRESS, typed(base_photo=photo))
    kept = Tree.objects.get().looks.get().photos.get()
    assert (kept.part, kept.shown) == ("base", "hidden")


def test_a_photo_is_kept_while_the_rest_is_put_right(sign_in, here):
    client = sign_in("volunteer")
    photo = SimpleUploadedFile("base.jpg", picture(), "image/jpeg")
    page = client.post(ADDRESS, typed(species="", base_photo=photo)).content.decode()
    key = Photo.objects.get().key
    assert f'name="kept" value="{key}"' in page
    client.post(ADDRESS, typed(kept=key))
    assert Tree.objects.get().looks.get().photos.get().key == key


def test_nobody_takes_over_the_photo_of_another(sign_in, here):
    sign_in("volunteer").post(
        ADDRESS,
        typed(species="", base_photo=SimpleUploadedFile("b.jpg", picture(), "image/jpeg")),
    )
    sign_in("volunteer").post(ADDRESS, typed(kept=Photo.objects.get().key))
    assert not Tree.objects.get().looks.get().photos.exists()


@pytest.mark.parametrize("key", ["\x00", "' OR 1=1", "x" * 500, "../../etc/passwd"])
def test_a_photo_that_nobody_sent_is_not_taken_over(sign_in, here, key):
    sign_in("volunteer").post(ADDRESS, typed(kept=key))
    assert not Tree.objects.get().looks.get().photos.exists()


def test_a_drawing_that_calls_itself_a_photo_costs_no_words(sign_in, here):
    photo = SimpleUploadedFile("base.jpg", SVG, "image/jpeg")
    page = sign_in("volunteer").post(ADDRESS, typed(base_photo=photo, landmark="by the door"))
    assert "That is not a photo we can open." in page.content.decode()
    assert "by the door" in page.content.decode()
    assert not Tree.objects.exists()


def test_a_replacement_is_registered_where_the_old_tree_stood(sign_in):
    client = sign_in("volunteer")
    old = TreeFactory(left="died", left_from=date(2025, 8, 1), left_to=date(2025, 9, 1))
    start = f"/register/{old.site.ref}/?replaces={old.ref}"
    form = {"name": "Again", "planted": "2025-11-20", "precision": "day"}
    onward = client.post(start, form).url
    assert onward == f"/register/{old.site.ref}/again/?replaces={old.ref}"
    page = client.get(onward)
    assert page.context["form"].initial["latitude"] == old.latitude
    client.post(onward, typed(latitude=str(old.latitude), longitude=str(old.longitude)))
    new = Tree.objects.get(replaces=old)
    assert new.planting.name == "Again"


def test_a_replacement_of_a_standing_tree_is_refused_with_words(sign_in, here):
    old = TreeFactory(site=here[0], tag="9")
    page = sign_in("volunteer").post(f"{ADDRESS}?replaces={old.ref}", typed())
    assert "First write down how the old tree left" in page.content.decode()


def test_a_site_that_is_there_already_is_not_entered_twice(sign_in):
    SiteFactory(name="Ferry Road")
    page = sign_in("volunteer").post("/register/", {"name": "Ferry Road", "kind": "street"})
    assert "There is one of that name already." in page.content.decode()


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ({"planted": "2026-06-17"}, "That day has not come yet."),
        ({"planted": "yesterday"}, "Enter a valid date."),
        ({"precision": "about"}, "about"),
        ({"planted_count": "-1"}, "greater than or equal to 1"),
        ({"warranty_until": "2025-01-01"}, "The warranty ends before the planting."),
        ({"name": ""}, "This field is required."),
    ],
)
def test_a_planting_that_makes_no_sense_is_refused_with_words(sign_in, here, bad, said):
    form = {"name": "Ferry Road 2025", "planted": "2025-11-20", "precision": "day"}
    page = sign_in("volunteer").post("/register/ferry/", form | {"supplier": "Lowfield"} | bad)
    assert said in page.content.decode()
    assert "Lowfield" in page.content.decode()
    assert Planting.objects.count() == 1


def test_a_danger_at_the_site_stands_on_the_form(sign_in, here):
    ReportFactory(tree=None, site=here[0], area=here[0].area, danger="hanging_limb")
    assert "Open danger near here" in sign_in("volunteer").get(ADDRESS).content.decode()


def test_a_slip_is_put_right(sign_in):
    tree = TreeFactory(tag="0401")
    form = {"species": "hornbeam", "tag": "0402", "stems": "2", "walk_order": "7"}
    response = sign_in("volunteer").post(f"/trees/{tree.ref}/correct/", form)
    assert response.url == f"/trees/{tree.ref}/"
    tree.refresh_from_db()
    assert (tree.species, tree.tag, tree.walk_order) == ("hornbeam", "0402", 7)


def test_a_correction_to_a_tag_in_use_is_refused_with_words(sign_in):
    TreeFactory(tag="0402")
    tree = TreeFactory(tag="0401")
    form = {"species": "linden", "tag": "0402", "stems": "1", "walk_order": "7"}
    page = sign_in("volunteer").post(f"/trees/{tree.ref}/correct/", form).content.decode()
    assert "Tag 0402 is on another tree already" in page


@pytest.mark.parametrize("address", ["/register/", "/register/ferry/", ADDRESS])
@pytest.mark.parametrize(
    ("role", "status"), [(None, 302), ("crew", 403), ("liaison", 403), ("volunteer", 200)]
)
def test_who_may_register(client, sign_in, here, address, role, status):
    if role:
        sign_in(role)
    assert client.get(address).status_code == status
    if status != 200:
        assert client.post(address, typed()).status_code == status
        assert not Tree.objects.exists()
