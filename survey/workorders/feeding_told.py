"""What a bag of fertilizer put on the ground, read back from its label: grams, and one word."""

from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from survey.science import units
from survey.science.care.feeding import FeedJudged, judge_feed, label
from survey.workorders.wordings import notes_said, reasons_said
from survey.workorders.working import Told, told

WORDS: dict[str, Any] = {
    "under": gettext_lazy("Under the usual rate"),
    "over": gettext_lazy("Over"),
    "leave_alone": gettext_lazy("Leave alone"),
    "nothing": gettext_lazy("No nutrient"),
}
MEANS: dict[str, Any] = {
    "under": gettext_lazy(
        "Less than the 2 lb of nitrogen for 1,000 sq ft (10 g/m²) at which the usual rates begin. "
        "That is no reason to add more: only a soil test says whether anything is missing."
    ),
    "over": gettext_lazy(
        "More than 6 lb of nitrogen for 1,000 sq ft (29 g/m²) in one year, which the standard says "
        "to avoid. Give no more this year; water normally; look for burnt leaf edges."
    ),
    "leave_alone": gettext_lazy("Enough for this year. Give no more."),
    "nothing": gettext_lazy(
        "A label of 0-0-0 holds no nitrogen, phosphate or potash: it fed nothing. "
        "Read the three numbers on the bag again."
    ),
}
REFUSED_BUT_GIVEN = gettext_lazy(
    "A tree like this is not to be fed at all. Give no more, whatever the number says."
)


@dataclass(frozen=True, slots=True)
class FeedTold:
    """The word, what it means, the worked lines and what to mind, in the reader's language."""

    word: str
    means: str
    lines: list[Told]
    notes: list[str] = field(default_factory=list)
    because: str = ""
    judged: FeedJudged | None = None


def tell_feed(
    *,
    numbers: tuple[float, float, float],
    mass_kg: float,
    used_share: float,
    area_m2: float,
    system: units.System,
    earlier_kg_m2: float = 0.0,
    slow_release: bool | None = None,
    years_planted: float | None = None,
) -> FeedTold:
    """Judge what was put on. `numbers` are the label's, in percent. Raises Impossible by field."""
    judged = judge_feed(
        bag=label(*numbers),
        mass_kg=mass_kg,
        used_share=used_share,
        area_m2=area_m2,
        earlier_this_year_kg_m2=earlier_kg_m2,
        quick_release=None if slow_release is None else not slow_release,
        years_planted=years_planted,
    )
    means = MEANS[judged.word]
    if judged.because and judged.word == "leave_alone":
        means = REFUSED_BUT_GIVEN
    return FeedTold(
        word=str(WORDS[judged.word]),
        means=str(means),
        lines=[told(step, system) for step in judged.dose.steps],
        notes=notes_said(judged.dose.notes),
        because=_("Not to be fed: %s.") % reasons_said(judged.because) if judged.because else "",
        judged=judged,
    )
