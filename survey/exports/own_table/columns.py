"""The kinds of table that somebody may bring, and which column of theirs is which of ours."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from survey.exports.columns import Words
from survey.exports.reading import Sheet, UnreadableFile

MOST_COLUMNS = 300


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that a row says. `called` are names of columns that mean it without doubt."""

    name: str
    meaning: Words
    called: frozenset[str]
    required: bool = False


@dataclass(frozen=True, slots=True)
class Form:
    """One kind of table: what a row of it is, and what it says.

    Of the fields in `one_of`, at least one must be there. `ages_in_months` says that ages come from
    dates; otherwise they are in whatever unit the table counts.
    """

    name: str
    title: Words
    one_row: Words
    fields: tuple[Field, ...]
    one_of: tuple[str, ...] = ()
    ages_in_months: bool = True

    @property
    def names(self) -> list[str]:
        return [field.name for field in self.fields]

    def missing(self, mapping: Mapping[str, str]) -> list[str]:
        """What a table of this kind cannot do without and this mapping has no column for."""
        lacking = [field.name for field in self.fields if field.required]
        lacking = [name for name in lacking if name not in mapping]
        if self.one_of and not any(name in mapping for name in self.one_of):
            lacking.append(" / ".join(self.one_of))
        return lacking


def _field(name: str, meaning: Words, called: str = "", *, required: bool = False) -> Field:
    return Field(name, meaning, frozenset([name, *called.split()]), required)


_PLANTED = "planting_date date_planted planted_on plant_date planted_date"

TREES = Form(
    "trees",
    gettext_lazy("One row for each tree"),
    gettext_lazy("When it was planted, when it was last seen alive, when it was first seen dead."),
    (
        _field("planted", gettext_lazy("the day it was planted"), _PLANTED, required=True),
        _field(
            "first_seen",
            gettext_lazy("the day it came on your list; empty: at planting"),
            "registered registered_on first_look listed listed_on inventoried inventoried_on",
        ),
        _field(
            "last_alive",
            gettext_lazy("the day it was last seen alive"),
            "last_seen_alive alive_on last_look_alive last_known_alive",
        ),
        _field(
            "first_dead",
            gettext_lazy("the day it was first seen dead or gone; empty: not seen so"),
            "first_seen_dead dead_on found_dead died_on date_died death_date removed_on",
        ),
        _field("outcome", gettext_lazy("what became of it"), "fate status left"),
        _field("tag", gettext_lazy("its tag or number"), "tree tree_id tree_tag id ref"),
    ),
    one_of=("last_alive", "first_dead"),
)
LOOKS = Form(
    "looks",
    gettext_lazy("One row for each look at a tree"),
    gettext_lazy("Which tree, when it was planted, the day of the look, what was seen."),
    (
        _field(
            "tree",
            gettext_lazy("which tree: its tag or number"),
            "tag tree_id tree_tag",
            required=True,
        ),
        _field("planted", gettext_lazy("the day it was planted"), _PLANTED, required=True),
        _field(
            "day",
            gettext_lazy("the day of the look"),
            "date looked_on look_date visit_date visited visited_on",
            required=True,
        ),
        _field(
            "seen",
            gettext_lazy("what was seen"),
            "what_was_seen condition presence status state",
            required=True,
        ),
        _field(
            "registered",
            gettext_lazy("the day it came on your list; no column: at planting"),
            "registered_on first_seen listed listed_on inventoried inventoried_on",
        ),
    ),
)
AGES = Form(
    "ages",
    gettext_lazy("Plain ages"),
    gettext_lazy("Between which two ages the end came; for published sets of figures."),
    (
        _field(
            "entry",
            gettext_lazy("the age from which it was watched; empty: from the start"),
            "start",
        ),
        _field(
            "left",
            gettext_lazy("the last age at which it was still alive"),
            "l lower after after_month",
            required=True,
        ),
        _field(
            "right",
            gettext_lazy("the first age at which it was not; empty or inf: not seen to end"),
            "r upper by_month",
            required=True,
        ),
        _field("count", gettext_lazy("how many are alike; empty: one"), "n freq frequency"),
    ),
    ages_in_months=False,
)
FORMS = {form.name: form for form in (TREES, LOOKS, AGES)}


class ColumnsWanted(UnreadableFile):
    """The table can be read, but not all that is needed has a column. What is known goes along."""

    def __init__(self, message: str, form: Form, mapping: dict[str, str]) -> None:
        super().__init__(message)
        self.form = form
        self.mapping = mapping


def name_of(text: str) -> str:
    """A column's name as it is compared: small letters, one line for every gap."""
    return " ".join(text.split()).lower().replace(" ", "_")


def check_header(sheet: Sheet) -> None:
    """Refuse a header that leaves in doubt which column is meant."""
    if any("\0" in name or "\ufffd" in name for name in sheet.header):
        raise UnreadableFile(_("The first line holds characters that are no text."))
    if len(sheet.header) > MOST_COLUMNS:
        raise UnreadableFile(
            _("The table has %(have)d columns; %(most)d are enough.")
            % {"have": len(sheet.header), "most": MOST_COLUMNS}
        )
    if twice := sorted({name for name in sheet.header if name and sheet.header.count(name) > 1}):
        raise UnreadableFile(
            _("Two columns have the same name: %s. Give one of them another name.")
            % ", ".join(twice[:10])
        )


def guess(header: Sequence[str], form: Form | None = None) -> tuple[Form, dict[str, str]]:
    """The kind of table and its columns, ours to theirs, as far as the names tell.

    Of the kinds whose columns are all there the first wins; else the one that lacks least.
    """
    kinds = [form] if form else [LOOKS, TREES, AGES]
    found = [(kind, _by_name(header, kind)) for kind in kinds]
    return min(found, key=lambda pair: (len(pair[0].missing(pair[1])), -len(pair[1])))


def _by_name(header: Sequence[str], form: Form) -> dict[str, str]:
    mapping: dict[str, str] = {}
    for field in form.fields:
        taken = mapping.values()
        if field.name in header and field.name not in taken:
            mapping[field.name] = field.name
    for field in form.fields:
        taken = set(mapping.values())
        known = [name for name in header if name in field.called and name not in taken]
        if field.name not in mapping and known:
            mapping[field.name] = known[0]
    return mapping


def settle(
    header: Sequence[str],
    *,
    form: Form | None = None,
    columns: Mapping[str, str] | None = None,
    guessing: bool = True,
) -> tuple[Form, dict[str, str]]:
    """The kind of table and its columns, ours to theirs, `columns` before anything guessed.

    An empty name in `columns` says that there is no such column. With `guessing` off nothing but
    `columns` counts. Raises UnreadableFile where a name is not in the table or comes twice, and
    ColumnsWanted where something needed has no column.
    """
    said = {ours: name_of(theirs) for ours, theirs in (columns or {}).items()}
    for ours, theirs in said.items():
        if theirs and theirs not in header:
            raise UnreadableFile(
                _("The table has no column “%(theirs)s”. It has: %(header)s.")
                % {"theirs": theirs[:60], "header": ", ".join(filter(None, header))[:600]}
            )
        if form and ours not in form.names:
            raise UnreadableFile(
                _("Nothing is called “%(ours)s” in this kind of table. There is: %(names)s.")
                % {"ours": ours[:60], "names": ", ".join(form.names)}
            )
    if form is None and said:
        fitting = [kind for kind in (LOOKS, TREES, AGES) if set(said) <= set(kind.names)]
        if not fitting:
            raise UnreadableFile(
                _("No kind of table has all of these: %s.") % ", ".join(sorted(said))[:200]
            )
        found = [(kind, _with(_by_name(header, kind), said)) for kind in fitting]
        form, mapping = min(found, key=lambda pair: (len(pair[0].missing(pair[1])), -len(pair[1])))
    elif guessing or form is None:
        form, mapping = guess(header, form)
        mapping = _with(mapping, said)
    else:
        mapping = _with({}, said)
    if len(set(mapping.values())) < len(mapping):
        twice = sorted(name for name in header if list(mapping.values()).count(name) > 1)
        raise ColumnsWanted(
            _("One column cannot mean two things: %s.") % ", ".join(twice), form, mapping
        )
    if lacking := form.missing(mapping):
        raise ColumnsWanted(
            _("Say which column is: %(lacking)s. The table has: %(header)s.")
            % {"lacking": ", ".join(lacking), "header": ", ".join(filter(None, header))[:600]},
            form,
            mapping,
        )
    return form, mapping


def _with(guessed: dict[str, str], said: Mapping[str, str]) -> dict[str, str]:
    kept = {
        ours: theirs
        for ours, theirs in guessed.items()
        if ours not in said and theirs not in said.values()
    }
    return kept | {ours: theirs for ours, theirs in said.items() if theirs}
