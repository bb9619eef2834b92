"""Files from anywhere: how they are written, what is wrong with them, and that twice is once."""

import io
from datetime import date

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import translation

from survey.audit.models import Entry
from survey.chores.models import Chore
from survey.exports.intake import bring_in
from survey.exports.kinds import IMPORTS
from survey.exports.reading import UnreadableFile, open_sheet
from survey.people.models import Observer
from survey.trees.models import CareGiven, Happening, Look, Planting, Site, Tree, Weather
from survey.workorders.tasks import confirm_orders
from tests.factories import (
    NOON,
    AreaFactory,
    LandManagerFactory,
    OrderLineFactory,
    PersonFactory,
    PlantingFactory,
    SiteFactory,
    TreeFactory,
    WorkOrderFactory,
)

pytestmark = pytest.mark.django_db
SITES = "name,kind\nQuarry Green,park\nFerry Road,street\n"
TREES = "tag,site,planting,species,registered_on,registered_because\n"
LOOKS = "look_id,tree,day,observer,observer_kind,channel,presence,condition\n"


def bring(kind, text, **how):
    data = text if isinstance(text, bytes) else text.encode()
    how = {"area": AreaFactory(), "at": NOON, "by": None, **how}
    return bring_in(IMPORTS[kind], io.BytesIO(data), **how)


def told(outcome):
    return [(problem.line, problem.column) for problem in outcome.problems]


@pytest.fixture
def place():
    """A site, a planting and tree 0407 on it."""
    site, planting = SiteFactory(name="Ferry Road"), PlantingFactory(name="Ferry Road 2023")
    return TreeFactory(site=site, planting=planting, tag="0407")


def test_a_file_of_every_kind_comes_in(place):
    LandManagerFactory(name="Town Gardens")
    assert bring("sites", "name,kind,land_manager\nMill Steps,square,Town Gardens\n").made == 1
    assert bring("plantings", "name,planted,supplier\nMill 2024,2024-03,North Quay\n").made == 1
    trees = TREES + "0501,Mill Steps,Mill 2024,linden,2024-03-20,planting_record\n"
    assert bring("trees", trees).made == 1
    looks = (
        LOOKS.replace("\n", ",signs,girths_m\n")
        + "L1,0501,2025-06-03,ann,volunteer,walk,standing,slipping,"
        + "bark_wound:half_or_more:street;fungus,0.31;0.22\n"
    )
    assert bring("looks", looks).made == 1
    happenings = (
        "happening_id,place_kind,place,kind,from_day\nH1,site,Mill Steps,mowing,2025-05-02\n"
    )
    assert bring("happenings", happenings).made == 1
    assert bring("weather", "day,rain_mm,low_c,high_c\n2025-05-02,3.5,-1.5,12\n").made == 1
    tree = Tree.objects.get(tag="0501")
    assert (tree.planted_from, tree.planted_to) == (date(2024, 3, 1), date(2024, 3, 31))
    assert (tree.planted_precision, tree.walk_order) == ("month", 1)
    look = tree.looks.get()
    assert look.trained
    assert look.observer.kind == Observer.Kind.VOLUNTEER
    assert set(look.signs.values_list("sign", "extent", "side")) == {
        ("bark_wound", "half_or_more", "street"),
        ("fungus", "", ""),
    }
    assert list(look.measures.order_by("stem").values_list("girth_m", flat=True)) == [0.31, 0.22]
    assert Happening.objects.get().site.name == "Mill Steps"
    assert Weather.objects.get().low_c == -1.5


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("sites", "name,kind\nQuarry Green,park\nMill Steps,street\n"),
        ("plantings", "name,planted,planted_count\nMill 2024,2024-03,12\n"),
        ("trees", TREES + "9,Ferry Road,Ferry Road 2023,linden,2024-03-20,inventory\n"),
        ("looks", LOOKS + "L1,0407,2025-06-03,ann,volunteer,walk,standing,slipping\n"),
        (
            "happenings",
            "happening_id,place_kind,place,kind,from_day\nH1,tree,0407,pruned,2025-05-02\n",
        ),
        ("weather", "day,rain_mm\n2025-05-02,3.5\n"),
    ],
)
def test_the_same_file_twice_changes_nothing(place, kind, text):
    first = bring(kind, text)
    before = Chore.objects.count(), Entry.objects.count()
    again = bring(kind, text)
    assert first.saved
    assert not first.bad_rows
    assert (again.made, again.same, again.bad_rows) == (0, first.made, 0)
    assert (Chore.objects.count(), Entry.objects.count()) == before


def test_an_import_never_overwrites():
    bring("plantings", "name,planted,planted_count\nMill 2024,2024-03,12\n")
    again = bring("plantings", "name,planted,planted_count\nMill 2024,2024-03,14\n")
    assert told(again) == [(2, "planted_count")]
    assert Planting.objects.get().planted_count == 12


def test_one_bad_row_keeps_the_whole_file_out_unless_told_otherwise():
    text = SITES + "Mill Steps,castle\n"
    outcome = bring("sites", text)
    assert told(outcome) == [(4, "kind")]
    assert not outcome.saved
    assert not Site.objects.exists()
    assert not Chore.objects.exists()
    kept = bring("sites", text, keep_good=True)
    assert (kept.saved, kept.made) == (True, 2)
    assert Site.objects.count() == 2


def test_a_trial_keeps_nothing():
    outcome = bring("sites", SITES, dry_run=True)
    assert (outcome.made, outcome.saved) == (2, False)
    assert not Site.objects.exists()


def test_a_kept_file_leaves_an_audit_line_and_asks_for_new_figures(place):
    staff = PersonFactory()
    text = LOOKS + "L1,0407,2025-06-03,ann,volunteer,walk,standing,dead\n"
    bring("looks", text, by=staff)
    line = Entry.objects.get(act="file.imported")
    assert line.who == f"person:{staff.key}"
    assert (line.detail["kind"], line.detail["made"]) == ("looks", 1)
    kinds = set(Chore.objects.values_list("kind", flat=True))
    assert kinds == {"count_plantings", "roll_up_trend", "learn_area"}


@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_not_everybody_may_bring_files_in(role):
    with pytest.raises(PermissionDenied):
        bring("sites", SITES, by=PersonFactory(role=role))
    assert not Site.objects.exists()


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        ("name,kind\nMühle,park\n".encode(), "UTF-8"),
        ("name,kind\nMühle,park\n".encode("utf-8-sig"), "UTF-8 with a mark"),
        ("name,kind\nMühle,park\n".encode("utf-16"), "UTF-16"),
        ("name,kind\nMühle,park\n".encode("cp1252"), "Windows-1252"),
        ("name;kind\r\nMühle;park\r\n".encode("cp1252"), "Windows-1252"),
        ("name\tkind\nMühle\tpark\n".encode(), "UTF-8"),
        (
            '\ufeff"Name" , "KIND"\n'.replace(" , ", ",").encode() + "Mühle,park\n".encode(),
            "UTF-8 with a mark",
        ),
    ],
    ids=["plain", "marked", "utf-16", "windows", "semicolons", "tabs", "quoted header"],
)
def test_a_file_is_read_however_it_is_written(data, encoding):
    outcome = bring("sites", data)
    assert (outcome.encoding, outcome.made) == (encoding, 1)
    assert Site.objects.get().name == "Mühle"


def test_rows_in_another_encoding_than_the_rest_are_named():
    data = "name,kind\nMühle,park\n".encode() + "Höfe,park\n".encode("cp1252") + b"Quay,park\n"
    outcome = bring("sites", data, keep_good=True)
    assert told(outcome) == [(3, "")]
    assert "UTF-8" in outcome.problems[0].reason
    assert set(Site.objects.values_list("name", flat=True)) == {"Mühle", "Quay"}


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"", "empty"),
        (b"\n\n", "empty"),
        (b"PK\x03\x04 and more", "spreadsheet"),
        (b"nom,kind\nA,park\n", "Missing columns: name"),
        (b"name,kind,color\nA,park,red\n", "Unknown columns: color"),
        (b"name,kind,name\nA,park,B\n", "twice"),
        (b'name,"kind\nA,park\n', "header"),
        (b"name,kind\n" + b"x" * 1_000_001, "longer"),
        (b"\xff\xfe\x00", "Missing columns"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "Missing columns"),
    ],
)
def test_a_file_that_is_no_such_table_is_refused_before_any_row(data, word):
    with pytest.raises(UnreadableFile, match=word):
        bring("sites", data)


@pytest.mark.parametrize(
    ("row", "column"),
    [
        (b"A,park,extra\n", ""),
        (b"A\n", ""),
        (b'"A,park\n', ""),
        (b'"A"x,park\n', ""),
        (b"A\x00B,park\n", ""),
        (b",park\n", "name"),
        (b"A,\n", "kind"),
        (b"A,Park\n", "kind"),
        (b"A" * 81 + b",park\n", "name"),
        (b"A" * 200_000 + b",park\n", ""),
    ],
)
def test_a_bad_row_is_named_with_its_line(row, column):
    outcome = bring("sites", b"name,kind\nGood,park\n\n" + row)
    assert told(outcome) == [(4, column)]
    assert not Site.objects.exists()


def test_a_row_over_several_lines_is_named_by_its_first_and_later_rows_stay_right():
    text = 'name,kind,walk_from\nA,park,"by\nthe\npump"\nB,castle,\n'
    assert told(bring("sites", text)) == [(5, "kind")]


@pytest.mark.parametrize(
    ("day", "word"),
    [
        ("2025-02-30", "no such day"),
        ("06/03/2025", "two ways"),
        ("3.6.2025", "two ways"),
        ("2025-6-3", "two ways"),
        ("٢٠٢٥-٠٦-٠٣", "two ways"),
        ("2027-01-01", "not come yet"),
        ("2020-01-01", "before the tree was planted"),
        ("1023-01-01", "too long ago"),
        ("", "empty"),
    ],
)
def test_an_impossible_day_is_said_to_be_one(place, day, word):
    with translation.override("en"):
        outcome = bring("looks", LOOKS + f"L1,0407,{day},ann,staff,walk,standing,holding\n")
    assert told(outcome) == [(2, "day")]
    assert word in outcome.problems[0].reason
    assert not Look.objects.exists()


def test_a_tag_that_comes_twice_is_named_with_both_lines(place):
    row = "9,Ferry Road,Ferry Road 2023,{},2024-03-20,inventory\n"
    outcome = bring("trees", TREES + row.format("linden") + row.format("hornbeam"))
    assert told(outcome) == [(3, "tag")]
    assert "line 2" in outcome.problems[0].reason


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("9,Nowhere,Ferry Road 2023,linden,2024-03-20,inventory", "site"),
        ("9,Ferry Road,Nothing,linden,2024-03-20,inventory", "planting"),
        ("9,Ferry Road,Ferry Road 2023,palm,2024-03-20,inventory", "species"),
        ("9,Ferry Road,Ferry Road 2023,linden,2020-03-20,inventory", "registered_on"),
        ("9,Ferry Road,Ferry Road 2023,linden,2029-03-20,inventory", "registered_on"),
        ("9,Ferry Road,Ferry Road 2023,linden,2024-03-20,whim", "registered_because"),
        (",Ferry Road,Ferry Road 2023,linden,2024-03-20,inventory", "tag"),
    ],
)
def test_a_tree_that_cannot_be_is_refused_at_the_cell(place, row, column):
    assert told(bring("trees", TREES + row + "\n")) == [(2, column)]


@pytest.mark.parametrize(
    ("more", "column"),
    [
        ("latitude,longitude", "-95,10"),
        ("latitude,longitude", "36.62,"),
        ("latitude,longitude", "0,0"),
        ("stems", "41"),
        ("street_bearing", "400"),
        ("left", "died"),
        ("left,left_when", "died,2021"),
        ("replaces", "nobody"),
        ("ref", "not a slug"),
    ],
)
def test_a_tree_with_an_impossible_detail_is_refused(place, more, column):
    text = (
        TREES.replace("\n", f",{more}\n")
        + f"9,Ferry Road,Ferry Road 2023,linden,2024-03-20,inventory,{column}\n"
    )
    outcome = bring("trees", text)
    assert (outcome.bad_rows, outcome.made) == (1, 0)


def test_a_replacement_must_be_one(place):
    head = TREES.replace("\n", ",replaces\n")
    row = "9,Ferry Road,{},linden,2026-03-20,planting_record,0407\n"
    PlantingFactory(name="New 2026", planted_from=date(2026, 3, 20))
    assert told(bring("trees", head + row.format("Ferry Road 2023"))) == [(2, "planting")]
    assert told(bring("trees", head + row.format("New 2026"))) == [(2, "replaces")]
    Tree.objects.update(left="died", left_from=date(2025, 1, 1), left_to=date(2025, 1, 1))
    assert bring("trees", head + row.format("New 2026")).saved
    assert Tree.objects.get(tag="9").replaces.tag == "0407"


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ("9999,2025-06-03,ann,staff,walk,standing,holding", "tree"),
        ("0407,2025-06-03,ann,mayor,walk,standing,holding", "observer_kind"),
        ("0407,2025-06-03,ann,staff,dream,standing,holding", "channel"),
        ("0407,2025-06-03,ann,staff,walk,gone,dead", "condition"),
        ("0407,2025-06-03,ann,staff,walk,standing,poorly", "condition"),
        ("0407,2025-06-03,,staff,walk,standing,dead", "observer"),
    ],
)
def test_a_look_that_cannot_be_is_refused_at_the_cell(place, cells, column):
    assert told(bring("looks", LOOKS + f"L1,{cells}\n")) == [(2, column)]
    assert not Look.objects.exists()


@pytest.mark.parametrize(
    ("head", "cell"),
    [
        ("signs", "wickedness"),
        ("signs", "fungus:everywhere"),
        ("signs", "fungus:all_round:street:more"),
        ("girths_m", "0"),
        ("girths_m", "31"),
        ("girths_m", '"0,31"'),
        ("girths_m", "nan"),
        ("leaf", "brown"),
    ],
)
def test_a_detail_of_a_look_that_the_handbook_lacks_is_refused(place, head, cell):
    text = LOOKS.replace("\n", f",{head}\n")
    outcome = bring("looks", text + f"L1,0407,2025-06-03,a,staff,walk,standing,holding,{cell}\n")
    assert told(outcome) == [(2, head)]


@pytest.mark.parametrize(
    "row",
    [
        "2025-05-02,-1,,",
        "2025-05-02,1,12,3",
        "2025-05-02,1,-200,3",
        "2025-05-02,1e3,,",
        "2029-01-01,1,,",
    ],
)
def test_weather_that_never_was_is_refused(row):
    assert bring("weather", f"day,rain_mm,low_c,high_c\n{row}\n").bad_rows == 1
    assert not Weather.objects.exists()


def test_a_neighbors_look_is_untrained_and_an_import_can_say_otherwise(place):
    text = LOOKS.replace("\n", ",trained\n")
    bring("looks", text + "L1,0407,2025-06-03,ann,resident,adopter,standing,holding,\n"
          "L2,0407,2025-06-04,ben,resident,adopter,standing,holding,yes\n"
          "L3,0407,2025-06-05,cem,volunteer,walk,standing,holding,no\n")  # fmt: skip
    trained = dict(Look.objects.values_list("repeat_key", "trained"))
    assert trained == {"pellworth:L1": False, "pellworth:L2": True, "pellworth:L3": False}


def test_thousands_of_rows_cost_questions_by_the_batch(place, django_assert_max_num_queries):
    rows = "".join(
        f"L{n},0407,2025-06-{n % 28 + 1:02},ann,staff,walk,standing,holding\n" for n in range(1200)
    )
    with django_assert_max_num_queries(70):
        assert bring("looks", LOOKS + rows).made == 1200


def test_a_million_bad_rows_would_be_counted_and_a_thousand_listed():
    outcome = bring("sites", "name,kind\n" + "A,castle\n" * 1500)
    assert (outcome.bad_rows, len(outcome.problems)) == (1500, 1000)


def test_the_file_is_read_line_by_line_and_never_whole():
    class Tape(io.BytesIO):
        """A file that cannot be read at once."""

        def read(self, size=-1):
            assert 0 <= size <= 4
            return super().read(size)

    rows = b"name,kind\n" + b"".join(b"S%d,park\n" % n for n in range(3000))
    assert sum(1 for _ in open_sheet(Tape(rows)).rows()) == 3000


def test_a_look_from_a_file_confirms_the_order_it_judges_without_waiting_for_the_night(place):
    order = WorkOrderFactory(state="done", done_on=date(2026, 4, 1), done_by="the crew")
    given = CareGiven.objects.create(
        tree=place,
        care="water",
        given_from=order.done_on,
        given_to=order.done_on,
        given_precision="day",
        entered_at=NOON,
    )
    OrderLineFactory(order=order, tree=place, outcome="given", given=given)
    bring("looks", LOOKS + "L1,0407,2026-05-20,ann,volunteer,walk,standing,holding\n")
    assert Chore.objects.waiting().filter(kind="confirm_orders", key=str(place.pk)).exists()
    confirm_orders(str(place.pk))
    order.refresh_from_db()
    assert order.state == "confirmed"
