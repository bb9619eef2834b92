"""Queue and docket: what they show, what they keep, and what a click does."""

import re
from datetime import timedelta
from html import unescape

import pytest
from django.utils import timezone

from survey.people.models import Mail
from survey.photos.models import Photo
from survey.reports.actions import triage
from survey.reports.models import Decision, DeskNote, Reply, Report
from survey.workorders.actions import draft_order
from tests.factories import (
    NOON,
    TODAY,
    AreaFactory,
    ContactFactory,
    LookFactory,
    PersonFactory,
    PhotoFactory,
    ReportFactory,
    SiteFactory,
    TreeFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def area():
    return AreaFactory()


@pytest.fixture
def person():
    return PersonFactory(sign_in="desk", name="Ben Ruiz")


@pytest.fixture
def desk(client, person):
    client.force_login(person)
    return client


@pytest.fixture
def report():
    return ReportFactory(contact=ContactFactory(email="nora@pellworth.example"))


def words_of(response):
    """What a reader sees of a page's main part."""
    page = response.content.decode().split("<main", 1)[1]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def send(desk, report, outcome="answer", version=None, **fields):
    given = {"reason": "seen", "message": "We come."} | fields
    version = report.version if version is None else version
    typed = {f"{outcome}-{name}": value for name, value in given.items()}
    return desk.post(f"/desk/{report.pk}/{outcome}/", typed | {"version": version})


# ------------------------------------------------------------------------------------- queue


def test_the_headline_is_worked_out_from_the_counts(desk):
    page = words_of(desk.get("/desk/"))
    assert "Nothing waits. The desk is clear." in page
    ReportFactory.create_batch(3, danger="wire")
    assert "Three dangers first: professionals only, nobody goes near." in words_of(
        desk.get("/desk/")
    )
    ReportFactory(day=TODAY - timedelta(days=9), submitted_at=NOON - timedelta(days=9), weight=1)
    page = words_of(desk.get("/desk/"))
    assert "One note has waited longer than the 3 days we promised: 9 days." in page


def test_a_row_says_why_it_is_here_where_it_is_and_what_was_said(desk):
    tree = TreeFactory(site=SiteFactory(name="Quarry Green"), tag="0407")
    LookFactory(tree=tree, condition="slipping")
    ReportFactory(tree=tree, words="The bark is cut", danger="hanging_limb", number=8)
    page = words_of(desk.get("/desk/"))
    for said in ("Danger to people", "June 16, note 8", "Quarry Green", "0407", "“The bark is cut”",
                 "Big branch hanging or broken overhead", "today", "no photo"):  # fmt: skip
        assert said in page
    assert "slipping" in desk.get("/desk/").content.decode()


def test_words_of_neighbors_are_never_markup(desk):
    ReportFactory(words="<script>alert(1)</script>", landmark="<b>x")
    report = ReportFactory(words="<img src=x onerror=alert(1)>")
    for address in ("/desk/", f"/desk/{report.pk}/"):
        page = desk.get(address).content.decode()
        assert "<script>alert" not in page
        assert "<img src=x" not in page


def test_the_sentence_is_the_address(desk):
    site = SiteFactory(name="Ferry Road", ref="ferry-road")
    ReportFactory(tree=TreeFactory(site=site), words="At the ferry")
    ReportFactory(words="Elsewhere")
    page = desk.get("/desk/?site=ferry-road")
    assert "At the ferry" in words_of(page)
    assert "Elsewhere" not in words_of(page)
    assert '<option value="ferry-road" selected>' in page.content.decode()


@pytest.mark.parametrize(
    "query",
    ["state=xyz", "site=no-such", "language=zz", "why=boredom", "page=0", "page=99999", "page=x",
     "state=answered&page=%00", "site=%00", "danger=2", "state=all&why=new"],
)  # fmt: skip
def test_an_address_made_up_shows_what_can_be_shown(desk, query):
    ReportFactory()
    assert desk.get(f"/desk/?{query}").status_code == 200


def test_more_of_a_reason_is_a_page_of_its_own_in_pages(desk):
    ReportFactory.create_batch(60, weight=1)
    page = desk.get("/desk/")
    assert "55 more" in words_of(page)
    assert "why=new" in page.content.decode()
    first = words_of(desk.get("/desk/?why=new"))
    assert "1 to 50 of 60" in first
    assert "51 to 60 of 60" in words_of(desk.get("/desk/?why=new&page=2"))


def test_the_queue_asks_the_same_few_questions_of_five_reports_and_of_fifty(
    desk, django_assert_num_queries
):
    """Session, person, sites, area, species; groups 2, rows 2, beliefs, gauges, replies; strips,
    newest, turns, pace 2, days waited; and the home area once more for the masthead."""
    ReportFactory.create_batch(5, weight=1)
    with django_assert_num_queries(QUEUE):
        desk.get("/desk/")
    ReportFactory.create_batch(45, weight=1, danger="wire")
    with django_assert_num_queries(QUEUE):
        desk.get("/desk/")


QUEUE = 18


def test_what_arrived_is_told_and_nothing_else(desk):
    ReportFactory()
    last = ReportFactory().pk
    assert desk.get("/desk/arrived/", {"after": last}).json() == {"n": 0, "words": ""}
    ReportFactory.create_batch(3)
    told = desk.get("/desk/arrived/", {"after": last}).json()
    assert told == {"n": 3, "words": "3 arrived while you read."}
    for hostile in ("", "x", "-1", "9" * 40, "١", "1;drop"):
        assert desk.get("/desk/arrived/", {"after": hostile}).json()["n"] == 0


# ------------------------------------------------------------------------------------- docket


def test_a_docket_shows_what_was_said_and_what_is_known(desk, report):
    LookFactory(tree=report.tree, condition="slipping", day=TODAY - timedelta(days=200))
    Report.objects.update(extent="quarter_to_half", side="street", picture="slipping")
    report.signs.create(sign="bark_wound")
    page = words_of(desk.get(f"/desk/{report.pk}/"))
    for said in ("“The bark is cut at the bottom”", "Bark is gone", "Quarter to half", "Street",
                 "Thin, with big gaps", "It was slipping when a trained person last looked",
                 "reaches them by e-mail"):  # fmt: skip
        assert said in page


def test_nothing_is_believed_that_nobody_saw(desk, report):
    page = words_of(desk.get(f"/desk/{report.pk}/"))
    assert "No trained person has looked at this tree yet." in page
    lost = ReportFactory(tree=None, site=None, area=report.area, landmark="old elm")
    assert "names no tree yet" in words_of(desk.get(f"/desk/{lost.pk}/"))


def test_a_docket_of_another_town_or_none_is_not_there(desk):
    far = AreaFactory(ref="birchfield", name="Birchfield", is_home=False)
    other = ReportFactory(tree=TreeFactory(planting__area=far, site__area=far))
    for number in (other.pk, 999_999):
        assert desk.get(f"/desk/{number}/").status_code == 404
        assert desk.post(f"/desk/{number}/answer/").status_code == 404


AFTER = {"answer": "answered", "ask": "asked", "set_aside": "set_aside", "watch": "answered"}


@pytest.mark.parametrize(("outcome", "state"), AFTER.items())
def test_a_decision_leads_to_the_next_docket_with_a_way_back(desk, report, outcome, state):
    following = ReportFactory()
    more = {"look_due": str(TODAY + timedelta(days=30))} if outcome == "watch" else {}
    response = send(desk, report, outcome, **more)
    assert response.headers["Location"] == f"/desk/{following.pk}/"
    report.refresh_from_db()
    assert report.state == state
    page = desk.get(response.headers["Location"])
    assert "Take it back" in words_of(page)
    assert "10 minutes left" in words_of(page)


def test_whoever_works_down_the_queue_is_not_sent_back_to_the_dangers_on_top(desk):
    ReportFactory(danger="wire")
    heavy, light = ReportFactory(weight=2), ReportFactory(weight=1)
    ReportFactory(state="asked")
    assert send(desk, heavy).headers["Location"] == f"/desk/{light.pk}/"
    # Below the last one only a note that waits for its neighbor is left: the queue says so.
    assert send(desk, light).headers["Location"] == "/desk/"


def test_a_docket_from_far_down_the_queue_stands_in_the_rail_with_what_follows_it(desk):
    danger = ReportFactory(danger="wire")
    reports = [ReportFactory(weight=3 - n / 10) for n in range(14)]
    page = desk.get(f"/desk/{reports[11].pk}/")
    rail = page.content.decode().split('<aside class="rail"', 1)[1]
    at = [f'href="/desk/{one.pk}/"' in rail for one in [danger, *reports]]
    assert at == [True] + [False] * 11 + [True] * 3
    assert f'href="/desk/{reports[11].pk}/" aria-current="page"' in rail


def test_notes_of_another_year_say_their_year(desk, report):
    last_year = TODAY.replace(year=TODAY.year - 1)
    old = ReportFactory(tree=report.tree, day=last_year, number=77, seen_on=last_year)
    said = f"June {last_year.day}, {last_year.year}, note 77"
    page = desk.get(f"/desk/{report.pk}/")
    assert words_of(page).count(said) == 3  # beside this note, to join it to, in the rail
    assert f"June {TODAY.day}, note {report.number}" in words_of(page)
    assert said in words_of(desk.get("/desk/?state=all"))
    assert old.day == last_year


@pytest.mark.parametrize("asked", ["state=set_aside", "language=es", "danger=1", "why=replied"])
def test_a_sentence_that_no_note_fits_does_not_say_that_the_desk_is_clear(desk, report, asked):
    words = words_of(desk.get(f"/desk/?{asked}"))
    assert "No note fits this sentence." in words
    assert "Nothing waits" not in words


def test_only_what_has_waited_longer_than_promised_is_marked_late(desk):
    for days in (3, 4):
        ReportFactory(day=TODAY - timedelta(days=days))
    late = {row.clock: row.is_late for group in desk.get("/desk/").context["groups"]
            for row in group["rows"]}  # fmt: skip
    assert late == {"3 days": False, "4 days": True}  # three days are promised


def test_the_tree_of_the_report_is_always_among_those_planted_with_it(desk, report):
    planting = report.tree.planting
    for n in range(30):
        TreeFactory(planting=planting, site=report.tree.site, walk_order=n)
    type(report.tree).objects.filter(pk=report.tree_id).update(walk_order=99)
    page = desk.get(f"/desk/{report.pk}/")
    assert len(page.context["group"]) == 24
    assert report.tree in page.context["group"]
    assert page.context["in_group"] == 31


def test_the_last_decision_leads_to_the_empty_queue(desk, report):
    assert send(desk, report).headers["Location"] == "/desk/"


def test_taking_back_opens_the_report_and_tells_nobody(desk, report):
    send(desk, report)
    decision = Decision.objects.get()
    response = desk.post(f"/desk/undo/{decision.pk}/")
    assert response.headers["Location"] == f"/desk/{report.pk}/"
    report.refresh_from_db()
    assert report.state == "new"
    assert Mail.objects.get().state == "withdrawn"
    again = desk.post(f"/desk/undo/{decision.pk}/", follow=True)
    assert again.status_code == 200
    assert "Another decision came after" in again.content.decode()


def test_an_order_is_taken_back_by_dropping_it(desk, person, report):
    order = draft_order(
        area=report.area,
        why="cut bark",
        who="volunteer",
        window_from=TODAY,
        window_to=TODAY + timedelta(days=400),
        lines=[(report.tree, "water", "10 gallons")],
        by=person,
        at=NOON,
        reports=[report],
        message="We water it.",
    )
    page = desk.get("/desk/")
    assert "is ordered" in words_of(page)
    desk.post(f"/desk/undo/{Decision.objects.get().pk}/")
    report.refresh_from_db()
    order.refresh_from_db()
    assert (report.state, order.state) == ("new", "dropped")
    assert Mail.objects.get().state == "withdrawn"


@pytest.mark.parametrize(
    ("outcome", "wrong", "said"),
    [
        ("answer", {"reason": ""}, "required"),
        ("answer", {"message": "  "}, "required"),
        ("answer", {"reason": "x" * 501}, "500"),
        ("answer", {"message": "x" * 4001}, "4000"),
        ("answer", {"reason": "a\x00b"}, "Null"),
        ("watch", {"look_due": "2020-01-01"}, "That day is over"),
        ("watch", {"look_due": "soon"}, "valid date"),
        ("danger", {"danger": "wet paint"}, "valid choice"),
        ("join", {"other": ""}, "Choose the note"),
        ("join", {"other_day": "2026-06-16", "other_number": "77"}, "no note of that day"),
        ("join", {"other_day": "2026-06-16"}, "Give both"),
        ("join", {"other": "999999"}, "valid choice"),
    ],
)
def test_a_refused_decision_keeps_everything_typed(desk, report, outcome, wrong, said):
    response = send(desk, report, outcome, **{"reason": "my reason", "message": "my words"} | wrong)
    page = response.content.decode()
    assert response.status_code == 422
    assert said in unescape(page)
    assert "Everything you typed is still here." in page
    assert page.split("<title>")[1].startswith("Error:")
    for name in (
        {"reason", "message"} - set(wrong) - ({"message"} if outcome == "danger" else set())
    ):
        assert {"reason": "my reason", "message": "my words"}[name] in page
    assert f'id="do-{outcome}" open' in page
    report.refresh_from_db()
    assert report.version == 0


def test_the_second_of_two_people_sees_both_and_loses_nothing(client, desk, report):
    second = PersonFactory(name="Cleo Marsh")
    triage.answer_report(
        report=report, version=0, reason="theirs", message="Their words.", by=second, at=NOON
    )
    report.version = 0
    response = send(desk, report, "ask", reason="mine", message="My question?")
    page = words_of(response)
    assert response.status_code == 409
    for said in ("A colleague was faster.", "theirs", "Their words.", "Cleo Marsh", "mine",
                 "My question?"):  # fmt: skip
        assert said in page
    note = DeskNote.objects.get()
    assert note.fields == {"ask-reason": "mine", "ask-message": "My question?"}
    assert note.seen_version == 0
    assert 'name="version" value="1"' in response.content.decode(), "it can be sent again"
    again = words_of(desk.get(f"/desk/{report.pk}/"))
    assert "My question?" in again


def test_a_refused_form_that_is_outdated_too_is_not_sent_with_the_new_version(desk, report):
    """Else a form with a slip in it would overrule a colleague without a word."""
    second = PersonFactory()
    triage.answer_report(report=report, version=0, reason="a", message="b", by=second, at=NOON)
    report.version = 0
    response = send(desk, report, "ask", reason="")
    assert 'name="version" value="0"' in response.content.decode()


def test_what_is_typed_is_kept_without_deciding(desk, report):
    url = f"/desk/{report.pk}/note/"
    told = desk.post(
        url, {"version": "0", "answer-reason": "half"}, headers={"accept": "application/json"}
    )
    assert told.json() == {"said": "What you typed is kept."}
    desk.post(url, {"version": "0", "ask-message": "Is it wet?", "other": "not a field of ours"})
    assert DeskNote.objects.get().fields == {"answer-reason": "half", "ask-message": "Is it wet?"}
    page = desk.get(f"/desk/{report.pk}/").content.decode()
    assert "half" in page
    assert "Is it wet?" in page
    desk.post(url, {"version": "0", "answer-reason": ""})
    assert DeskNote.objects.get().fields == {"ask-message": "Is it wet?"}
    too_much = desk.post(
        url,
        {"version": "0", "answer-message": "x" * 30_000},
        headers={"accept": "application/json"},
    )
    assert too_much.status_code == 422
    assert DeskNote.objects.get().fields == {"ask-message": "Is it wet?"}


def test_somebody_else_does_not_see_what_i_typed(client, report):
    for name in ("one", "two"):
        client.force_login(PersonFactory(sign_in=name))
        if name == "one":
            client.post(f"/desk/{report.pk}/note/", {"version": "0", "answer-reason": "between us"})
    assert "between us" not in client.get(f"/desk/{report.pk}/").content.decode()


def test_a_colleague_who_has_it_open_is_named(desk, report):
    triage.open_docket(report=report, by=PersonFactory(name="Cleo Marsh"), at=timezone.now())
    assert "Cleo Marsh has this open." in words_of(desk.get(f"/desk/{report.pk}/"))
    assert "Open by Cleo Marsh" in words_of(desk.get(f"/desk/{ReportFactory().pk}/"))


# ------------------------------------------------------------------------------------- danger


def test_an_open_danger_is_said_first_and_cleared_by_a_qualified_person_alone(client, report):
    Report.objects.update(danger="hanging_limb")
    for qualified in (None, TODAY - timedelta(days=1)):
        client.force_login(PersonFactory(qualified_until=qualified))
        page = client.get(f"/desk/{report.pk}/")
        assert "Big branch hanging or broken overhead" in words_of(page)
        assert "do-clear" not in page.content.decode()
        assert send(client, report, "clear").status_code == 403
    client.force_login(PersonFactory(qualified_until=TODAY))
    assert "do-clear" in client.get(f"/desk/{report.pk}/").content.decode()
    assert send(client, report, "clear").headers["Location"] == f"/desk/{report.pk}/"
    report.refresh_from_db()
    assert report.danger_cleared_at is not None


def test_in_danger_the_suggested_words_send_nobody_near(desk, report):
    Report.objects.update(danger="hanging_limb")
    page = words_of(desk.get(f"/desk/{report.pk}/"))
    assert page.count("Please stay away from the tree until we say it is safe.") == 5


# -------------------------------------------------------------------- photos, place, contact


def ready(**fields):
    return PhotoFactory(
        state="ready", picture="p.jpg", small="s.jpg", width=4, height=3, part="whole", **fields
    )


def test_hidden_photos_are_on_the_docket_and_accepted_there(desk, report):
    photo = ready()
    report.photos.add(photo)
    earlier = ready(shown="accepted")
    LookFactory(tree=report.tree).photos.add(earlier)
    LookFactory(tree=report.tree).photos.add(ready(), ready(shown="declined"))
    page = desk.get(f"/desk/{report.pk}/").content.decode()
    shown = set(re.findall(r"/photos/(photo\d+)/", page.split("<main")[1]))
    assert shown == {photo.key, earlier.key}
    back = {"back": f"/desk/{report.pk}/"}
    response = desk.post(f"/desk/photos/{photo.key}/accept/", back)
    assert response.headers["Location"] == back["back"]
    photo.refresh_from_db()
    assert photo.shown == "accepted"
    desk.post(f"/desk/photos/{photo.key}/decline/", {"back": "https://evil.example/"})
    photo.refresh_from_db()
    assert photo.shown == "declined"
    assert desk.post(f"/desk/photos/{photo.key}/delete/").status_code == 404


def test_a_photo_that_is_not_ready_is_not_accepted(desk, report):
    photo = PhotoFactory()
    report.photos.add(photo)
    page = desk.post(f"/desk/photos/{photo.key}/accept/", {"back": "//evil.example"})
    assert page.headers["Location"] == "/desk/"
    assert Photo.objects.get().shown == "hidden"
    assert "Being prepared" in words_of(desk.get(f"/desk/{report.pk}/"))


def test_a_report_is_placed_on_a_tree_found_by_search(desk, report):
    tree = TreeFactory(tag="0999")
    page = desk.get(f"/desk/{report.pk}/?find=0999").content.decode()
    assert f'value="tree:{tree.ref}"' in page
    desk.post(f"/desk/{report.pk}/place/", {"version": 0, "place": f"tree:{tree.ref}"})
    report.refresh_from_db()
    assert report.tree == tree
    stale = desk.post(
        f"/desk/{report.pk}/place/", {"version": 0, "place": f"site:{tree.site.ref}"}, follow=True
    )
    assert "A colleague changed this note" in stale.content.decode()
    for hostile in ("", "tree:", "tree:../x", "person:keeper", "tree:" + "x" * 99):
        desk.post(f"/desk/{report.pk}/place/", {"version": 1, "place": hostile})
    report.refresh_from_db()
    assert (report.tree, report.version) == (tree, 1)
    assert (
        desk.post(f"/desk/{report.pk}/place/", {"version": 1, "place": "tree:no-such"}).status_code
        == 404
    )
    assert desk.get(f"/desk/{report.pk}/?find=%00%E2%80%AE'").status_code == 200


def test_reports_that_may_be_the_same_stand_side_by_side(desk, report):
    other = ReportFactory(
        tree=report.tree, words="It is scraped", day=TODAY - timedelta(days=4), number=3
    )
    Report.objects.filter(pk=report.pk).update(likely_same_as=other)
    page = words_of(desk.get(f"/desk/{report.pk}/"))
    assert re.search(r"June 12, note 3 “It is scraped” same tree 4 days likely the same", page)
    assert send(desk, report, "join", other=str(other.pk)).status_code == 302
    report.refresh_from_db()
    assert report.joined_to == other


def test_any_note_can_be_named_by_its_day_and_number(desk, report):
    other = ReportFactory(day=TODAY - timedelta(days=60), number=5)
    send(desk, report, "join", other="", other_day=str(other.day), other_number="5", message="")
    report.refresh_from_db()
    assert report.joined_to == other


def test_a_neighbor_is_forgotten_on_request(desk, report):
    page = desk.post(f"/desk/{report.pk}/erase/", follow=True)
    assert "they left no address" in words_of(page)
    report.contact.refresh_from_db()
    assert report.contact.email == ""


def test_a_reply_is_on_the_docket(desk, report):
    Reply.objects.create(report=report, words="Yes, it is soggy.", at=NOON)
    assert "Yes, it is soggy." in words_of(desk.get(f"/desk/{report.pk}/"))
    assert "They have replied" in words_of(desk.get("/desk/"))


def test_the_docket_asks_a_bounded_number_of_questions(desk, report, django_assert_max_num_queries):
    ReportFactory.create_batch(30, tree=report.tree)
    LookFactory.create_batch(30, tree=report.tree)
    TreeFactory.create_batch(30, planting=report.tree.planting)
    desk.get(f"/desk/{report.pk}/")
    # ten of them for causes: looks and signs, answers, events, weather, company, rules, verdicts
    # one for findings that the tree belongs to, and one for the words of local rules
    with django_assert_max_num_queries(58):
        desk.get(f"/desk/{report.pk}/")


def test_an_unknown_decision_is_no_decision(desk, report):
    for outcome in ("delete", "order", "clear_all"):
        assert send(desk, report, outcome).status_code in (403, 404)
    report.refresh_from_db()
    assert report.version == 0
