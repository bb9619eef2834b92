"""What is believed of a tree, and why, on every page that tells it."""

import re
from datetime import date
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from frontend.believed import died_when, offer_in_short, offer_of, plainly_said
from survey.condition.actions.overrule import overrule_belief
from survey.condition.models import Belief
from survey.reports.keys import digest
from tests.factories import (
    NOON,
    AreaFactory,
    LookFactory,
    ObserverFactory,
    PersonFactory,
    PhotoFactory,
    ReportFactory,
    SiteFactory,
    TreeFactory,
)
from tests.survey.belief_rows import belief, dated_belief

pytestmark = pytest.mark.django_db

SECRET = "a-secret-long-enough-for-a-note"
RISK = re.compile(r"\b(?:low|moderate|high|extreme) risk\b", re.IGNORECASE)
DEAD = {"thriving": 0, "holding": 0, "slipping": 0.02, "failing": 0.06, "dead": 0.9, "gone": 0.02}


@pytest.fixture(autouse=True)
def area():
    return AreaFactory()


@pytest.fixture
def tree():
    """A volunteer found it thriving; a year later two neighbors wrote "dead" in leaf."""
    tree = TreeFactory(tag="0407")
    LookFactory(tree=tree, day=date(2025, 6, 2), condition="thriving")
    for day in (date(2026, 5, 4), date(2026, 6, 1)):
        neighbor = ObserverFactory(kind="resident")
        LookFactory(
            tree=tree, day=day, condition="dead", trained=False, channel="complaint",
            observer=neighbor, note="Mrs. <Hale> says so",
        )  # fmt: skip
    return tree


@pytest.fixture
def report(tree):
    report = ReportFactory(tree=tree, secret_digest=digest(SECRET))
    report.looks.add(tree.looks.order_by("day").last())
    return report


@pytest.fixture
def staff(client):
    client.force_login(PersonFactory(name="Ben Ruiz"))
    return client


def words_of(response):
    assert response.status_code == 200
    page = response.content.decode().split("<main", 1)[1]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


# ------------------------------------------------------------------------------------ the docket


def test_the_docket_tells_the_belief_and_folds_the_why(staff, report, tree):
    belief(tree=tree, lost=0.6, settle="scratch", settle_gain=0.3)
    response = staff.get(f"/desk/{report.pk}/")
    page = words_of(response)
    assert re.search(r"trees like this are dead or gone", page)
    assert "weighed from 3 looks and all silence" in page
    assert "How each look moved “dead or gone”" in page
    assert "So, of 100 trees like this" in page
    assert '<details class="why wide" id="why">' in response.content.decode()
    assert re.search(r"A trained look with a scratch test|a trained look with a scratch test", page)
    assert "Green under the bark speaks for alive, brown for dead." in page


def test_the_docket_says_what_it_would_be_without_this_report(staff, report, tree):
    belief(tree=tree, lost=0.6)
    page = words_of(staff.get(f"/desk/{report.pk}/"))
    assert re.search(r"Without this report it would be (?:about )?\d+ in 100\.", page)


def test_the_key_of_why_is_on_its_summary_and_in_the_list_of_keys(staff, report, tree):
    belief(tree=tree)
    page = staff.get(f"/desk/{report.pk}/").content.decode()
    assert '<summary data-key="y">' in page
    assert "<kbd>Y</kbd></dt>" in page


def test_before_it_was_weighed_the_docket_says_so(staff, report):
    page = words_of(staff.get(f"/desk/{report.pk}/"))
    assert "Weighing all that was seen is on its way." in page
    assert "when a trained person last looked" in page
    assert "So, of 100 trees" not in page


def test_a_note_that_names_no_tree_has_no_belief(staff):
    page = words_of(
        staff.get(f"/desk/{ReportFactory(tree=None, area=AreaFactory(), site=SiteFactory()).pk}/")
    )
    assert "This note names no tree yet, so nothing is known." in page


def test_nobody_is_offered_to_go_where_there_is_danger(staff, report, tree):
    belief(tree=tree, settle="look", settle_gain=0.3)
    report.danger = "wire"
    report.save()
    assert "would settle most" not in words_of(staff.get(f"/desk/{report.pk}/"))
    assert "would settle most" not in words_of(staff.get(f"/trees/{tree.ref}/"))


def test_a_reason_of_an_overruling_is_only_words(staff, report, tree):
    by = PersonFactory(name="Ada Brandt")
    overrule_belief(
        tree=tree,
        state="failing",
        day=date(2026, 6, 10),
        reason="<script>x</script>",
        by=by,
        at=NOON,
    )
    belief(tree=tree)
    for address in (f"/desk/{report.pk}/", f"/trees/{tree.ref}/"):
        page = staff.get(address).content.decode()
        assert "<script>x" not in page
        assert "&lt;script&gt;x" in page
        assert "Trained staff decided in June" in page
        assert "Decided by trained staff: “failing”, June 10, 2026." in words_of(staff.get(address))


def test_the_docket_asks_as_much_for_forty_looks_as_for_three(staff, report, tree):
    belief(tree=tree)
    asked = []
    for more in (0, 37):
        LookFactory.create_batch(more, tree=tree, day=date(2026, 3, 3))
        staff.get(f"/desk/{report.pk}/")
        with CaptureQueriesContext(connection) as questions:
            staff.get(f"/desk/{report.pk}/")
        asked.append(len(questions))
    assert asked[0] == asked[1]
    Belief.objects.all().delete()
    with CaptureQueriesContext(connection) as questions:
        staff.get(f"/desk/{report.pk}/")
    assert asked[0] - len(questions) <= 12


def test_the_queue_draws_trees_as_they_are_believed(staff, report, tree):
    page = staff.get("/desk/").content.decode()
    assert "tree, as we believe it" in page
    assert "slipping, could be failing" not in page
    belief(tree=tree, thriving=0.01, holding=0.04, slipping=0.6, failing=0.3, dead=0.05, gone=0)
    assert "slipping, could be failing" in staff.get("/desk/").content.decode()


# ------------------------------------------------------------------------------ the tree's pages


def test_inside_the_trees_page_has_the_why_and_the_months(client, tree):
    belief(tree=tree, lost=0.6)
    client.force_login(PersonFactory(role="volunteer"))
    page = words_of(client.get(f"/trees/{tree.ref}/"))
    assert "What we believed of 0407, month by month" in page
    assert "How each look moved" in page
    assert "in words" in page.lower()


def test_strangers_read_one_plain_sentence(client, tree):
    belief(tree=tree, looks=3)
    response = client.get(f"/trees/{tree.ref}/")
    page = words_of(response)
    assert "We think it is thriving; it could be holding." in page
    assert "That is what we make of all 3 looks so far." in page
    assert "Please tell us." in page
    for never in ("Hale", "points", "in 100", "Weighing", "Without"):
        assert never not in page
    assert not RISK.search(page)


def test_strangers_read_what_staff_laid_down_beside_what_is_believed(client, tree):
    by = PersonFactory(name="Ada Brandt")
    overrule_belief(
        tree=tree, state="failing", day=date(2026, 6, 10), reason="I saw it", by=by, at=NOON
    )
    belief(tree=tree)
    page = words_of(client.get(f"/trees/{tree.ref}/"))
    assert "Laid down by trained staff: failing, June 10, 2026." in page
    assert "Ada" not in page
    assert "I saw it" not in page


def test_strangers_read_when_it_died_once_two_visits_have_said_so(client, tree):
    dated_belief(tree=tree, lost=0.92, **DEAD)
    page = words_of(client.get(f"/trees/{tree.ref}/"))
    assert "It looks more likely dead than not; there are not yet two visits." in page
    assert "died" not in page
    for day in (date(2025, 7, 1), date(2025, 8, 10)):
        look = LookFactory(tree=tree, day=day, condition="dead", leaf="bare", scratch="brown")
        look.photos.add(PhotoFactory())
    page = words_of(client.get(f"/trees/{tree.ref}/"))
    assert "We think it has died." in page
    assert "It died between April 2025 and June 2026" in page


def test_a_tree_without_belief_is_told_by_its_last_look(client, tree):
    assert "Last seen thriving." in words_of(client.get(f"/trees/{tree.ref}/"))


def test_a_tree_that_left_is_gone_whatever_was_believed(client, tree):
    belief(tree=tree)
    tree.left_from = tree.left_to = date(2026, 6, 1)
    tree.left = next(code for code, _ in tree._meta.get_field("left").choices if code)
    tree.save()
    page = words_of(client.get(f"/trees/{tree.ref}/"))
    assert "This tree is gone" in page
    assert "We think" not in page


def test_the_private_note_has_one_line(client, report, tree):
    assert "How the tree is today" not in words_of(client.get(f"/note/{SECRET}/"))
    belief(tree=tree)
    page = words_of(client.get(f"/note/{SECRET}/"))
    assert "How the tree is today, from all that was seen: We think it is thriving" in page


# ----------------------------------------------------------------------------------------- walks


@pytest.fixture
def doubtful():
    """A site with twelve trees in doubt; the first can only be settled in leaf."""
    site = SiteFactory(name="Ferry Road", ref="ferry", latitude=None, longitude=None)
    trees = TreeFactory.create_batch(12, site=site)
    for n, tree in enumerate(trees):
        leaf = {"settle": "leaf", "settle_month": date(2027, 5, 1)}
        belief(tree=tree, **(leaf if n == 0 else {"settle": "scratch"}), settle_gain=0.9 - n / 20)
    return trees


def test_a_site_names_at_most_ten_trees_that_one_look_would_settle(staff, doubtful):
    page = words_of(staff.get("/walks/"))
    assert "Of 10 trees here we are in doubt, and one look each could settle it:" in page
    assert page.index(str(doubtful[1])) < page.index(str(doubtful[2]))
    assert str(doubtful[11]) not in page
    assert "(scratch test)" in page


def test_what_must_wait_for_leaves_comes_last(staff, doubtful):
    for tree in doubtful[6:]:
        tree.belief.delete()
    page = words_of(staff.get("/walks/"))
    assert page.index(str(doubtful[5])) < page.index(str(doubtful[0]))
    assert "(wait until it is in leaf, May)" in page


def test_the_walk_marks_them_with_the_look_they_need(staff, doubtful):
    page = words_of(staff.get("/walks/ferry/"))
    assert "could settle it: scratch test" in page
    assert "Of 10 trees we are in doubt, and one look each could settle it" in page


def test_nobody_is_sent_to_settle_a_tree_at_a_closed_site(staff, doubtful):
    ReportFactory(site=doubtful[0].site, tree=doubtful[0], danger="wire")
    assert "could settle" not in words_of(staff.get("/walks/"))


def test_the_walks_page_asks_as_much_for_many_doubts_as_for_few(staff, doubtful):
    asked = []
    for more in (0, 20):
        for tree in TreeFactory.create_batch(more, site=doubtful[0].site):
            belief(tree=tree, settle="look", settle_gain=0.5)
        with CaptureQueriesContext(connection) as questions:
            staff.get("/walks/")
        asked.append(len(questions))
    assert asked[0] == asked[1]


# -------------------------------------------------------------------------------------- in words


@pytest.mark.parametrize(
    ("shares", "said"),
    [
        ((0.9, 0.06, 0.02, 0.01, 0.01, 0), "We think it is thriving."),
        ((0.1, 0.6, 0.28, 0.01, 0.01, 0), "We think it is holding; it could be slipping."),
        (
            (0.05, 0.3, 0.4, 0.2, 0.03, 0.02),
            "We think it is slipping; it could be holding or failing.",
        ),
        ((0, 0, 0.02, 0.28, 0.6, 0.1), "We think it has died, but are not sure."),
        ((0, 0, 0.02, 0.03, 0.85, 0.1), "We think it has died."),
        ((0, 0, 0.01, 0.01, 0.18, 0.8), "We think it is no longer there."),
    ],
)
def test_a_belief_is_said_without_a_number(shares, said):
    names = ("thriving", "holding", "slipping", "failing", "dead", "gone")
    held = Belief(**dict(zip(names, shares, strict=True)), lost=shares[4] + shares[5])
    assert plainly_said(held) == said
    assert not re.search(r"\d", said)


def test_each_look_is_phrased_as_an_offer():
    for kind in Belief.Settle.values:
        offer = offer_of(Belief(settle=kind, settle_month=date(2027, 5, 1)))
        if not kind:
            assert offer is None
            continue
        assert offer.said.startswith(("If ", "It is best"))
        assert offer_in_short(Belief(settle=kind))
    assert "May 2027" in offer_of(Belief(settle="leaf", settle_month=date(2027, 5, 1))).said


def test_no_month_of_death_is_named_for_a_tree_that_likely_lives():
    held = Belief(lost=0.3, died_from=date(2026, 1, 1), gone=0, dead=0.3)
    assert died_when(held, date(2024, 1, 1)) == ""


def test_a_neighbor_reads_it_in_spanish_too(client, tree):
    belief(tree=tree, looks=3)
    page = words_of(client.get(f"/trees/{tree.ref}/", HTTP_ACCEPT_LANGUAGE="es"))
    assert "Creemos que está" in page
    assert "Eso es lo que nos dicen las 3 revisiones hasta ahora." in page
    assert "We think" not in page


@pytest.mark.parametrize("state", ["cannot_tell", "alive", "asleep", "top_dead"])
def test_what_two_visits_do_not_say_is_told_as_a_chance(state):
    held = Belief(
        thriving=0, holding=0, slipping=0.02, failing=0.03, dead=0.85, gone=0.1, lost=0.95,
        died_from=date(2026, 5, 1), died_about=date(2026, 5, 1), died_to=date(2026, 6, 1),
    )  # fmt: skip
    said = plainly_said(held, state=state)
    assert said == "It looks more likely dead than not; there are not yet two visits."
    assert died_when(held, date(2024, 1, 1), state=state) == ""
    assert died_when(held, date(2024, 1, 1), state="dead")
    assert plainly_said(held, state="dead") == "We think it has died."


def test_beside_a_tree_dead_by_two_visits_nothing_else_is_thought():
    held = Belief(
        thriving=0.5, holding=0.4, slipping=0.06, failing=0.02, dead=0.02, gone=0, lost=0.02
    )
    assert plainly_said(held, state="dead") == ""
    assert plainly_said(held, state="alive").startswith("We think it is thriving")
