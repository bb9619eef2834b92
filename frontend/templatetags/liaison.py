"""Words for how a tree counts."""

from django import template
from django.utils.translation import gettext as _

register = template.Library()


@register.filter
def status_said(code: str) -> str:
    """Where a tree is now, by trained eyes."""
    return {
        "alive": _("alive, seen within a year"),
        "stale": _("alive when last seen, over a year ago"),
        "unseen": _("not looked at since planting"),
        "standing_dead": _("dead, still standing"),
        "gone": _("gone: dead, or why is not known"),
        "removed_health": _("removed alive for health or safety"),
        "removed_other": _("removed alive for another reason"),
        "lost": _("could not be found again"),
        "never_planted": _("never planted"),
    }.get(code, code)


@register.filter
def excluded_said(code: str) -> str:
    """Why a tree is out of the rates."""
    return {
        "because_of_report": _("registered because of a report"),
        "not_found_alive": _("registered later, and no trained look found it alive"),
        "never_planted": _("never planted"),
        "gone_on_entry": _("lost in the month it came on the list"),
    }.get(code, code)
