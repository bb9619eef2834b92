"""Reads hazards out of what a neighbor typed, by the handbook's words and phrases. No judgment:
what is found is a danger until somebody has looked, like one that was ticked.

Time grows with the length of the text and with nothing else: each word is looked up once, and a
phrase that begins at a word looks at a bounded number of words after it.
"""

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache

from survey.handbook.book import book
from survey.handbook.danger_records import DangerPhrase, WordGroup

LONGEST_WORD = 40  # letters; nothing longer is a word of ours
SHORTEST_MISSPELLED = 5  # shorter words are too close to each other
MOST_FOUND = 40  # places told of; whoever reads has enough with the first
CARRY = 3  # words over which "or" carries a denial on
STOPPED = 2  # how strongly a full stop parts two words
OVER_AFTER, OVER_BEFORE = 9, 5  # words between a hazard and the news that it is past


@dataclass(frozen=True, slots=True)
class Found:
    """A hazard in a text: its kind (a code of dangers.toml), the words as written, and where.

    `text[start:end] == phrase`, in characters of the text as it was given.
    """

    danger: str
    phrase: str
    start: int
    end: int


# Marks that stand inside words without being letters: accents on their own, soft hyphens, joiners,
# direction marks. Apostrophes count between letters only.
_INSIDE = (
    "\u00ad\u0300-\u036f\u200b-\u200f\u202a-\u202e\u2060-\u2064\u2066-\u2069\ufe0e\ufe0f\ufeff"
)
_TOKEN = re.compile(rf"[^\W_](?:[^\W_]|[{_INSIDE}]|['’‘`´](?=[^\W_]))*")
_NOT_LETTERS = re.compile(rf"[{_INSIDE}'’‘`´]")
_RUN = re.compile(r"(.)\1{2,}")
_STRONG = re.compile(r"[!?;¿¡]|\.(?!\.)(?<!\.\.)")
_WEAK = re.compile(r"[,:()\n\"“”«»/—–…]|\.\.| - ")

# Letters of other alphabets that look like ours, typed by a wrong keyboard or to slip through.
_ALIKE = str.maketrans(
    "аеорсухіјѕԁһкмнтвɡαοερτυνικßøłđıæ",
    "aeopcyxijsdhkmhtbgaoeptuviksoldia",
)


def folded(word: str) -> str:
    """A typed word as the handbook writes it: small, no accents, nothing that cannot be seen."""
    if not word.isascii():
        word = unicodedata.normalize("NFKD", word).lower().translate(_ALIKE)
        word = "".join(c for c in word if not unicodedata.combining(c))
    return _RUN.sub(r"\1", _NOT_LETTERS.sub("", word.lower()))


def sound(word: str) -> str:
    """How a word sounds in the Spanish of Mexico, roughly: "callo" and "cayo" are the same."""
    word = word.replace("ch", "1").replace("qu", "k").replace("h", "").replace("ll", "y")
    word = re.sub(r"c(?=[ei])", "s", word).replace("c", "k").replace("z", "s").replace("v", "b")
    word = re.sub(r"g(?=[ei])", "j", word).replace("rr", "r").replace("w", "gu").replace("x", "j")
    return re.sub(r"(.)\1", r"\1", word.replace("1", "ch"))


def _less_one(word: str) -> set[str]:
    return {word[:i] + word[i + 1 :] for i in range(len(word))}


def _one_off(a: str, b: str) -> bool:
    """Whether one letter more, less, changed, or two swapped make one word the other."""
    if len(a) > len(b):
        a, b = b, a
    start = 0
    while start < len(a) and a[start] == b[start]:
        start += 1
    if len(a) < len(b):
        return a[start:] == b[start + 1 :]
    return a[start + 1 :] == b[start + 1 :] or (
        a[start : start + 2] == b[start : start + 2][::-1] and a[start + 2 :] == b[start + 2 :]
    )


Element = frozenset[str]
Line = tuple[DangerPhrase, list[Element]]
Starts = dict[str, dict[str, list[Line]]]
"""Lines of phrases by a label that begins them, then by one that goes on ("" where none does)."""


@dataclass(slots=True)
class _Lexicon:
    """Words and phrases of one language, or of both, made ready for reading."""

    known: set[str] = field(default_factory=set)
    single: dict[str, set[str]] = field(default_factory=dict)
    several: dict[str, list[tuple[tuple[str, ...], str]]] = field(default_factory=dict)
    by_sound: dict[str, str] = field(default_factory=dict)
    near: dict[str, set[str]] = field(default_factory=dict)
    starts: dict[str, Starts] = field(default_factory=dict)
    widest: int = 0
    over_stops: set[str] = field(default_factory=set)  # meanings with phrases that read past stops
    resolved: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def add(self, words: tuple[str, ...], label: str) -> None:
        self.known.update(words)
        if len(words) == 1:
            self.single.setdefault(words[0], set()).add(label)
        else:
            entry = (words[1:], label)
            if entry not in self.several.setdefault(words[0], []):
                self.several[words[0]].append(entry)

    def meant(self, typed: str) -> tuple[str, ...]:
        """The words of ours that a folded word stands for; itself when nobody knows it."""
        if typed in self.known:
            return (typed,)
        if typed not in self.resolved:
            if len(self.resolved) > 20_000:
                self.resolved.clear()
            self.resolved[typed] = self._guess(typed)
        return self.resolved[typed]

    def _guess(self, typed: str) -> tuple[str, ...]:
        if not 3 <= len(typed) <= LONGEST_WORD:
            return (typed,)
        alike = self.by_sound.get(sound(typed))
        if alike is not None:
            return (alike,)
        if len(typed) < SHORTEST_MISSPELLED:
            return (typed,)
        wider = {typed} | _less_one(typed)
        near = {word for part in wider for word in self.near.get(part, ())}
        return tuple(sorted(w for w in near if w[0] == typed[0] and _one_off(w, typed))) or (typed,)


def _element(
    choice: tuple[str, ...], phrase: DangerPhrase, groups: Mapping[str, WordGroup]
) -> Element:
    for name in choice:
        if name.startswith("@") and name[1:] not in groups:
            raise KeyError(f"danger_phrases.toml, {phrase.code}: danger_words.toml has no {name!r}")
    return frozenset(choice)


@cache
def _lexicon(language: str | None) -> _Lexicon:
    whole = book()
    groups, made = whole.danger_words, _Lexicon()
    for group in groups.values():
        words = group.words(language)
        for phrase_words in words:
            made.add(phrase_words, f"@{group.code}")
    for group in groups.values():
        for spoken in group.words(language):
            for word in spoken:
                if len(word) >= SHORTEST_MISSPELLED and group.code != "real_words":
                    for part in {word} | _less_one(word):
                        made.near.setdefault(part, set()).add(word)
        if language in (None, "es") and group.code != "real_words":
            for spoken in group.words("es"):
                for word in spoken:
                    if len(word) >= 4:
                        made.by_sound.setdefault(sound(word), word)
    for phrase in whole.danger_phrases.values():
        starts = made.starts.setdefault(phrase.meaning, {})
        for variant in phrase.variants():
            elements = [_element(choice, phrase, groups) for choice in variant]
            for element in elements:
                for name in element:
                    if not name.startswith("@"):
                        made.add(tuple(name.split("+")), name)
            made.widest = max(made.widest, phrase.gap)
            if phrase.over_stops:
                made.over_stops.add(phrase.meaning)
            line = (phrase, elements)
            for name in elements[0]:
                seconds = starts.setdefault(name, {})
                for second in elements[1] if len(elements) > 1 else ("",):
                    seconds.setdefault(second, []).append(line)
    return made


@dataclass(slots=True)
class _Text:
    """A text as its words: where each stands, what it may be (label → how many words), and how
    strongly it is parted from the word before (0 not, 1 comma or "but", 2 full stop)."""

    starts: list[int]
    ends: list[int]
    labels: list[dict[str, int]]
    parted: list[int]


def _words_of(text: str, lexicon: _Lexicon) -> _Text:
    read = _Text([], [], [], [])
    meant: list[tuple[str, ...]] = []
    seen: dict[str, tuple[str, ...]] = {}
    last = 0
    for match in _TOKEN.finditer(text):
        start, end = match.span()
        between = text[last:start] if start - last < 200 else ". "
        parted = 0
        if between not in (" ", ""):
            parted = 2 if _STRONG.search(between) else 1 if _WEAK.search(between) else 0
        read.starts.append(start)
        read.ends.append(end)
        read.parted.append(parted)
        typed = text[start:end] if end - start <= 3 * LONGEST_WORD else ""
        if typed not in seen:
            seen[typed] = lexicon.meant(folded(typed)) if typed else ()
        meant.append(seen[typed])
        last = end
    alone: dict[tuple[str, ...], dict[str, int]] = {}  # most words say the same wherever they stand
    for here, words in enumerate(meant):
        labels = alone.get(words)
        if labels is None:
            labels = {label: 1 for word in words for label in lexicon.single.get(word, ())}
            alone[words] = labels
        for word in words:
            for rest, label in lexicon.several.get(word, ()):
                if _goes_on(meant, read.parted, here + 1, rest):
                    labels = {**labels, label: max(labels.get(label, 1), len(rest) + 1)}
        read.labels.append(labels)
        if "@turn" in labels:
            read.parted[here] = max(read.parted[here], 1)
    return read


def _goes_on(
    meant: list[tuple[str, ...]], parted: list[int], here: int, rest: tuple[str, ...]
) -> bool:
    if here + len(rest) > len(meant) or rest[0] not in meant[here]:
        return False
    return all(word in meant[here + k] and not parted[here + k] for k, word in enumerate(rest))


def _matches(
    read: _Text,
    lexicon: _Lexicon,
    meaning: str,
    out: list[bool],
    *,
    most_parted: int,
    out_if_sure: list[bool] | None = None,
) -> Iterator[tuple[DangerPhrase, list[int]]]:
    """Every phrase of this meaning that can be read, with the words it is made of; words marked
    in `out` are not read (in `out_if_sure`, for a phrase that is sure). Of each element the
    nearest word counts."""
    starts, count = lexicon.starts[meaning], len(read.labels)
    surely = out if out_if_sure is None else out_if_sure
    farthest = STOPPED if meaning in lexicon.over_stops else most_parted
    for here, labels in enumerate(read.labels):
        if surely[here]:
            continue
        for label, length in labels.items():
            seconds = starts.get(label)
            if seconds is None:
                continue
            lines = {id(line): line for line in seconds.get("", ())}
            for there in range(here + length, min(here + length + lexicon.widest + 1, count)):
                if read.parted[there] > farthest:
                    break
                for name in read.labels[there]:
                    for line in seconds.get(name, ()):
                        lines[id(line)] = line
            for phrase, elements in lines.values():
                masked = surely if phrase.sure else out
                most = STOPPED if phrase.over_stops else most_parted
                made_of = _follow(read, phrase, elements, here, masked, most, label)
                if made_of and not (phrase.closes and _goes_further(read, made_of[-1])):
                    yield phrase, made_of


def _goes_further(read: _Text, last: int) -> bool:
    """Whether the clause goes on after a word."""
    return last + 1 < len(read.labels) and not read.parted[last + 1]


def _follow(
    read: _Text,
    phrase: DangerPhrase,
    elements: list[Element],
    here: int,
    out: list[bool],
    most_parted: int,
    first: str,
) -> list[int]:
    made_of = list(range(here, here + read.labels[here][first]))
    if any(out[k] for k in made_of):
        return []
    for element in elements[1:]:
        after = made_of[-1] + 1
        for there in range(after, min(after + phrase.gap + 1, len(read.labels))):
            if read.parted[there] > most_parted:
                return []
            labels = read.labels[there]
            if not element.isdisjoint(labels) and not out[there]:
                longest = max(n for name, n in labels.items() if name in element)
                made_of += range(there, there + longest)
                break
        else:
            return []
    return made_of


def _denied(read: _Text, lexicon: _Lexicon, nothing_out: list[bool]) -> list[bool]:
    """For each word whether what it says is denied."""
    count = len(read.labels)
    taken_back = [False] * count
    for _phrase, made_of in _matches(read, lexicon, "still", nothing_out, most_parted=0):
        for k in made_of:
            taken_back[k] = True
    denied = [False] * count
    for phrase, made_of in _matches(read, lexicon, "denies", taken_back, most_parted=0):
        here = made_of[-1]
        until = here + phrase.reach
        while here + 1 < count and here < until and not read.parted[here + 1]:
            here += 1
            denied[here] = True
            if "@or" in read.labels[here] and not denied[min(here + 1, count - 1)]:
                until = max(until, here + CARRY)
    return denied


def _over(read: _Text, lexicon: _Lexicon, nothing_out: list[bool]) -> list[bool]:
    """For each word whether the hazard it speaks of is past."""
    count = len(read.labels)
    past = [False] * count
    for _phrase, made_of in _matches(read, lexicon, "over", nothing_out, most_parted=0):
        here = made_of[0]
        for k in range(here, max(-1, here - OVER_AFTER), -1):
            past[k] = True
            if read.parted[k] == 2 or "@but" in read.labels[k]:
                break
        for k in range(here, min(count, made_of[-1] + OVER_BEFORE)):
            if k > here and (read.parted[k] or "@but" in read.labels[k]):
                break
            past[k] = True
    return past


def find_danger(text: str, language: str | None = None) -> list[Found]:
    """The hazards a text speaks of, the most pressing kind first (the order of dangers.toml), then
    by place. `language` "en" or "es" reads that one only; without it both, also mixed.

    A question counts ("is it going to fall?"); what is denied, past or only looks alike does not.
    At most MOST_FOUND places are told of. Reads any text; never raises.
    """
    lexicon = _lexicon(language if language in ("en", "es") else None)
    read = _words_of(text, lexicon)
    count = len(read.labels)
    if not count:
        return []
    nothing_out = [False] * count
    harmless, surely_harmless = [False] * count, [False] * count
    for phrase, made_of in _matches(read, lexicon, "harmless", nothing_out, most_parted=0):
        for k in made_of:
            harmless[k] = True
            surely_harmless[k] = surely_harmless[k] or not phrase.unless_sure
    denied = _denied(read, lexicon, nothing_out)
    past = _over(read, lexicon, nothing_out)
    order = {code: rank for rank, code in enumerate(book().dangers)}
    spans: dict[str, list[tuple[int, int]]] = {}
    for phrase, made_of in _matches(
        read, lexicon, "danger", harmless, most_parted=1, out_if_sure=surely_harmless
    ):
        if phrase.most_words is not None and count > phrase.most_words:
            continue
        if any(denied[k] for k in made_of):
            continue
        if not phrase.even_if_over and past[made_of[0]] and past[made_of[-1]]:
            continue
        places = spans.setdefault(str(phrase.danger), [])
        start, end = read.starts[made_of[0]], read.ends[made_of[-1]]
        if places and start < places[-1][1]:  # two ways to read one place are one finding
            places[-1] = (places[-1][0], max(end, places[-1][1]))
        elif len(places) < MOST_FOUND:
            places.append((start, end))
    found = [
        Found(code, text[start:end], start, end)
        for code, places in spans.items()
        for start, end in places
    ]
    found.sort(key=lambda one: (order[one.danger], one.start))
    return found[:MOST_FOUND]
