"""Staff lay down how a tree is: with a reason, in sight of all, and never for good."""

import re
from datetime import date, timedelta
from html import unescape

import pytest

from survey.audit.models import Entry
from survey.condition.actions.overrule import overrule_belief
from survey.condition.models import Overruling
from tests.factories import NOON, TODAY, PersonFactory, TreeFactory

GIVEN = {"state": "failing", "day": "2026-06-10", "reason": "The wood under the bark is brown."}


def text_of(response):
    page = response.content.decode().split("<main", 1)[1]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


@pytest.fixture
def tree(home):
    return TreeFactory(tag="0407")


@pytest.fixture
def laid_down(tree):
    by = PersonFactory(name="Ada Brandt")
    return overrule_belief(
        tree=tree, state="failing", day=date(2026, 6, 1), reason="Seen it myself", by=by, at=NOON
    )


def test_the_page_says_what_laying_down_does(sign_in, tree):
    page = text_of(sign_in().get(f"/trees/{tree.ref}/believe/"))
    assert "This counts as evidence of the strongest kind." in page
    assert "It stays visible and can be taken back." in page
    assert "Nobody has laid anything down about this tree." in page


def test_what_is_laid_down_is_kept_with_its_author_and_shown_on_the_trees_page(sign_in, tree):
    client = sign_in(name="Ben Ruiz")
    response = client.post(f"/trees/{tree.ref}/believe/", GIVEN, follow=True)
    assert response.redirect_chain == [(f"/trees/{tree.ref}/", 302)]
    made = Overruling.objects.get()
    assert (made.state, made.day, made.by_name) == ("failing", date(2026, 6, 10), "Ben Ruiz")
    page = text_of(response)
    assert "Laid down by trained staff: failing" in page
    assert "“The wood under the bark is brown.”" in page
    again = text_of(client.get(f"/trees/{tree.ref}/believe/"))
    assert "failing on June 10, 2026, says Ben Ruiz" in again


def test_strangers_see_that_it_was_laid_down_without_names_or_reasons(client, laid_down):
    page = text_of(client.get(f"/trees/{laid_down.tree.ref}/"))
    assert "Laid down by trained staff: failing" in page
    assert "Ada" not in page
    assert "Seen it myself" not in page


@pytest.mark.parametrize("missing", ["state", "day", "reason"])
def test_nothing_typed_is_lost_where_something_is_missing(sign_in, tree, missing):
    response = sign_in().post(f"/trees/{tree.ref}/believe/", GIVEN | {missing: ""})
    assert response.status_code == 422
    page = response.content.decode()
    assert not Overruling.objects.exists()
    for name, typed in GIVEN.items():
        if name == "state" and name != missing:
            assert re.search(r'value="failing"[^>]* checked', page)
        elif name != missing:
            assert typed in page


HOSTILE = {
    "a state that nobody knows": {"state": "extreme risk"},
    "gone twice": {"state": "gone,dead"},
    "no day": {"day": "yesterday"},
    "a day that never was": {"day": "2026-02-30"},
    "a day to come": {"day": (TODAY + timedelta(days=1)).isoformat()},
    "before it was planted": {"day": "2020-01-01"},
    "a reason of blanks": {"reason": "  \n\t "},
    "a reason too long": {"reason": "x" * 401},
    "a letter no database holds": {"reason": "br\0wn"},
}


@pytest.mark.parametrize("given", HOSTILE.values(), ids=HOSTILE)
def test_hostile_words_lay_nothing_down(sign_in, tree, given):
    response = sign_in().post(f"/trees/{tree.ref}/believe/", GIVEN | given)
    assert response.status_code == 422
    assert "Error:" in response.content.decode()
    assert not Overruling.objects.exists()


def test_words_that_look_like_a_page_are_only_words(sign_in, tree):
    client = sign_in()
    trick = "<script>alert(1)</script>"
    client.post(f"/trees/{tree.ref}/believe/", GIVEN | {"reason": trick})
    for address in (f"/trees/{tree.ref}/believe/", f"/trees/{tree.ref}/"):
        page = client.get(address).content.decode()
        assert trick not in page
        assert "&lt;script&gt;alert(1)" in page


def test_it_is_taken_back_with_a_reason_and_stays_to_be_read(sign_in, laid_down):
    client, ref = sign_in(name="Ben Ruiz"), laid_down.tree.ref
    answer = client.post(
        f"/trees/{ref}/believe/{laid_down.pk}/", {"back-reason": "It was the tree beside it"}
    )
    assert answer.status_code == 302
    laid_down.refresh_from_db()
    assert laid_down.withdrawn_name == "Ben Ruiz"
    page = text_of(client.get(f"/trees/{ref}/believe/"))
    assert "said Ada Brandt" in page
    assert "Taken back on June 16, 2026 by Ben Ruiz: “It was the tree beside it”." in page
    assert Entry.objects.filter(act="belief.overruling_withdrawn").count() == 1


@pytest.mark.parametrize("reason", ["", "   ", "x" * 401, "a\0b"])
def test_nothing_is_taken_back_without_a_reason(sign_in, laid_down, reason):
    response = sign_in().post(
        f"/trees/{laid_down.tree.ref}/believe/{laid_down.pk}/", {"back-reason": reason}
    )
    assert response.status_code == 422
    laid_down.refresh_from_db()
    assert laid_down.withdrawn_at is None


def test_an_overruling_is_taken_back_on_its_own_trees_page_only(sign_in, laid_down):
    other = TreeFactory()
    response = sign_in().post(
        f"/trees/{other.ref}/believe/{laid_down.pk}/", {"back-reason": "not this one"}
    )
    assert response.status_code == 404


def test_a_second_one_takes_the_first_back(sign_in, laid_down):
    sign_in().post(f"/trees/{laid_down.tree.ref}/believe/", GIVEN | {"state": "slipping"})
    states = dict(Overruling.objects.values_list("state", "withdrawn_at"))
    assert states["failing"] is not None
    assert states["slipping"] is None


@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_only_trained_staff_may(sign_in, laid_down, role):
    client, ref = sign_in(role), laid_down.tree.ref
    assert client.post(f"/trees/{ref}/believe/", GIVEN).status_code == 403
    answer = client.post(f"/trees/{ref}/believe/{laid_down.pk}/", {"back-reason": "no"})
    assert answer.status_code == 403
    assert Overruling.objects.count() == 1


def test_the_way_there_is_shown_to_those_who_may_go_it(sign_in, tree):
    address = f"/trees/{tree.ref}/believe/"
    assert address in sign_in().get(f"/trees/{tree.ref}/").content.decode()
    assert address not in sign_in("volunteer").get(f"/trees/{tree.ref}/").content.decode()
