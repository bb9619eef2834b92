"""Whether care helped: told with its range and what it rests on, or refused with reasons."""

import re

import pytest
from django.test import Client
from django.utils import translation

from frontend.liaison import helped_said
from survey.science.survival.care_effect import care_effect
from survey.science.survival.care_sets import MEASURES
from survey.survival.helped import ALIKE_IN_BELIEF, ASSUMPTIONS
from survey.survival.models import CareCompared
from tests.factories import NOON, AreaFactory, PersonFactory
from tests.frontend.liaison.care_made import compared, effect, refused


@pytest.fixture(autouse=True)
def english():
    with translation.override("en-us"):
        yield


@pytest.fixture
def liaison(db):
    AreaFactory()
    client = Client()
    client.force_login(PersonFactory(role="liaison", name="Inés"))
    return client


def keep(told, care="water", area=None):
    area = area or AreaFactory()
    return CareCompared.objects.create(
        area=area, care=care, as_of=area.today(), told=told, computed_at=NOON
    )


def read(client, address):
    page = client.get(address)
    assert page.status_code == 200
    return " ".join(re.sub(r"<[^>]+>", " ", page.content.decode()).split())


def test_the_page_says_the_figure_its_range_and_what_misleads(liaison):
    keep(compared())
    said = read(liaison, "/survival/care/water/")
    assert (
        "Of 100 such trees about 91 stood a year after the care; of trees like them without it,"
        " about 83. The difference is 8 of 100, and could be anything from 2 to 15." in said
    )
    assert "Comparing them as they are would have said −4. Care goes to trees in trouble" in said
    for part in ("matched, followed to the end", "91 84 7 1 to 14", "91 95 −4 −10 to 2"):
        assert part in said
    assert "had changed by 0.4 steps of condition, trees like them by −0.1" in said
    assert "in at most 2 of 100 towns" in said
    assert "If whoever gave the care knew more than was written down, the figure is off." in said
    assert "lost, with the care 7 lost, without it 22" in said


def test_a_range_that_holds_zero_says_so_in_words():
    told = "No difference at all is among what it could be."
    assert told in helped_said.difference_said(effect(0.9, 0.85, -0.02, 0.1))
    assert told in helped_said.difference_said(effect(1.0, 0.95, 0.0, 0.1))
    assert told not in helped_said.difference_said(effect(0.9, 0.85, 0.01, 0.1))
    assert told not in helped_said.difference_said(effect(0.8, 0.95, -0.2, -0.1))


def test_the_balance_stands_before_and_after_and_what_stays_apart_is_marked(liaison):
    keep(compared())
    page = liaison.get("/survival/care/water/").content.decode()
    assert "slipping or failing, of 100 72 21 1.20 72 72 0.20" in " ".join(
        re.sub(r"<[^>]+>", " ", page).split()
    )
    assert page.count('<b class="ember">') == 1


def test_a_refusal_says_all_that_is_missing_and_no_figure(liaison):
    keep(refused())
    for address in ("/survival/care/", "/survival/care/water/"):
        said = read(liaison, address)
        assert "There is no figure yet. It takes 20 matched trees and there are 3." in said
        assert "It takes 5 losses without the care and there are 0." in said
        assert "stood a year after" not in said
    assert "Three figures together" not in said


def test_figures_that_point_in_opposite_directions_say_nothing(liaison):
    keep(compared(followed=effect(0.88, 0.9, -0.1, 0.05)))
    for address in ("/survival/care/", "/survival/care/water/"):
        said = read(liaison, address)
        assert "Nothing can be said." in said
        assert "stood a year after" not in said
        assert "would have said" not in said
    assert "must not be quoted" in said
    assert "in at most" not in said


def test_the_list_is_in_order_of_name_whatever_the_figures_and_leads_to_each(liaison):
    names = {care: helped_said.care_named(care) for care in ("water", "mulch_ring", "prune_dead")}
    for care in names:
        keep(compared(), care)
    page = liaison.get("/survival/care/").content.decode()
    order = sorted(names, key=lambda care: names[care].casefold())
    places = [page.index(f"/survival/care/{care}/") for care in order]
    assert places == sorted(places)
    assert "no ranking" in page


def test_before_the_first_night_the_list_says_so_and_survival_leads_to_it(liaison):
    assert "No care has been compared yet." in read(liaison, "/survival/care/")
    assert 'href="/survival/care/"' in liaison.get("/survival/").content.decode()


@pytest.mark.parametrize("code", ["none", "w" * 41, "water%00", "wa ter", "%3Cb%3E", "water/x"])
def test_a_care_that_nobody_gave_is_no_page(liaison, code):
    keep(compared())
    assert liaison.get(f"/survival/care/{code}/").status_code == 404


def test_another_town_has_its_own_care(liaison):
    other = AreaFactory(ref="alder", name="Alder", is_home=False)
    keep(compared(), area=other)
    assert liaison.get("/survival/care/water/").status_code == 404
    assert liaison.get("/survival/care/water/?area=alder").status_code == 200
    assert "/survival/care/water/?area=alder" in liaison.get(
        "/survival/care/?area=alder"
    ).content.decode()  # fmt: skip


def test_many_kinds_cost_no_more_questions(liaison, django_assert_num_queries):
    for n in range(12):
        keep(compared(), f"care_{n}")
    with django_assert_num_queries(5):
        liaison.get("/survival/care/")
    with django_assert_num_queries(4):
        liaison.get("/survival/care/care_3/")


def test_every_code_that_can_be_stored_has_its_words():
    for measure in MEASURES:
        assert helped_said.measure_said(measure) != measure
    for code in [*ASSUMPTIONS, ALIKE_IN_BELIEF]:
        assert helped_said.assumption_said(code).endswith(".")
    for one in care_effect([], seed=0).missing:
        said = helped_said.refused_said([{"code": one.code, "have": 0, "need": one.need}])
        assert str(one.need) in said
