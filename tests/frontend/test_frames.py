"""The frames that all pages stand in, the partials, and the template tags."""

import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from types import SimpleNamespace

import pytest
from django import forms
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.template import Context, Template
from django.template.loader import render_to_string
from django.urls import include, path

NAMES = [
    "start",
    "handbook",
    "queue",
    "orders",
    "walks",
    "trees",
    "plantings",
    "sites",
    "operations",
    "people",
    "account",
    "sign-in",
    "sign-out",
]


def _page(request):
    return HttpResponse("")


pages = ([path(f"{name}/", _page, name=name) for name in NAMES], "frontend")
urlpatterns = [path("", include(pages))]

pytestmark = pytest.mark.urls(__name__)

DOORS = [
    {"key": "queue", "url": "/queue/", "name": "Queue"},
    {"key": "orders", "url": "/orders/", "name": "Orders"},
]
AREA = SimpleNamespace(name="Pellworth", invented=True, call_line="555 0142")
PERSON = SimpleNamespace(is_authenticated=True, name="", get_username=lambda: "ines")


class Look(forms.Form):
    on = forms.DateField(label="Day of the look")
    words = forms.CharField(label="In your words", required=False, help_text="As you like.")
    side = forms.ChoiceField(
        label="Which side?", choices=[("s", "Street"), ("p", "Path")], widget=forms.RadioSelect
    )


class Seen(HTMLParser):
    """Ids, links inside the page, and tags that were never closed."""

    VOID = frozenset({"meta", "link", "input", "br", "img", "hr"})

    def __init__(self, text):
        super().__init__()
        self.ids, self.jumps, self.open = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        if "id" in found:
            self.ids.append(found["id"])
        if found.get("href", "").startswith("#"):
            self.jumps.append(found["href"][1:])
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        pass

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def written(text, **context):
    return Template("{% load drawings %}" + text).render(Context(context))


def on_base(base, body="", **context):
    text = f'{{% extends "frontend/{base}.html" %}}{body}'
    return Template(text).render(
        Context({"area": AREA, "person": PERSON, "doors": DOORS, **context})
    )


@pytest.mark.parametrize("base", ["base", "base_neighbor", "base_desk", "base_liaison"])
def test_a_frame_is_whole_and_its_skip_link_leads_to_main(base):
    text = on_base(base)
    seen = Seen(text)
    assert seen.open == []
    assert len(seen.ids) == len(set(seen.ids))
    assert "main" in seen.jumps
    assert set(seen.jumps) <= set(seen.ids)
    assert 'lang="en"' in text
    assert 'role="status"' in text
    assert "style=" not in text


@pytest.mark.parametrize("base", ["base_neighbor", "base_desk"])
def test_the_demo_says_that_it_is_invented_and_a_town_does_not(base):
    assert "invented" in on_base(base)
    town = SimpleNamespace(name="Pellworth", invented=False, call_line="")
    text = on_base(base, area=town)
    assert "invented" not in re.sub(r'class="[^"]*"', "", text)


def test_a_neighbor_can_call_instead():
    text = on_base("base_neighbor")
    assert 'href="tel:5550142"' in text
    assert "Rather talk? Call 555 0142" in text


def test_a_frame_without_an_area_still_stands():
    assert "<main" in on_base("base_neighbor", area=None)


def test_the_question_pages_show_where_one_is():
    text = on_base("base_neighbor", step=3, steps=6, place="Linden, tag <214>", back_url="/b")
    assert "<b>3 of 6</b> · Linden, tag &lt;214&gt;" in text
    assert 'href="/b"' in text


def test_the_masthead_marks_the_section_and_closes_to_strangers():
    text = on_base("base_desk", nav="orders")
    assert re.search(r'href="/orders/" aria-current="page"', text)
    assert text.count("aria-current") == 1
    stranger = SimpleNamespace(is_authenticated=False)
    closed = on_base("base_desk", person=stranger)
    assert "/queue/" not in closed
    assert "Sign out" not in closed


@pytest.mark.parametrize("name", ["400", "403", "404", "500", "csrf"])
def test_an_error_page_needs_no_context_and_says_what_cannot_wait(name):
    text = render_to_string(f"frontend/errors/{name}.html")
    seen = Seen(text)
    assert seen.open == []
    assert text.count("<h1") == 1
    assert "emergency number" in text


def test_the_error_summary_links_each_field_and_keeps_what_was_typed():
    form = Look({"on": "32 May", "words": "kept <words>"})
    text = Template(
        '{% include "frontend/_errors.html" %}'
        '{% for field in form %}{% include "frontend/_field.html" %}{% endfor %}'
    ).render(Context({"form": form}))
    seen = Seen(text)
    assert seen.open == []
    assert "2 things are not right yet" in text
    assert set(seen.jumps) <= set(seen.ids)
    assert {"id_on", "id_side"} <= set(seen.jumps)
    assert 'value="32 May"' in text
    assert "kept &lt;words&gt;" in text
    assert "autofocus" in text


def test_a_field_names_its_hint_and_says_when_it_is_optional():
    text = Template('{% include "frontend/_field.html" with field=form.words %}').render(
        Context({"form": Look()})
    )
    assert 'aria-describedby="id_words_helptext"' in text
    assert 'id="id_words_helptext"' in text
    assert "(optional)" in text


def test_a_page_of_a_list_says_where_it_is():
    page = Paginator(range(45), 20).page(2)
    text = render_to_string("frontend/_pages.html", {"page": page, "query": "site=3"})
    assert "21 to 40 of 45" in text
    assert "?site=3&amp;page=1" in text
    assert "?site=3&amp;page=3" in text


def test_a_short_list_has_no_pages():
    page = Paginator(range(3), 20).page(1)
    assert render_to_string("frontend/_pages.html", {"page": page}).strip() == ""


def test_undo_is_a_button_while_there_is_time_and_gone_afterwards():
    said = {"done": "Ordered.", "left": "9 minutes"}
    assert 'action="/undo"' in render_to_string(
        "frontend/_undo.html", {**said, "undo_url": "/undo"}
    )
    late = render_to_string("frontend/_undo.html", said)
    assert "Ordered." in late
    assert "<form" not in late


def test_an_empty_page_says_so():
    text = render_to_string("frontend/_empty.html", {"said": "Nothing waits.", "then": "Later."})
    assert "Nothing waits." in text
    assert "<svg" in text


def test_the_gauge_tag_says_the_word_once():
    alone = written("{% gauge 'slipping' doubt=1 %}")
    assert alone.count("slipping, in some doubt") == 1
    assert 'role="img"' in alone
    beside = written("{% gauge 'slipping' doubt=2 word=True %}")
    assert beside.count("slipping, in wide doubt") == 1
    assert 'aria-hidden="true"' in beside
    assert "not looked at yet" in written("{% gauge '' %}")
    assert "gone" in written("{% gauge 'gone' word=True %}")


@pytest.mark.parametrize(
    "text",
    [
        "{% gauge nothing doubt=nothing size=nothing %}",
        "{% gauge 'dead' doubt='much' size='big' %}",
        "{% drawing 'sign' nothing %}",
        "{% drawing 'no such kind' 'no such code' %}",
        "{% trunk nothing nothing nothing %}",
        "{% trunk 'a' 'b' 'c' size='d' %}",
        "{% progress nothing nothing %}",
        "{% progress 99 0 %}",
        "{% twig_node nothing %}",
        "{% tally nothing %}",
        "{% tally 100000 %}",
        "{% sapling_row nothing %}",
        "{% plant_label nothing %}",
        "{% arrow nothing %}",
        "{% keep_back nothing nothing %}",
    ],
)
def test_a_tag_with_nonsense_draws_something(text):
    drawn = written(text)
    for svg in re.findall(r"<svg.*?</svg>", drawn, flags=re.DOTALL):
        ET.fromstring(svg)
    assert "<svg" in drawn


@pytest.mark.parametrize(
    "text",
    [
        "{% drawing 'sign' 'fungus' title=evil %}",
        "{% plant_label evil small=evil below=evil %}",
        "{% progress 1 2 evil %}",
        "{% keep_back 'wire' evil %}",
        "{% trunk 10 title=evil %}",
        "{% sapling_row 3 title=evil %}",
    ],
)
def test_a_tag_escapes_what_it_is_given(text):
    drawn = written(text, evil='"><script>1</script>')
    assert "<script" not in drawn
    assert "&lt;script" in drawn


def test_the_chart_tag_draws_for_wide_and_for_narrow_pages():
    data = {"rows": [("Dry root ball", 5, 9, "5 of 9")], "title": "Lost", "desc": "By cause"}
    text = written("{% chart 'dots' data %}", data=data)
    assert text.count("<svg") == 2
    assert "chart-wide" in text
    assert "chart-narrow" in text


def test_the_other_tags_draw():
    text = written(
        "{% wordmark %}{% hero %}{% ground_line 'a' %}{% loop %}{% empty_ground %}"
        "{% plant_label '3 July, note 12' small='Your report is called' %}"
    )
    for svg in re.findall(r"<svg.*?</svg>", text, flags=re.DOTALL):
        ET.fromstring(svg)
    assert "3 July, note 12" in text
