"""The whole way of a report with a plain browser: from the first page to the answer."""

import uuid
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from survey.chores.registry import handlers
from survey.reports.actions.intake import write_reply
from survey.reports.models import Decision, Draft, Report
from tests.factories import NOON, TODAY, LookFactory, OrderLineFactory, WorkOrderFactory
from tests.pictures import picture

pytestmark = pytest.mark.django_db


def upload(name="tree.jpg", data=None, kind="image/jpeg"):
    return SimpleUploadedFile(name, data or picture(), kind)


def test_a_report_from_the_first_page_to_its_private_page(neighbor, tree):
    neighbor.open("/")
    assert neighbor.heading == "Something wrong with a tree?"
    neighbor.open(neighbor.link("Report a tree"))
    assert neighbor.heading == "Is anybody in danger?"
    assert not Draft.objects.exists()  # looking begins nothing

    neighbor.send(danger="none")
    assert neighbor.heading == "Which street or place?"
    neighbor.open(neighbor.link("Ferry Road"))
    assert neighbor.heading == "Which tree is it?"
    assert "Linden, by the bus shelter" in neighbor.html

    neighbor.send(tree=tree.ref)
    assert neighbor.heading == "What do you see?"
    neighbor.send(signs=["bark_wound", "bark_sunken"])
    assert neighbor.heading == "How does it look, all in all?"
    neighbor.send(picture="slipping")
    assert neighbor.heading == "How far round does it go?"
    neighbor.send(extent="quarter_to_half", side="street")
    assert neighbor.heading == "Three photos help most"
    neighbor.send(photo_whole=upload(), photo_base=upload())
    assert neighbor.heading == "Anything to add?"
    neighbor.send(words="Cut by a mower?", contact="ann@pellworth.example")
    assert neighbor.heading == "Is this right?"
    for said in ("Linden", "0214", "Bark is gone", "Quarter to half", "Street", "Cut by a mower?"):
        assert said in neighbor.html

    neighbor.send()
    assert neighbor.heading == "Thank you. We have it."
    assert "June 16, note 1" in neighbor.html
    assert "Do not paint or wrap it." in neighbor.html
    neighbor.open(neighbor.link("Follow this report"))
    assert neighbor.url.startswith("/note/")
    assert "Nobody has read it yet" in neighbor.heading

    report = Report.objects.get()
    assert (report.tree, report.picture, report.extent) == (tree, "slipping", "quarter_to_half")
    assert (report.side, report.seen_on, report.words) == ("street", TODAY, "Cut by a mower?")
    assert {sign.sign for sign in report.signs.all()} == {"bark_wound", "bark_sunken"}
    assert report.photos.count() == 2
    assert report.contact.email == "ann@pellworth.example"
    assert not Draft.objects.exists()


def test_no_page_of_the_way_needs_a_script(neighbor, tree):
    pages = ["/", "/report/"]
    neighbor.answers_all(tree)
    pages += [
        f"/report/{neighbor.key}/{step}/"
        for step in ("danger", "where", "signs", "overall", "extent", "photos", "words", "check")
    ]
    for url in pages:
        html = neighbor.open(url).html
        assert "<script>" not in html
        assert " onclick=" not in html
        assert " style=" not in html
        assert html.count("<h1") == 1


def test_headings_and_titles_differ_from_page_to_page(neighbor, tree):
    neighbor.answers_all(tree)
    steps = ("danger", "where", "signs", "overall", "extent", "photos", "words", "check")
    titles = [neighbor.open(f"/report/{neighbor.key}/{step}/").title for step in steps]
    assert len(set(titles)) == len(titles)


def test_a_sign_that_does_not_ask_how_far_round_skips_that_page(neighbor, tree):
    neighbor.begins().picks(tree).send(signs=["wilting"]).send(picture="cannot_tell")
    assert neighbor.url.endswith("/photos/")


def test_only_the_side_is_asked_when_only_the_side_matters(neighbor, tree):
    neighbor.begins().picks(tree).send(signs=["bark_wound"]).send(picture="slipping")
    assert 'name="extent"' in neighbor.html
    assert 'name="side"' not in neighbor.html


def test_a_change_link_comes_back_to_the_check_page(neighbor, tree):
    neighbor.answers_all(tree)
    neighbor.open(neighbor.link("Change what you see")).send(signs=["fungus"])
    assert neighbor.url.endswith("/check/")
    assert "Mushroom or shelf" in neighbor.html
    assert "Quarter to half" not in neighbor.html  # no sign asks for it any more


def test_a_changed_sign_that_asks_more_asks_it_at_once(neighbor, tree):
    neighbor.begins().picks(tree).send(signs=["wilting"]).send(picture="slipping").send()
    neighbor.send(words="x")
    assert neighbor.url.endswith("/check/")
    neighbor.open(f"/report/{neighbor.key}/signs/").send(signs=["bark_wound"])
    assert neighbor.url.endswith("/extent/")
    neighbor.send(extent="all_round")
    assert neighbor.url.endswith("/check/")


def test_going_back_shows_what_was_answered(neighbor, tree):
    neighbor.answers_all(tree)
    assert 'value="bark_wound" checked' in neighbor.open(f"/report/{neighbor.key}/signs/").html
    assert 'value="slipping" checked' in neighbor.open(f"/report/{neighbor.key}/overall/").html
    html = neighbor.open(f"/report/{neighbor.key}/words/").html
    assert "The bark is cut at the bottom" in html


@pytest.mark.parametrize("step", ["signs", "overall", "extent", "photos", "words", "check"])
def test_no_question_can_be_skipped(neighbor, area, step):
    neighbor.begins()
    neighbor.open(f"/report/{neighbor.key}/{step}/")
    assert neighbor.url.endswith("/where/")


def test_the_last_step_cannot_be_posted_first(neighbor, area):
    neighbor.begins()
    neighbor.send(f"/report/{neighbor.key}/check/")
    assert neighbor.url.endswith("/where/")
    assert not Report.objects.exists()


# danger -------------------------------------------------------------------------------------------


def test_a_wire_shows_the_emergency_number_first_and_then_the_power_company(neighbor, area):
    neighbor.begins("wire")
    assert neighbor.heading == "Stand back. Call now."
    html = neighbor.html
    assert html.index('href="tel:911"') < html.index('href="tel:5550199"')
    assert "35 ft" in html
    assert "tel:5550111" not in html.split("<footer")[0]


def test_a_hanging_limb_shows_the_hazard_line_and_what_to_do_when_it_is_closed(neighbor, area):
    neighbor.begins("hanging_limb")
    html = neighbor.html
    assert html.index('href="tel:5550111"') < html.index('href="tel:5550112"')
    assert html.index('href="tel:5550112"') < html.index('href="tel:911"')
    assert "Town Gardens hazard line, 6 am to 10 pm" in html
    assert "two tree heights" in html


def test_without_a_hazard_line_the_fallback_and_the_emergency_number_remain(neighbor, area):
    area.hazard_line = ""
    area.save()
    html = neighbor.begins("crack").html
    assert html.index('href="tel:5550112"') < html.index('href="tel:911"')
    area.hazard_fallback = ""
    area.save()
    neighbor.begins("crack")
    assert 'class="call is-first" href="tel:911"' in neighbor.html


def test_a_danger_asks_only_where_and_for_words(neighbor, tree):
    neighbor.begins("new_lean")
    neighbor.open(neighbor.link("Then send us the place")).picks(tree)
    assert neighbor.heading == "Anything to add?"
    neighbor.send(words="")
    assert neighbor.heading == "Is this right?"
    neighbor.send()
    assert "Have you called?" in neighbor.html
    report = Report.objects.get()
    assert (report.danger, report.tree, report.words) == ("new_lean", tree, "")
    assert report in Report.objects.in_danger()


def test_a_danger_never_gets_advice_that_brings_anybody_near(neighbor, tree):
    neighbor.begins("hanging_limb").picks(tree).send(words="").send()
    assert "Today you can" not in neighbor.html


@pytest.mark.parametrize("word", ["low risk", "moderate", "high risk", "extreme", "risk rating"])
def test_no_page_rates_a_risk(neighbor, tree, word):
    neighbor.begins("hanging_limb")
    seen = neighbor.html
    neighbor.picks(tree).send(words="").send()
    assert word not in (seen + neighbor.html).lower()


def test_something_else_asks_for_words(neighbor, tree):
    neighbor.begins("something_else").picks(tree).send(words="")
    assert "Tell us in a few words" in neighbor.html
    neighbor.send(words="It hums")
    assert neighbor.heading == "Is this right?"


def test_tapping_nothing_we_know_keeps_the_danger_page(neighbor, area):
    neighbor.open("/report/").send(danger="<script>")
    assert neighbor.heading == "Is anybody in danger?"
    assert neighbor.title.startswith("Error:")
    assert not Draft.objects.exists()


# where --------------------------------------------------------------------------------------------


def test_a_tree_is_found_by_its_tag(neighbor, tree):
    neighbor.begins()
    neighbor.open(f"{neighbor.url}?q=0214")
    assert "by the bus shelter" in neighbor.html
    neighbor.send(f"/report/{neighbor.key}/where/", tree=tree.ref)
    assert neighbor.url.endswith("/signs/")


def test_a_tree_that_is_not_in_the_list_is_a_landmark(neighbor, tree):
    neighbor.begins()
    neighbor.open(f"/report/{neighbor.key}/where/elsewhere/?site=ferry-road")
    neighbor.send(f"{neighbor.url}", landmark="In front of  number 12\n")
    assert neighbor.url.endswith("/signs/")
    draft = Draft.objects.get()
    assert draft.answers["landmark"] == "In front of number 12"
    assert draft.answers["site"] == "ferry-road"


def test_a_landmark_replaces_a_tree_chosen_before(neighbor, tree):
    neighbor.begins().picks(tree)
    neighbor.open(f"/report/{neighbor.key}/where/elsewhere/").send(landmark="by the well")
    assert "tree" not in Draft.objects.get().answers


def test_a_trees_own_page_leads_to_a_report_about_it(neighbor, tree):
    neighbor.open(f"/trees/{tree.ref}/")
    neighbor.open(neighbor.link("Report this tree"))
    assert neighbor.heading == "Is anybody in danger?"
    assert "0214" in neighbor.html
    neighbor.send(danger="none", tree=tree.ref)
    assert neighbor.url.endswith("/signs/")


def test_a_tree_reported_lately_says_so(neighbor, tree):
    neighbor.answers_all(tree).send()
    neighbor.begins()
    html = neighbor.open(f"/report/{neighbor.key}/where/at/ferry-road/").html
    assert "Reported June 16. Add what you see." in html


# sending ------------------------------------------------------------------------------------------


def test_sending_twice_makes_one_report_and_shows_the_same_receipt(neighbor, tree):
    neighbor.answers_all(tree)
    check = neighbor.url
    first = neighbor.send(check).html
    again = neighbor.send(check).html
    assert Report.objects.count() == 1
    assert first == again
    assert "note 1" in again


def test_back_after_sending_shows_the_receipt_instead_of_a_form(neighbor, tree):
    neighbor.answers_all(tree).send()
    neighbor.open(f"/report/{neighbor.key}/words/")
    assert neighbor.heading == "Thank you. We have it."


def test_the_receipt_opens_in_another_browser_and_keeps_its_status_link(neighbor, tree):
    link = neighbor.answers_all(tree).send().link("Follow this report")
    other = type(neighbor)().open(neighbor.url)
    assert other.link("Follow this report") == link


def test_another_report_close_by_is_not_asked_again_where_and_whom_to_answer(neighbor, tree):
    neighbor.answers_all(tree, contact="ann@pellworth.example").send()
    neighbor.send(f"/report/{neighbor.key}/another/")
    assert neighbor.heading == "Is anybody in danger?"
    neighbor.send(danger="none")
    assert neighbor.url.endswith("/where/at/ferry-road/")
    neighbor.send(tree=tree.ref).send(signs=["wilting"]).send(picture="slipping").send()
    assert "ann@pellworth.example" in neighbor.html


# the private page ---------------------------------------------------------------------------------


@pytest.fixture
def sent(neighbor, tree):
    neighbor.answers_all(tree).send()
    neighbor.open(neighbor.link("Follow this report"))
    return neighbor


def decide(report, outcome, message, **more):
    return Decision.objects.create(
        report=report, outcome=outcome, at=NOON, by="person:x", reason="r", message=message, **more
    )


def test_private_pages_are_no_ones_elses(sent):
    for url in (sent.url, f"/report/{'x' * 43}/signs/"):
        headers = sent.client.get(url).headers
        assert headers["Referrer-Policy"] == "no-referrer"
        assert "no-store" in headers["Cache-Control"]
        assert "noindex" in headers["X-Robots-Tag"]


def test_the_page_tells_an_answer_only_when_it_cannot_be_undone_any_more(sent):
    report = Report.objects.get()
    soon = timezone.now() + timedelta(minutes=5)
    decision = decide(report, "answer", "It is only asleep.", undo_until=soon)
    assert "It is only asleep." not in sent.open(sent.url).html
    Decision.objects.filter(pk=decision.pk).update(undo_until=timezone.now())
    assert "It is only asleep." in sent.open(sent.url).html
    Decision.objects.filter(pk=decision.pk).update(undone_at=NOON, undone_by="person:x")
    assert "It is only asleep." not in sent.open(sent.url).html


def test_the_reasons_written_for_the_desk_stay_at_the_desk(sent):
    report = Report.objects.get()
    decision = decide(report, "answer", "It is only asleep.")
    Decision.objects.filter(pk=decision.pk).update(reason="known complainer")
    assert "known complainer" not in sent.open(sent.url).html


def test_work_is_told_from_order_to_the_look_afterward(sent):
    report = Report.objects.get()
    Report.objects.update(state="ordered")
    decide(report, "order", "We will put a ring of mulch round it.")
    order = WorkOrderFactory(area=report.area, state="planned", planned_for=TODAY)
    order.reports.add(report)
    line = OrderLineFactory(order=order, tree=report.tree)
    assert "Somebody comes on June 16." in sent.open(sent.url).heading
    order.state, order.done_on, order.done_by = "done", TODAY, "the Saturday group"
    order.save()
    assert sent.open(sent.url).heading == "The work is done."
    order.state, order.confirmed_at = "confirmed", NOON
    order.save()
    assert sent.open(sent.url).heading == "The work is done, and we looked again."
    for presence, condition, heading, event in (
        ("standing", "holding", "and it held.", "We looked again, and the work held"),
        (
            "standing",
            "failing",
            "but the tree is not well yet.",
            "We looked again: the tree is not well yet",
        ),
        (
            "standing",
            "dead",
            "but we found no life in the tree.",
            "We looked again and found no life in the tree. We look once more",
        ),
        ("gone", "", "but the tree has died.", "We looked again: the tree has died"),
    ):
        line.look = LookFactory(tree=report.tree, presence=presence, condition=condition)
        line.save()
        assert sent.open(sent.url).heading == f"The work is done, {heading}"
        assert event in sent.html


def test_whoever_decided_has_read_it_also_while_the_decision_can_be_taken_back(sent):
    report = Report.objects.get()
    assert sent.open(sent.url).heading == "We have it. Nobody has read it yet."
    soon = timezone.now() + timedelta(minutes=5)
    decision = decide(report, "answer", "It is only asleep.", undo_until=soon)
    assert sent.open(sent.url).heading == "We have read it."
    Decision.objects.filter(pk=decision.pk).update(undone_at=NOON, undone_by="person:x")
    assert sent.open(sent.url).heading == "We have read it."
    assert "Somebody reads it by then" not in sent.html


def test_a_joined_report_hears_what_is_decided_about_the_other(sent, tree):
    report = Report.objects.get()
    other = type(sent)()
    other.answers_all(tree).send()
    root = Report.objects.exclude(pk=report.pk).get()
    Report.objects.filter(pk=report.pk).update(state="joined", joined_to=root)
    decide(report, "join", "Another neighbor told us too.")
    decide(root, "answer", "We looked: it is asleep.")
    assert "We looked: it is asleep." in sent.open(sent.url).html


def test_an_answer_to_our_question_is_taken_once_and_thanked(sent):
    report = Report.objects.get()
    Report.objects.update(state="asked")
    decide(report, "ask", "Is the cut fresh?")
    assert sent.open(sent.url).heading == "We need to ask you something."
    assert "Is the cut fresh?" in sent.html
    ref = str(uuid.uuid4())
    sent.send(words="Yes, still wet", client_ref=ref)
    assert "Yes, still wet" in sent.html
    assert 'name="words"' not in sent.html
    assert sent.heading == "Thank you. Somebody reads your answer next."
    report.refresh_from_db()
    assert report.state == "new"
    sent.send(words="Yes, still wet", client_ref=ref)
    assert report.replies.count() == 1


def test_the_page_of_a_danger_says_whom_to_call_until_it_is_told_over(neighbor, tree):
    neighbor.begins("hanging_limb").picks(tree)
    neighbor.send(words="over the bench").send()
    page = neighbor.open(neighbor.link("Follow this report")).url
    report = Report.objects.get()
    assert neighbor.heading == "We have it, and it counts as a danger."
    assert 'href="tel:5550111"' in neighbor.html
    assert "Have you called?" in neighbor.html
    decide(report, "answer", "Keep well away. A person is on the way.")
    assert 'href="tel:5550111"' in neighbor.open(page).html
    soon = timezone.now() + timedelta(minutes=5)
    clear = decide(report, "clear", "", undo_until=soon)
    assert "Have you called?" in neighbor.open(page).html
    Decision.objects.filter(pk=clear.pk).update(undo_until=None)
    assert neighbor.open(page).heading == "A qualified person looked. The danger is over."
    assert "Have you called?" not in neighbor.html
    assert neighbor.html.index("A qualified person cleared") < neighbor.html.index("on the way.")
    decide(report, "danger", "")
    assert 'href="tel:5550111"' in neighbor.open(page).html


def test_a_reply_too_long_is_given_back(sent):
    report = Report.objects.get()
    Report.objects.update(state="asked")
    decide(report, "ask", "Is the cut fresh?")
    sent.send(words="y" * 4001, client_ref=str(uuid.uuid4()))
    assert sent.page.status_code == 400
    assert "y" * 4001 in sent.html
    assert sent.title.startswith("Error:")


def test_telling_more_of_the_same_tree_asks_nothing_twice(sent, tree):
    sent.send(f"{sent.url}again/")
    sent.send(danger="none")
    assert sent.url.endswith("/signs/")
    assert "0214" in sent.html


def test_the_private_link_opens_by_pasting_it(sent):
    secret = sent.url.split("/")[2]
    sent.open("/note/").send(address=f" https://trees.example.org/note/{secret}/ ")
    assert sent.url == f"/note/{secret}/"
    sent.open("/note/").send(address="x" * 43)
    assert sent.page.status_code == 404
    assert sent.title.startswith("Error:")


def test_an_unknown_secret_gets_a_kind_page(neighbor, area):
    neighbor.open(f"/note/{'a' * 43}/")
    assert neighbor.page.status_code == 404
    assert neighbor.heading == "That link opens no report"


def test_every_kind_of_chore_a_report_writes_is_known(sent):
    assert {"match_report", "prepare_photo", "discard_original", "clear_old_drafts"} <= set(
        handlers
    )
    assert write_reply.__doc__
