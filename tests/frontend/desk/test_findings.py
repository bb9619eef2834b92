"""The desk reads findings, says a word, drafts orders and prints letters."""

import re
from datetime import date, timedelta
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from frontend.desk.findings import trees_of
from frontend.desk.findings_strip import findings_about
from survey.causes.actions.measure_wound import MeasuredWound, measure_wounds
from survey.causes.models import Finding
from survey.chores.models import Chore
from survey.trees.models import Acceptance, CareGiven, Happening
from survey.workorders.models import WorkOrder
from tests import factories as make
from tests.factories import NOON, TODAY
from tests.survey.cause_rows import finding
from tests.survey.finding_rows import WALKED, Town, quarry_green

pytestmark = pytest.mark.django_db


def words_of(response):
    page = response.content.decode().split("<main", 1)[1]
    page = re.sub(r"<svg.*?</svg>", " ", page, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


@pytest.fixture
def desk(client):
    client.force_login(make.PersonFactory(name="Ben Ruiz"))
    return client


@pytest.fixture
def town():
    return quarry_green()


@pytest.fixture
def found(town) -> Finding:
    [row] = town.search()
    return row


def say(client, row, word="confirmed", **more):
    data = {"version": row.version, "reason": "Seen on 4 June."} | more
    return client.post(f"/desk/findings/{row.number}/{word}/", data)


def test_the_list_says_each_finding_in_a_sentence(desk, found):
    page = words_of(desk.get("/desk/findings/"))
    assert "1 finding waits for a word" in page
    assert "13 of 14 trees at Quarry Green have bark gone at the base" in page
    assert "not yet judged" in page


def test_a_list_without_findings_says_what_one_needs(desk):
    make.AreaFactory()
    page = words_of(desk.get("/desk/findings/"))
    assert "No finding yet." in page
    assert "five trees looked at on both sides" in page


@pytest.mark.parametrize("state", ["dismissed", "gone", "nonsense", "\0"])
def test_a_list_in_another_state_is_empty_or_shows_what_waits(desk, found, state):
    page = words_of(desk.get("/desk/findings/", {"state": state}))
    waiting = state not in ("dismissed", "gone")
    assert ("13 of 14" in page) == waiting


def test_the_list_asks_no_more_questions_for_more_findings(desk):
    def count() -> int:
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert desk.get("/desk/findings/").status_code == 200
        return len(asked)

    area = make.AreaFactory()
    site = make.SiteFactory(area=area)
    finding(area=area, subject=site.ref, site=site)
    few = count()
    for n in range(2, 20):
        site = make.SiteFactory(area=area)
        finding(area=area, number=n, subject=site.ref, site=site)
    assert count() == few


def test_a_finding_shows_what_it_was_weighed_from_and_what_is_missing(desk, town, found):
    site = town.site("quarry-green")
    for day in (date(2026, 4, 2), date(2026, 4, 16)):
        Happening.objects.create(
            site=site, kind="mowing", from_day=day, to_day=day, entered_at=NOON
        )
    response = desk.get("/desk/findings/1/")
    page = words_of(response)
    assert "worked out on June 16, 2026 from 54 trees looked at since May 20, 2026" in page
    assert "This follows the site, not the nursery." in page
    assert "It does not follow the nursery" in page
    assert "What brought it is not settled by counting." in page
    assert "2 mowing days since April 2, 2026" in page
    assert "Missing: no change of contractor; when stakes were put on" in page
    assert "no look at planting is on record for 13 trees" in page
    assert "month first seen, which is not when it happened" in page
    for tree in found.trees.all():
        assert f'href="/trees/{tree.ref}/"' in response.content.decode()


def test_drawings_and_tables_tell_the_same_counts(desk, found):
    page = desk.get("/desk/findings/1/").content.decode()
    drawn = "".join(re.findall(r"<svg.*?</svg>", page, flags=re.DOTALL))
    tables = "".join(re.findall(r"<table.*?</table>", page, flags=re.DOTALL))
    for told in ("13 of 14", "Mill Steps"):
        assert told in drawn
    assert "<td>13</td><td>14</td>" in tables
    # four filled dots and so on: one dot a tree in the pairs of the wide drawing
    assert drawn.count("c-dot-ember") > 13


def test_a_finding_that_is_not_there_is_not_found(desk):
    make.AreaFactory()
    assert desk.get("/desk/findings/7/").status_code == 404


def test_a_page_asks_no_more_questions_for_more_trees(desk, town):
    def count() -> int:
        town.search()
        with CaptureQueriesContext(connection) as asked:
            assert desk.get("/desk/findings/1/").status_code == 200
        return len(asked)

    few = count()
    town.plant("quarry-green", "maples", 20, 18, species="field_maple")
    assert count() == few


@pytest.mark.parametrize("word", ["confirmed", "watched", "dismissed"])
def test_a_word_is_kept_and_the_list_is_shown(desk, found, word):
    response = say(desk, found, word)
    assert response.status_code == 302
    found.refresh_from_db()
    assert found.state == word
    page = words_of(desk.get("/desk/findings/1/"))
    assert "“Seen on 4 June.”" in page
    assert "Ben Ruiz" in page


@pytest.mark.parametrize("reason", ["", "   ", "x" * 501])
def test_a_word_without_a_reason_is_shown_again_with_what_was_typed(desk, found, reason):
    response = say(desk, found, "watched", reason=reason)
    assert response.status_code == 422
    page = response.content.decode()
    assert 'id="do-watched" open' in page
    assert reason.strip() in page
    found.refresh_from_db()
    assert found.state == "open"


def test_the_second_of_two_people_reads_both_and_may_send_again(client, desk, found):
    say(desk, found, "confirmed", reason="The crew saw it.")
    response = say(desk, found, "dismissed", reason="It was hail.")
    assert response.status_code == 409
    page = words_of(response)
    assert "This finding changed meanwhile." in page
    assert "The crew saw it." in page
    assert "It was hail." in page
    version = re.search(r'name="version" value="(\d+)"', response.content.decode())[1]
    found.refresh_from_db()
    assert (found.state, str(found.version)) == ("confirmed", version)
    assert say(desk, found, "dismissed", reason="It was hail.").status_code == 302


def test_another_word_is_refused(desk, found):
    assert say(desk, found, "guilty").status_code == 422
    assert desk.post("/desk/findings/1/confirmed/", {"version": "x"}).status_code == 422


def test_a_finding_back_on_new_evidence_says_what_was_said_before(desk, town, found):
    say(desk, found, "dismissed", reason="It was hail.")
    town.plant("quarry-green", "maples", 2, 2, species="field_maple")
    town.search()
    page = words_of(desk.get("/desk/findings/1/"))
    assert "Back on new evidence: 2 more trees since Ben Ruiz wrote “It was hail.”" in page
    assert "back on new evidence" in words_of(desk.get("/desk/findings/"))


def test_rings_for_all_its_trees_are_one_draft_and_nothing_is_planned(desk, found):
    page = words_of(desk.get("/desk/findings/1/"))
    assert "13 mulch rings for trees that have none" in page
    response = desk.post(
        "/desk/findings/1/order/", {"version": found.version, "care": "mulch_ring"}
    )
    order = WorkOrder.objects.get()
    assert response.url == f"/orders/{order.number}/"
    assert (order.finding, order.state) == (found, "drafted")
    assert order.lines.count() == 13
    page = words_of(desk.get("/desk/findings/1/"))
    assert "Order 1 is drafted." in page
    assert "mulch rings for trees" not in page


@pytest.mark.parametrize(
    "data", [{}, {"version": "0", "care": "fertilize"}, {"version": "99", "care": "mulch_ring"}]
)
def test_an_order_that_cannot_be_drafted_says_so_and_leaves_nothing(desk, found, data):
    response = desk.post("/desk/findings/1/order/", data, follow=True)
    assert response.status_code == 200
    assert not WorkOrder.objects.exists()
    assert response.context["messages"]


def test_a_search_can_be_asked_for_at_once(desk, town):
    assert desk.post("/desk/findings/search/").status_code == 302
    assert Chore.objects.filter(kind="find_patterns", key=str(town.area.pk)).exists()


def test_the_notice_thanks_first_names_no_culprit_and_offers_that_it_was_cut_before(desk, found):
    page = words_of(desk.get("/desk/findings/1/letter/notice/"))
    assert page.index("Thank you for mowing Quarry Green") < page.index("Please keep mower")
    assert "Gracias por cuidar el pasto de Quarry Green" in page
    assert "13 of 14 trees" in page
    assert "13 de 14 árboles" in page
    assert "What did it is not settled, and neither is when." in page
    answers = [page.index(said) for said in ("it was cut when we came", "in the way", "stay out")]
    assert answers == sorted(answers)
    assert "ya estaba cortado cuando llegamos" in page
    assert "Until rings of chips are laid" in page


def test_the_notice_names_the_day_of_the_rings_once_it_is_planned(desk, found):
    order = make.WorkOrderFactory(state="planned", planned_for=TODAY + timedelta(days=4))
    make.OrderLineFactory(order=order, tree=found.trees.first(), care="mulch_ring")
    page = words_of(desk.get("/desk/findings/1/letter/notice/"))
    assert "are laid on Saturday, June 20" in page
    assert "sábado 20 de junio" in page


def test_ring_days_are_told_order_by_order_with_their_trees_and_those_that_have_one(desk, found):
    trees = list(found.trees.order_by("pk"))
    for days, some in ((4, trees[:3]), (11, trees[3:8])):
        order = make.WorkOrderFactory(state="planned", planned_for=TODAY + timedelta(days=days))
        for tree in some:
            make.OrderLineFactory(order=order, tree=tree, care="mulch_ring")
    given = TODAY - timedelta(days=30)
    CareGiven.objects.create(
        tree=trees[8], care="mulch_ring", given_from=given, given_to=given,
        given_precision="day", entered_at=NOON,
    )  # fmt: skip
    page = words_of(desk.get("/desk/findings/1/letter/notice/"))
    told = "on Saturday, June 20 at 3 trees and on Saturday, June 27 at 5 trees; 1 has one; "
    assert f"{told}for 4 the day is not set" in page.replace(" ;", ";")
    assert "13 of 14 trees" in page


def test_a_notice_counts_as_the_finding_does_when_a_tree_has_left(desk, town, found):
    gone = next(t for t in town.site("quarry-green").trees.all() if t not in found.trees.all())
    gone.left, gone.left_from, gone.left_to, gone.left_precision = "died", TODAY, TODAY, "day"
    gone.save()
    assert "13 of 14 trees" in words_of(desk.get("/desk/findings/1/letter/notice/"))
    tree = gone
    tree.latitude, tree.longitude = 36.62, -34.91
    other = found.trees.first()
    other.latitude, other.longitude = 36.62, -34.91
    other.save()
    assert "1 of the 14 trees counted has gone" in words_of(desk.get("/desk/findings/1/"))


def test_a_measured_tree_has_all_its_wounds_together_as_its_gap(found):
    tree = found.trees.select_related("area").first()
    tree.street_bearing = 90
    tree.save()
    wounds = [
        MeasuredWound(number=1, width_m=0.075, girth_m=0.2, from_hour=5, to_hour=8),
        MeasuredWound(number=2, width_m=0.0375, girth_m=0.2, from_hour=4, to_hour=5),
    ]
    measure_wounds(
        tree=tree, wounds=wounds, observer=tree.looks.first().observer, trained=True, day=TODAY,
        by=make.PersonFactory(sign_in="hand"), at=NOON,
    )  # fmt: skip
    [one] = [one for one in trees_of(found) if one.tree.pk == tree.pk]
    # 0.075 m lies as 4:15 to 8:45 and 0.0375 m as 3:22 to 5:37: together 3:22 to 8:45
    assert one.lost_from == one.lost_to == pytest.approx(100 * 5.375 / 12)
    assert one.bearing == pytest.approx(90 + 30 * 6, abs=20)


def test_the_letters_keep_both_languages_whatever_the_reader_reads(desk, found):
    spanish = desk.get("/desk/findings/1/letter/notice/", headers={"accept-language": "es"})
    page = words_of(spanish)
    assert "Thank you for mowing" in page
    assert "Gracias por cuidar el pasto" in page


@pytest.fixture
def nursery():
    town = Town()
    whole = dict.fromkeys(("base_path", "base_left", "base_right"), "whole")
    for site in ("mill-steps", "kiln-bank"):
        town.plant(site, "others", 25, 1)
        for tree in town.plant(site, "farrow", 12, 9, supplier="Farrow Hill Trees"):
            look = make.LookFactory(tree=tree, day=date(2025, 2, 18), channel="acceptance")
            Acceptance.objects.create(
                look=look,
                base_street="marked",
                flare="visible",
                ties="loose",
                accepted=True,
                **whole,
            )
    return town


def test_the_query_thanks_asks_and_says_how_they_came(desk, nursery):
    nursery.search()
    page = words_of(desk.get("/desk/findings/1/letter/query/"))
    assert "To Farrow Hill Trees" in page
    assert "Thank you for the trees. May we ask" in page
    assert "Of 24 trees that came from you and were looked at within a year, 18 have" in page
    assert "Of 50 other trees at the same sites, 2 do." in page
    assert "we looked at 18 of these 18: 18 had marks on the bark, 0 were whole" in page
    assert "How and where it came about is not settled" in page
    assert page.index("whole when they left us") < page.index("marked before that")
    assert "Gracias por los árboles." in page


def test_a_letter_that_does_not_fit_a_finding_is_not_there(desk, nursery):
    nursery.search()
    assert desk.get("/desk/findings/1/letter/notice/").status_code == 404
    assert desk.get("/desk/findings/1/letter/love/").status_code == 404


def test_a_site_without_points_has_a_list_and_no_plan(desk, town, found):
    found.site.trees.update(latitude=None, longitude=None)
    response = desk.get("/desk/findings/1/")
    assert response.context["plan"] is None
    assert words_of(desk.get("/desk/findings/1/letter/notice/")).count("13") >= 1


def test_a_finding_of_time_and_of_side_have_their_pages(desk):
    area = make.AreaFactory()
    side = {"street": 27, "of": 30, "verdict": "street"}
    finding(area=area, follows="side", subject="street", facts={"question": side})
    change = {"kind": "new_contractor", "day": "2026-03-15", "before": 0, "straddling": 1}
    site = make.SiteFactory(area=area, name="Mill Steps")
    time = {"question": change | {"after": 9}, "standing": "alone"}
    finding(
        area=area, number=2, follows="time", subject="mill", site=site, facts=time,
        with_sign=10, of_trees=12,
    )  # fmt: skip
    assert "27 have it on the street side" in words_of(desk.get("/desk/findings/1/"))
    assert "At Mill Steps, 9 of 10 trees" in words_of(desk.get("/desk/findings/2/"))
    assert "27 have it" in words_of(desk.get("/desk/findings/"))


def test_one_pair_of_eyes_is_said(desk):
    town = quarry_green()
    town.eyes[1] = town.eyes[0]
    for tree in town.site("quarry-green").trees.all():
        town.look(tree, day=WALKED + timedelta(days=1))
    town.search()
    assert "One person saw all of them." in words_of(desk.get("/desk/findings/1/"))


def test_a_tree_has_the_finding_it_belongs_to_beside_it(town, found, django_assert_max_num_queries):
    tree = found.trees.select_related("site", "planting", "area").first()
    with django_assert_max_num_queries(5):
        [(row, told)] = findings_about(tree)
    assert row == found
    assert told.startswith("13 of 14 trees at Quarry Green")
    found.state, found.reason, found.judged_by, found.judged_at = "dismissed", "a", "b", NOON
    found.save()
    assert findings_about(tree) == ()


@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_findings_are_for_the_desk(client, found, role):
    client.force_login(make.PersonFactory(role=role))
    assert client.get("/desk/findings/").status_code == 403
    assert say(client, found).status_code == 403


def test_a_docket_leads_to_the_finding_its_tree_belongs_to(desk, found):
    report = make.ReportFactory(tree=found.trees.first())
    response = desk.get(f"/desk/{report.pk}/")
    assert "13 of 14 trees at Quarry Green" in words_of(response)
    assert 'href="/desk/findings/1/"' in response.content.decode()
