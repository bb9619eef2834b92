"""The sheet of an order: paper for the van, with a code that leads back to the order."""

import segno
from django.conf import settings
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.work.views.orders import frame, order_or_404
from survey.people.policy import may_see_orders

QUIET_ZONE = 4  # modules, ISO/IEC 18004:2015, 6.3.8


def code_of(address: str) -> str:
    """The address as a QR code, black on white on every screen, so that a phone reads it."""
    code = segno.make(address, error="m", micro=False)
    drawn = code.svg_inline(
        border=QUIET_ZONE, omitsize=True, dark="black", light="white", svgclass="qr", lineclass=None
    )
    return mark_safe(drawn)  # noqa: S308 - drawn by us from an address of our own


@only(may_see_orders)
@require_safe
def sheet(request, number):
    """US Letter, upright: cautions, what to do, one row a tree. No neighbor is named on it."""
    found = order_or_404(number)
    path = reverse("frontend:order", args=[found.number])
    context = frame(request, found)
    on_tree: dict[int, set[str]] = {}
    for line in context["lines"]:
        on_tree.setdefault(line.tree_id, set()).add(line.care)
    context["rows"] = [
        {
            "tree": tree,
            "held": context["held"].get(tree.pk),
            "boxes": [part.code in on_tree[tree.pk] for part in context["parts"]],
        }
        for tree in context["trees"]
    ]
    context["needs_ticket"] = any(
        part.care and part.care.needs_utility_ticket for part in context["parts"]
    )
    context |= {
        "code": code_of(settings.PUBLIC_ADDRESS + path),
        "host": settings.PUBLIC_ADDRESS.removeprefix("https://").removeprefix("http://"),
        "path": path,
        "printed_at": found.area.now(),
        "professionals": found.who in ("arborist", "utility"),
    }
    return render(request, "frontend/work/sheet.html", context)
