"""A neighbor with a plain browser: no script, and no cookies unless a test says so."""

import re

import pytest
from django.test import Client

from tests.factories import AreaFactory, SiteFactory, TreeFactory


class Neighbor:
    """Walks through the report pages as a browser without JavaScript would."""

    def __init__(self, **environment):
        self.client = Client(enforce_csrf_checks=True, **environment)
        self.url = "/"
        self.page = None

    def open(self, url):
        self.page = self.client.get(url, follow=True)
        return self._arrived(url)

    def send(self, url=None, follow=True, **fields):
        """Post a form to the page now open, or to `url`; land where it leads."""
        self.client.cookies.clear()  # nothing may rest on a cookie
        target = url or self.url
        self.page = self.client.post(target, fields, follow=follow)
        return self._arrived(target)

    def _arrived(self, url):
        chain = getattr(self.page, "redirect_chain", [])
        self.url = chain[-1][0] if chain else url
        return self

    @property
    def html(self):
        return self.page.content.decode()

    @property
    def heading(self):
        found = re.findall(r"<h1[^>]*>(.*?)</h1>", self.html, re.DOTALL)
        assert len(found) == 1, f"{len(found)} headings on {self.url}"
        return " ".join(re.sub(r"<[^>]+>", "", found[0]).split())

    @property
    def title(self):
        return re.search(r"<title>(.*?)</title>", self.html, re.DOTALL).group(1).strip()

    @property
    def key(self):
        return re.search(r"/report/([\w-]{43})/", self.url).group(1)

    def link(self, words):
        """Where the link with these words leads."""
        for href, text in re.findall(
            r'<a [^>]*href="([^"]+)"[^>]*>(.*?)</a>', self.html, re.DOTALL
        ):
            if words in " ".join(re.sub(r"<[^>]+>", " ", text).split()):
                return href
        raise AssertionError(f"No link “{words}” on {self.url}")

    # the usual answers, page by page
    def begins(self, danger="none"):
        return self.open("/report/").send(danger=danger)

    def picks(self, tree):
        return self.open(f"/report/{self.key}/where/at/{tree.site.ref}/").send(tree=tree.ref)

    def answers_up_to_photos(self, tree, signs=("bark_wound",), picture="slipping"):
        self.begins().picks(tree).send(signs=list(signs)).send(picture=picture)
        if self.url.endswith("/extent/"):
            self.send(extent="quarter_to_half", side="street")
        return self

    def answers_all(self, tree, **words):
        self.answers_up_to_photos(tree).send()
        return self.send(**{"words": "The bark is cut at the bottom", **words})


@pytest.fixture
def neighbor():
    return Neighbor()


@pytest.fixture
def area(db):
    return AreaFactory(department="Town Gardens", hazard_hours="6 am to 10 pm")


@pytest.fixture
def tree(area):
    site = SiteFactory(area=area, ref="ferry-road", name="Ferry Road")
    return TreeFactory(site=site, tag="0214", landmark="by the bus shelter")


@pytest.fixture(autouse=True)
def _own_media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
