"""Without a mouse: whatever has the focus is seen and ringed, and everything can be done."""

import json
import re

import pytest
from playwright.sync_api import expect

from tests.browser.windows import DESK, PHONE, window

PASSWORD = "bare, but alive"


def test_a_report_is_sent_with_tab_space_arrows_and_enter(pellworth, browser):
    with window(browser, pellworth.url, PHONE) as phone:
        press = phone.page.keyboard.press
        phone.go("/")
        phone.tab_to("Report a tree")
        press("Enter")
        phone.at("Is anybody in danger?")
        phone.tab_to("Nobody is in danger")
        press("Enter")
        phone.at("Which street or place?")
        phone.tab_to("Ferry Road")
        press("Enter")
        phone.at("Which tree is it?")
        phone.tab_to("tag")
        press("Enter")
        phone.at("What do you see?")
        phone.tab_to("Bark is gone")
        press("Space")
        phone.tab_to("Soil is dry")
        press("Space")
        phone.tab_to("Next")
        press("Enter")
        phone.at("How does it look, all in all?")
        phone.tab_to("Full of leaves")
        press("ArrowDown")
        press("ArrowDown")
        assert phone.focus()["value"] == "slipping"
        phone.tab_to("Next")
        press("Enter")
        phone.at("How far round does it go?")
        phone.tab_to("Less than a quarter")
        press("Space")
        phone.tab_to("Next")
        press("Enter")
        phone.at("Three photos help most")
        phone.tab_to("Next")
        press("Enter")
        phone.at("Anything to add?")
        phone.tab_to("In your own words")
        phone.page.keyboard.type("Typed without a mouse.")
        phone.tab_to("Next")
        press("Enter")
        phone.at("Is this right?")
        phone.says("Typed without a mouse.")
        phone.tab_to("Send this report")
        press("Enter")
        phone.at("Thank you. We have it.")


def test_errors_take_the_focus_and_lead_to_their_fields(pellworth, browser):
    with window(browser, pellworth.url, PHONE) as phone:
        press = phone.page.keyboard.press
        phone.go("/report/")
        phone.page.get_by_role("button", name="Nobody is in danger").click()
        phone.page.get_by_role("link", name="It is not in the list").click()
        phone.tab_to("The place, in your words")
        phone.tab_to("Next")
        press("Enter")
        expect(phone.page.locator("#errors")).to_be_focused()
        press("Tab")
        press("Enter")
        expect(phone.page.get_by_label("The place, in your words")).to_be_focused()


@pytest.fixture
def new_report(pellworth):
    """The key of a report that waits and that no danger is about."""
    found = pellworth.shell(
        "import json; from survey.reports.models import Report; print(json.dumps(list("
        "Report.objects.filter(area__is_home=True, state='new', danger='', tree__isnull=False)"
        ".order_by('-pk').values_list('pk', flat=True)[:1])))"
    )
    return json.loads(found)[0]


def test_a_docket_is_opened_decided_and_taken_back_with_keys(pellworth, browser, new_report):
    with window(browser, pellworth.url, DESK) as desk:
        page = desk.page
        press = page.keyboard.press
        desk.go("/sign-in/")
        desk.tab_to("Sign-in name")
        page.keyboard.type("desk")
        press("Tab")
        page.keyboard.type(PASSWORD)
        press("Enter")
        desk.comes_to("/desk/")
        page.wait_for_function("document.readyState === 'complete'")
        press("ArrowDown")
        first = desk.focus()["what"]
        press("ArrowDown")
        assert desk.focus()["what"] != first
        press("Enter")
        page.wait_for_url(re.compile(r"/desk/\d+/$"))

        desk.go(f"/desk/{new_report}/")
        press("a")
        expect(page.locator("#id_answer-reason")).to_be_focused()
        page.keyboard.type("Bark is dry, it heals by itself.")
        desk.tab_to("What the neighbor reads")
        press("Control+A")
        page.keyboard.type("Thank you. The wound has closed, nothing more is needed.")
        desk.tab_to("Answer and close")
        press("Enter")
        desk.says("is answered.")
        desk.tab_to("Take it back")
        press("Enter")
        desk.says("Taken back.")
        desk.go(f"/desk/{new_report}/")
        press("o")
        desk.page.wait_for_url(re.compile(r"/orders/new/"))
        desk.tab_to("Why")


@pytest.mark.parametrize(
    ("person", "path"),
    [
        ("desk", "/desk/"),
        ("desk", "/desk/{report}/"),
        ("desk", "/orders/new/"),
        ("walker", "/walks/ferry-road/"),
        ("walker", "/walks/doubts/"),
        ("walker", "/register/ferry-road/"),
        ("council", "/survival/"),
    ],
)
def test_tab_goes_through_a_whole_page_and_every_stop_is_seen(
    pellworth, browser, new_report, person, path
):
    """Nothing that has the focus lies under a sticky bar (WCAG 2.2, 2.4.11), nothing holds it."""
    with window(browser, pellworth.url, DESK) as opened:
        opened.sign_in(person, PASSWORD)
        opened.go(path.format(report=new_report))
        opened.tab_to("Skip to the page")
        stops = 0
        for _ in range(400):
            opened.page.keyboard.press("Tab")
            stop = opened.focus()
            if stop is None or "Skip to the page" in stop["what"]:
                break
            stops += 1
            assert stop["seen"], f"hidden: {stop['what']}"
            assert stop["ringed"], f"nothing shows the focus: {stop['what']}"
        else:
            raise AssertionError("Tab never came round")
        assert stops > 10
