"""The survival pages are whole in Spanish, and the kept catalogue is the one that was compiled."""

import ast
import gettext
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.utils import translation
from django.utils.formats import number_format
from django.utils.translation import trans_real

import frontend
from tests.factories import AreaFactory, PersonFactory
from tests.frontend.liaison.made import STATES, group, with_weighed, year

CATALOGUE = Path(frontend.__file__).parent / "locale" / "es" / "LC_MESSAGES"
ENGLISH = re.compile(
    r"\b(the|trees?|of|and|at least|with|this|that|planting|summer|alive|lost|looks?|survival)\b"
)


def entries(text):
    """The entries of a .po file: (context, msgid, plural, translations, whether it is fuzzy)."""
    for block in re.split(r"\n\s*\n", text):
        lines = [line for line in block.splitlines() if line and not line.startswith("#~")]
        told, field = {}, ""
        for line in lines:
            if line.startswith("#"):
                continue
            name, _, rest = line.partition(" ") if not line.startswith('"') else (field, "", line)
            field = name
            told[field] = told.get(field, "") + ast.literal_eval(rest)
        if "msgid" in told:
            spoken = [value for name, value in told.items() if name.startswith("msgstr")]
            fuzzy = any(line.startswith("#,") and "fuzzy" in line for line in lines)
            yield told.get("msgctxt"), told["msgid"], told.get("msgid_plural"), spoken, fuzzy


def source():
    return list(entries((CATALOGUE / "django.po").read_text(encoding="utf-8")))


def test_the_compiled_catalogue_says_what_its_source_says():
    expected = {}
    for context, msgid, plural, spoken, fuzzy in source():
        if not msgid or fuzzy or not all(spoken):
            continue
        key = f"{context}\4{msgid}" if context else msgid
        if plural is None:
            expected[key] = spoken[0]
        else:
            expected |= {(key, n): words for n, words in enumerate(spoken)}
    with (CATALOGUE / "django.mo").open("rb") as file:
        compiled = dict(gettext.GNUTranslations(file)._catalog)
    compiled.pop("")
    assert compiled == expected
    assert len(expected) > 200


def test_no_translation_is_a_guess_and_every_plural_has_both_its_forms():
    for _, msgid, plural, spoken, fuzzy in source():
        assert not fuzzy, msgid
        assert len(spoken) == (1 if plural is None else 2), msgid
        assert all(spoken) or not any(spoken), msgid


def test_a_translation_names_the_same_numbers_as_its_source():
    holes = re.compile(r"%\(\w+\)[ds]|%[ds]")
    for _, msgid, plural, spoken, _fuzzy in source():
        if not msgid or not all(spoken):
            continue
        one = set(holes.findall(msgid))
        many = one if plural is None else set(holes.findall(plural))
        assert set(holes.findall(spoken[0])) in (one, many), msgid
        assert set(holes.findall(spoken[-1])) == many, msgid


class Missed(gettext.NullTranslations):
    """What is asked of it is what the catalogue does not have."""

    def __init__(self):
        super().__init__()
        self.asked = set()

    def gettext(self, message):
        self.asked.add(message)
        return message

    def ngettext(self, msgid1, msgid2, n):
        self.asked.add(msgid1)
        return msgid1 if n == 1 else msgid2


@pytest.fixture
def missed(monkeypatch):
    found = Missed()
    monkeypatch.setattr(trans_real.translation("es"), "_fallback", found)
    return found


@pytest.fixture
def liaison():
    AreaFactory()
    client = Client()
    client.force_login(PersonFactory(role="keeper", name="Inés"))
    client.cookies[settings.LANGUAGE_COOKIE_NAME] = "es"
    return client


def words_of(page):
    """What a reader of the page sees or hears, without names of files and methods."""
    page = re.sub(r'<span lang="en">.*?</span>', "", page, flags=re.DOTALL)
    spoken = re.findall(r'(?:aria-label|data-label|alt)="([^"]*)"', page)
    body = re.sub(r"<(style|script).*?</\1>", "", page, flags=re.DOTALL)
    return " ".join([re.sub(r"<[^>]+>", " ", body), *spoken])


@pytest.mark.django_db
@pytest.mark.parametrize("state", STATES)
def test_no_english_remains_on_the_page_of_a_group(liaison, missed, state):
    made = STATES[state]()
    page = liaison.get(f"/survival/{made.by}/{made.key}/").content.decode()
    assert '<html lang="es">' in page
    assert not missed.asked
    told = words_of(page).replace(f"{made.key}.csv", "").replace("Second Summer", "")
    assert not ENGLISH.findall(told)
    assert not re.search(r"\b1 (árboles|meses|días|años)\b", told)


@pytest.mark.django_db
@pytest.mark.parametrize("state", ["everything", "too few", "starts late", "all alive"])
def test_no_english_remains_where_there_are_two_readings(liaison, missed, state):
    cautions = [
        {"code": "usual_in_town", "months": 14},
        {"code": "usual_in_town", "months": 0},
        {"code": "not_looked_at", "unseen": 7, "of": 20},
    ]
    made = with_weighed(state, cautions=cautions)
    page = liaison.get(f"/survival/{made.by}/{made.key}/").content.decode()
    assert not missed.asked
    assert "Dos lecturas de los mismos árboles" in page
    told = words_of(page).replace(f"{made.key}.csv", "").replace("Second Summer", "")
    assert not ENGLISH.findall(told)
    listed = liaison.get("/survival/").content.decode()
    assert not missed.asked
    assert not ENGLISH.findall(words_of(listed).replace("Second Summer", ""))


@pytest.mark.django_db
@pytest.mark.parametrize("by", ["planting", "species", "site", "year", "supplier", "town"])
def test_no_english_remains_on_the_list(liaison, missed, by):
    for n, state in enumerate(["count first", "everything", "too few", "starts late"]):
        made = STATES[state]()
        made.by, made.key = by, f"{made.key}-{n}"
        made.label = "Linden" if by == "species" else made.label
        made.save()
    if by != "year":
        year()
    AreaFactory(ref="alder", name="Alder", is_home=False)
    for address in (f"/survival/?by={by}", f"/survival/?by={by}&area=alder"):
        page = liaison.get(address).content.decode()
        assert not missed.asked
        assert not ENGLISH.findall(words_of(page).replace("Second Summer", ""))
    assert "no es una clasificación" in liaison.get(f"/survival/?by={by}").content.decode()


@pytest.mark.django_db
def test_days_and_months_are_written_as_spanish_writes_them(liaison):
    made = STATES["everything"]()
    page = liaison.get(f"/survival/{made.by}/{made.key}/").content.decode()
    assert "datos hasta el 16 de junio de 2026" in page
    assert "el 30 de noviembre de 2028" in page
    assert "Vida media, si todos los años fueran iguales: unos 6.6 años (de 3.5 a 13.5)." in page


def test_numbers_are_written_as_in_the_united_states_and_mexico():
    with translation.override("es"):
        assert number_format(1234.5, 1, force_grouping=True, use_l10n=True) == "1,234.5"


@pytest.mark.django_db
def test_the_first_sentence_in_spanish(liaison):
    made = group()
    page = liaison.get(f"/survival/planting/{made.key}/").content.decode()
    assert "Al menos 8 de cada 10 árboles de la plantación Ferry Road pasaron en pie" in page
    assert "(entre 6 y 9 de cada 10, según 20 árboles)" in page
