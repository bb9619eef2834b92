"""What a neighbor answered, checked: the one place that says what a report may hold."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.utils.translation import gettext as _

from survey.handbook.book import book
from survey.photos.models import Photo
from survey.trees.models import Area, Site, Tree

MOST_WORDS = 4000  # letters of a report's text
MOST_LANDMARK = 300
MOST_PHOTOS = 5
EARLIEST = date(2000, 1, 1)

_PHONE = re.compile(r"^\+?[0-9 ().\-/x]{7,40}$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """Everything a report says. Codes are the handbook's; empty means not answered."""

    tree: Tree | None = None
    site: Site | None = None
    landmark: str = ""
    latitude: float | None = None
    longitude: float | None = None
    seen_on: date | None = None
    danger: str = ""
    signs: tuple[str, ...] = ()
    picture: str = ""
    extent: str = ""
    side: str = ""
    words: str = ""
    email: str = ""
    phone: str = ""
    photos: tuple[Photo, ...] = field(default=())


def cleaned_text(text: str) -> str:
    """Typed text as it may be stored: no NUL, no lone surrogates, one kind of line end."""
    text = text.replace("\x00", "").replace("\r\n", "\n").replace("\r", "\n")
    return text.encode("utf-8", "replace").decode("utf-8").strip()


def how_to_answer(typed: str) -> tuple[str, str]:
    """An e-mail address or a phone number, told apart: (email, phone). Raises ValidationError."""
    typed = cleaned_text(typed)
    if not typed:
        return "", ""
    if "@" in typed:
        validate_email(typed)
        return typed, ""
    if not _PHONE.match(typed) or sum(letter.isdigit() for letter in typed) < 7:
        raise ValidationError(
            _("That is neither an e-mail address nor a phone number. Check it, or leave it empty.")
        )
    return "", typed


def asks_extent(signs: Iterable[str]) -> bool:
    """Whether one of the ticked signs asks how far round it goes."""
    known = book().signs
    return any(known[code].asks_extent for code in signs if code in known)


def asks_side(signs: Iterable[str]) -> bool:
    known = book().signs
    return any(known[code].asks_side for code in signs if code in known)


def check(area: Area, answers: Answers) -> None:
    """Refuse what cannot be a report. Raises ValidationError keyed by field, all at once."""
    wrong: dict[str, str] = {}
    _check_place(area, answers, wrong)
    _check_codes(answers, wrong)
    today = area.today()
    if answers.seen_on is None:
        wrong["seen_on"] = _("Say on which day you saw it.")
    elif answers.seen_on > today:
        wrong["seen_on"] = _("That day has not come yet. When did you see it?")
    elif answers.seen_on < EARLIEST:
        wrong["seen_on"] = _("Check the year: that is too long ago.")
    if len(answers.words) > MOST_WORDS:
        wrong["words"] = too_long(answers.words)
    if len(answers.photos) > MOST_PHOTOS:
        wrong["photos"] = _("Up to %d photos can go with one report.") % MOST_PHOTOS
    if answers.email:
        try:
            validate_email(answers.email)
        except ValidationError as trouble:
            wrong["contact"] = trouble.messages[0]
    if len(answers.phone) > 40:
        wrong["contact"] = _("That phone number is too long.")
    if wrong:
        raise ValidationError(wrong)


def too_long(words: str) -> str:
    return _("That is %(typed)s letters, and we can take %(most)s. Please make it shorter.") % {
        "typed": f"{len(words):,}",
        "most": f"{MOST_WORDS:,}",
    }


def _check_place(area: Area, answers: Answers, wrong: dict[str, str]) -> None:
    if answers.tree is not None and answers.tree.area_id != area.pk:
        wrong["where"] = _("That tree stands in another town.")
    elif answers.site is not None and answers.site.area_id != area.pk:
        wrong["where"] = _("That place is in another town.")
    elif not (answers.tree or answers.site or answers.landmark or answers.latitude is not None):
        wrong["where"] = _("Say where the tree is: pick it, or name something close to it.")
    if len(answers.landmark) > MOST_LANDMARK:
        wrong["landmark"] = _("Please use up to %d letters for the place.") % MOST_LANDMARK


def _check_codes(answers: Answers, wrong: dict[str, str]) -> None:
    known = book()
    for name, codes, allowed in (
        ("danger", [answers.danger], known.dangers),
        ("signs", answers.signs, known.signs),
        ("picture", [answers.picture], known.picture_scale),
        ("extent", [answers.extent], known.extents),
        ("side", [answers.side], known.sides),
    ):
        if any(code and code not in allowed for code in codes):
            wrong[name] = _("Choose from the list.")


def spoken_language(language: str | None) -> str:
    """A language of this house; anything else is English."""
    wanted = (language or "")[:5].lower()
    for code, _name in settings.LANGUAGES:
        if wanted == code or wanted.split("-")[0] == code:
            return code
    return "en"
