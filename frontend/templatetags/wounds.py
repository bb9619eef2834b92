"""Template tags for wounds: the clock face, empty or with what was measured."""

from django import template
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from frontend.drawings.wound import Arc, clock_face
from survey.causes.wounds import StemWounds, wound_of

register = template.Library()


@register.simple_tag
def clock_guide() -> SafeString:
    """The empty face, with the street at twelve."""
    return _drawn(
        clock_face(street=gettext("street"), title=gettext("A trunk from above: 12 is the street."))
    )


@register.simple_tag
def stem_face(stem: StemWounds, size: int = 160) -> SafeString:
    """One stem from above with its wounds to scale; what has no place is a broken arc outside."""
    arcs, loose = [], 0.0
    for seen in stem.wounds:
        arc = wound_of(seen.measure).arc()
        if arc is None:
            loose += seen.share
        else:
            arcs.append(Arc(*arc, name=str(seen.measure.number)))
    title = gettext("Stem %(stem)d from above, its wounds to scale.") % {"stem": stem.stem}
    street = gettext("street") if arcs else ""
    return _drawn(clock_face(arcs, maybe=min(1.0, loose), street=street, title=title, size=size))


@register.simple_tag
def svg(drawn: str) -> SafeString:
    """A drawing that a view has made already, as it is: its words were escaped when drawn."""
    return _drawn(drawn)


def _drawn(drawn: str) -> SafeString:
    return mark_safe(drawn)  # noqa: S308 - made by this project's own pen
