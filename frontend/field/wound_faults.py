"""All that cannot be of one wound as typed, told at once and not one after the other."""

from survey.causes.actions.measure_wound import height_refused
from survey.causes.wound_words import REFUSED
from survey.science.wounds.face import MOST_GIRTH_M, BadWound, Wound

THIN_M = 1e-6  # a width that no girth refuses


def faults_of(
    *,
    width: float | None,
    girth: float | None,
    from_hour: float | None,
    to_hour: float | None,
    low_edge_m: float | None,
    length_m: float | None,
) -> dict[str, str]:
    """One sentence for each measure at fault; lengths in meters, hours of the clock face."""
    found: dict[str, str] = {}

    def attempt(**measures: float | None) -> None:
        try:
            Wound(**measures)
        except BadWound as refused:
            found.setdefault(refused.field, str(REFUSED[refused.reason]))

    if girth is not None:
        attempt(width=THIN_M, girth=girth)
    if width is not None:
        attempt(width=width, girth=MOST_GIRTH_M)
    tape_is_sound = not found
    placed = from_hour is not None or to_hour is not None
    if placed:
        attempt(from_hour=from_hour, to_hour=to_hour)
    if tape_is_sound and width is not None:
        attempt(width=width, girth=girth)
    elif tape_is_sound and not placed:
        attempt(girth=girth)
    for name, height in (("low_edge_m", low_edge_m), ("length_m", length_m)):
        if why := height_refused(name, height):
            found[name] = why
    return found
