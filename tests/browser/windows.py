"""Browser windows, and what is asked of every page that is shown in one."""

import os
import shutil
from contextlib import contextmanager
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, expect

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1440, "height": 900}
NARROWEST = 320  # WCAG 2.2, 1.4.10 Reflow: content must fit a width of 320 CSS pixels
TAP = 44  # CSS pixels, own rule of this project; WCAG 2.2, 2.5.8 asks for 24
AXE = {
    "runOnly": {
        "type": "tag",
        "values": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "best-practice"],
    },
    "resultTypes": ["violations"],
}

# A line of running text may hold a link as high as the line: WCAG 2.2, 2.5.8, "Inline".
SMALL_TARGETS = """
(tap) => {
  const shown = (box) => box.width > 1 && box.height > 1;
  const found = [];
  for (const one of document.querySelectorAll(
      'a[href], button, select, summary, textarea, input:not([type=hidden])')) {
    const style = getComputedStyle(one);
    if (style.visibility === 'hidden' || !one.checkVisibility()) continue;
    if (one.closest('.visually-hidden, footer')) continue;
    const label = one.labels && one.labels.length && /checkbox|radio|file/.test(one.type)
      ? one.labels[0] : one;
    const box = label.getBoundingClientRect();
    if (!shown(box)) continue;
    const inLine = one.matches('a') && style.display === 'inline'
      && [...one.parentNode.childNodes].some(
        (near) => near !== one && near.textContent.trim().length > 1 && near.nodeType === 3);
    if (inLine) continue;
    if (box.height < tap - 0.5 || box.width < tap - 0.5)
      found.push(`${one.outerHTML.slice(0, 90)} is ${box.width | 0} × ${box.height | 0}`);
  }
  return found;
}
"""

# The focused thing, or the card that stands for it, must be what one sees at its own place.
FOCUS_SEEN = """
() => {
  const one = document.activeElement;
  if (!one || one === document.body) return null;
  const card = one.closest('label') || (one.labels && one.labels[0]) || one;
  const big = (box) => box.width > 4 && box.height > 4;
  const box = big(one.getBoundingClientRect())
    ? one.getBoundingClientRect() : card.getBoundingClientRect();
  const at = [[.5, .5], [.15, .2], [.85, .2], [.15, .8], [.85, .8]].map(([x, y]) =>
    document.elementFromPoint(box.left + box.width * x, box.top + box.height * y));
  const seen = at.filter((top) => top && (one.contains(top) || card.contains(top))).length;
  const ringed = [one, card, one.parentElement].some((piece) => {
    const style = getComputedStyle(piece);
    return style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
  });
  const words = (one.getAttribute('aria-label') || card.innerText || one.name || one.id || '');
  return {
    what: `${one.tagName.toLowerCase()} “${words.trim().replace(/\\s+/g, ' ').slice(0, 80)}”`,
    name: one.name || '', value: one.value || '', id: one.id || '', seen: seen > 0, ringed,
  };
}
"""


def chromium(play: Playwright) -> Browser:
    """The distribution's Chromium; without it the tests fail and say what to install."""
    found = shutil.which("chromium")
    assert found, "These tests need Chromium: apt-get install chromium"
    as_root = ["--no-sandbox"] if os.geteuid() == 0 else []
    return play.chromium.launch(executable_path=found, args=as_root)


@dataclass
class Window:
    """One page in one browser context, with everything the browser complained about."""

    page: Page
    context: BrowserContext
    home: str
    complaints: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.set_default_timeout(20_000)
        self.page.on("console", self._hear)
        self.page.on("pageerror", lambda error: self.complaints.append(f"script: {error}"))

    def _hear(self, message) -> None:
        if message.type not in ("error", "warning"):
            return
        where = message.location.get("url", "")
        if message.text.startswith("Failed to load resource") and where == self.page.url:
            return  # a form that came back with its errors has a status of 400 or 422
        self.complaints.append(f"{urlsplit(self.page.url).path}: {message.text} ({where})")

    def go(self, path: str) -> Page:
        self.page.goto(path if path.startswith("http") else self.home + path)
        return self.page

    @property
    def path(self) -> str:
        return urlsplit(self.page.url).path

    def sign_in(self, name: str, password: str) -> None:
        self.go("/sign-in/")
        self.page.get_by_label("Sign-in name").fill(name)
        self.page.get_by_label("Password").fill(password)
        self.page.get_by_role("main").get_by_role("button").click()
        self.page.get_by_role("button", name="Sign out").wait_for()

    def sign_out(self) -> None:
        self.page.get_by_role("button", name="Sign out").click()
        self.comes_to("/sign-in/")

    # ------------------------------------------------------------------ what every page keeps

    def axe_finds(self, *, contrast: bool = True) -> list[str]:
        rules = {"color-contrast": {"enabled": contrast}}
        found = Axe().run(self.page, options=AXE | {"rules": rules}).response["violations"]
        return [
            f"{one['id']} ({one['help']}): {node['html'][:160]}"
            for one in found
            for node in one["nodes"][:4]
        ]

    def runs_over(self, width: int) -> list[str]:
        """What sticks out at a window width, if the page scrolls sideways there."""
        before = self.page.viewport_size
        self.page.set_viewport_size({"width": width, "height": 800})
        over = self.page.evaluate(
            """() => {
              const wide = document.documentElement.clientWidth;
              if (document.documentElement.scrollWidth <= wide) return [];
              const out = [...document.querySelectorAll('body *')].filter((one) =>
                one.getBoundingClientRect().right > wide + 0.5 && !one.closest('.scroll'));
              return out.slice(0, 4).map((one) => one.outerHTML.slice(0, 110));
            }"""
        )
        self.page.set_viewport_size(before)
        return over

    def faults(self, *, neighbor: bool = False) -> list[str]:
        """What is wrong with the page that is open: on a phone by night, on a desk by day.

        Contrast is the slow part of axe. By night it is measured on the pages of neighbors; that
        every pair of colors can be read in both lights is computed in tests/frontend.
        """
        before = self.page.viewport_size
        found = []
        for size, light in ((PHONE, "dark"), (DESK, "light")):
            self.page.set_viewport_size(size)
            self.page.emulate_media(color_scheme=light)
            # as tall as the page is long, so that the bar at the lower edge lies over nothing
            tall = self.page.evaluate("document.documentElement.scrollHeight")
            self.page.set_viewport_size(size | {"height": max(size["height"], tall)})
            seen = self.axe_finds(contrast=neighbor or light == "light")
            found += [f"axe, {size['width']} {light}: {fault}" for fault in seen]
        if neighbor:
            self.page.set_viewport_size(PHONE)
            found += [f"small to tap: {target}" for target in self.small_targets()]
        for width in (NARROWEST, PHONE["width"], DESK["width"]):
            found += [f"sticks out at {width}: {piece}" for piece in self.runs_over(width)]
        if len(self.headings()) != 1:
            found.append(f"h1: {self.headings()}")
        self.page.set_viewport_size(before)
        return [f"{self.path}: {fault}" for fault in dict.fromkeys(found)]

    def small_targets(self) -> list[str]:
        return self.page.evaluate(SMALL_TARGETS, TAP)

    def focus(self) -> dict | None:
        return self.page.evaluate(FOCUS_SEEN)

    def tab_to(self, words: str, *, most: int = 120) -> None:
        """Press Tab until the thing with these words has the focus; every stop must be seen."""
        stops = []
        for _ in range(most):
            self.page.keyboard.press("Tab")
            stop = self.focus()
            if stop is None:
                continue
            stops.append(stop["what"])
            assert stop["seen"], f"{self.path}: the focus is on something hidden: {stop['what']}"
            assert stop["ringed"], f"{self.path}: nothing shows the focus: {stop['what']}"
            if words in stop["what"]:
                return
        raise AssertionError(f"{self.path}: Tab never came to “{words}”, only to {stops}")

    def at(self, heading: str) -> None:
        """Wait until the page with this one heading stands here."""
        expect(self.page.locator("h1")).to_have_text([heading], timeout=20_000)

    def says(self, words: str) -> None:
        """Wait until the page says so."""
        expect(self.page.locator("body")).to_contain_text(words, timeout=20_000)

    def comes_to(self, path: str) -> None:
        self.page.wait_for_url(self.home + path)

    def headings(self) -> list[str]:
        return [text.strip() for text in self.page.locator("h1").all_inner_texts()]


@contextmanager
def window(browser: Browser, home: str, size: dict, *, scripts: bool = True, dark: bool = False):
    """A window with an empty cookie jar. At the end it must have had nothing to complain about."""
    context = browser.new_context(
        viewport=size,
        java_script_enabled=scripts,
        color_scheme="dark" if dark else "light",
        has_touch=size is PHONE,
        locale="en-US",
        timezone_id="UTC",
        reduced_motion="reduce",
    )
    opened = Window(context.new_page(), context, home)
    try:
        yield opened
        assert opened.complaints == []
    finally:
        context.close()
