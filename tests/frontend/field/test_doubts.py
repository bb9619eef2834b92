"""The list of trees that a look would settle, and everything that keeps a tree off it."""

import re
from datetime import date
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from frontend.field.doubts import list_address, look_query, settled_said, waiting_said
from survey.condition.doubt_walks import Waiting
from survey.condition.models import Belief
from survey.trees.models import Look
from tests.factories import AreaFactory, LookFactory, ReportFactory, SiteFactory, TreeFactory
from tests.survey.belief_rows import belief

JUNE, MAY = date(2026, 6, 1), date(2027, 5, 1)
RISK = re.compile(r"\b(?:low|moderate|high|extreme) risk\b", re.IGNORECASE)
IN_DOUBT = {
    "thriving": 0.2, "holding": 0.2, "slipping": 0.1, "failing": 0.1, "dead": 0.35, "gone": 0.05,
    "lost": 0.4, "settle": "look", "settle_month": JUNE, "settle_gain": 0.15,
}  # fmt: skip


@pytest.fixture
def sites():
    """Two streets a kilometer apart, three trees in doubt on each."""
    made = []
    for name, north in (("Ferry Road", 0.0), ("Mill Lane", 0.01)):
        site = SiteFactory(name=name, ref=name.split()[0].lower(), latitude=None, longitude=None)
        for tree in TreeFactory.create_batch(3, site=site, latitude=36.62 + north):
            belief(tree=tree, **IN_DOUBT)
        made.append(site)
    return made


def words_of(response):
    text = re.sub(r"<[^>]*>", " ", response.content.decode())
    return " ".join(unescape(text).split())


def test_every_stop_says_what_to_do_and_leads_into_the_look(sign_in, sites):
    scratch = sites[0].trees.first()
    Belief.objects.filter(tree=scratch).update(settle="scratch", settle_gain=0.2)
    response = sign_in("volunteer").get("/walks/doubts/?minutes=30")
    page, words = response.content.decode(), words_of(response)
    assert "Ferry Road" in words
    assert "trees where a look tells most" in words
    for tree in sites[0].trees.all():
        assert f'href="/trees/{tree.ref}/look/?doubts=30"' in page
    assert "look, and scratch a twig" in words
    assert "How to do a scratch test" in words
    assert "Do not scratch the trunk. A scratch there is a wound." in words
    assert "Do not step into the road" in words
    assert not RISK.search(words)


def test_who_is_not_trained_yet_is_told_that_their_looks_tell_less(sign_in, sites):
    said = "Your looks count as a neighbor’s until you are trained"
    assert said not in words_of(sign_in("volunteer").get("/walks/doubts/"))
    learner = sign_in("volunteer", trained_on=None)
    assert said in words_of(learner.get("/walks/doubts/"))


def test_without_a_scratch_test_nobody_is_told_how_to_do_one(sign_in, sites):
    words = words_of(sign_in("volunteer").get("/walks/doubts/"))
    assert "trees where a look tells most" in words
    assert "scratch" not in words.lower()


def test_what_is_believed_of_a_tree_is_not_told_to_whoever_goes_to_see_it(sign_in, sites):
    words = words_of(sign_in("volunteer").get("/walks/doubts/"))
    assert "see with your own eyes first" in words
    assert not re.search(r"\b(?:thriving|holding|slipping|failing|dead for)\b", words)
    assert "40 of 100" not in words


def test_a_site_walked_from_its_far_end_does_not_begin_where_people_meet(sign_in, sites):
    sites[1].walk_from = "the mill"
    sites[1].save()
    for north, tree in enumerate(sites[1].trees.order_by("walk_order")):
        tree.latitude = 36.6215 - north / 5000  # its walk comes towards the other street
        tree.save()
    client = sign_in("volunteer")
    assert "begins at the mill" in words_of(client.get("/walks/doubts/?site=mill"))
    both = words_of(client.get("/walks/doubts/?minutes=120"))
    assert ("begins at the mill" in both) != ("from the far end" in both)


def test_one_site_can_be_chosen_and_stays_chosen(sign_in, sites):
    response = sign_in("volunteer").get("/walks/doubts/?minutes=60&site=mill")
    page = response.content.decode()
    assert '<option value="mill" selected>' in page
    assert '<option value="60" selected>' in page
    assert page.count("/look/?doubts=60&amp;site=mill") == 3
    assert "<h2>Mill Lane" in page
    assert "<h2>Ferry Road" not in page


@pytest.mark.parametrize(
    "minutes", ["0", "61", "-30", "1e9", "1000000000", "abc", "60;", "６０", "60\0x", " 60"]
)
def test_a_time_that_nobody_offers_is_no_page(sign_in, sites, minutes):
    assert sign_in("volunteer").get("/walks/doubts/", {"minutes": minutes}).status_code == 404


@pytest.mark.parametrize(
    "site", ["nowhere", "ferry'--", "../mill", "<script>", "ferry road", "x" * 5000, "\0", "%"]
)
def test_a_site_that_nobody_knows_is_no_page_or_none_at_all(sign_in, sites, site):
    response = sign_in("volunteer").get("/walks/doubts/", {"site": site})
    # a site named by nothing but an impossible letter is no site named
    assert response.status_code == (200 if site == "\0" else 404)


def test_a_site_of_another_town_is_not_of_this_one(sign_in, sites):
    other = AreaFactory(ref="elsewhere", name="Elsewhere", is_home=False)
    SiteFactory(area=other, ref="theirs")
    client = sign_in("volunteer")
    assert client.get("/walks/doubts/?site=theirs").status_code == 404
    page = client.get("/walks/doubts/?site=theirs&area=elsewhere").content.decode()
    assert '<input type="hidden" name="area" value="elsewhere">' in page
    assert client.get("/walks/doubts/?area=nowhere").status_code == 404


def test_where_nothing_is_in_doubt_the_page_says_so(sign_in):
    words = words_of(sign_in("volunteer").get("/walks/doubts/"))
    assert "No tree here waits for a look now" in words
    assert "We are sure enough of every tree here" in words


@pytest.mark.parametrize("at", ["tree", "site"])
def test_nobody_is_sent_to_a_closed_site_and_who_asks_for_it_is_told(sign_in, sites, home, at):
    where = {"tree": sites[0].trees.first()} if at == "tree" else {"tree": None, "site": sites[0]}
    ReportFactory(area=home, danger="limb", **where)
    client = sign_in("volunteer")
    everywhere = client.get("/walks/doubts/?minutes=120")
    assert "Mill Lane" in words_of(everywhere)
    assert "Ferry Road" not in words_of(everywhere)
    asked = words_of(client.get("/walks/doubts/?site=ferry"))
    assert "Ferry Road is closed, or a part of it, until a qualified person has cleared" in asked
    assert "/look/" not in client.get("/walks/doubts/?site=ferry").content.decode()


def test_a_danger_without_a_place_is_told_on_screen_and_on_paper(sign_in, sites, home):
    ReportFactory(tree=None, site=None, area=home, landmark="by the bench", danger="limb")
    page = sign_in("volunteer").get("/walks/doubts/").content.decode()
    assert "by the bench" in page
    assert "doubt-danger" in page  # shown in print, where other strips are not


def test_what_had_better_wait_is_listed_by_month(sign_in, sites):
    waiting = sites[0].trees.first()
    Belief.objects.filter(tree=waiting).update(settle="leaf", settle_month=MAY)
    response = sign_in("volunteer").get("/walks/doubts/?minutes=120")
    assert "Wait until May 2027: one tree." in words_of(response)
    page = response.content.decode()
    assert f'href="/trees/{waiting.ref}/"' in page
    assert f'href="/trees/{waiting.ref}/look/' not in page


def test_photos_are_for_the_desk_to_ask_for(sign_in, sites):
    tree = sites[0].trees.first()
    Belief.objects.filter(tree=tree).update(settle="photo")
    assert "Ask for a photo" not in words_of(sign_in("volunteer").get("/walks/doubts/"))
    desk = sign_in("staff")
    assert "no open note to answer" in words_of(desk.get("/walks/doubts/"))
    ReportFactory(tree=tree, state="set_aside")
    assert "no open note to answer" in words_of(desk.get("/walks/doubts/"))
    report = ReportFactory(tree=tree)
    page = desk.get("/walks/doubts/").content.decode()
    assert f'href="/desk/{report.pk}/?do=ask"' in page


def test_a_look_taken_from_the_list_leads_back_to_it(sign_in, sites, home):
    tree = sites[1].trees.first()
    client = sign_in("volunteer")
    address = f"/trees/{tree.ref}/look/?doubts=60&site=mill"
    page = client.get(address).content.decode()
    assert "Save, back to the list" in page
    key = re.search(r'name="repeat_key" value="([^"]+)"', page).group(1)
    given = {"repeat_key": key, "presence": "standing", "condition": "holding",
             "day": home.today().isoformat(), "channel": "walk"}  # fmt: skip
    response = client.post(address, given)
    assert response["Location"] == "/walks/doubts/?minutes=60&site=mill"
    assert Look.objects.filter(tree=tree).count() == 1
    words = words_of(client.get(response["Location"]))
    assert "looked at today" in words


@pytest.mark.parametrize("doubts", ["", "61", "http://evil.example/", "60\0", "//evil.example"])
def test_a_look_with_an_invented_way_back_goes_to_its_tree(sign_in, sites, doubts):
    page = sign_in("volunteer").get(
        f"/trees/{sites[0].trees.first().ref}/look/", {"doubts": doubts}
    )
    shown = "Save, back to the list" in page.content.decode()
    assert shown == (doubts == "60\0")  # what is left without the impossible letter is a time
    assert "evil.example" not in page.content.decode()


def test_the_way_back_is_an_address_of_this_house():
    assert list_address(60, "a&b=c", "x y") == "/walks/doubts/?minutes=60&site=a%26b%3Dc&area=x+y"
    assert look_query(30) == "doubts=30"


ONE = "Nobody is sure whether one tree here is alive."
NINE = "Of 9 trees here nobody is sure whether they are alive. After this walk we expect to "
OTHERS = "Of the others, a look tells how they are doing."


@pytest.mark.parametrize(
    ("listed", "unsure", "settled", "said"),
    [
        (4, 0, 0.0, "It is known which of these trees are alive. A look tells how they are doing."),
        (3, 1, 0.0, f"{ONE} There is no time for it on this walk. {OTHERS}"),
        (1, 1, 0.2, f"{ONE} This walk may tell."),
        (1, 1, 0.8, f"{ONE} This walk will likely tell."),
        (9, 9, 0.3, f"{NINE}know a little more."),
        (9, 9, 1.2, f"{NINE}be sure of about one of them."),
        (9, 9, 8.8, f"{NINE}be sure of nearly all of them."),
        (12, 9, 4.4, f"{NINE}be sure of about 4 of them. {OTHERS}"),
    ],
)  # fmt: skip
def test_what_a_walk_settles_is_said_without_promising(listed, unsure, settled, said):
    assert settled_said(listed, unsure, settled) == said


def test_many_that_wait_are_not_counted_to_the_last():
    assert waiting_said(Waiting(MAY, 3000, (), True)) == "Wait until May 2027: 3000 trees and more."
    assert waiting_said(Waiting(MAY, 7, (), False)) == "Wait until May 2027: 7 trees."


def test_the_walks_page_leads_to_the_list(sign_in, sites):
    assert 'href="/walks/doubts/' in sign_in("volunteer").get("/walks/").content.decode()


def test_the_page_asks_as_much_for_many_trees_as_for_few(sign_in, sites):
    client = sign_in("staff")
    asked = []
    for more in (0, 25):
        for tree in TreeFactory.create_batch(more, site=sites[0], latitude=36.62):
            belief(tree=tree, **IN_DOUBT)
            LookFactory(tree=tree)
        with CaptureQueriesContext(connection) as questions:
            client.get("/walks/doubts/?minutes=120")
        asked.append(len(questions))
    assert asked[0] == asked[1] <= 14
