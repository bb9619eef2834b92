"""Drafting, changing, planning, finishing and dropping orders on their pages."""

from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from survey.reports.models import Report
from survey.trees.models import CareGiven, Permission
from survey.workorders.models import WorkOrder
from tests.factories import (
    LandManagerFactory,
    LookFactory,
    OrderLineFactory,
    ReportFactory,
    SiteFactory,
    TreeFactory,
    WorkOrderFactory,
)
from tests.pictures import picture


@pytest.fixture(autouse=True)
def _own_media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def tree():
    owner = LandManagerFactory()
    for care in ("water", "mulch_ring", "remove_dead_tree"):
        Permission.objects.create(
            land_manager=owner,
            care=care,
            who="anybody",
            from_day=date(2026, 1, 1),
            to_day=date(2026, 12, 31),
        )
    return TreeFactory(tag="0407", site=SiteFactory(ref="quarry", land_manager=owner))


@pytest.fixture
def order(tree):
    return OrderLineFactory(tree=tree, order=WorkOrderFactory(number=7)).order


def drafted(tree, **more):
    fields = {"why": "dry", "who": "volunteer", "window_from": "2026-06-16"}
    fields |= {"window_to": "2026-07-16", "care": ["water"], "trees": [tree.ref]}
    return fields | more


def test_an_order_is_drafted_from_a_report_and_the_neighbor_is_told(sign_in, tree):
    report = ReportFactory(tree=tree, words="It is <i>thirsty</i>")
    client = sign_in()
    address = f"/orders/new/?report={report.pk}&version=0"
    page = client.get(address).content.decode()
    assert "&lt;i&gt;thirsty&lt;/i&gt;" in page
    assert f'value="{tree.ref}" ' in page
    response = client.post(
        address,
        drafted(tree, version="0", dose_water="6 gal", message="We will water it."),
    )
    order = WorkOrder.objects.get()
    assert response.url == f"/orders/{order.number}/"
    line = order.lines.get()
    assert (line.tree, line.care, line.dose) == (tree, "water", "6 gal")
    report.refresh_from_db()
    assert report.state == Report.State.ORDERED
    assert report.decisions.get().message == "We will water it."


def test_an_order_from_the_desk_offers_words_for_the_neighbor_and_leads_to_the_next_note(
    sign_in, tree
):
    report, below = ReportFactory(tree=tree, weight=2), ReportFactory(weight=1)
    client = sign_in()
    address = f"/orders/new/?report={report.pk}&version=0"
    offered = client.get(address).context["form"]["message"].value()
    assert offered.startswith(f"Thank you for your note of June 16, note {report.number} about")
    silent = client.post(address, drafted(tree, message=""), follow=True)
    page = silent.content.decode()
    assert silent.redirect_chain[-1][0] == f"/orders/1/?below={below.pk}"
    assert "Order 1 is drafted." in page
    assert "is told" not in page  # no words, so nobody is told
    assert f'href="/desk/{below.pk}/" data-key="n"' in page
    assert 'src="/static/frontend/desk' in page  # the keys that the bar shows are heard


@pytest.mark.parametrize("below", ["", "0", "-1", "1; drop", "９", "9" * 40, "999999"])
def test_a_next_note_that_is_not_at_the_desk_is_not_offered(sign_in, order, below):
    page = sign_in().get(f"/orders/{order.number}/", {"below": below})
    assert page.status_code == 200
    assert "Next at the desk" not in page.content.decode()


def test_the_second_to_decide_about_a_report_is_told_and_keeps_what_they_typed(sign_in, tree):
    report = ReportFactory(tree=tree)
    Report.objects.filter(pk=report.pk).update(version=1, state="answered")
    client = sign_in()
    address = f"/orders/new/?report={report.pk}&version=0"
    form = drafted(tree, version="0", why="bark cut low", message="A ring is coming.")
    page = client.post(address, form).content.decode()
    assert "Somebody else changed this while you were typing: it is now “answered”." in page
    assert "bark cut low" in page
    assert "A ring is coming." in page
    assert not WorkOrder.objects.exists()
    client.post(address, form | {"version": "1"})
    assert WorkOrder.objects.get().why == "bark cut low"


def test_an_order_is_drafted_for_trees_ticked_and_trees_typed(sign_in, tree):
    other = TreeFactory(tag="0500")
    sign_in().post(
        "/orders/new/?site=quarry",
        drafted(tree, tags=f"0500, {tree.ref}", care=["water", "mulch_ring"]),
    )
    lines = WorkOrder.objects.get().lines.values_list("tree", "care")
    assert set(lines) == {
        (number, care) for number in (tree.pk, other.pk) for care in ("water", "mulch_ring")
    }


def test_a_dead_tree_is_offered_three_orders(sign_in, tree):
    LookFactory(tree=tree, condition="dead")
    client = sign_in()
    address = f"/orders/new/?tree={tree.ref}"
    assert "It is dead: find out why, take it down, plant another" in (
        client.get(address).content.decode()
    )
    client.post(address, drafted(tree, three_steps="on", care=[]))
    assert list(WorkOrder.objects.order_by("number").values_list("lines__care", "who")) == [
        ("find_cause", "volunteer"),
        ("remove_dead_tree", "crew"),
        ("replace", "crew"),
    ]


def test_a_living_tree_is_offered_no_such_thing(sign_in, tree):
    LookFactory(tree=tree, condition="failing")
    page = sign_in().get(f"/orders/new/?tree={tree.ref}").content.decode()
    assert "It is dead" not in page


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ({"why": ""}, "This field is required."),
        ({"why": "x" * 501}, "at most 500 characters"),
        ({"who": "anyone"}, "anyone"),
        ({"window_to": "2026-06-15"}, "The last day comes before the first."),
        ({"window_from": "2026-05-01", "window_to": "2026-05-02"}, "That window is over already."),
        ({"window_to": "soon"}, "Enter a valid date."),
        ({"care": []}, "Choose what is to be done."),
        ({"care": ["singing"]}, "singing"),
        ({"trees": []}, "Choose the trees."),
        ({"trees": ["no-such"]}, "no-such"),
        ({"tags": "0407 9999"}, "No tree has this tag or reference: 9999"),
        ({"tags": " ".join(map(str, range(201)))}, "That is more than 200 trees."),
        ({"dose_water": "x" * 161}, "at most 160 characters"),
    ],
)
def test_a_draft_that_makes_no_sense_is_given_back_as_typed(sign_in, tree, bad, said):
    form = drafted(tree, dose_mulch_ring="<script>3 in</script>") | bad
    response = sign_in().post("/orders/new/?site=quarry", form)
    page = response.content.decode()
    assert response.status_code == 200
    assert said in page
    assert "&lt;script&gt;3 in&lt;/script&gt;" in page
    assert not WorkOrder.objects.exists()


@pytest.mark.parametrize(
    "query",
    ["report=0", "report=x", "report=" + "9" * 30, "tree=no-such", "site=no-such", "tree=%00x"],
)
def test_what_an_address_names_must_be_there(sign_in, query):
    assert sign_in().get(f"/orders/new/?{query}").status_code == 404


def test_an_order_is_planned(sign_in, order):
    form = {"version": "0", "planned_for": "2026-06-20", "team": "Team A"}
    response = sign_in().post("/orders/7/plan/", form)
    assert response.url == "/orders/7/"
    order.refresh_from_db()
    assert (order.state, order.planned_for) == ("planned", date(2026, 6, 20))


def test_a_plan_that_is_refused_says_every_reason_and_keeps_the_team(sign_in, order, tree):
    ReportFactory(tree=tree, danger="hanging_limb")
    Permission.objects.all().delete()
    form = {"version": "0", "planned_for": "2026-06-20", "team": "Team Hornbeam"}
    page = sign_in().post("/orders/7/plan/", form).content.decode()
    assert "Open danger" in page
    assert "has not given leave" in page
    assert "Team Hornbeam" in page
    order.refresh_from_db()
    assert order.state == "drafted"


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ({"planned_for": "2026-08-01"}, "Choose a day inside the window of the order."),
        ({"planned_for": ""}, "This field is required."),
        ({"utility_ticket": "A12"}, "A ticket needs its number and its last day, both."),
        ({"version": "x"}, "Enter a whole number."),
    ],
)
def test_a_plan_that_makes_no_sense_is_given_back(sign_in, order, bad, said):
    form = {"version": "0", "planned_for": "2026-06-20", "team": "Team Hornbeam"} | bad
    page = sign_in().post("/orders/7/plan/", form).content.decode()
    assert said in page
    assert "Team Hornbeam" in page


def test_the_second_of_two_planners_is_told_and_may_go_on(sign_in, order):
    client = sign_in()
    form = {"version": "0", "planned_for": "2026-06-20", "team": "Team A"}
    client.post("/orders/7/plan/", form)
    page = client.post("/orders/7/plan/", form | {"team": "Team B"})
    assert "Somebody else changed this" in page.content.decode()
    assert "Team B" in page.content.decode()
    assert 'name="version" value="1"' in page.content.decode()
    client.post("/orders/7/plan/", form | {"team": "Team B", "version": "1"})
    order.refresh_from_db()
    assert order.team == "Team B"


def test_an_order_is_changed_line_by_line(sign_in, order, tree):
    line = order.lines.get()
    other = TreeFactory(tag="0500", site=tree.site)
    form = {"version": "0", "why": "drier", "who": "crew"}
    form |= {"window_from": "2026-06-16", "window_to": "2026-07-16", "tags": "0500"}
    form |= {f"keep{line.pk}": "on", f"dose{line.pk}": "8 gal", "care": ["mulch_ring"]}
    assert sign_in().post("/orders/7/change/", form).url == "/orders/7/"
    assert set(order.lines.values_list("tree", "care", "dose")) == {
        (tree.pk, "water", "8 gal"),
        (other.pk, "mulch_ring", ""),
    }


def test_an_order_without_lines_is_given_back(sign_in, order):
    form = {"version": "0", "why": "drier still", "who": "crew"}
    form |= {"window_from": "2026-06-16", "window_to": "2026-07-16"}
    page = sign_in().post("/orders/7/change/", form).content.decode()
    assert "An order needs a tree and a kind of care." in page
    assert "drier still" in page
    assert order.lines.count() == 1


def done(order, **more):
    line = order.lines.get()
    fields = {"version": "0", "done_on": "2026-06-16", "done_by": "Team A"}
    return fields | {f"line{line.pk}": "given"} | more


def test_a_crew_reports_an_order_done_with_photos(sign_in, order, tree):
    photo = SimpleUploadedFile("after.jpg", picture(), "image/jpeg")
    response = sign_in("crew").post("/orders/7/done/", done(order, notes="wet", photo1=photo))
    assert response.url == "/orders/7/"
    order.refresh_from_db()
    assert (order.state, order.look_due) == ("done", date(2026, 7, 21))
    assert order.photos.count() == 1
    assert CareGiven.objects.get().tree == tree


def test_everything_left_unmarked_was_done_when_that_is_ticked(sign_in, order, tree):
    other = OrderLineFactory(order=order, tree=TreeFactory(site=tree.site))
    form = {"version": "0", "done_on": "2026-06-16", "done_by": "Team A", "rest": "on"}
    form |= {f"line{other.pk}": "not_done", f"remark{other.pk}": "the gate was shut"}
    sign_in("volunteer").post("/orders/7/done/", form)
    assert dict(order.lines.values_list("outcome", "remark")) == {
        "given": "",
        "not_done": "the gate was shut",
    }


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ({"done_on": "2026-06-17"}, "That day has not come yet."),
        ({"done_on": "2020-01-01"}, "was planted."),
        ({"done_by": ""}, "This field is required."),
        ({"line": ""}, "0407: done, or not done?"),
        ({"line": "perhaps"}, "perhaps"),
        ({"line": "not_done"}, "Say why it was not done."),
        ({"line": "not_done", "remark": "rain"}, "Nothing was done"),
        ({"notes": "<u>long</u>" + "x" * 2001}, "at most 2000 characters"),
    ],
)
def test_a_report_of_work_that_makes_no_sense_is_given_back(sign_in, order, bad, said):
    line = order.lines.get()
    named = {f"{key}{line.pk}" if key in ("line", "remark") else key: bad[key] for key in bad}
    form = done(order, notes="<u>two</u> buckets") | named
    page = sign_in("volunteer").post("/orders/7/done/", form).content.decode()
    assert said in page
    assert "<u>" not in page
    assert "&lt;u&gt;" in page
    order.refresh_from_db()
    assert order.state == "drafted"


def test_a_photo_that_is_refused_costs_no_words(sign_in, order):
    photo = SimpleUploadedFile("after.jpg", b"GIF89a", "image/jpeg")
    page = sign_in("crew").post("/orders/7/done/", done(order, notes="two buckets", photo1=photo))
    assert "That is not a photo we can open." in page.content.decode()
    assert "two buckets" in page.content.decode()


def test_a_felled_tree_is_said_to_have_been_dead_or_not(sign_in, tree):
    line = OrderLineFactory(
        tree=tree, care="remove_dead_tree", order=WorkOrderFactory(number=7, who="crew")
    )
    why = {f"remark{line.pk}": "it leaned over the path"}
    client = sign_in("crew")
    page = client.post("/orders/7/done/", done(line.order, **why)).content.decode()
    assert "Say whether the tree was dead when it came down." in page
    client.post("/orders/7/done/", done(line.order, **why, **{f"left{line.pk}": "died"}))
    tree.refresh_from_db()
    assert tree.left == "died"


def test_two_people_reporting_one_order_make_one_record(sign_in, order):
    client = sign_in("crew")
    client.post("/orders/7/done/", done(order))
    page = client.post("/orders/7/done/", done(order, notes="my own words")).content.decode()
    assert "Somebody else changed this" in page
    assert "my own words" in page
    assert CareGiven.objects.count() == 1


def test_an_order_is_dropped_with_its_reason_and_its_report_opens(sign_in, tree):
    report = ReportFactory(tree=tree)
    client = sign_in()
    client.post(f"/orders/new/?report={report.pk}", drafted(tree, version="0"))
    number = WorkOrder.objects.get().number
    page = client.post(f"/orders/{number}/drop/", {"version": "0", "reason": ""})
    assert "This field is required." in page.content.decode()
    client.post(f"/orders/{number}/drop/", {"version": "0", "reason": "it rained"})
    assert WorkOrder.objects.get().dropped_because == "it rained"
    report.refresh_from_db()
    assert report.state == Report.State.NEW


@pytest.mark.parametrize("page", ["plan", "done", "drop", "change"])
def test_a_closed_order_sends_its_forms_away_with_words(sign_in, order, page):
    WorkOrder.objects.update(state="done", done_on=date(2026, 6, 1), done_by="A")
    response = sign_in().get(f"/orders/7/{page}/", follow=True)
    assert response.redirect_chain[-1][0] == "/orders/7/"
    assert "Order 7 is done: nothing can be changed any more." in response.content.decode()
