"""Every kind of page, opened by whoever it is for: it can be read, reached and tapped by anybody.

On each page: nothing found by the axe rules for WCAG 2.0, 2.1 and 2.2 A and AA and by its good
practices, on a phone in dark and on a desk in light; nothing sticks out sideways down to 320 CSS
pixels (WCAG 2.2, 1.4.10); one h1; a title that no other kind of page has; on a neighbor's pages
everything tapped is at least 44 pixels; and the browser had nothing to complain about.
"""

import json

import pytest

from tests.browser.steps import JPEG, go_on
from tests.browser.windows import DESK, PHONE, window
from tests.pictures import SVG

PASSWORD = "bare, but alive"  # the demo's, printed for everybody

FIND = """
import json
from survey.causes.models import Finding
from survey.people.models import PairedWalk, Person, PracticeRound
from survey.reports.models import Report
from survey.trees.models import Planting, Site, Tree
from survey.workorders.models import WorkOrder
home = {"area__is_home": True}
report = Report.objects.filter(**home)
order = WorkOrder.objects.filter(**home)
cut = Finding.objects.filter(**home, sign="bark_wound")
danger = report.exclude(danger="").filter(danger_cleared_at=None, state="new").first()
tree = Tree.objects.filter(**home, looks__photos__isnull=False, left="").order_by("pk").first()
asked = report.filter(state="new", danger="", tree__isnull=False).order_by("pk").first()
print(json.dumps({
    "tree": tree.ref, "tag": tree.tag,
    "gone": Tree.objects.filter(**home).exclude(left="").first().ref,
    "site": tree.site.ref, "planting": tree.planting.ref, "report": asked.pk,
    "danger": danger.pk, "nowhere": report.filter(state="new", tree=None).first().pk,
    "drafted": order.filter(state="drafted").first().number,
    "ringed": order.filter(state="drafted", lines__care="mulch_ring").first().number,
    "finding": cut.get(follows="site").number, "nursery": cut.get(follows="supplier").number,
    "planned": order.filter(state="planned").first().number,
    "done": order.filter(state="done").first().number,
    "person": Person.objects.get(sign_in="walker").key,
    "learner": Person.objects.get(sign_in="cosmo").key,
    "practice": PracticeRound.objects.filter(person__sign_in="cosmo").first().pk,
    "paired": PairedWalk.objects.get(person__sign_in="cosmo").pk,
}))
"""

NOBODY = {
    "start": "/",
    "is anybody in danger": "/report/",
    "look up a report": "/note/",
    "sign in": "/sign-in/",
    "a tree": "/trees/{tree}/",
    "trees": "/trees/",
    "plantings": "/plantings/",
    "a planting": "/plantings/{planting}/",
    "sites": "/sites/",
    "a site": "/sites/{site}/",
    "a table of one's own": "/survival/own/",
    "the handbook": "/handbook/",
    "causes": "/handbook/causes/",
    "a cause": "/handbook/causes/mower_or_trimmer/",
    "signs": "/handbook/signs/",
    "clues and checks": "/handbook/clues/",
    "kinds of care": "/handbook/care/",
    "a kind of care": "/handbook/care/mulch_ring/",
    "dangers and cautions": "/handbook/cautions/",
    "species": "/handbook/species/",
    "advice": "/handbook/advice/",
    "words and pictures": "/handbook/words/",
    "hazards in words": "/handbook/hazards/",
    "look-alikes": "/handbook/alike/",
    "not settled": "/handbook/disputes/",
    "sources": "/handbook/sources/",
    "the handbook from A to Z": "/handbook/a-to-z/",
    "no such entry": "/handbook/causes/nobody-knows-this/",
    "no such page": "/no-such-page/",
    "no such report": "/note/nobody-has-this/",
}
WALKER = {
    "walks": "/walks/",
    "walks to doubtful trees": "/walks/doubts/",
    "a walk": "/walks/{site}/",
    "a look": "/trees/{tree}/look/",
    "register: site": "/register/",
    "register: planting": "/register/{site}/",
    "register: tree": "/register/{site}/{planting}/",
    "correct a tree": "/trees/{tree}/correct/",
    "orders of a walker": "/orders/",
    "an order of a walker": "/orders/{planned}/",
    "report an order done": "/orders/{planned}/done/",
    "not for a walker": "/desk/",
}
COSMO = {
    "one's own training": "/training/",
    "practice": "/training/practice/",
    "a finished round": "/training/practice/{practice}/",
    "a paired walk": "/training/walks/{paired}/",
}
DESK_PAGES = {
    "queue": "/desk/",
    "docket": "/desk/{report}/",
    "docket of a danger": "/desk/{danger}/",
    "docket of no tree": "/desk/{nowhere}/",
    "write a call down": "/desk/new/",
    "findings": "/desk/findings/",
    "a finding of a site": "/desk/findings/{finding}/",
    "a finding of a nursery": "/desk/findings/{nursery}/",
    "keep-clear notice": "/desk/findings/{finding}/letter/notice/",
    "query to a nursery": "/desk/findings/{nursery}/letter/query/",
    "operations": "/desk/operations/",
    "imports": "/desk/imports/",
    "a tree inside": "/trees/{tree}/",
    "a tree that is gone": "/trees/{gone}/",
    "a site inside": "/sites/{site}/",
    "owner and leave": "/sites/{site}/ground/",
    "overrule a belief": "/trees/{tree}/believe/",
    "acceptance": "/trees/{tree}/acceptance/",
    "care long ago": "/trees/{tree}/care/",
    "departure": "/trees/{tree}/left/",
    "something happened to a tree": "/trees/{tree}/happening/",
    "something happened at a site": "/sites/{site}/happening/",
    "rules of the place": "/handbook/local/",
    "propose a rule": "/handbook/local/about/cause/mower_or_trimmer/",
    "orders": "/orders/",
    "a drafted order": "/orders/{drafted}/",
    "a done order": "/orders/{done}/",
    "order sheet": "/orders/{planned}/sheet/",
    "new order": "/orders/new/",
    "new order from a report": "/orders/new/?report={report}",
    "change an order": "/orders/{drafted}/change/",
    "plan an order": "/orders/{drafted}/plan/",
    "drop an order": "/orders/{drafted}/drop/",
    "numbers of a dose": "/orders/{ringed}/dose/mulch_ring/",
    "a label read back": "/fertilizer/?nitrogen=4&phosphate=6&potash=3&mass=22&used=40&area=90",
    "trials": "/trials/",
    "a new trial": "/trials/new/?order={ringed}",
    "who learns": "/training/",
    "a learner": "/training/of/{learner}/",
    "a new paired walk": "/training/walks/new/",
    "what looks count": "/people/observers/",
}
COUNCIL = {
    "survival": "/survival/",
    "survival by species": "/survival/?by=species",
    "one planting's survival": "/survival/planting/{planting}/",
    "compare groups": "/survival/compare/?by=supplier",
    "groups compared": "/survival/compare/?by=species&group=linden&group=hornbeam",
    "did care help": "/survival/care/",
    "did watering help": "/survival/care/water/",
    "trends": "/trends/",
    "one site's trend": "/trends/{site}/",
    "one planting's trend": "/trends/planting/{planting}/",
    "one species' trend": "/trends/species/linden/",
    "downloads": "/downloads/",
    "dictionary": "/dictionary/",
    "account": "/account/",
}
KEEPER = {
    "people": "/people/",
    "new person": "/people/new/",
    "a person": "/people/{person}/",
    "town": "/town/",
}
PEOPLE = {
    "nobody": NOBODY,
    "walker": WALKER,
    "cosmo": COSMO,
    "desk": DESK_PAGES,
    "council": COUNCIL,
    "keeper": KEEPER,
}
SAME_PAGE = {  # one kind of page, opened twice on purpose
    "trees", "a tree inside", "a site inside", "orders of a walker", "docket of a danger",
    "docket of no tree", "survival by species",
}  # fmt: skip
FOR_NEIGHBORS = {"start", "is anybody in danger", "look up a report", "a tree", "no such report"}

# A form sent empty or half filled, by whoever it is for: page, button, and what must be said.
WRONG = {
    "nobody": [
        ("/sign-in/", "Sign in", "This field is required."),
        ("/survival/own/", "Work it out", "Choose a file, or paste a table."),
    ],
    "walker": [
        ("/trees/{tree}/look/", "Save this look", "Say how it is doing"),
        ("/register/", "Enter this site and go on", "This field is required."),
        ("/register/{site}/", "Enter this planting and go on", "This field is required."),
        ("/register/{site}/{planting}/", "Save, next tree", "is on another tree already"),
        ("/orders/{planned}/done/", "Save: the order is done", "done, or not done?"),
    ],
    "cosmo": [("/training/practice/", "Show me what they are", "Pick one answer.")],
    "desk": [
        ("/training/walks/new/", "Write down this walk", "This field is required."),
        ("/training/of/{learner}/", "Sign Cosmo off as trained", "Something is missing."),
        ("/trees/{tree}/acceptance/", "Write it down", "This field is required."),
        ("/trees/{tree}/believe/", "Lay it down", "This field is required."),
        ("/orders/new/", "Draft this order", "This field is required."),
        ("/orders/{drafted}/plan/", "Plan it for this day", "This field is required."),
        ("/trials/new/", "Draw the lots", "This field is required."),
        ("/sites/{site}/ground/", "Write it down", "Choose what is allowed."),
    ],
    "council": [],
    "keeper": [("/people/new/", "Make", "This field is required.")],
}


@pytest.fixture(scope="module")
def known(pellworth):
    """The short names of one of each thing in the town."""
    return json.loads(pellworth.shell(FIND))


@pytest.mark.parametrize("person", PEOPLE)
def test_every_page_can_be_read_and_used_by_anybody(pellworth, browser, known, person):
    faults, titles = [], {}
    with window(browser, pellworth.url, DESK) as opened:
        if person != "nobody":
            opened.sign_in(person, PASSWORD)
        for kind, path in PEOPLE[person].items():
            opened.go(path.format(**known))
            faults += opened.faults(neighbor=kind in FOR_NEIGHBORS)
            if kind not in SAME_PAGE:
                titles.setdefault(opened.page.title(), []).append(kind)
    assert faults == []
    assert [kinds for kinds in titles.values() if len(kinds) > 1] == []


@pytest.mark.parametrize("person", [person for person in WRONG if WRONG[person]])
def test_a_form_that_is_not_right_says_so_on_top_and_beside_the_field(
    pellworth, browser, known, person
):
    faults = []
    with window(browser, pellworth.url, DESK) as opened:
        if person != "nobody":
            opened.sign_in(person, PASSWORD)
        for path, button, said in WRONG[person]:
            opened.go(path.format(**known))
            opened.page.evaluate("document.querySelectorAll('form').forEach(f => f.noValidate = 1)")
            if "another tree" in said:
                opened.page.get_by_label("Tag").fill(known["tag"])
            opened.page.get_by_role("main").get_by_role("button", name=button).last.click()
            opened.page.locator("#errors").wait_for()
            opened.says(said)
            if not opened.page.title().startswith("Error:"):
                faults.append(f"{path}: the title does not begin with Error")
            if opened.page.evaluate("document.activeElement.id") != "errors":
                faults.append(f"{path}: the summary of errors has not the focus")
            faults += [f"{path}: {fault}" for fault in broken_links(opened)]
            faults += opened.faults()
    assert faults == []


def test_a_table_of_ones_own_by_keyboard_from_bad_rows_to_the_answer(pellworth, browser):
    faults = []
    with window(browser, pellworth.url, DESK) as opened:
        page = opened.page
        opened.go("/survival/own/")
        opened.tab_to("Or paste it here")
        page.keyboard.insert_text("left,right,crew\n" + "1,2,A\n3,,B\n" * 6 + "9,3,A\n")
        opened.tab_to("Work it out")
        page.keyboard.press("Enter")
        opened.says("One of 13 rows cannot be read")
        faults += opened.faults()
        opened.tab_to("Leave out the rows")
        page.keyboard.press("Space")
        opened.tab_to("Work it out")
        page.keyboard.press("Enter")
        opened.says("Read this before you quote it")
        opened.tab_to("Groups by")
        page.keyboard.type("crew")
        opened.tab_to("Work it out again")
        page.keyboard.press("Enter")
        opened.says("Do the groups differ by more than chance?")
        faults += opened.faults()
    assert faults == []


def broken_links(opened) -> list[str]:
    """Lines of the summary that lead to no field, or to one that cannot take the focus."""
    return opened.page.evaluate(
        """() => [...document.querySelectorAll('#errors a')].filter((link) => {
          const field = document.getElementById(link.hash.slice(1));
          if (!field) return true;
          field.focus();
          return !(field === document.activeElement || field.contains(document.activeElement));
        }).map((link) => `nothing to go to: ${link.outerHTML}`)"""
    )


def test_every_question_of_a_report_also_when_it_is_not_answered_right(pellworth, browser):
    """The whole report on a phone: each page first as it comes, then sent empty."""
    faults, titles = [], []
    with window(browser, pellworth.url, PHONE) as phone:
        page = phone.page

        def judge(*, is_error: bool = False) -> None:
            faults.extend(phone.faults(neighbor=True))
            if is_error:
                page.locator("#errors, .errors").first.wait_for()
                if not page.title().startswith("Error:"):
                    faults.append(f"{phone.path}: the title does not begin with Error")
            else:
                titles.append(page.title())

        phone.go("/report/")
        judge()
        page.get_by_role("button", name="Nobody is in danger").click()
        phone.at("Which street or place?")
        judge()
        page.get_by_label("Street, place").fill("zzzz")
        page.get_by_role("button", name="Find").click()
        phone.says("We have no street, place or tag of that name.")
        faults.extend(phone.faults(neighbor=True))
        page.get_by_role("link", name="It is not in the list").click()
        page.get_by_label("The place, in your words").wait_for()
        judge()
        go_on(phone)
        phone.says("Say where it is")
        judge(is_error=True)
        page.go_back()
        phone.go(phone.path.split("/where/")[0] + "/where/")
        page.get_by_role("link", name="Ferry Road").click()
        phone.at("Which tree is it?")
        judge()
        page.locator(".strip-tree").first.click()
        phone.at("What do you see?")
        judge()
        page.get_by_label("Bark is gone").check()
        page.get_by_label("Bark cracked or sunken").check()
        go_on(phone)
        phone.at("How does it look, all in all?")
        judge()
        go_on(phone)
        phone.says("Pick the picture that comes closest")
        judge(is_error=True)
        page.get_by_label("Thin, with big gaps").check()
        go_on(phone)
        phone.at("How far round does it go?")
        judge()
        go_on(phone)
        phone.says("Pick a side")
        judge(is_error=True)
        page.get_by_label("Half or more").check()
        page.get_by_label("Not sure").check()
        go_on(phone)
        phone.at("Three photos help most")
        judge()
        page.get_by_label("The whole tree").set_input_files(
            {"name": "tree.jpg", "mimeType": "image/jpeg", "buffer": SVG}
        )
        page.get_by_label("The base of the trunk").set_input_files(JPEG)
        go_on(phone)
        phone.says("One photo did not get in")
        judge(is_error=True)
        go_on(phone)
        phone.at("Anything to add?")
        judge()
        page.get_by_label("Day", exact=True).fill("31")
        page.get_by_label("Month").fill("February")
        page.get_by_label("Where should the answer go?").fill("not an address")
        go_on(phone)
        phone.says("That is not a day in the calendar.")
        judge(is_error=True)
        page.get_by_label("Day", exact=True).fill("12")
        page.get_by_label("Month").fill("June")
        page.get_by_label("Where should the answer go?").fill("neighbor@example.org")
        go_on(phone)
        phone.at("Is this right?")
        judge()
        page.get_by_role("button", name="Send this report").click()
        phone.at("Thank you. We have it.")
        judge()
        page.get_by_role("link", name="Follow this report").click()
        phone.at("We have it. Nobody has read it yet.")
        judge()

        phone.go("/report/")
        page.get_by_role("button", name="Wire down").click()
        page.get_by_role("link", name="911").wait_for()
        judge()
    assert faults == []
    assert len(set(titles)) == len(titles), titles
