"""What somebody asks of a table: the table itself, which column is which, groups, ages, the unit.

Nothing is kept between two requests, so the page carries the table along as text and sends it back.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path

from django.http import HttpRequest
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from frontend.liaison.own_table.upload import LARGEST, TableInMemory
from survey.exports.own_table.columns import FORMS
from survey.exports.reading import CODECS, UnreadableFile, open_sheet

UNITS = {
    "": gettext_lazy("whatever the table counts"),
    "months": gettext_lazy("months"),
    "years": gettext_lazy("years"),
    "weeks": gettext_lazy("weeks"),
    "days": gettext_lazy("days"),
}
EXAMPLE = Path(__file__).resolve().parents[2] / "static" / "frontend" / "invented-trees.csv"
CARRIED = 3 * LARGEST  # letters: the same table as text, its line ends written as browsers do
LONGEST = 300  # letters of anything else that is typed or chosen


@dataclass(frozen=True, slots=True)
class Asked:
    """What one request asks. `columns` is None until somebody has said which is which."""

    text: str = ""
    kind: str = ""
    columns: dict[str, str] | None = None
    by: str = ""
    at: str = ""
    unit: str = ""
    leave_out: bool = False
    want: str = ""

    @property
    def file(self) -> BytesIO:
        return BytesIO(self.text.encode("utf-8", "replace"))


@dataclass(slots=True)
class Sent:
    """A request with what it asks, or what is wrong with it."""

    asked: Asked = field(default_factory=Asked)
    trouble: str = ""
    pasted: str = ""


def sent(request: HttpRequest) -> Sent:
    """Read a request. The file lives in memory as long as this request and no longer."""
    keeper = TableInMemory(request)
    request.upload_handlers = [keeper]
    words = request.POST
    file = request.FILES.get("table")
    pasted = words.get("pasted", "")
    found = Sent(pasted=pasted)
    if keeper.is_too_large or len(pasted) > LARGEST:
        found.trouble = _("The table is larger than 1 MB. Count equal rows together, or cut it.")
        found.pasted = pasted[:LARGEST]
        return found
    try:
        if "example" in words:
            found.asked = Asked(text=EXAMPLE.read_text(encoding="utf-8"))
        elif file is not None:
            found.asked = Asked(text=text_of(file.read()))
        elif pasted.strip():
            found.asked = Asked(text=pasted)
        else:
            found.asked = _again(words)
    except UnreadableFile as trouble:
        found.trouble = str(trouble)
        return found
    if not found.asked.text.strip():
        found.trouble = _("Choose a file, or paste a table.")
    elif len(found.asked.text) > CARRIED:
        found.trouble = _("The table is larger than 1 MB. Count equal rows together, or cut it.")
        found.asked = Asked()
    return found


def text_of(data: bytes) -> str:
    """A file's bytes as text; what cannot be read is marked, and its rows are refused later."""
    sheet = open_sheet(BytesIO(data))
    return data.decode(CODECS[sheet.encoding], errors="replace")


def _again(words: Mapping[str, str]) -> Asked:
    """A table that was sent before and comes back with what was chosen for it."""
    kind = words.get("kind", "")
    kind = kind if kind in FORMS else ""
    columns = None
    if kind and kind == words.get("kind_shown"):
        columns = {
            name: words.get(f"column-{name}", "")[:LONGEST]
            for name in FORMS[kind].names
            if words.get(f"column-{name}")
        }
    unit = words.get("unit", "")
    return Asked(
        text=words.get("text", ""),
        kind=kind,
        columns=columns,
        by=words.get("by", "")[:LONGEST],
        at=words.get("at", "")[:LONGEST],
        unit=unit if unit in UNITS else "",
        leave_out="leave_out" in words,
        want=words.get("want", ""),
    )
