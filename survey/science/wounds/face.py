"""The clock face of a trunk seen from above, and the arcs of it that have no live bark.

Twelve is the street side and hours run clockwise, as seen from above. Wounds at different heights
are laid on one face: bark carries food straight down, so what is cut above is cut below.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

HOURS = 12.0
MOST_GIRTH_M = 20.0
_NEAR = 1e-9
FAR_APART = 1 / HOURS
"""Tape and hours further apart than this say two things: an hour of the face, half an hour at each
end, which is read to the nearest hour (own rule of this project)."""


class BadWound(ValueError):
    """A wound that no trunk can have. `field` is the measure at fault, `reason` one of REASONS."""

    def __init__(self, field: str, reason: str) -> None:
        super().__init__(f"{field}: {reason}")
        self.field = field
        self.reason = reason


REASONS = (
    "not_a_number",
    "not_above_zero",
    "too_big",
    "wider_than_girth",
    "girth_missing",
    "width_missing",
    "off_the_clock",
    "same_hour",
    "more_than_round",
    "hour_missing",
    "nothing_measured",
    "counts_from_one",
    "no_such_stem",
)


@dataclass(frozen=True, slots=True)
class Wound:
    """One wound as measured: widths in one unit (meters), hours of the clock face.

    `width` is the widest arc of dead or missing bark, loose dead bark counted as lost; `girth` the
    trunk just above or below it. A wound from 10 to 2 goes over 12. Raises `BadWound`.
    """

    width: float | None = None
    girth: float | None = None
    from_hour: float | None = None
    to_hour: float | None = None
    stem: int = 1

    def __post_init__(self) -> None:
        if self.stem < 1:
            raise BadWound("stem", "counts_from_one")
        for name in ("width", "girth", "from_hour", "to_hour"):
            value = getattr(self, name)
            if value is not None and not math.isfinite(value):
                raise BadWound(name, "not_a_number")
        self._check_tape()
        self._check_hours()
        if self.width is None and self.from_hour is None:
            raise BadWound("width", "nothing_measured")

    def _check_tape(self) -> None:
        for name, value in (("girth", self.girth), ("width", self.width)):
            if value is None:
                continue
            if value <= 0:
                raise BadWound(name, "not_above_zero")
            if value > MOST_GIRTH_M:
                raise BadWound(name, "too_big")
        if self.width is None:
            return
        if self.girth is None:
            raise BadWound("girth", "girth_missing")
        if self.width > self.girth * (1 + _NEAR):
            raise BadWound("width", "wider_than_girth")

    def _check_hours(self) -> None:
        if self.from_hour is None and self.to_hour is None:
            if self.width is None and self.girth is not None:
                raise BadWound("width", "width_missing")
            return
        if self.from_hour is None or self.to_hour is None:
            raise BadWound("from_hour" if self.from_hour is None else "to_hour", "hour_missing")
        if not 0 <= self.from_hour <= HOURS:
            raise BadWound("from_hour", "off_the_clock")
        if not 0 <= self.to_hour <= 2 * HOURS:
            raise BadWound("to_hour", "off_the_clock")
        span = self.to_hour - self.from_hour
        if span == 0:
            raise BadWound("to_hour", "same_hour")
        if span > HOURS + _NEAR:
            raise BadWound("to_hour", "more_than_round")

    @property
    def is_taped(self) -> bool:
        return self.width is not None

    @property
    def is_placed(self) -> bool:
        return self.from_hour is not None

    @property
    def span_hours(self) -> float | None:
        """Hours covered by the clock; None where it was not placed."""
        if self.from_hour is None or self.to_hour is None:
            return None
        span = self.to_hour - self.from_hour
        return min(HOURS, span if span > 0 else span + HOURS)

    @property
    def share(self) -> float:
        """Share of the girth, 0 to 1: width / girth by tape, else hours / 12."""
        if self.width is not None and self.girth is not None:
            return min(1.0, self.width / self.girth)
        span = self.span_hours
        assert span is not None  # a wound is taped or placed
        return span / HOURS

    @property
    def disagrees(self) -> bool:
        """Whether the hours say clearly another share than the tape: ask before it is kept."""
        span = self.span_hours
        if span is None or self.width is None:
            return False
        by_hours = span / HOURS
        return abs(by_hours - self.share) > FAR_APART + _NEAR

    def arc(self) -> tuple[float, float] | None:
        """Where it lies: first hour (0 to under 12) and hours covered; None where not placed.

        A wound with tape and hours lies where the hours say and is as wide as the tape says: the
        eye finds the middle of a wound better than its width (own rule of this project).
        """
        span = self.span_hours
        if span is None or self.from_hour is None:
            return None
        width = self.share * HOURS
        return (self.from_hour + (span - width) / 2) % HOURS, width


def covered(arcs: Iterable[tuple[float, float]]) -> float:
    """Share of the face, 0 to 1, that arcs of (first hour, hours) cover together."""
    return sum(end - start for start, end in joined(arcs)) / HOURS


def joined(arcs: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """The same arcs without overlaps, as (from, to) within 0 to 12, in order."""
    pieces: list[tuple[float, float]] = []
    for first, hours in arcs:
        if hours >= HOURS:
            return [(0.0, HOURS)]
        start = first % HOURS
        end = start + hours
        pieces.append((start, min(end, HOURS)))
        if end > HOURS:
            pieces.append((0.0, end - HOURS))
    whole: list[tuple[float, float]] = []
    for start, end in sorted(pieces):
        if whole and start <= whole[-1][1]:
            whole[-1] = (whole[-1][0], max(whole[-1][1], end))
        else:
            whole.append((start, end))
    return whole
