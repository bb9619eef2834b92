"""Wounds in words: what was refused and why, what a share means, how a wound goes on."""

from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format, number_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext

from survey.causes.wounds import SeenWound, TreeWounds
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.science.saving.grounds import GROUNDS, Ground
from survey.science.wounds.closing import Closing
from survey.science.wounds.girdled import Girdled
from survey.science.wounds.outlook import DELAY_SOURCES, Outlook, band_of

REFUSED: dict[str, str | Promise] = {
    "not_a_number": gettext_lazy("Write a number, like 3.1."),
    "not_above_zero": gettext_lazy("It has to be more than 0."),
    "too_big": gettext_lazy("At most 20 meters (65 feet). Check the figure and the unit."),
    "wider_than_girth": gettext_lazy(
        "The wound is wider than the trunk is round. Measure both again, in the same unit."
    ),
    "girth_missing": gettext_lazy("Measure the girth too, just above or below the wound."),
    "width_missing": gettext_lazy("Measure how wide the wound is, or give its hours."),
    "off_the_clock": gettext_lazy("Hours go from 1 to 12, as on a clock."),
    "same_hour": gettext_lazy(
        "It begins and ends at the same hour. Give two hours, or tick “all the way round”."
    ),
    "more_than_round": gettext_lazy("That is more than once round. Check the hours."),
    "hour_missing": gettext_lazy("Give both hours: where the wound begins and where it ends."),
    "nothing_measured": gettext_lazy("Give its width, or the hours it lies between."),
    "counts_from_one": gettext_lazy("Stems are counted from 1."),
    "no_such_stem": gettext_lazy("This tree does not have so many stems."),
}
"""One sentence for each reason of `BadWound`: what is wrong and what to do."""

OUTLOOKS = {
    "none": gettext_lazy("No bark lost that we know of."),
    "under_quarter": gettext_lazy("It harms the tree, but does not kill it."),
    "quarter_to_half": gettext_lazy(
        "The tree is stressed and mostly survives. Help it: water, mulch, no further hits."
    ),
    "half_or_more": gettext_lazy("The chance that it dies rises clearly."),
    "all_round": gettext_lazy("It dies, and is normally replaced."),
}
STEPS = {
    "none": gettext_lazy("none"),
    "under_quarter": gettext_lazy("under a quarter"),
    "quarter_to_half": gettext_lazy("a quarter to half"),
    "half_or_more": gettext_lazy("half or more"),
    "all_round": gettext_lazy("all round"),
}
WORSE = {
    "thin_trunk": gettext_lazy("the trunk is under 2 in (5 cm) across"),
    "new_tree": gettext_lazy("it was planted less than a year ago"),
    "repeated": gettext_lazy("it was hit again and again"),
    "at_soil_line": gettext_lazy("the wound reaches the soil"),
    "borers_or_ooze": gettext_lazy("there are borer holes, or it oozes"),
    "drought": gettext_lazy("its soil is dry"),
    "crown_thin": gettext_lazy("more than a quarter of its crown is dead or thin"),
}
AGES = {
    "days": gettext_lazy("days old by its rim"),
    "weeks": gettext_lazy("weeks old by its rim"),
    "a_season_or_more": gettext_lazy("a season old or more by its rim"),
    "several_seasons": gettext_lazy("several seasons old by its rim"),
    "not_known": "",
}


@dataclass(frozen=True, slots=True)
class Told:
    """A sentence and what it rests on, for a page or a program."""

    code: str
    text: str
    basis: str


def basis_of(ground: Ground) -> str:
    """Sources in full, then the marks, in one line."""
    parts = [book().sources[source].citation for source in ground.sources]
    if ground.rule_of_thumb:
        parts.append(_("a rule of thumb, no trial behind it"))
    if ground.mark:
        parts.append(str(said(ground.mark)))
    return "; ".join(parts)


def day_said(day: date) -> str:
    return date_format(day, pgettext("a day in a sentence", "F j, Y"))


def percent(share: float) -> str:
    return _("%(n)s %%") % {"n": round(100 * share)}


def share_said(girdled: Girdled) -> str:
    """ "33 %", or "25 % to 50 %" where it is a range."""
    if round(100 * girdled.low) == round(100 * girdled.high):
        return percent(girdled.low)
    return _("%(low)s to %(high)s") % {
        "low": percent(girdled.low),
        "high": percent(girdled.high),
    }


def steps_said(girdled: Girdled) -> str:
    """ "Bark lost: 56 % of the way round, half or more", with both steps where it is a range."""
    low, high = band_of(girdled.low), band_of(girdled.high)
    step = str(STEPS[high])
    if low != high:
        step = _("from %(low)s to %(high)s") % {"low": STEPS[low], "high": step}
    return _("Bark lost: %(share)s of the way round, %(step)s") % {
        "share": share_said(girdled),
        "step": step,
    }


def how_said(girdled: Girdled) -> str:
    """How the share was found, and why it may be a range."""
    return {
        "none": "",
        "tape": _("by tape"),
        "clock": _("by the hours of the clock face"),
        "mixed": _("partly by tape, partly by the hours"),
        "lay": _("by eye, on the scale that neighbors use"),
    }[girdled.how]


def outlook_told(outlook: Outlook) -> list[Told]:
    """The band as sourced, then the own adjustment, then what green leaves do not say."""
    ground = GROUNDS.get(f"bark_{outlook.high}")
    if ground is None:
        return []
    if outlook.is_known:
        step, means = str(STEPS[outlook.high]), str(OUTLOOKS[outlook.high])
    else:
        step = _("from %(low)s to %(high)s") % {
            "low": STEPS[outlook.low],
            "high": STEPS[outlook.high],
        }
        means = _("At worst: %s") % OUTLOOKS[outlook.high]
    told = [
        Told(
            "band",
            _("Bark lost: %(step)s. %(means)s") % {"step": step, "means": means},
            basis_of(ground),
        )
    ]
    if outlook.worse:
        reasons = ", ".join(str(WORSE[reason]) for reason in outlook.worse)
        moved = outlook.adjusted_high != outlook.high
        text = (
            _("We treat it one step worse, as “%(step)s”, because %(reasons)s.")
            if moved
            else _("This makes it worse, though its step stays the same: %(reasons)s.")
        )
        told.append(
            Told(
                "one_band_worse",
                text % {"step": STEPS[outlook.adjusted_high], "reasons": reasons},
                basis_of(GROUNDS["one_band_worse"]),
            )
        )
    if outlook.delayed:
        told.append(
            Told(
                "delay",
                _(
                    "Green leaves do not speak against it. The roots live on stored food for a "
                    "while, so it may look well for a season."
                ),
                basis_of(Ground(DELAY_SOURCES)),
            )
        )
    return told


def length_said(meters: float, *, metric: bool) -> str:
    """A short length in the reader's unit: "3.1 in" or "7.9 cm"."""
    if metric:
        return _("%(n)s cm") % {"n": number_format(round(meters * 100, 1), use_l10n=True)}
    return _("%(n)s in") % {"n": number_format(round(meters / 0.0254, 1), use_l10n=True)}


def hour_said(hour: float) -> str:
    """An hour of the clock face: 0 is 12, 10.5 is 10:30."""
    minutes = round((hour % 12) * 60)
    whole, rest = divmod(minutes, 60)
    return f"{whole % 12 or 12}:{rest:02d}" if rest else str(whole % 12 or 12)


def wound_said(seen: SeenWound, *, metric: bool) -> str:
    """One wound in a line: "3.1 in of 9.4 in (33 %), 10 to 2 o'clock, 4 in up, weeks old"."""
    row = seen.measure
    parts = []
    if row.width_m is not None and row.girth_m is not None:
        parts.append(
            _("%(width)s of %(girth)s round (%(share)s)")
            % {
                "width": length_said(row.width_m, metric=metric),
                "girth": length_said(row.girth_m, metric=metric),
                "share": percent(seen.share),
            }
        )
    if row.from_hour is not None and row.to_hour is not None:
        if row.to_hour - row.from_hour == 12:
            parts.append(_("all the way round"))
        else:
            parts.append(
                _("%(start)s to %(end)s o'clock")
                % {"start": hour_said(row.from_hour), "end": hour_said(row.to_hour)}
            )
    if row.low_edge_m is not None:
        edge = length_said(row.low_edge_m, metric=metric)
        parts.append(_("%s above the soil") % edge if row.low_edge_m else _("down to the soil"))
    if row.length_m is not None:
        parts.append(_("%s tall") % length_said(row.length_m, metric=metric))
    if row.wood_shows:
        parts.append(_("bare wood shows"))
    if AGES[seen.age]:
        parts.append(str(AGES[seen.age]))
    return ", ".join(parts)


def closing_told(over: Closing, *, metric: bool) -> Told:
    """How a wound has gone on, and what the straight line says, with its weakness."""
    change = length_said(abs(over.change_m), metric=metric)
    days = {"first": day_said(over.first_on), "last": day_said(over.last_on), "change": change}
    if over.way == "widening":
        text = _(
            "From %(first)s to %(last)s it grew %(change)s wider. That is mostly the rim dying "
            "back after the injury; a fresh cut would show a fresh edge."
        )
    elif over.way == "closing":
        text = _("From %(first)s to %(last)s it closed by %(change)s.")
    elif over.way == "steady":
        text = _(
            "From %(first)s to %(last)s it stayed as it was, within what a tape can tell "
            "(0.2 in, 5 mm)."
        )
    elif over.way == "too_soon":
        text = _("Measured twice within four weeks: too soon to say how it goes on.")
    else:
        text = _("Measured once, so how it goes on is not known.")
    text %= days
    fast, slow = over.seasons
    ground = Ground(mark="own rule of this project")
    if over.days_left is not None:
        text += " " + _("Going on like that it would close in about %(years)s years.") % {
            "years": number_format(round(over.days_left / 365.25, 1), use_l10n=True)
        }
    if over.way in ("closing", "steady", "one_measure"):
        ground = Ground(("neely_1979",), "own rule of this project")
        text += " " + _(
            "Neely saw gaps of 11/16, 1/2 and 3/8 in (17, 13 and 10 mm) close in one season, by "
            "how strongly the tree grew. A straight line through that says %(fast)s to %(slow)s "
            "seasons for %(width)s. That is crude."
        ) % {
            "fast": number_format(round(fast, 1), use_l10n=True),
            "slow": number_format(round(slow, 1), use_l10n=True),
            "width": length_said(over.width_m, metric=metric),
        }
    return Told(over.way, text, basis_of(ground))


def again_said(wounds: TreeWounds, today: date) -> str:
    """When to measure again; empty where nothing was measured."""
    if wounds.again is None:
        return ""
    start, end, flush = wounds.again
    if today > max(end, flush):
        return _("It should have been measured again by now: rims die back after an injury.")
    return _(
        "Measure again between %(start)s and %(end)s, and after the first flush, about %(flush)s: "
        "rims die back after an injury."
    ) % {"start": day_said(start), "end": day_said(end), "flush": day_said(flush)}
