"""Pages on which a number of a dose is changed, a label is read, and what was put on is kept."""

import re
from datetime import date, timedelta

import pytest

from survey.trees.measured import CoatGiven, FeedGiven
from survey.trees.models import LookSign, Permission, StemMeasure
from survey.workorders.models import Trial
from tests.factories import (
    TODAY,
    LandManagerFactory,
    LookFactory,
    OrderLineFactory,
    SiteFactory,
    TreeFactory,
    WorkOrderFactory,
)

DOSE = "/orders/7/dose/mulch_ring/"


@pytest.fixture
def site():
    return SiteFactory(name="Quarry Green", land_manager=LandManagerFactory())


@pytest.fixture
def order(site):
    order = WorkOrderFactory(number=7)
    for tag, inches in (("0401", 7.54), ("0402", 9)):
        tree = TreeFactory(site=site, tag=tag, ref=f"t-{tag}")
        look = LookFactory(tree=tree, day=TODAY - timedelta(days=5))
        StemMeasure.objects.create(look=look, girth_m=inches * 0.0254)
        OrderLineFactory(order=order, tree=tree, care="mulch_ring")
    return order


def text(response):
    return response.content.decode()


def typed(**more):
    return {"version": "0", "act": "keep", "for_tree": "all"} | more


def kept(order):
    return {line.tree.tag: line.inputs for line in order.lines.select_related("tree")}


# --- the order's own page ------------------------------------------------------------------------


def test_an_order_is_worked_like_a_sum(sign_in, order):
    page = text(sign_in("volunteer").get("/orders/7/"))
    assert "half the trunk 1.2 in + clear bark 4 in" in page
    assert "sq ft × 0.25 ft" in page
    assert "The ring, in section" in page
    assert "Tree by tree" in page
    assert page.index("First, what not to do") < page.index("Doses, worked")
    assert "a refusal is a dose too" in page


def test_work_without_a_hazard_of_its_own_still_begins_with_what_not_to_do(sign_in, order):
    order.lines.update(care="water")
    page = text(sign_in().get("/orders/7/"))
    top = page[page.index("First, what not to do") : page.index("Doses, worked")]
    assert "Do not step into the road" in top
    assert "Anywhere outside" not in page


def test_metric_readers_read_meters(sign_in, order):
    page = text(sign_in("staff", units="metric").get("/orders/7/"))
    assert "m² × 0.0762 m" in page
    assert "sq ft" not in page.replace("1,000 sq ft", "")


def test_a_refused_tree_and_what_opens_it_are_said(sign_in, order):
    look = LookFactory(tree=order.lines.first().tree, day=TODAY - timedelta(days=1))
    LookSign.objects.create(look=look, sign="dry_soil")
    page = text(sign_in().get("/orders/7/"))
    assert "the root ball is dry: soak first" in page
    assert "Soak first: put water on this order" in page


def test_the_sheet_holds_every_caution_in_english_and_spanish(sign_in, order):
    page = text(sign_in().get("/orders/7/sheet/"))
    assert '<section lang="en"><h3>English</h3>' in page
    assert '<section lang="es"><h3>Español</h3>' in page
    assert page.count("<li><div><b>Do not ") >= 10
    assert "To bring:" in page


def test_an_order_asks_as_many_questions_however_many_trees_it_has(
    sign_in, site, django_assert_max_num_queries
):
    client = sign_in()
    for number, count in ((8, 2), (9, 30)):
        order = WorkOrderFactory(number=number)
        for _ in range(count):
            for care in ("water", "mulch_ring"):
                OrderLineFactory(order=order, tree=TreeFactory(site=site), care=care)
        client.get(f"/orders/{number}/")
        with django_assert_max_num_queries(24):
            client.get(f"/orders/{number}/")


# --- numbers -------------------------------------------------------------------------------------


def test_a_number_is_changed_and_the_rest_follows(sign_in, order):
    client = sign_in()
    assert 'value="3"' in text(client.get(DOSE))
    shown = text(client.post(DOSE, typed(act="work", outer_radius="4")))
    assert "nothing is kept yet" in shown
    assert "π × (4² − 0.43" in shown
    assert kept(order) == {"0401": {}, "0402": {}}
    client.post(DOSE, typed(outer_radius="4", depth="3"))
    assert kept(order)["0401"] == {"outer_radius": pytest.approx(4 * 0.3048)}


def test_fractions_of_a_tape_are_read_and_one_tree_may_differ(sign_in, order):
    sign_in().post(DOSE, typed(depth="2 1/2", for_tree="t-0402"))
    assert kept(order) == {"0401": {}, "0402": {"depth": pytest.approx(2.5 * 0.0254)}}


def test_an_emptied_number_goes_back_to_the_usual_one(sign_in, order):
    order.lines.update(inputs={"depth": 0.05})
    sign_in().post(DOSE, typed(depth=""))
    assert kept(order)["0401"] == {}


@pytest.mark.parametrize(
    ("number", "says"),
    [
        ("nan", "Write this as a number"),
        ("inf", "Write this as a number"),
        ("1e999", "Write this as a number"),
        ("-3", "This lies between"),
        ("99", "This lies between"),
        ("3 1/0", "Write this as a number"),
        ("<script>", "Write this as a number"),
        ("3" * 400, "Write this as a number"),
        ("drei", "Write this as a number"),
    ],
)
def test_a_number_that_cannot_be_is_given_back_with_its_reason(sign_in, order, number, says):
    page = text(sign_in().post(DOSE, typed(outer_radius=number, chips_of="linden")))
    assert says in page
    assert "<script>" not in page.replace("<script type", "").replace("<script src", "")
    assert "linden" in page
    assert kept(order)["0401"] == {}


def test_who_comes_second_keeps_what_they_typed(sign_in, order):
    order.version = 3
    order.save()
    page = text(sign_in().post(DOSE, typed(depth="2")))
    assert "Somebody else changed this" in page
    assert 'value="2"' in page
    assert kept(order)["0401"] == {}


def test_chips_are_asked_about_and_refused_in_words(sign_in, order):
    client = sign_in()
    assert "Where do they come from?" in text(client.get("/orders/7/"))
    client.post(DOSE, typed(chips_from="yard", chips_of="ash", no_glass="on"))
    page = text(client.get("/orders/7/"))
    assert "Not this load: from trees with borers; from behind a quarantine line." in page
    order.refresh_from_db()
    ticks = {"no_borers": "on", "no_quarantine": "on", "no_glass": "on"}
    given = typed(version=str(order.version), chips_from="yard", chips_of="linden", building="40")
    client.post(DOSE, given | ticks)
    assert "All asked: this load may come." in text(client.get("/orders/7/"))


def test_a_dose_is_overruled_by_trained_staff_alone(sign_in, order):
    form = {"act": "overrule", "over-version": "0", "over-because": "The ring is too tight"}
    client = sign_in("staff")
    client.post(DOSE, form)
    line = order.lines.first()
    assert line.overruled_because == "The ring is too tight"
    assert "The ring is too tight" in text(client.get("/orders/7/"))
    untrained = sign_in("staff", trained_on=None)
    assert untrained.get(DOSE).status_code == 200


@pytest.mark.parametrize("path", ["/orders/7/dose/water/", "/orders/7/dose/nothing/"])
def test_care_that_is_not_on_the_order_is_not_found(sign_in, order, path):
    assert sign_in().get(path).status_code == 404


def test_an_order_that_is_dropped_keeps_its_numbers(sign_in, order):
    order.state, order.dropped_because = "dropped", "no need"
    order.dropped_at = order.created_at
    order.save()
    response = sign_in().get(DOSE)
    assert response.url == "/orders/7/"


def test_planning_in_a_closed_month_is_refused_in_time_and_keeps_the_day(sign_in, site):
    order = WorkOrderFactory(number=7, window_from=TODAY, window_to=date(2026, 12, 31))
    tree = TreeFactory(site=site)
    OrderLineFactory(order=order, tree=tree, care="whitewash", inputs={"label_read": True})
    Permission.objects.create(
        land_manager=site.land_manager,
        care="whitewash",
        who="anybody",
        from_day=date(2026, 1, 1),
        to_day=date(2027, 1, 1),
    )
    client = sign_in()
    form = {"version": "0", "planned_for": "2026-10-03", "team": "Saturday people"}
    page = text(client.post("/orders/7/plan/", form))
    assert "“White trunk coat” is out of season then (1 tree)." in page
    assert "It is open in these months here: April, May, June, July." in page
    assert page.count("is out of season then") == 1
    assert "Opens again:" in page
    assert 'value="2026-10-03"' in page
    assert "Saturday people" in page
    client.post("/orders/7/plan/", form | {"planned_for": "2026-07-04"})
    order.refresh_from_db()
    assert order.state == "planned"


# --- a label -------------------------------------------------------------------------------------

BAG = {"nitrogen": "4", "phosphate": "6", "potash": "3", "mass": "10", "used": "40", "area": "25"}


def test_a_bag_is_read_back_to_grams_and_a_word(sign_in):
    # A 4-6-3 label on a 10 kg bag of which 40 in 100 was used: 160 g N, 240 g phosphate of which
    # 104.6 g is phosphorus, 120 g potash of which 99.6 g is potassium; on 25 m2 6.4 g N a m2.
    page = text(sign_in("volunteer", units="metric").get("/fertilizer/", BAG))
    for amount in ("160 g", "240 g", "105 g", "120 g", "99.6 g", "6.4 g/m²"):
        assert amount in page
    assert "Under the usual rate" in page
    assert "no reason to add more" in page


def test_too_much_is_called_over_and_a_new_tree_is_left_alone(sign_in):
    client = sign_in("staff", units="metric")
    assert "<h1>Over:" in text(client.get("/fertilizer/", BAG | {"area": "4"}))
    young = text(client.get("/fertilizer/", BAG | {"years": "1"}))
    assert "Leave alone" in young
    assert "in the ground under two years" in young


@pytest.mark.parametrize(
    ("bad", "says"),
    [
        ({"nitrogen": "90", "phosphate": "20"}, "add up to more than 100"),
        ({"used": "140"}, "more than it can be"),
        ({"used": "-1"}, "below zero"),
        ({"area": "0"}, "more than zero"),
        ({"mass": "nan"}, "Write this as a number"),
        ({"mass": "1e400"}, "Write this as a number"),
        ({"mass": "' OR 1=1"}, "Write this as a number"),
        ({"potash": ""}, "This field is required."),
    ],
)
def test_a_label_that_cannot_be_prints_no_number(sign_in, bad, says):
    page = text(sign_in("staff", units="metric").get("/fertilizer/", BAG | bad))
    assert says in page
    assert "Nitrogen by area" not in page
    assert 'value="6"' in page or "phosphate" in bad


def errors_of(page):
    return page.partition('id="errors"')[2].partition("</div>")[0]


def test_all_that_is_wrong_with_a_label_is_told_at_once(sign_in):
    bad = {"nitrogen": "-6", "used": "140", "area": "0", "mass": "10 stone", "years": "-2"}
    told = errors_of(text(sign_in("staff").get("/fertilizer/", BAG | bad)))
    assert "5 things are not right yet" in told
    for name in bad:
        assert f'href="#id_{name}"' in told
    assert "with one of these units: kg, g, lb, oz." in told


def test_a_sum_past_a_hundred_is_told_at_each_of_the_three_numbers(sign_in):
    told = errors_of(text(sign_in("staff").get("/fertilizer/", BAG | {"nitrogen": "92"})))
    assert told.count("add up to more than 100") == 3
    for name in ("nitrogen", "phosphate", "potash"):
        assert f'href="#id_{name}"' in told


@pytest.mark.parametrize(
    ("typed", "same"),
    [
        ({"mass": "10 kg"}, {"mass": "22.0462262"}),
        ({"mass": "352 oz"}, {"mass": "22 lbs"}),
        ({"mass": "9979.03214g"}, {"mass": "22"}),
        ({"mass": "22 1/2 LB"}, {"mass": "22.5"}),
        ({"area": "2 m²"}, {"area": "21.5278208 sq ft"}),
        ({"used": "40 %"}, {"used": "40"}),
    ],
)
def test_a_unit_that_is_written_is_understood_and_converted(sign_in, typed, same):
    client = sign_in("staff")

    def worked(more):
        return re.search(r"<h1>(.*?)</h1>", text(client.get("/fertilizer/", BAG | more)))[1]

    assert "of nitrogen this year" in worked(typed)
    assert worked(typed) == worked(same)
    assert worked({"mass": "10 kg"}) != worked({"mass": "10"})


def test_a_tree_that_is_not_to_be_fed_is_told_first_and_bold(sign_in):
    page = text(sign_in("staff").get("/fertilizer/", BAG | {"years": "1"}))
    assert page.index("<b>Not to be fed:") < page.index("<h1>")
    assert page.count("Not to be fed:") == 1


def test_a_label_of_noughts_holds_no_nutrient(sign_in):
    bag = BAG | {"nitrogen": "0", "phosphate": "0", "potash": "0"}
    page = text(sign_in("staff").get("/fertilizer/", bag))
    assert "<h1>No nutrient:" in page
    assert "Under the usual rate" not in page
    earlier = text(sign_in("staff").get("/fertilizer/", bag | {"earlier": "9"}))
    assert "<h1>Over:" in earlier


# --- what was put on -----------------------------------------------------------------------------


def done(order, **more):
    form = {"version": "0", "done_on": "2026-06-15", "done_by": "Crew"}
    for line in order.lines.all():
        form |= {f"line{line.pk}": "given", f"remark{line.pk}": "the owner was there"}
    return form | more


def test_what_is_closed_is_not_done_by_leaving_it_unmarked(sign_in, site):
    order = order_with(site, "water")
    rest = {"version": "0", "done_on": "2026-06-15", "done_by": "Crew", "rest": "on"}
    client = sign_in("crew")
    page = text(client.post("/orders/7/done/", rest))
    assert page.count("is closed: was it really done?") == 4
    marked = {f"line{line.pk}": "given" for line in order.lines.all()}
    page = text(client.post("/orders/7/done/", rest | marked))
    assert "was closed. Say why it was done all the same." in page
    order.refresh_from_db()
    assert order.state == "drafted"
    client.post("/orders/7/done/", done(order))
    order.refresh_from_db()
    assert order.state == "done"
    assert {line.remark for line in order.lines.all()} == {"the owner was there"}


def test_what_was_planned_for_a_coat_stands_in_the_form_that_reports_it(sign_in, site):
    order = order_with(site, "whitewash")
    order.lines.update(inputs={"sides": ["s", "w"], "to_m": 1.2192, "coats": 2})
    page = text(sign_in("crew").get("/orders/7/done/"))
    assert 'name="coat_to" value="4"' in page
    assert page.count("checked") == 2
    assert 'name="coat_coats" value="2"' in page


def order_with(site, care):
    order = WorkOrderFactory(number=7, who="crew")
    planted = date(2022, 11, 14)
    for tag in ("0401", "0402"):
        tree = TreeFactory(site=site, tag=tag, planted_from=planted, planted_to=planted)
        OrderLineFactory(order=order, tree=tree, care=care)
    return order


def test_a_coat_is_kept_with_its_product_color_height_and_sides(sign_in, site):
    order = order_with(site, "whitewash")
    client = sign_in("crew")
    coat = {"coat_product": "Chalk white latex", "coat_color": "white", "coat_from": "0"}
    page = text(client.post("/orders/7/done/", done(order, **coat)))
    assert "This is needed where it was done." in page
    assert "Chalk white latex" in page
    assert not CoatGiven.objects.exists()
    coat |= {"coat_to": "4", "coat_sides": ["s", "sw"], "coat_coats": "1"}
    client.post("/orders/7/done/", done(order, **coat))
    kept = CoatGiven.objects.all()
    assert [(row.product, row.sides, row.coats) for row in kept] == [
        ("Chalk white latex", ["s", "sw"], 1)
    ] * 2
    assert kept[0].to_m == pytest.approx(4 * 0.3048)
    assert "Chalk white latex, white, 0 ft to 4 ft, south, southwest" in text(
        client.get("/orders/7/")
    )
    tree = order.lines.first().tree
    history = text(client.get(f"/trees/{tree.ref}/"))
    assert "Chalk white latex, white, 0 ft to 4 ft, south, southwest" in history


def test_a_coat_upside_down_is_refused(sign_in, site):
    order = order_with(site, "whitewash")
    coat = {"coat_product": "Latex", "coat_color": "white", "coat_from": "5", "coat_to": "2"}
    page = text(sign_in("crew").post("/orders/7/done/", done(order, **coat)))
    assert "The coat has to end above where it begins: 5 ft to 2 ft." in page
    assert not CoatGiven.objects.exists()


def test_fertilizer_is_kept_and_its_nitrogen_by_area_is_told(sign_in, site):
    order = order_with(site, "fertilize")
    feed = {
        "feed_product": "Feather meal",
        "feed_nitrogen": "4",
        "feed_phosphate": "6",
        "feed_potash": "3",
        "feed_mass": "10",
        "feed_used": "40",
        "feed_area": "2.6",
    }
    client = sign_in("crew", units="metric")
    client.post("/orders/7/done/", done(order, **feed))
    rows = list(FeedGiven.objects.all())
    assert [row.mass_kg for row in rows] == [pytest.approx(2.0)] * 2
    assert rows[0].nitrogen_share == pytest.approx(0.04)
    page = text(client.get("/orders/7/"))
    assert "Feather meal: nitrogen 30.8 g/m². Over." in page


def test_a_label_past_a_hundred_writes_nothing_down(sign_in, site):
    order = order_with(site, "fertilize")
    feed = {
        "feed_product": "X",
        "feed_nitrogen": "60",
        "feed_phosphate": "60",
        "feed_potash": "3",
        "feed_mass": "10",
        "feed_used": "40",
        "feed_area": "2.6",
    }
    page = text(sign_in("crew").post("/orders/7/done/", done(order, **feed)))
    assert "add up to more than 100" in page
    assert not FeedGiven.objects.exists()
    order.refresh_from_db()
    assert order.state == "drafted"


# --- trials --------------------------------------------------------------------------------------


def test_a_trial_is_drawn_from_an_order_and_printed_by_side(sign_in, order):
    client = sign_in()
    page = text(client.get("/trials/new/?order=7"))
    assert "0401" in page
    form = {
        "question": "Do coats help <b>here</b>?",
        "care": "whitewash",
        "instead": "usual_care",
        "until": "2027-09-01",
        "trees": ["t-0401", "t-0402"],
    }
    response = client.post("/trials/new/?order=7", form, follow=True)
    shown = text(response)
    trial = Trial.objects.get()
    assert "Do coats help &lt;b&gt;here&lt;/b&gt;?" in shown
    assert "Too small to tell: 1 against 1 trees." in shown
    assert f"Drawn from the number {trial.lot}," in shown
    assert "The answer is read on September 1, 2027, not sooner" in shown
    again = text(client.post("/trials/new/?order=7", form))
    assert "In another trial of the same care already: 0401, 0402." in again
    client.post(f"/trials/{trial.ref}/end/", {"because": "Season over"})
    assert "Season over" in text(client.get("/trials/"))
    assert "not sooner" not in text(client.get(f"/trials/{trial.ref}/"))


@pytest.mark.parametrize(
    "path",
    ["/trials/new/?order=x", "/trials/new/?order=999", "/trials/new/?planting=none", "/trials/no/"],
)
def test_what_is_not_there_is_not_found(sign_in, path):
    assert sign_in().get(path).status_code == 404


def test_a_trial_has_no_care_until_one_is_chosen_and_says_what_is_not_tried(sign_in, order):
    client = sign_in()
    page = text(client.get("/trials/new/?order=7"))
    assert '<option value="" selected>Choose one</option>' in page
    assert '<option value="water"' not in page
    assert "It is known to help. No tree goes without it for a trial.</b> Water, Mulch ring" in page
    form = {"question": "Why?", "care": "water", "instead": "remove_dead_tree"}
    page = text(client.post("/trials/new/", form | {"until": "2027-09-01", "tags": "0401"}))
    errors = page.partition('id="errors"')[2].partition("</ul>")[0]
    assert "“Water” is not tried by lot." in errors
    assert "Neither removing nor planting is drawn by lot." in errors
    assert "A trial needs at least two trees." in errors
    assert not Trial.objects.exists()


def test_a_trial_needs_two_trees_and_a_later_day(sign_in, order):
    client = sign_in()
    form = {"question": "Why?", "care": "compost", "instead": "usual_care", "until": "2026-06-17"}
    page = text(client.post("/trials/new/", form | {"tags": "0401"}))
    assert "A trial needs at least two trees." in page
    page = text(client.post("/trials/new/", form | {"tags": "0401 0402"}))
    assert "A tree needs four weeks to answer: choose a later day." in page
    assert "0401 0402" in page


def test_a_bound_is_told_in_round_numbers_that_are_allowed(sign_in, order):
    page = text(sign_in().post(DOSE, typed(outer_radius="0.1")))
    assert "This lies between 0.33 ft and 49 ft." in page
    sign_in().post(DOSE, typed(outer_radius="49"))
    assert kept(order)["0401"]["outer_radius"] == pytest.approx(49 * 0.3048)


def test_the_sheet_of_a_coat_tells_sides_height_and_mix_and_whose_wound_is_not_measured(
    sign_in, site
):
    coat = order_with(site, "whitewash")
    look = LookFactory(tree=coat.lines.first().tree, day=TODAY)
    LookSign.objects.create(look=look, sign="bark_wound")
    page = text(sign_in().get("/orders/7/sheet/"))
    assert (
        "Sides: south, southwest, west. From 0 ft to 5 ft high, 1 coat, paint 1 to water 1." in page
    )
    assert f"Measure the wound first: {look.tree}." in page


def test_an_overruled_refusal_names_who_when_and_what(sign_in, order):
    client = sign_in("staff", name="Bram Oakes")
    form = {"act": "overrule", "over-version": "0", "over-because": "The ring is too tight"}
    client.post(DOSE, form)
    page = text(client.get("/orders/7/"))
    assert "Bram Oakes, June 16, 2026." in page
    assert "has not given leave" in page.partition("Set aside:")[2]
