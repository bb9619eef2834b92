"""Template tags for the strip map and for what a handbook entry says."""

from django import template
from django.utils.safestring import SafeString, mark_safe

from frontend.drawings.above import all_well, crown_above, crown_print, crown_stamp

register = template.Library()


@register.simple_tag(name="crown_above")
def crown_above_tag() -> SafeString:
    """A tree from above."""
    return mark_safe(crown_above())  # noqa: S308 - our own drawing


@register.simple_tag(name="all_well")
def all_well_tag() -> SafeString:
    """A ring with a tick: nothing is wrong here."""
    return mark_safe(all_well())  # noqa: S308 - our own drawing


@register.simple_tag(name="crown_stamp")
def crown_stamp_tag() -> SafeString:
    """Stands once on a page that prints many crowns."""
    return mark_safe(crown_stamp())  # noqa: S308 - our own drawing


@register.simple_tag(name="crown_print")
def crown_print_tag() -> SafeString:
    """A tree from above, printed from the page's stamp."""
    return mark_safe(crown_print())  # noqa: S308 - our own drawing
