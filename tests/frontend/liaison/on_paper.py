"""Opens saved pages in Chromium and says how they lie on paper and on screens, as JSON.

Runs in a process of its own, because a browser's loop and a test's record do not go together.
"""

import json
import re
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.windows import DESK, PHONE, chromium

LETTER = [612, 792]  # points: 8.5 by 11 inches
SHEET = {"width": 733, "height": 1003}  # CSS pixels of letter paper less margins of 11 and 7 mm

# The height of the letters as they come out, in CSS pixels: a drawing may be scaled.
SMALLEST = """
() => {
  let least = [999, ''];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const one = walk.currentNode.parentElement;
    if (!walk.currentNode.textContent.trim() || !one.checkVisibility()) continue;
    if (one.closest('title, desc, script, style, option')) continue;
    let size = parseFloat(getComputedStyle(one).fontSize);
    const matrix = one.getScreenCTM && one.getScreenCTM();
    if (matrix) size *= matrix.a;
    if (size < least[0]) least = [size, walk.currentNode.textContent.trim().slice(0, 40)];
  }
  return least;
}
"""
# Words in the shown drawings that stick out of their sheet.
CUT = """
() => [...document.querySelectorAll('.chart svg')].filter(svg => svg.checkVisibility()).flatMap(
  svg => [...svg.querySelectorAll('text')].filter(text => {
    const a = text.getBoundingClientRect(), b = svg.getBoundingClientRect();
    return a.width && (a.left < b.left - 2 || a.right > b.right + 2);
  }).map(text => text.textContent))
"""


def look_at(page, path):
    page.emulate_media(media="screen")
    page.goto(path.as_uri())
    found = {"wide": [], "cut": []}
    for size in (DESK, PHONE, {"width": 320, "height": 700}):
        page.set_viewport_size(size)
        found["wide"].append(page.evaluate("document.documentElement.scrollWidth"))
        if size["width"] >= PHONE["width"]:
            found["cut"] += page.evaluate(CUT)
    page.emulate_media(media="print")
    printed = page.pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox \[([\d. ]+)\]", printed)
    found["pages"] = len(re.findall(rb"/Type\s*/Page\b(?!s)", printed))
    found["letter"] = all([*map(float, box.split())][2:] == LETTER for box in boxes)
    page.set_viewport_size(SHEET)
    found["smallest"], found["words"] = page.evaluate(SMALLEST)
    found["cut"] += page.evaluate(CUT)
    if len(sys.argv) > 2:
        page.screenshot(path=f"{sys.argv[2]}/{path.stem}-paper.png", full_page=True)
        page.emulate_media(media="screen", color_scheme="dark")
        for name, size in (("phone", PHONE), ("desk", DESK)):
            page.set_viewport_size(size)
            page.screenshot(path=f"{sys.argv[2]}/{path.stem}-{name}.png", full_page=True)
            page.emulate_media(color_scheme="light")
    return found


if __name__ == "__main__":
    with sync_playwright() as play:
        browser = chromium(play)
        page = browser.new_page()
        pages = sorted(Path(sys.argv[1]).glob("*.html"))
        sys.stdout.write(json.dumps({path.stem: look_at(page, path) for path in pages}))
        browser.close()
