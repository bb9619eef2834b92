"""Reads the facts of one described case, forgiving in form and strict in meaning."""

import re
from collections.abc import Mapping
from typing import Any

from survey.causes.facts import Calendar, Facts, phrases
from survey.causes.kinds import calendar_of, calendar_of_any
from survey.causes.sides import bearing_of
from survey.causes.terms import find, find_alike, plain
from survey.causes.words import hear
from survey.handbook.danger_words import find_danger
from survey.science.causes.records import Witness

LONGEST_TEXT = 20_000
_GENERA = (
    "abies acacia aesculus ailanthus alnus araucaria arbutus brachychiton butia casuarina "
    "catalpa cedrus ceiba citrus cornus corymbia crataegus cupressus elm eucalyptus fagus ficus "
    "fir fraxinus grevillea hazel ipe juglans juniperus larix ligustrum liriodendron mango "
    "mangifera melia morus mulberry nyssa olea olive ostrya palm parkinsonia paulownia "
    "peltophorum phoenix picea pine pinus pear poplar populus prosopis prunus pyrus robinia "
    "salix samanea sapium schinus sophora sorbus spathodea spruce styphnolobium syringa "
    "syzygium tabebuia taxus thuja tipuana tsuga ulmus walnut washingtonia willow zelkova "
    "naranjo limonero olivo olmo pino sauce alamo fresno "
)
GENERA = frozenset(_GENERA.split())
"""Kinds that stand in streets and that the handbook does not hold: nothing is known of them, and a
case that names one is not odd."""

MOIST = frozenset({"soil moist", "moist soil", "ball moist", "root ball moist", "tierra humeda"})
NEW = frozenset({"newly planted", "just planted", "recien plantado", "new"})
ALL_ROUND = frozenset({"all", "all sides", "all around", "every side", "around", "todos los lados"})
NO_SIDE = frozenset({"none", "unknown", "any", "not known", "na", "n a", "ninguno", "no side"})
MONTH_NAMES = (
    "jan ene", "feb", "mar", "apr abr", "may", "jun", "jul", "aug ago", "sep", "oct", "nov",
    "dec dic",
)  # fmt: skip


def several(value: object) -> list[object]:
    """A list of what may be one value, a list, or nothing."""
    if value is None or value == "":
        return []
    return list(value) if isinstance(value, list) else [value]


class FactsReader:
    """Reads the facts of one case. `odd` lists what was not understood, `ticked` the dangers that
    stand among the signs, `text` the report's own words."""

    def __init__(self) -> None:
        self.odd: list[str] = []
        self.ticked: set[str] = set()
        self.text = ""
        self.signs: dict[str, bool] = {}
        self.clues: dict[str, bool] = {}
        self.words: list[str] = []
        self.extent = ""
        self.side = ""

    def facts(self, given: Mapping[str, Any]) -> Facts:
        self.text = self._text(given.get("text"))
        self._many("signs", given.get("signs"))
        for key in ("clues", "site", "weather", "neighbors"):
            self._many(key, given.get(key))
        self.extent = self._entry("extents", given.get("extent")) or self.extent
        self._side(given.get("side"))
        latitude = self._number("latitude", given)
        hemisphere = self._one_of("hemisphere", given, ("north", "south"))
        words = "\n".join([self.text, *self.words])
        return Facts(
            signs=self.signs,
            clues=self.clues,
            extent=self.extent,
            side=self.side,
            street_bearing=self._number("street_bearing", given),
            month=self._month(given.get("month")),
            latitude=latitude,
            hemisphere=hemisphere,
            season=plain(str(given.get("season") or "")),
            species=self._kind(given.get("species"), latitude, hemisphere),
            age_years=self._age(given),
            leaf=self._one_of("leaf", given, ("full", "partial", "bare")) or "",
            words=words[:LONGEST_TEXT],
            witness=self._witness(given),
        )

    def _text(self, value: object) -> str:
        if value is None:
            return ""
        if isinstance(value, list):
            return "\n".join(str(one) for one in value)
        if not isinstance(value, str):
            self.odd.append(f"text: {value!r}"[:80])
            return ""
        return value

    def _many(self, key: str, value: object) -> None:
        if value is None or value == "":
            return
        if isinstance(value, dict):
            if "sign" in value:
                self._table(value)
                return
            for name, so in value.items():
                if isinstance(so, bool):
                    self._one(key, name, so)
                elif so in (1, 0, "yes", "no", "true", "false"):
                    self._one(key, name, so in (1, "yes", "true"))
                else:
                    self._one(key, f"{name} {so}", True, also=name)
            return
        for one in several(value):
            if isinstance(one, dict):
                self._table(one)
            else:
                self._one(key, str(one), True)

    def _table(self, table: Mapping[str, Any]) -> None:
        self._one("signs", str(table.get("sign", "")), table.get("so", True) is not False)
        if table.get("extent"):
            self.extent = self._entry("extents", table["extent"]) or self.extent
        if table.get("side"):
            self._side(table["side"])

    def _one(self, key: str, value: str, so: bool, also: str = "") -> None:
        """One sign or fact: a code, a name, what denies it, or words."""
        if so and plain(value) in MOIST:
            self.clues["dry_soil"] = False
            return
        denied = re.sub(r"^(not|no|without|sin)[ _]+|^!", "", value, flags=re.IGNORECASE)
        for name, holds in ((value, so), (denied, not so)):
            for shelf, put in (("signs", self.signs), ("clues", self.clues)):
                code = find(shelf, name)
                if code:
                    put[code] = holds
                    return
            if denied == value:
                break
        words = value.replace("_", " ")
        danger = find("dangers", value)
        # One word is a danger's own code or too little: "cracks" are seen in bark.
        if danger and so and (" " in words.strip() or plain(value) == plain(danger)):
            self.ticked.add(danger)
            return
        # Only what is no sign of the handbook: a "bleeding canker" hurts nobody.
        named = {one.danger for one in find_danger(words[:LONGEST_TEXT])} if so else set()
        if named:
            self.ticked |= named
            return
        if so and hear(words, phrases()):
            self.words.append(words)
            return
        self.odd.append(f"{key}: {also or value}")

    def _entry(self, shelf: str, value: object) -> str:
        if value is None or value == "":
            return ""
        code = find(shelf, str(value))
        if code is None:
            self.odd.append(f"{shelf[:-1]}: {value}")
        return code or ""

    def _side(self, value: object) -> None:
        """A side of the handbook, a compass word, or words about height and sun."""
        named = [str(one) for one in several(value)]
        for word in named:
            if plain(word) in NO_SIDE:
                continue
            code = "all_round" if plain(word) in ALL_ROUND else find("sides", word)
            bearing = _compass(word)
            if (code or bearing) and not self.side:
                self.side = code or bearing or ""
            elif find("clues", word):
                self.clues[find("clues", word) or ""] = True
            else:
                self._one("side", word if " " in word else f"{word} side", True, also=word)

    def _kind(self, value: object, latitude: object, hemisphere: Any) -> Calendar | None:
        if value is None or plain(str(value)) in ("", "unknown", "not known", "tree"):
            return None
        if hemisphere is None and isinstance(latitude, int | float):
            hemisphere = "south" if latitude < 0 else "north"
        code = find("species", str(value))
        if code is not None:
            return calendar_of(code, hemisphere)
        words = plain(str(value)).split()
        # "Norway maple", "Acer platanoides": another kind of a genus that the handbook holds.
        for name in (str(value), words[0], words[-1]):
            alike = find_alike("species", name)
            if alike:
                return calendar_of_any(str(value)[:80], alike, hemisphere)
        if GENERA & set(words):
            return None
        self.odd.append(f"species: {value}")
        return None

    def _witness(self, given: Mapping[str, Any]) -> Witness:
        """Photos need no witness of their own: they come from whoever sent the report."""
        words = plain(str(given.get("seen_by") or "lay"))
        expert = any(
            word in words for word in ("trained", "staff", "arborist", "crew", "volunteer")
        )
        if given.get("trained") is True or expert:
            return Witness("trained", "the case")
        for kind in ("check", "photo"):
            if kind in words:
                return Witness(kind, "the case")
        return Witness("lay", "the case")

    def _month(self, value: object) -> Any:
        """A number, a month's name, or the month of a date."""
        if value is None or value == "":
            return None
        if hasattr(value, "month"):
            return value.month
        if isinstance(value, str):
            dated = re.fullmatch(r"\d{4}-(\d{2})(-\d{2})?", value.strip())
            if dated:
                return int(dated[1])
            for number, short in enumerate(MONTH_NAMES, start=1):
                if plain(value)[:3] in short.split():
                    return number
            return int(value) if value.strip().isdecimal() else value
        return value

    def _number(self, key: str, given: Mapping[str, Any]) -> Any:
        value = given.get(key)
        if isinstance(value, str):
            try:
                return float(value)
            except ValueError:
                return value or None
        return value

    def _age(self, given: Mapping[str, Any]) -> Any:
        if given.get("age_months") is not None:
            months = self._number("age_months", given)
            return months / 12 if isinstance(months, int | float) else months
        value = given.get("age")
        if isinstance(value, str):
            said = re.fullmatch(r"\s*(-?\d+(?:\.\d+)?)\s*(years?|months?|y|m)?\s*", value)
            if said:
                return float(said[1]) / (12 if (said[2] or "y").startswith("m") else 1)
            if plain(value) in ("", "unknown"):
                return None
            if plain(value) in NEW:
                return 0.5
            self.odd.append(f"age: {value}")
            return None
        return value

    def _one_of(self, key: str, given: Mapping[str, Any], allowed: tuple[str, ...]) -> Any:
        value = given.get(key)
        if value is None or value == "":
            return None
        word = plain(str(value)).removesuffix("ern")
        for one in allowed:
            if one in word.split():
                return one
        self.odd.append(f"{key}: {value}")
        return None


def _compass(word: str) -> str | None:
    short = plain(word).replace(" side", "").replace("facing", "").replace(" ", "")
    return short if bearing_of(short, None) is not None else None
