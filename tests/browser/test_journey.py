"""From an empty house to a row of the survival table, in a real browser, by hand and by figures.

Once without scripts on one machine (SQLite, the embedded runner), once with scripts in a city
(PostgreSQL, Redis, a Celery worker). The town lives on two days, so that the figures can be worked
out on paper: June 10, 2026, when the report is sent and the work done, and July 15, when somebody
looks again.

The hand calculation
--------------------
Eight field maples were planted on March 12, 2024 and written down that day. Ages are whole calendar
months. On June 10, 2026 every tree is 27 months old, on July 15 it is 28. The second summer ends on
September 30, 2025 (planted in March, so the summer of 2024 is the first), at 18 months.

    tree      last seen alive          first known lost
    F1 … F6   June 10, 2026: 27        never; on July 15 seen alive again: 28
    F7        June 20, 2025: 15        never; on July 15, in full leaf season, found dead: 28
    F8        planting day: 0          August 14, 2024, dead in leaf: 5

Before the look in July: one loss in eight, in (0, 5], before anybody left the count (F7 at 15 is
the first). So S = 7/8 from 5 months on, and "at least" and "at most" are both 0.875 at 12, 18 and
24 months. With one constant hazard h the likelihood is (1 - e^-5h) e^-(15 + 6·27)h; its derivative
is nought where 5 / (e^5h - 1) = 177, so h = ln(1 + 5/177) / 5 and annual mortality
1 - e^-12h = 1 - (182/177)^-2.4 = 0.0647.

After it: F7 was lost in (15, 28]. Two losses in eight, in (0, 5] and (15, 28]; six trees seen alive
at 28. Each interval holds one eighth. At 12 months: 7/8, both ways. At 18 and 24 months, inside the
second interval: at least 6/8 = 0.75, at most 7/8 = 0.875. At 36: nobody is so old, so no rate.
Counts: at 12 months seven known alive, one known lost; at 18 and 24 six alive (F7 was last seen at
15), one lost, one of which neither is known. Annual mortality: the likelihood is
(1 - e^-5h) e^-15h (1 - e^-13h) e^-168h, so 5 / (e^5h - 1) + 13 / (e^13h - 1) = 183.
"""

import csv
import io
import math
import re

import pytest
from playwright.sync_api import expect

from tests.browser.steps import pick_tree, send, tell
from tests.browser.windows import DESK, PHONE, Window, window

JUNE, JULY = "2026-06-10", "2026-07-15"
PLANTED = "2024-03-12"
SIGN_IN, PASSWORD = "odile", "three unlike words together"
SITE, PLANTING = "Ferry Road", "Ferry Road 2024"


def test_a_neighborhood_without_scripts(embedded_house, browser):
    with (
        window(browser, embedded_house.url, DESK, scripts=False) as desk,
        window(browser, embedded_house.url, PHONE, scripts=False) as phone,
    ):
        make_the_first_account_by_page(desk)
        journey(embedded_house, desk, phone)


@pytest.mark.postgres
@pytest.mark.redis
def test_a_city_with_scripts(city_house, browser):
    with (
        window(browser, city_house.url, DESK) as desk,
        window(browser, city_house.url, PHONE) as phone,
    ):
        make_the_first_account_by_command(city_house, desk)
        journey(city_house, desk, phone)


def journey(house, desk: Window, phone: Window) -> None:
    enter_the_town(desk)
    live_on(house, JUNE)
    register_trees(desk)
    enter_old_looks(desk)
    name_the_owner(desk)
    desk.sign_out()

    pick_tree(phone, SITE, "F7")
    tell(phone)
    sent = send(phone)
    phone.go(sent.private)
    assert_told(phone, "We have it. Nobody has read it yet.", coming="Somebody reads it by then")
    house.wait_for_work()

    desk.sign_in(SIGN_IN, PASSWORD)
    assert_row(desk, before=True)
    order_work(desk)
    phone.go(sent.private)
    assert_told(phone, "We have read it.", "Somebody at the desk read it")
    house.let_pass(minutes=11)
    house.wait_for_work()
    phone.go(sent.private)
    assert_told(
        phone, "Somebody will come and help this tree.", "Work was ordered",
        coming="The work is done by then",
    )  # fmt: skip
    plan_it(desk)
    phone.go(sent.private)
    assert_told(phone, "Somebody comes on June 10.", coming="The work is planned")
    do_it(desk)
    phone.go(sent.private)
    assert_told(phone, "The work is done.", "The work was done", coming="We look again by then")

    live_on(house, JULY)
    walk_and_look_again(desk)
    house.wait_for_work()
    desk.go("/orders/1/")
    assert "Every tree was seen again: the order is confirmed." in desk.page.inner_text("main")
    phone.go(sent.private)
    assert_told(
        phone, "The work is done, but we found no life in the tree.",
        "A trained person looked at the tree: dead",
    )  # fmt: skip
    assert_row(desk, before=False)


def live_on(house, day: str) -> None:
    """The town's today. Everything that the town works out uses it as now."""
    house.shell(f"from survey.trees.models import Area; Area.objects.update(data_date='{day}')")


# ------------------------------------------------------------------------------ setting up


def make_the_first_account_by_page(desk: Window) -> None:
    page = desk.page
    desk.go("/sign-in/")
    page.get_by_role("link", name="make the first one").click()
    page.get_by_label("Sign-in name").fill(SIGN_IN)
    page.get_by_label("Your name").fill("Odile")
    page.get_by_label("Password").fill("short")
    page.get_by_role("button", name="Make this account").click()
    desk.says("too short")
    assert page.get_by_label("Sign-in name").input_value() == SIGN_IN
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Make this account").click()
    desk.comes_to("/town/")
    desk.sign_out()
    assert page.goto(f"{desk.home}/first/").status == 404
    desk.sign_in(SIGN_IN, PASSWORD)


def make_the_first_account_by_command(house, desk: Window) -> None:
    """In a city the page only says how: whoever came first would own the house."""
    desk.go("/first/")
    assert "manage.py first_account" in desk.page.inner_text("main")
    house.manage("first_account", "--sign-in", SIGN_IN, "--name", "Odile", typed=f"{PASSWORD}\n")
    desk.sign_in(SIGN_IN, PASSWORD)


def enter_the_town(desk: Window) -> None:
    page = desk.page
    desk.comes_to("/town/")
    page.get_by_label("Name of the town").fill("Pellworth")
    page.get_by_label("Latitude of its middle").fill("36.62")
    page.get_by_label("Longitude of its middle").fill("-34.91")
    page.get_by_label(re.compile("^Hazard line")).fill("555 0142")
    page.get_by_role("button", name="Keep this").click()
    desk.comes_to("/people/")


def register_trees(desk: Window) -> None:
    page = desk.page
    desk.go("/register/")
    page.get_by_label("Name that people use").fill(SITE)
    page.get_by_label("Kind of place").select_option("street")
    page.get_by_role("button", name="Enter this site").click()
    page.get_by_label("Name of the planting").fill(PLANTING)
    page.get_by_label("Planted on or about").fill(PLANTED)
    page.get_by_label("How many trees").fill("8")
    page.get_by_label("Nursery").fill("Windward Nursery")
    page.get_by_role("button", name="Enter this planting").click()
    for number in range(1, 9):
        if number == 1:
            page.get_by_label("Species").select_option("field_maple")
            page.get_by_label("Tag").fill("F1")
        expect(page.get_by_label("Tag")).to_have_value(f"F{number}")  # the form counts on
        page.get_by_label("thriving").check()
        page.get_by_label("Girth").first.fill("5.5")
        page.locator("summary", has_text="another day").click()
        page.get_by_label("Registered on").fill(PLANTED)
        page.get_by_label("How it came onto the list").select_option("planting_record")
        last = number == 8
        page.get_by_role("button", name="Save and stop" if last else "Save, next tree").click()
        desk.says(f"F{number} is on the list.")


def address_of(desk: Window, tag: str) -> str:
    """A search for a whole tag leads straight to the tree."""
    desk.go("/trees/")
    desk.page.get_by_label(re.compile("Tag")).first.fill(tag)
    desk.page.keyboard.press("Enter")
    desk.page.wait_for_url(re.compile(r"/trees/\w+/$"))
    return desk.path


def enter_old_looks(desk: Window) -> None:
    """What was seen long ago, each with its own day: an acceptance, and three looks."""
    page = desk.page
    desk.go(address_of(desk, "F1") + "acceptance/")
    for side in ("street", "path", "left", "right"):
        page.get_by_role("group", name=re.compile(f"Base.*{side}")).get_by_label("whole").check()
    page.get_by_role("group", name="Root flare").get_by_label("visible").check()
    page.get_by_role("group", name="Ties").get_by_label("loose").check()
    page.get_by_role("group", name="How is it doing?").get_by_label("thriving").check()
    page.get_by_label("accept it").check()
    page.get_by_label("Day of the look").fill(PLANTED)
    page.get_by_role("button", name="Write it down").click()
    look_at(desk, "F7", "holding", "2025-06-20")
    look_at(desk, "F8", "dead", "2024-08-14")
    for number in range(1, 7):
        look_at(desk, f"F{number}", "thriving", JUNE)


def look_at(desk: Window, tag: str, condition: str, day: str, channel: str = "walk") -> None:
    desk.go(address_of(desk, tag) + f"look/?channel={channel}")
    page = desk.page
    page.get_by_role("group", name="How is it doing?").get_by_label(condition).check()
    page.locator("summary", has_text="Another day").click()
    page.get_by_label("Day of the look").fill(day)
    page.get_by_role("button", name="Save this look").click()
    desk.says(f"{tag} is written down.")


def name_the_owner(desk: Window) -> None:
    """No work is planned on ground whose owner has not given leave for it."""
    page = desk.page
    desk.go("/sites/")
    page.get_by_role("main").get_by_role("link", name=SITE).first.click()
    page.get_by_role("link", name="Say who owns it").click()
    page.get_by_label("Or a new name").fill("Parks department")
    page.get_by_label("city department").check()
    page.get_by_role("button", name="This is the owner").click()
    page.get_by_label("Mulch ring").check()
    page.get_by_label("volunteers", exact=True).check()
    page.get_by_label("From", exact=True).fill("2026-03-01")
    page.get_by_label("Until", exact=True).fill("2026-10-31")
    page.get_by_role("button", name="Write it down").click()
    desk.says("The leave is written down.")


# ------------------------------------------------------------------------------ the desk


def order_work(desk: Window) -> None:
    page = desk.page
    desk.go("/desk/")
    page.get_by_role("main").get_by_role("link", name=re.compile("June 10, note 1")).first.click()
    desk.says("The bark is cut near the grass.")
    desk.says("Quarter to half")
    page.get_by_role("link", name=re.compile("Order work")).click()
    assert page.get_by_label(re.compile(r"\bF7\b")).is_checked()
    page.get_by_label("Why", exact=True).fill("The mower cuts the bark: keep the grass away.")
    page.get_by_label("Last day").fill("2026-06-30")
    page.get_by_label("Mulch ring", exact=True).check()
    page.get_by_label("What the neighbor will read").fill(
        "Thank you. Volunteers lay a ring of mulch, so that no mower comes near."
    )
    page.get_by_role("button", name="Draft this order").click()
    desk.comes_to("/orders/1/")


def plan_it(desk: Window) -> None:
    page = desk.page
    desk.go("/orders/1/")
    page.get_by_role("link", name=re.compile("Plan it")).click()
    page.get_by_label("Day", exact=True).fill(JUNE)
    page.get_by_label("Team").fill("Saturday group")
    page.get_by_role("button", name="Plan it for this day").click()
    desk.says("Order 1 is planned")
    desk.go("/orders/1/sheet/")
    desk.says("F7")


def do_it(desk: Window) -> None:
    page = desk.page
    desk.go("/orders/1/")
    page.get_by_role("link", name=re.compile("Report it done")).click()
    page.get_by_role("group", name=re.compile("F7")).get_by_label("done", exact=True).check()
    page.get_by_label("Done by").fill("Saturday group")
    page.get_by_label("Notes").fill("Grass was wet.")
    page.get_by_role("button", name="Save: the order is done").click()
    desk.says("Order 1 is done")


def walk_and_look_again(desk: Window) -> None:
    """Tree after tree along the street; the seventh is the look after the work."""
    page = desk.page
    desk.go("/walks/")
    page.get_by_role("main").get_by_role("link", name=re.compile(SITE)).first.click()
    page.get_by_role("link", name="Next tree").first.click()
    for number in range(1, 7):
        desk.at(f"F{number}: how is it?")
        page.get_by_role("group", name="How is it doing?").get_by_label("thriving").check()
        page.get_by_role("button", name="Save, next tree").click()
    look_at(desk, "F7", "dead", JULY, channel="followup")


# ------------------------------------------------------------------------------ what is told


def assert_told(phone: Window, sentence: str, *events: str, coming: str = "") -> None:
    """What the neighbor's private page says, on a phone."""
    phone.at(sentence)
    happened = phone.page.locator(".twig-line li:not(.is-coming)").all_inner_texts()
    for event in events:
        assert any(event in line for line in happened), (event, happened)
    if coming:
        ahead = phone.page.locator(".twig-line li.is-coming").all_inner_texts()
        assert any(coming in line for line in ahead), (coming, ahead)


def rows_of(text: str) -> dict[str, dict[str, str]]:
    """The rows of the verified reading: its figures can be worked out by hand."""
    verified = [row for row in csv.DictReader(io.StringIO(text)) if row["reading"] == "verified"]
    rows = [row for row in verified if row["curve"] == "loss"]
    assert {row["label"] for row in rows} == {PLANTING}
    return {row["milestone"]: row for row in rows}


def taken_by_page(desk: Window) -> bytes:
    desk.go("/downloads/")
    row = desk.page.get_by_role("row").filter(has_text="planting").first
    with desk.page.expect_download() as taken:
        row.get_by_role("link", name="survival-planting.csv").last.click()
    return taken.value.path().read_bytes()


def taken_by_interface(desk: Window) -> bytes:
    answer = desk.context.request.get(f"{desk.home}/api/v1/survival.csv?by=planting")
    assert answer.status == 200
    return answer.body()


def assert_row(desk: Window, *, before: bool) -> None:
    """The table's figures are those of the hand calculation above, taken by either way."""
    table = taken_by_page(desk)
    rows = rows_of(table.decode())
    # the other reading may be worked out while the two are taken
    assert rows_of(taken_by_interface(desk).decode()) == rows

    assert rows["second_summer"]["age_months"] == "18"
    for row in rows.values():
        assert (row["trees_planted"], row["trees_registered"]) == ("8", "8")
        assert (row["trees_in_rates"], row["trees_excluded"], row["late_entries"]) == (
            "8",
            "0",
            "0",
        )
        assert row["as_of"] == (JUNE if before else JULY)

    at_least = {"12": 0.875, "second_summer": 0.75, "24": 0.75}
    for milestone, least in at_least.items():
        row = rows[milestone]
        assert float(row["survival_at_least"]) == (0.875 if before else least)
        assert float(row["survival_at_most"]) == 0.875
        assert float(row["limit_low"]) <= float(row["survival_at_least"])
        assert float(row["limit_high"]) >= float(row["survival_at_most"])
        alive = 7 if milestone == "12" else 6
        counted = [row[name] for name in ("known_alive", "known_lost", "not_known")]
        assert counted == [str(alive), "1", str(7 - alive)]
        assert (row["under_watch"], row["ends_by_then"]) == ("7", "1")
        assert row["withheld"] == ""
    for milestone in ("36", "60"):
        assert rows[milestone]["survival_at_least"] == ""
        assert rows[milestone]["withheld"] == "not_old_enough"

    annual = float(rows["12"]["annual_mortality"])
    if before:
        assert annual == pytest.approx(1 - (182 / 177) ** -2.4, abs=2e-6)
    else:
        h = -math.log(1 - annual) / 12
        watched = 5 / math.expm1(5 * h) + 13 / math.expm1(13 * h)
        assert watched == pytest.approx(183, abs=0.01)
