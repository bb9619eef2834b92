"""Template tags for the strip map and for what a handbook entry says."""

from django import template
from django.utils.safestring import SafeString, mark_safe

from frontend.drawings.above import all_well, crown_above

register = template.Library()


@register.simple_tag(name="crown_above")
def crown_above_tag() -> SafeString:
    """A tree from above."""
    return mark_safe(crown_above())  # noqa: S308 - our own drawing


@register.simple_tag(name="all_well")
def all_well_tag() -> SafeString:
    """A ring with a tick: nothing is wrong here."""
    return mark_safe(all_well())  # noqa: S308 - our own drawing
