"""Hold what is told of described cases, one TOML table a case, against their right answers."""

from collections.abc import Collection
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import translation

from survey.causes.cases import BadCases, Case, read_cases
from survey.causes.judging import Judged, judge, same_look, score

FINDER = "survey.handbook.danger_words"


class Command(BaseCommand):
    help = (
        "Tells the causes of described cases apart, without the database, and scores them: how"
        " often an accepted cause is first or among three, what “cannot tell” was worth, whether"
        " danger was found, and whether the question that settles it was asked. One TOML table a"
        " case, [name] or [[case]], all keys optional: signs, extent, side, month, latitude,"
        " species, age (years), site (facts, a list or a table of true and false), weather,"
        " neighbors, text, language, seen_by; and the right answers: accepted (causes; an empty"
        " list or “cannot_tell” when nobody can tell), danger (true, false or kinds), question (one"
        " check or several). Values are the handbook's codes, labels, trade terms or aliases, in"
        " any letters; what is none of these is read as somebody's own words. See"
        " fixtures/cases/cases.toml."
    )

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument("--cases", action="store_true", help="also a line for every case")
        parser.add_argument(
            "--strict", action="store_true", help="refuse a file with anything not understood"
        )

    def handle(self, *args, file, strict, **options):
        with translation.override("en"):
            try:
                cases = read_cases(file)
            except BadCases as bad:
                raise CommandError(_printable(str(bad))) from None
            odd = [f"{case.name}: {what}" for case in cases for what in case.odd]
            if strict and odd:
                for line in odd[:50]:
                    self.stderr.write(_printable(line))
                raise CommandError(f"{len(odd)} not understood; nothing was scored.")
            judged = judge(cases, _finder())
            for line in _lines(judged, odd, each=options["cases"]):
                self.stdout.write(_printable(line))


def _finder():
    """The reader of danger words, from a text and its language to the dangers it names."""
    if find_spec(FINDER) is None:
        return lambda text, language: ()
    find = import_module(FINDER).find_danger

    def codes(text: str, language: str) -> Collection[str]:
        return {found.danger for found in find(text, None)} if text.strip() else ()

    return codes


def _lines(judged: list[Judged], odd: list[str], *, each: bool):
    yield f"{len(judged)} cases"
    refused = [one for one in judged if one.refused]
    for heading, lines in score(judged).lines:
        yield ""
        yield heading
        for said, share in lines:
            yield f"  {said:<50} {share}"
    if each:
        yield ""
        yield "Each case"
        for one in judged:
            yield from _of_case(one)
    if refused:
        yield ""
        yield f"{len(refused)} refused, because their facts cannot be right:"
        yield from (f"  {one.case.name}: {one.refused}" for one in refused)
    if odd:
        yield ""
        yield f"{len(odd)} not understood and left out:"
        yield from (f"  {line}" for line in odd)


def _of_case(one: Judged):
    case: Case = one.case
    wanted = ", ".join(sorted(case.accepted)) or ("cannot tell" if case.cannot_tell else "not said")
    right = one.among_first(1) if case.accepted else one.cannot_tell
    word = "refused" if one.refused else "cannot tell" if one.cannot_tell else ""
    first = one.ranking[:3]
    words = dict(one.named)
    told = ", ".join(f"{code} ({words[code]})" if code in words else code for code in first)
    judged = bool(case.accepted) or case.cannot_tell
    mark = "+" if judged and right else "-" if judged else "·"
    told = ": ".join(part for part in (word, told) if part)
    yield f"  {mark} {case.name}: wants {wanted}; {told}"
    question = ", ".join(sorted(case.question)) if case.question else ""
    if question or one.question:
        good = "" if not question else "+ " if same_look(one.question, case.question) else "- "
        wants = f", wants {question}" if question else ""
        yield f"      {good}asks {one.question or 'nothing'}{wants}"
    if case.danger or one.dangers:
        good = "+ " if bool(case.danger) == one.danger_found else "- "
        yield f"      {good}danger {', '.join(sorted(one.dangers)) or 'not found'}"


def _printable(text: str) -> str:
    """The text on one line, with what cannot be shown written as a code."""
    return "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in text)
