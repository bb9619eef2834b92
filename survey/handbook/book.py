"""The handbook, loaded: what the trade knows, as records that can be looked up by code."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal, TypeVar, get_args, get_type_hints

from survey.handbook.causes import (
    CareCode,
    Cause,
    CauseCode,
    Check,
    CheckCode,
    Clue,
    ClueCode,
    Dispute,
)
from survey.handbook.coherence import check_causes, names_of
from survey.handbook.danger_records import DangerCode, DangerPhrase, WordGroup
from survey.handbook.reading import HandbookError, read_records
from survey.handbook.records import (
    Advice,
    AdviceCode,
    Care,
    Caution,
    CautionCode,
    Condition,
    ConditionCode,
    Danger,
    Entry,
    Extent,
    PictureStep,
    PracticeItem,
    Side,
    Sign,
    SignCode,
    Source,
    SourceCode,
)
from survey.handbook.species import Species

T = TypeVar("T")

DATA = Path(__file__).with_name("data")

# Own rule of this project. The worst sign decides how long a tree waits. Every further sign adds
# a tenth of its weight, at most 0.9 together: many small signs order trees that are equally badly
# off, but never lift one by a whole step of the scale over a tree with one worse sign.
FURTHER_SIGNS_SHARE = 0.1
FURTHER_SIGNS_MOST = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """All entries by kind and code; each mapping keeps the order of its file."""

    sources: Mapping[str, Source]
    species: Mapping[str, Species]
    extents: Mapping[str, Extent]
    sides: Mapping[str, Side]
    signs: Mapping[str, Sign]
    advice: Mapping[str, Advice]
    dangers: Mapping[str, Danger]
    cautions: Mapping[str, Caution]
    conditions: Mapping[str, Condition]
    picture_scale: Mapping[str, PictureStep]
    care: Mapping[str, Care]
    practice: Mapping[str, PracticeItem]
    clues: Mapping[str, Clue]
    checks: Mapping[str, Check]
    causes: Mapping[str, Cause]
    disputes: Mapping[str, Dispute]
    danger_words: Mapping[str, WordGroup]
    danger_phrases: Mapping[str, DangerPhrase]

    def files(self) -> Iterator[tuple[str, Mapping[str, Any]]]:
        """Each data file's name with its records."""
        for field in fields(self):
            yield f"{field.name}.toml", getattr(self, field.name)

    def grounds(self, entry: Entry) -> tuple[str, ...]:
        """What the entry rests on: the sources in full, then its mark if it has one."""
        cited = tuple(self.sources[code].citation for code in entry.sources)
        return (*cited, entry.mark) if entry.mark else cited

    def signs_for(
        self,
        who: Literal["neighbor", "trained"],
        asked_at: Literal["base", "higher", "soil", "end"] | None = None,
    ) -> tuple[Sign, ...]:
        """The signs to show to somebody, under one heading of the page or all of them."""
        return tuple(
            sign
            for sign in self.signs.values()
            if who in sign.shown_to and asked_at in (None, sign.asked_at)
        )

    def triage_weight(self, signs: Iterable[tuple[str, str | None]]) -> float:
        """How soon a report's signs ask for a look; 0 without any sign.

        `signs` are pairs of sign code and how far round it goes (None where not asked). A sign
        given twice, for two stems, counts once, at its worst. Raises KeyError for unknown codes.
        """
        worst: dict[str, float] = {}
        for code, extent in signs:
            weight = self.signs[code].queue_weight(extent)
            worst[code] = max(weight, worst.get(code, 0.0))
        if not worst:
            return 0.0
        first, *further = sorted(worst.values(), reverse=True)
        return first + min(FURTHER_SIGNS_MOST, FURTHER_SIGNS_SHARE * sum(further))

    def advice_for(
        self, signs: Iterable[str], *, age_years: float | None = None, in_danger: bool = False
    ) -> list[Advice]:
        """What to tell whoever ticked these signs: first what not to do, then when to call,
        then what may be done today; each once.

        Advice that is unsafe beside one of the signs is left out, and so is advice for young
        trees when `age_years` (since planting) is known to be too high. With `in_danger` only
        what to leave alone is said, so that nobody goes near for a photo or a bucket. Raises
        KeyError for unknown signs.
        """
        seen = tuple(signs)
        wanted = dict.fromkeys(code for sign in seen for code in self.signs[sign].advice)
        records = [self.advice[code] for code in wanted]
        order = ("do_not", "tell_us", "today")
        return sorted(
            (
                advice
                for advice in records
                if not set(advice.not_with) & set(seen)
                and (advice.kind == "do_not" or not in_danger)
                and (
                    advice.only_under_years is None
                    or age_years is None
                    or age_years < advice.only_under_years
                )
            ),
            key=lambda advice: order.index(advice.kind),
        )


REFERENCES: dict[Any, str] = {
    SourceCode: "sources",
    SignCode: "signs",
    AdviceCode: "advice",
    CautionCode: "cautions",
    ConditionCode: "conditions",
    ClueCode: "clues",
    CheckCode: "checks",
    CauseCode: "causes",
    CareCode: "care",
    DangerCode: "dangers",
}


def load(directory: Path) -> Book:
    """The handbook in this folder. Raises HandbookError with file, entry and field."""
    known = {f"{field.name}.toml" for field in fields(Book)}
    for path in sorted(directory.glob("*.toml")):
        if path.name not in known:
            raise HandbookError(path.name, "is not a file of the handbook")

    def entries(name: str, kind: type[T], **given: object) -> Mapping[str, T]:
        return MappingProxyType(read_records(directory / f"{name}.toml", kind, **given))

    extents = entries("extents", Extent)
    whole = Book(
        sources=entries("sources", Source),
        species=entries("species", Species),
        extents=extents,
        sides=entries("sides", Side),
        signs=entries("signs", Sign, extents=extents),
        advice=entries("advice", Advice),
        dangers=entries("dangers", Danger),
        cautions=entries("cautions", Caution),
        conditions=entries("conditions", Condition),
        picture_scale=entries("picture_scale", PictureStep),
        care=entries("care", Care),
        practice=entries("practice", PracticeItem),
        clues=entries("clues", Clue),
        checks=entries("checks", Check),
        causes=entries("causes", Cause),
        disputes=entries("disputes", Dispute),
        danger_words=entries("danger_words", WordGroup),
        danger_phrases=entries("danger_phrases", DangerPhrase),
    )
    _check_references(whole)
    _check_look_alikes(whole.practice)
    check_causes(whole.clues, whole.checks, whole.causes)
    for file, records in whole.files():
        names_of(file, records)
    return whole


def _check_references(whole: Book) -> None:
    """Every code that names another entry names one that exists."""
    for file, records in whole.files():
        for code, record in records.items():
            for field, hint in get_type_hints(type(record)).items():
                target = next(
                    (
                        name
                        for reference, name in REFERENCES.items()
                        if hint is reference or reference in get_args(hint)
                    ),
                    None,
                )
                value = getattr(record, field)
                if target is None or value is None:
                    continue
                for named in value if isinstance(value, tuple) else (value,):
                    if named not in getattr(whole, target):
                        raise HandbookError(
                            file, f"{target}.toml has no {named!r}", entry=code, field=field
                        )


def _check_look_alikes(practice: Mapping[str, PracticeItem]) -> None:
    """What is taken for each other stands together, with the same choices and different answers."""
    together: dict[str, list[PracticeItem]] = {}
    for item in practice.values():
        together.setdefault(item.alike, []).append(item)
    for items in together.values():
        first = items[0]
        for item in items[1:]:
            if item.choices != first.choices:
                raise HandbookError(
                    "practice.toml",
                    f"must be the choices of {first.code}, which it is taken for",
                    entry=item.code,
                    field="choices",
                )
        if len({item.right for item in items}) < 2:
            raise HandbookError(
                "practice.toml",
                "no other picture of this name has another answer",
                entry=first.code,
                field="alike",
            )


@cache
def book() -> Book:
    """The project's own handbook, read once."""
    return load(DATA)
