"""Trends, the public page of a tree and the list of doubts are whole in Spanish."""

import re
from datetime import date
from html import unescape

import pytest
from django.conf import settings
from django.test import Client
from django.utils.translation import trans_real

from survey.condition.models import Belief
from tests.factories import AreaFactory, LookFactory, PersonFactory, SiteFactory, TreeFactory
from tests.frontend.liaison.outlook_made import month, outlook_of
from tests.frontend.liaison.test_survival_spanish import Missed
from tests.survey.belief_rows import belief, turn

pytestmark = pytest.mark.django_db
ENGLISH = re.compile(
    r"\b(the|trees?|of|and|with|this|that|looks?|trained|outlook|walks?|turned|site|planting|"
    r"thriving|holding|slipping|failing|dead|gone|stay|danger|until|somebody|neighbors?|minutes?)\b",
    re.IGNORECASE,
)
IN_DOUBT = {
    "thriving": 0.2, "holding": 0.2, "slipping": 0.1, "failing": 0.1, "dead": 0.35, "gone": 0.05,
    "lost": 0.4, "settle": "look", "settle_month": date(2026, 6, 1), "settle_gain": 0.15,
}  # fmt: skip


@pytest.fixture(autouse=True)
def area():
    return AreaFactory()


@pytest.fixture
def missed(monkeypatch):
    found = Missed()
    monkeypatch.setattr(trans_real.translation("es"), "_fallback", found)
    return found


@pytest.fixture
def site():
    """A street of fourteen trees, three of them in doubt after a complaint each."""
    site = SiteFactory(name="Quarry", ref="quarry")
    TreeFactory.create_batch(14, site=site)
    for tree in site.trees.all()[:3]:
        LookFactory(tree=tree, day=date(2026, 5, 3), channel="complaint", trained=False)
        belief(tree=tree, **IN_DOUBT)
    return site


def reading(role=None):
    """A reader of Spanish: somebody of a role, or whoever passes by."""
    client = Client()
    if role:
        client.force_login(PersonFactory(role=role, name="Inés"))
    client.cookies[settings.LANGUAGE_COOKIE_NAME] = "es"
    return client


def words_of(response):
    """What a reader sees or hears, without the product's name and the names of files."""
    assert response.status_code == 200
    page = response.content.decode()
    assert '<html lang="es">' in page
    spoken = re.findall(r'(?:aria-label|data-label|alt)="([^"]*)"', page)
    body = re.sub(r"<(style|script).*?</\1>", "", page, flags=re.DOTALL)
    told = " ".join([re.sub(r"<[^>]+>", " ", body), *spoken])
    told = re.sub(r"Second Summer|\w+\.csv", "", unescape(told))
    return " ".join(told.split())


def test_a_trend_that_turned_is_told_in_spanish(missed, site):
    outlook_of(site)
    driven = [{"tree": site.trees.first().ref, "before": 88, "after": 48}]
    turn(site=site, kind="trend", since=date(2026, 4, 1), driven_by=driven)
    told = words_of(reading("liaison").get("/trends/quarry/"))
    assert not missed.asked
    assert not ENGLISH.findall(told)
    assert "De 100 árboles como estos, 75 deberían seguir en pie dentro de dos veranos" in told
    assert "Los árboles que más lo mueven" in told
    assert "Nadie capacitado ha revisado Quarry en un año." in told


def test_a_trend_without_an_outlook_tells_in_spanish_what_was_found(missed, site):
    LookFactory(tree=site.trees.first(), day=date(2026, 6, 3), condition="holding")
    told = words_of(reading("liaison").get("/trends/quarry/"))
    assert not missed.asked
    assert not ENGLISH.findall(told)
    assert "Su perspectiva se calcula de noche" in told


@pytest.mark.parametrize("by", ["site", "planting", "species"])
def test_the_list_of_outlooks_is_told_in_spanish(missed, site, by):
    outlook_of(site)
    few = SiteFactory(name="Alder Way", ref="alder")
    outlook_of(few, [month(2026, 6, 75.0, surveyed=False)])
    turn(site=site, kind="step", since=date(2026, 4, 1))
    told = words_of(reading("liaison").get(f"/trends/?by={by}"))
    assert not missed.asked
    assert not ENGLISH.findall(told)
    assert "De 100 árboles como los de un lugar" in told
    if by == "site":
        assert "Alder Way: sin recorrido completo, no se compara" in told


def test_the_public_page_of_a_tree_is_told_in_spanish(missed, site):
    tree = site.trees.first()
    told = words_of(reading().get(f"/trees/{tree.ref}/"))
    assert not missed.asked
    assert not ENGLISH.findall(told.replace(tree.planting.name, ""))
    assert "Su vida hasta ahora" in told
    assert "Avisar sobre este árbol" in told


@pytest.mark.parametrize("role", ["volunteer", "staff"])
@pytest.mark.parametrize("settle", ["look", "scratch"])
def test_the_list_of_doubts_is_told_in_spanish(missed, site, role, settle):
    Belief.objects.filter(tree=site.trees.first()).update(settle=settle, settle_gain=0.2)
    told = words_of(reading(role).get("/walks/doubts/?minutes=30"))
    assert not missed.asked
    assert not ENGLISH.findall(told)
    assert "3 árboles donde una revisión dice más" in told
    assert ("raspar una ramita" in told) == (settle == "scratch")


def test_where_nothing_is_in_doubt_that_is_told_in_spanish(missed):
    told = words_of(reading("volunteer").get("/walks/doubts/"))
    assert not missed.asked
    assert not ENGLISH.findall(told)
    assert "Ningún árbol de aquí espera una revisión ahora" in told
