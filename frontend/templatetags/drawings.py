"""Template tags for the drawings. An unknown code draws something calm; a page never breaks."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext, pgettext

from frontend.drawings import (
    accounted,
    care,
    charts,
    dangers,
    extent,
    gauge,
    ground,
    label,
    lookalikes,
    scale,
    sides,
    signs,
    trunk,
    twig,
)

register = template.Library()

KINDS = {
    "sign": signs.sign,
    "danger": dangers.danger,
    "scale": scale.scale,
    "extent": extent.extent,
    "side": sides.side,
    "care": care.care,
    "photo": care.photo_guide,
    "alike": lookalikes.look_alike,
}

CHARTS = {
    "shares": charts.shares,
    "dots": charts.dots,
    "in_and_out": charts.in_and_out,
    "waited": charts.waited,
    "accounted": accounted.accounted,
}


def _ours(drawn: str) -> SafeString:
    """A drawing may go into the page as it is: its words were escaped when they were drawn."""
    return mark_safe(drawn)  # noqa: S308 - made by this project's own pen


def condition_word(condition: str, doubt: int = 0) -> str:
    """The condition as a reader hears it, with its doubt."""
    words = {
        "thriving": pgettext("condition", "thriving"),
        "holding": pgettext("condition", "holding"),
        "slipping": pgettext("condition", "slipping"),
        "failing": pgettext("condition", "failing"),
        "dead": pgettext("condition", "dead"),
        "gone": pgettext("condition", "gone"),
    }
    word = words.get(condition)
    if word is None:
        return gettext("not looked at yet")
    if doubt == 1:
        return gettext("%(word)s, in some doubt") % {"word": word}
    if doubt >= 2:
        return gettext("%(word)s, in wide doubt") % {"word": word}
    return word


def _whole(value: object, otherwise: int) -> int:
    try:
        return int(value)  # type: ignore[call-overload]
    except (TypeError, ValueError):
        return otherwise


def _share(value: object, otherwise: float = 0.0) -> float:
    try:
        return float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return otherwise


@register.simple_tag(name="gauge")
def gauge_tag(
    condition: str = "", doubt: int = 0, size: int = 17, word: bool = False
) -> SafeString:
    """The stem gauge; with `word=True` the word stands beside it and the shape stays silent."""
    unsure, high = _whole(doubt, 0), _whole(size, 17)
    said = condition_word(condition, unsure)
    drawn = gauge.gauge(condition, unsure, high, title="" if word else said)
    if not word:
        return _ours(drawn)
    return format_html(
        '<span class="gauge-word">{}{}</span>',
        _ours(drawn),
        said,
    )


@register.simple_tag(name="drawing")
def drawing_tag(kind: str, code: str = "", title: str = "") -> SafeString:
    """A line drawing by kind and handbook code. Kinds: sign danger scale extent side care photo
    alike."""
    draw = KINDS.get(kind, signs.sign)
    return _ours(draw(str(code), title=str(title)))


@register.simple_tag(name="trunk")
def trunk_tag(
    lost_from: float = 0,
    lost_to: float | None = None,
    bearing: float = 180,
    size: int = 46,
    title: str = "",
) -> SafeString:
    """The trunk from above; shares in percent of the round, bearing in degrees from north."""
    least = _share(lost_from)
    most = least if lost_to in (None, "") else _share(lost_to, least)
    drawn = trunk.trunk(least, most, _share(bearing, 180.0), _whole(size, 46), title=str(title))
    return _ours(drawn)


@register.simple_tag(name="progress")
def progress_tag(step: int, total: int, place: str = "") -> SafeString:
    """The twig of progress with its words: "3 of 6 · Linden, tag 214"."""
    now, last = _whole(step, 1), max(1, _whole(total, 1))
    said = gettext("%(step)s of %(total)s") % {"step": min(now, last), "total": last}
    rest = format_html(" · {}", place) if place else ""
    drawn = _ours(twig.progress_twig(now, last))
    return format_html('<div class="progress">{}<p><b>{}</b>{}</p></div>', drawn, said, rest)


@register.simple_tag(name="twig_node")
def twig_node_tag(state: str = "done", side: str = "right") -> SafeString:
    """A node of the upright twig: now, done, sign, danger, coming."""
    return _ours(twig.twig_node(str(state), str(side)))


@register.simple_tag(name="plant_label")
def plant_label_tag(text: str, small: str = "", below: str = "") -> SafeString:
    """The plant label with a report's day and number; its words can be selected and enlarged."""
    shape = _ours(label.label_shape() + label.label_string())
    first = format_html("<span>{}</span>", small) if small else ""
    last = format_html("<span>{}</span>", below) if below else ""
    return format_html('<div class="plant-label">{}{}<b>{}</b>{}</div>', shape, first, text, last)


@register.simple_tag(name="loop")
def loop_tag() -> SafeString:
    """The ring of a pen that appears when the choice it lies in is checked."""
    return _ours(label.loop())


@register.simple_tag(name="arrow")
def arrow_tag(kind: str = "on") -> SafeString:
    """An arrow in the color of its words: on, back, turn, down."""
    return _ours(label.arrow(str(kind)))


@register.simple_tag(name="tally")
def tally_tag(count: int) -> SafeString:
    """Tally marks for a small count."""
    return _ours(label.tally(_whole(count, 0)))


@register.simple_tag(name="wordmark")
def wordmark_tag() -> SafeString:
    """The sign of the house."""
    return _ours(ground.wordmark())


@register.simple_tag(name="hero")
def hero_tag() -> SafeString:
    """The start page's tree: one staked linden on a phone, a row of five where there is room."""
    return _ours(ground.hero() + ground.hero_row())


@register.simple_tag(name="ground_line")
def ground_line_tag(name: str = "ground") -> SafeString:
    """The ground line from edge to edge."""
    return format_html(
        '<div class="ground-line">{}</div>',
        _ours(ground.ground_line(str(name))),
    )


@register.simple_tag(name="sapling_row")
def sapling_row_tag(standing: int, out_of: int = 10, title: str = "") -> SafeString:
    """Ten saplings for "about n in 10"."""
    drawn = ground.sapling_row(_whole(standing, 0), _whole(out_of, 10), title=str(title))
    return _ours(drawn)


@register.simple_tag(name="empty_ground")
def empty_ground_tag() -> SafeString:
    """Bare ground with one seed leaf, for an empty page."""
    return _ours(ground.empty_ground())


@register.simple_tag(name="keep_back")
def keep_back_tag(kind: str, text: str) -> SafeString:
    """How far to stand away: the hazard, somebody, and the words between them."""
    return format_html(
        '<div class="far">{}</div>',
        _ours(dangers.keep_back(str(kind), str(text))),
    )


@register.simple_tag(name="chart")
def chart_tag(kind: str, data: dict) -> SafeString:
    """A chart, drawn once for wide pages and paper and once for phones.

    `data` is handed to the function of that name in frontend.drawings.charts as keywords.
    """
    draw = CHARTS[kind]
    wide, narrow = draw(**data, wide=True), draw(**data, wide=False)
    return format_html(
        '<div class="chart"><div class="chart-wide">{}</div>'
        '<div class="chart-narrow">{}</div></div>',
        _ours(wide),
        _ours(narrow),
    )
