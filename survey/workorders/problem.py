"""One thing that stands in an order's way, in words."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from survey.trees.models import Tree


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is not in order. A blocking one must be settled before the work is planned.

    `opens` says what lets the work go on; `care` names the kind of care, where it is one. `lines`
    are the primary keys of the order's lines that it stands in the way of.
    """

    code: str
    blocking: bool
    text: str
    opens: str = ""
    care: str = ""
    lines: tuple[int, ...] = ()
    short: str = ""  # without the trees, for a page that says it beside each

    @property
    def whole(self) -> str:
        """What stands in the way and, told apart from it, what opens the work again."""
        if not self.opens:
            return self.text
        return _("%(problem)s Opens again: %(opens)s") % {
            "problem": self.text,
            "opens": self.opens,
        }


def day_said(day: date) -> str:
    return date_format(day, "F j, Y")


def tags_of(trees: Iterable[Tree]) -> str:
    return ", ".join(str(tree) for tree in trees)
