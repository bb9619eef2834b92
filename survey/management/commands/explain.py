"""Says why one tree is believed to be what it is, look by look, as text."""

import textwrap
from collections.abc import Iterator
from datetime import date
from difflib import get_close_matches

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db.models import Q
from django.utils import translation
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from survey.condition.models import STATES
from survey.condition.why import CLAIMS, NotOnTheList, Row, Why, why
from survey.condition.wording import hundred_said, state_said
from survey.trees.models import Area, Tree
from survey.trees.species import kind_of

WIDTH = 100
NEAR, SEARCHED = 5, 5000


class Command(BaseCommand):
    help = (
        "Explains what is believed of one tree: each look and each silence with its points (ten"
        " points are ten times likelier), and what the belief would be without it."
    )

    def add_arguments(self, parser):
        parser.add_argument("tag", help="the tree's tag, or its short name")
        parser.add_argument("--claim", choices=sorted(CLAIMS), default="lost")
        parser.add_argument("--area", help="short name of the area; needed if two have the tag")
        parser.add_argument("--at", help="look back to the end of a day's month, like 2026-06-16")
        parser.add_argument(
            "--all", action="store_true", help="also the looks before the last clear one"
        )
        parser.add_argument("--language", choices=[code for code, _ in settings.LANGUAGES])

    def handle(self, *, tag, claim, area, at, language, **options):
        in_full = options["all"]
        tree = _tree(tag, area)
        day = _day(at)
        with translation.override(language or translation.get_language()):
            try:
                told = why(tree, claim, at=day, view="staff")
            except NotOnTheList:
                raise CommandError(
                    f"{tree} came on the list on {tree.registered_on}, after that month."
                ) from None
            for line in _lines(told, in_full=in_full):
                self.stdout.write(line)


def _tree(tag: str, area: str | None) -> Tree:
    """The one tree meant; says what to write instead when there is none, or more than one."""
    places = Area.objects.order_by("ref")
    if area is not None:
        places = places.filter(ref=area)
        if not places:
            known = ", ".join(Area.objects.order_by("ref").values_list("ref", flat=True)) or "none"
            raise CommandError(f"There is no such area. Areas: {known}.")
    trees = Tree.objects.filter(area__in=places).select_related("area", "site")
    found = list(trees.filter(tag=tag).order_by("area__ref")[:20]) if tag else []
    found = found or list(trees.filter(ref=tag))
    if len(found) == 1:
        return found[0]
    if found:
        areas = " or ".join(f"--area {tree.area.ref}" for tree in found)
        raise CommandError(f"More than one area has a tree {tag}. Say which: {areas}.")
    near = _near(tag, trees)
    hint = f" Near it: {', '.join(near)}." if near else ""
    raise CommandError(f"There is no tree {tag}.{hint}")


def _near(tag: str, trees) -> list[str]:
    """Tags much like this one. In a town of many thousands only tags that begin alike are tried."""
    tags = trees.exclude(tag="").order_by("tag").values_list("tag", flat=True)
    alike = Q(tag__icontains=tag) | Q(tag__istartswith=tag[:1])
    begun = list(tags.filter(alike).distinct()[:SEARCHED]) if tag else []
    every = begun if len(begun) == SEARCHED else [*begun, *tags.distinct()[:SEARCHED]]
    return list(dict.fromkeys(get_close_matches(tag, every, n=2 * NEAR, cutoff=0.5)))[:NEAR]


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise CommandError(f"{text} is no day. Write it like 2026-06-16.") from None


def _lines(told: Why, *, in_full: bool) -> Iterator[str]:
    tree = told.tree
    yield f"{kind_of(tree.area, tree.species).name} {tree}, {tree.site.name}, {tree.area.name}"
    yield _month(told.month)
    yield ""
    yield from _wrapped(told.finding)
    if told.hinge:
        yield from _wrapped(told.hinge)
    yield ""
    yield from _table(told, in_full=in_full)
    yield ""
    yield _("Of 100 trees like this:")
    for state, share in zip(STATES, told.shares, strict=True):
        yield f"  {share * 100:5.1f}  {state_said(state)}"
    yield ""
    for note in (*told.notes, told.basis):
        yield from _wrapped(note)
    if tree.area.invented:
        yield _("This town and its trees are invented. Nothing here happened.")


def _table(told: Why, *, in_full: bool) -> Iterator[str]:
    """One line a step, its numbers aligned; the sums below, as the points add up."""
    folded = () if in_full else told.rows[: told.told_from]
    rows = [(_month(told.start_month), "", _of_hundred(told.start_share), told.start_words)]
    if folded:
        points = sum(row.points for row in folded)
        rows.append(_line(folded[-1], points, _folded(folded)))
    told_rows = told.rows[len(folded) :]
    rows.extend(_line(row, row.points, _told(row, told.share)) for row in told_rows)
    points = f"{told.points - told.start:+.1f}"
    rows.append(("", points, _of_hundred(told.share), _("all together")))
    head = (_("when"), _("points"), _("of 100"), told.claim_words)
    wide = [max(len(row[n]) for row in (*rows, head)) for n in range(3)]
    for when, points, share, words in (head, *rows):
        numbers = f"{when:<{wide[0]}}  {points.replace('-', '−'):>{wide[1]}}  {share:>{wide[2]}}"
        first, *more = textwrap.wrap(words, WIDTH - len(numbers) - 2)
        yield f"{numbers}  {first}"
        yield from (f"{'':{len(numbers)}}  {line}" for line in more)


def _line(row: Row, points: float, words: str) -> tuple[str, str, str, str]:
    return _month(row.day), f"{points:+.1f}", _of_hundred(row.share), words


def _folded(rows: tuple[Row, ...]) -> str:
    looks = sum(row.looks for row in rows)
    return ngettext(
        "%(n)d look before that, and the time between; --all tells it.",
        "%(n)d looks before that, and the time between; --all tells them.",
        looks,
    ) % {"n": looks}


def _told(row: Row, share: float) -> str:
    words = [row.words, row.note]
    if row.reason:
        words.append(_("The reason given: “%s”") % row.reason)
    if row.without is not None and hundred_said(row.without) != hundred_said(share):
        without = ngettext("Without it: %s.", "Without them: %s.", row.looks)
        words.append(without % hundred_said(row.without))
    return " ".join(word for word in words if word)


def _of_hundred(share: float) -> str:
    """A share for a column: "<1", "72", ">99"."""
    if share < 0.005:
        return "<1"
    return ">99" if share >= 0.995 else f"{share * 100:.0f}"


def _month(day: date) -> str:
    # Translators: a month in short, as a Django date format.
    return date_format(day, _("M Y"))


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH)
