"""What goes wrong in real life: lost cookies, bad files, endless words, Back, twice, kill -9.

Whatever happens, what a person typed is not lost, and a receipt that was shown is kept.
"""

import re

from playwright.sync_api import expect

from tests.browser.steps import JPEG, go_on, pick_tree, send, tell
from tests.browser.windows import DESK, PHONE, window
from tests.pictures import HTML, SVG, picture

PASSWORD = "bare, but alive"
TOWN = """
from survey.trees.models import Area, Site
area = Area.objects.create(ref="pellworth", name="Pellworth", latitude=36.62, longitude=-34.91,
                           is_home=True)
Site.objects.create(area=area, ref="ferry-road", name="Ferry Road", kind="street")
"""
REPORTS = "from survey.reports.models import Report; print(Report.objects.count())"
WORDS_OF = """
from survey.reports.models import Report
print(Report.objects.filter(words={words!r}).count())
"""


def a_tree_of(house) -> str:
    return house.shell(
        "from survey.trees.models import Tree; print(Tree.objects.in_place()"
        ".filter(site__ref='ferry-road').in_walking_order()[3].tag)"
    ).strip()


def test_a_neighbor_who_loses_every_cookie_half_way_loses_nothing(pellworth, browser):
    with window(browser, pellworth.url, PHONE, scripts=False) as phone:
        pick_tree(phone, "Ferry Road", a_tree_of(pellworth))
        phone.page.get_by_label("Bark is gone").check()
        go_on(phone)
        phone.at("How does it look, all in all?")
        phone.context.clear_cookies()
        phone.page.get_by_label("Thin, with big gaps").check()
        go_on(phone)
        phone.at("How far round does it go?")
        address = phone.page.url
    with window(browser, pellworth.url, PHONE, scripts=False) as other:
        other.go(address)  # another browser altogether: the address is all it takes
        other.page.get_by_label("Quarter to half").check()
        go_on(other)
        go_on(other)
        other.page.get_by_label("In your own words").fill("Told from two browsers.")
        go_on(other)
        other.at("Is this right?")
        read_back = other.page.inner_text(".checks")
        for said in ("Bark is gone", "Thin, with big gaps", "Quarter to half", "two browsers"):
            assert said in read_back
        send(other)


def test_staff_whose_session_ends_get_back_what_they_typed(pellworth, browser):
    with window(browser, pellworth.url, DESK) as desk:
        desk.sign_in("desk", PASSWORD)
        desk.go("/register/")
        desk.page.get_by_label("Name that people use").fill("Lamp Street")
        desk.context.clear_cookies()
        desk.page.get_by_role("button", name="Enter this site").click()
        desk.says("Nothing was changed.")
        desk.says("Lamp Street")
        desk.complaints.clear()  # the browser notes the refusal itself


def test_photos_that_are_none_or_too_big_are_named_and_cost_nothing_else(pellworth, browser):
    with window(browser, pellworth.url, PHONE, scripts=False) as phone:
        page = phone.page
        pick_tree(phone, "Ferry Road", a_tree_of(pellworth))
        page.get_by_label("Bark is gone").check()
        go_on(phone)
        page.get_by_label("Thin, with big gaps").check()
        go_on(phone)
        page.get_by_label("Quarter to half").check()
        go_on(phone)
        phone.at("Three photos help most")
        heavy = picture(size=(400, 300)) + bytes(16 * 1024**2)
        for label, name, content in (
            ("The whole tree", "tree.jpg", SVG),
            ("Close up", "close.jpg", heavy),
            ("Anything else", "else.png", HTML),
        ):
            page.get_by_label(label).set_input_files(
                {"name": name, "mimeType": "image/jpeg", "buffer": content}
            )
        page.get_by_label("The base of the trunk").set_input_files(JPEG)
        go_on(phone)
        phone.says("3 photos did not get in")
        phone.says("The others are kept, and so is all you wrote.")
        phone.says("That photo is too big. We can take up to 15 MB.")
        expect(page.locator(".photo-row.is-kept")).to_have_count(1)
        go_on(phone)
        phone.at("Anything to add?")


def test_a_text_without_end_is_kept_and_asked_to_be_shorter(pellworth, browser):
    with window(browser, pellworth.url, PHONE, scripts=False) as phone:
        pick_tree(phone, "Ferry Road", a_tree_of(pellworth))
        tell(phone, photo=None)
        phone.page.get_by_role("link", name="your words").click()
        endless = ("It leans. " * 900).strip()
        phone.page.get_by_label("In your own words").fill(endless)
        go_on(phone)
        phone.says("That is 8,999 letters, and we can take 4,000.")
        expect(phone.page.get_by_label("In your own words")).to_have_value(endless)
        phone.page.get_by_label("In your own words").fill("It leans.")
        go_on(phone)
        phone.at("Is this right?")
        phone.says("It leans.")


def test_back_after_sending_leads_to_the_receipt_and_two_taps_are_one_report(pellworth, browser):
    words = "Sent by a double tap."
    with window(browser, pellworth.url, PHONE) as phone:
        pick_tree(phone, "Ferry Road", a_tree_of(pellworth))
        tell(phone, photo=None, words=words)
        phone.page.get_by_role("button", name="Send this report").dblclick()
        phone.at("Thank you. We have it.")
        receipt = phone.path
        phone.page.go_back()
        phone.at("Thank you. We have it.")
        assert phone.path == receipt
        phone.page.go_back()
        phone.at("Thank you. We have it.")
        phone.page.reload()
        phone.at("Thank you. We have it.")
    assert pellworth.shell(WORDS_OF.format(words=words)).strip() == "1"


def test_a_report_whose_receipt_was_shown_survives_kill_9_of_everything(embedded_house, browser):
    embedded_house.shell(TOWN)
    with window(browser, embedded_house.url, PHONE, scripts=False) as phone:
        page = phone.page
        phone.go("/report/")
        page.get_by_role("button", name="Nobody is in danger").click()
        page.get_by_role("link", name="It is not in the list").click()
        page.get_by_label("The place, in your words").fill("Opposite the old pump")
        go_on(phone)
        tell(phone, words="Sent in the last moment.")
        sent = send(phone)
        embedded_house.kill()
        assert not embedded_house.answers()
        embedded_house.start()
        phone.go(sent.private)
        phone.at("We have it. Nobody has read it yet.")
        phone.says("Sent in the last moment.")
        embedded_house.wait_for_work()  # its photo and its match are worked on after all
        page.reload()
        expect(page.get_by_role("img", name=re.compile("base of the trunk"))).to_have_count(1)
    assert embedded_house.shell(REPORTS).strip() == "1"
