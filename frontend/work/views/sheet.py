"""The sheet of an order: paper for the van, with a code that leads back to the order."""

from collections.abc import Iterable

import segno
from django.conf import settings
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.utils.translation import gettext, gettext_noop, override
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.work.views.orders import frame, order_or_404, with_doses
from survey.handbook.records import Caution
from survey.people.policy import may_see_orders

LANGUAGES = (("en", "English"), ("es", "Español"))
"""A crew reads its cautions in both, whatever language the desk prints in."""
TITLE = gettext_noop("What not to do")
MEANWHILE = gettext_noop("Meanwhile:")
SAID_ABOVE = {"digging", "danger_open"}
"""Cautions that have lines of their own on the sheet, with the ticket and the trees."""
QUIET_ZONE = 4  # modules, ISO/IEC 18004:2015, 6.3.8


def code_of(address: str) -> str:
    """The address as a QR code, black on white on every screen, so that a phone reads it."""
    code = segno.make(address, error="m", micro=False)
    drawn = code.svg_inline(
        border=QUIET_ZONE, omitsize=True, dark="black", light="white", svgclass="qr", lineclass=None
    )
    return mark_safe(drawn)  # noqa: S308 - drawn by us from an address of our own


def _in(language: str, text: str) -> str:
    with override(language):
        return gettext(text)


def in_both_languages(cautions: Iterable[Caution]) -> list[dict]:
    """Every caution with its five lines in the order they are read, in English and in Spanish."""
    cautions = list(cautions)
    names = ("do_not", "why", "limit", "call", "meanwhile")
    return [
        {
            "code": language,
            "title": name,
            "meanwhile": _in(language, MEANWHILE),
            "cautions": [
                {line: _in(language, getattr(caution, line)) for line in names}
                for caution in cautions
            ],
        }
        for language, name in LANGUAGES
    ]


@only(may_see_orders)
@require_safe
def sheet(request, number):
    """US Letter, upright: cautions, what to do, one row a tree. No neighbor is named on it."""
    found = order_or_404(number)
    path = reverse("frontend:order", args=[found.number])
    context = with_doses(request, found, frame(request, found))
    on_tree: dict[int, set[str]] = {}
    for line in context["lines"]:
        on_tree.setdefault(line.tree_id, set()).add(line.care)
    refused = {
        (worked.line.tree_id, care)
        for care, dose in context["doses"].items()
        for worked in dose.lines
        if worked.refused or worked.impossible
        if not worked.line.overruled_because
    }
    context["rows"] = [
        {
            "tree": tree,
            "held": context["held"].get(tree.pk),
            "boxes": [
                part.code in on_tree[tree.pk] and (tree.pk, part.code) not in refused
                for part in context["parts"]
            ],
        }
        for tree in context["trees"]
    ]
    context |= {
        "code": code_of(settings.PUBLIC_ADDRESS + path),
        "host": settings.PUBLIC_ADDRESS.removeprefix("https://").removeprefix("http://"),
        "path": path,
        "printed_at": found.area.now(),
        "first_cautions": [
            caution for caution in context["caution_groups"].first if caution.code not in SAID_ABOVE
        ],
        "caution_columns": in_both_languages(context["caution_groups"].all),
        "cautions_title": " · ".join(
            dict.fromkeys(_in(language, TITLE) for language, _name in LANGUAGES)
        ),
        "low_shoots": [
            tree for tree in context["trees"] if context["record"].facts[tree.pk].has_lost_half
        ],
        "professionals": found.who in ("arborist", "utility"),
    }
    return render(request, "frontend/work/sheet.html", context)
