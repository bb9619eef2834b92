"""Colors: named in one file, and readable in both modes by computation."""

import re
from pathlib import Path

import pytest

import frontend

ROOM = Path(frontend.__file__).parent
STYLES = ROOM / "static" / "frontend"
SHEETS = sorted(STYLES.glob("*.css"))

# text needs 4.5:1, what must be seen but not read 3:1
# source: W3C, Web Content Accessibility Guidelines 2.2, success criteria 1.4.3 and 1.4.11
TEXT, SEEN = 4.5, 3.0

SURFACES = ("paper", "card", "soil", "plum-wash", "ember-wash", "alarm-wash", "steady-wash")
TEXT_PAIRS = [
    *(("ink", on) for on in SURFACES),
    *(("ink-soft", on) for on in SURFACES),
    *(("plum", on) for on in ("paper", "card", "soil", "plum-wash", "ember-wash", "steady-wash")),
    *(("ember", on) for on in ("paper", "card", "soil", "ember-wash", "plum-wash")),
    *(("alarm", on) for on in ("paper", "card", "soil", "alarm-wash", "plum-wash")),
    *(("steady", on) for on in ("paper", "card", "soil", "steady-wash")),
    ("on-plum", "plum"),
    ("paper", "alarm"),
]
SEEN_PAIRS = [
    *(("rule", on) for on in ("paper", "card", "soil", "plum-wash")),
    *(("ink", on) for on in ("sand", "leaf")),
    *(("bark", on) for on in ("paper", "card")),
    *(("ember", on) for on in ("ember-wash", "sand", "leaf")),
    ("alarm", "alarm-wash"),
    ("alarm", "sand"),
    ("steady", "steady-wash"),
    ("steady", "sand"),
    ("plum", "plum-wash"),
]


def modes():
    text = (STYLES / "tokens.css").read_text()
    light, rest = text.split("@media (prefers-color-scheme: dark)")
    dark, paper = rest.split("@media print")
    found = {}
    for name, part in (("light", light), ("dark", dark), ("paper", paper)):
        found[name] = dict(re.findall(r"--([a-z-]+):\s*(#[0-9A-Fa-f]{6});", part))
    return found


MODES = modes()


def without_comments(sheet):
    return re.sub(r"/\*.*?\*/", "", sheet.read_text(), flags=re.DOTALL)


def luminance(color):
    """Relative luminance. Source: WCAG 2.2, definition of relative luminance."""
    parts = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a, b):
    """Source: WCAG 2.2, definition of contrast ratio."""
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_contrast_of_black_on_white_is_twenty_one():
    # source: WCAG 2.2, definition of contrast ratio ("from 1 to 21")
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("mode", ["light", "dark", "paper"])
@pytest.mark.parametrize(("front", "back"), TEXT_PAIRS)
def test_words_can_be_read(mode, front, back):
    colors = MODES[mode]
    assert contrast(colors[front], colors[back]) >= TEXT


@pytest.mark.parametrize("mode", ["light", "dark", "paper"])
@pytest.mark.parametrize(("front", "back"), SEEN_PAIRS)
def test_outlines_and_marks_can_be_seen(mode, front, back):
    colors = MODES[mode]
    assert contrast(colors[front], colors[back]) >= SEEN


def test_dark_mode_and_paper_change_every_color():
    assert set(MODES["light"]) == set(MODES["dark"]) == set(MODES["paper"])


def test_only_the_tokens_name_a_raw_color():
    raw = re.compile(
        r"#[0-9a-fA-F]{3,8}\b|\b(?:rgba?|hsla?|oklch|lab|lch|color-mix)\("
        r"|:\s*[^;{}]*\b(?:white|black|red|green|blue|gray|grey|orange|purple|crimson|teal)\b"
    )
    for sheet in SHEETS:
        if sheet.name == "tokens.css":
            continue
        text = without_comments(sheet)
        assert raw.findall(text) == [], sheet.name


def test_every_token_that_is_used_is_defined():
    text = "".join(without_comments(sheet) for sheet in SHEETS)
    defined = set(re.findall(r"(--[a-z-]+)\s*:", text))
    used = set(re.findall(r"var\((--[a-z-]+)", text))
    assert used <= defined


def test_the_stylesheets_are_balanced_and_readable_pieces():
    for sheet in SHEETS:
        text = without_comments(sheet)
        assert text.count("{") == text.count("}"), sheet.name
        assert len(sheet.read_text().splitlines()) <= 900, sheet.name


def test_motion_is_only_for_those_who_want_it():
    text = "".join(sheet.read_text() for sheet in SHEETS)
    calm = re.sub(
        r"@media \(prefers-reduced-motion: no-preference\) \{.*?\n\}", "", text, flags=re.DOTALL
    )
    assert "animation:" in text
    assert "animation:" not in calm
    assert "transition:" not in calm


def test_no_template_carries_a_style_or_an_inline_script():
    for page in (ROOM / "templates").rglob("*.html"):
        text = page.read_text()
        assert not re.search(r"\sstyle\s*=", text), page.name
        assert not re.search(r"\son[a-z]+\s*=", text), page.name
        assert "<style" not in text, page.name
        for opened in re.findall(r"<script[^>]*>", text):
            assert "src=" in opened, page.name
