"""The survival table: one row for each group, curve and milestone."""

from collections.abc import Iterator
from operator import attrgetter
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from survey.exports.columns import Column, Filled, Table
from survey.survival.figures import CURVES, MILESTONES
from survey.survival.keys import GROUPINGS
from survey.survival.models import Figure, Group


def _count(*path: str):
    def value(figure: Figure) -> Any:
        found = figure.group.counts
        for step in path:
            found = found.get(step) if found else None
        return found

    return value


def _excluded(figure: Figure) -> int:
    return sum(figure.group.counts["excluded"].values())


def _mortality(name: str):
    def value(figure: Figure) -> float | None:
        overall = figure.group.mortality.get("overall")
        return overall[name] if overall and figure.curve == "loss" else None

    return value


def _two_count(name: str):
    def value(figure: Figure) -> float | None:
        told = figure.group.mortality.get("two_count")
        return told[name] if told and figure.curve == "loss" else None

    return value


def _pooled(name: str):
    def value(figure: Figure) -> float | None:
        told = figure.group.pooled.get("figures", {}).get(figure.milestone)
        return told[name] if told and figure.curve == "loss" else None

    return value


def _own_share(figure: Figure) -> float | None:
    return figure.group.pooled.get("own_share") if figure.curve == "loss" else None


def _forecast(name: str):
    def value(figure: Figure) -> int | None:
        told = figure.group.forecast
        asked = told and figure.curve == "loss" and figure.milestone == told["milestone"]
        return told[name] if asked else None

    return value


def _cautions(figure: Figure) -> str:
    return " ".join(caution["code"] for caution in figure.group.cautions)


FILLED = [
    Filled(
        Column("area", _("The town, by its short name."), "code"),
        attrgetter("group.area.ref"),
    ),
    Filled(
        Column("by", _("How trees are put into groups."), "code", choices=tuple(GROUPINGS)),
        attrgetter("group.by"),
    ),
    Filled(
        Column("key", _("The group's short name; it never changes its meaning."), "code"),
        attrgetter("group.key"),
    ),
    Filled(Column("label", _("The group's name as people say it.")), attrgetter("group.label")),
    Filled(
        Column(
            "reading",
            _(
                "Which evidence counts. verified: looks by trained eyes and recorded removals"
                " alone. weighed: every look by anybody, reports, removals and silence, each for"
                " what it is worth; its figures lean on the town where these trees tell little. A"
                " group has both readings, or the verified one alone while the other is not worked"
                " out."
            ),
            "code",
            choices=tuple(Group.Reading.values),
        ),
        attrgetter("group.reading"),
    ),
    Filled(
        Column("as_of", _("The day up to which the record was read (the data date)."), "day"),
        attrgetter("group.as_of"),
    ),
    Filled(
        Column(
            "curve",
            _(
                "What counts as an end. loss: dead, or gone for whatever reason. death: dead, or"
                " removed for health or safety; a live removal for another reason competes with it."
            ),
            "code",
            choices=tuple(CURVES),
        ),
        attrgetter("curve"),
    ),
    Filled(
        Column(
            "milestone",
            _(
                "The age asked about: the end of the second summer (the second leaf-on season after"
                " planting: 30 September in the north, 31 March in the south), or months since"
                " planting."
            ),
            "code",
            choices=tuple(MILESTONES),
        ),
        attrgetter("milestone"),
    ),
    Filled(
        Column(
            "age_months",
            _("The age at the milestone; where trees differ, the greatest."),
            "number",
            "whole calendar months since planting",
        ),
        attrgetter("age_months"),
    ),
    Filled(
        Column(
            "from_age_months",
            _(
                "The age from which enough trees were watched. 0: the figures are about all trees"
                " planted. More: about trees that were alive at that age."
            ),
            "number",
            "months since planting",
        ),
        _count("from_age"),
    ),
    Filled(
        Column(
            "trees_planted",
            _("Trees planted by the planting's own papers; empty where there are none."),
            "whole number",
            "trees",
        ),
        _count("planted"),
    ),
    Filled(
        Column("trees_registered", _("Trees on the list."), "whole number", "trees"),
        _count("registered"),
    ),
    Filled(
        Column("trees_in_rates", _("Trees that count in the rates."), "whole number", "trees"),
        _count("in_rates"),
    ),
    Filled(
        Column(
            "trees_excluded",
            _("Trees left out of the rates; the table of trees says why for each."),
            "whole number",
            "trees",
        ),
        _excluded,
    ),
    Filled(
        Column(
            "late_entries",
            _("Trees in the rates that were registered after planting and count from then on."),
            "whole number",
            "trees",
        ),
        _count("late"),
    ),
    Filled(
        Column(
            "under_watch",
            _(
                "Trees the figure rests on at this age: under watch before it, old enough, not"
                " known to be lost, and seen alive at it, later, or in the twelve months before."
                " Weighed: those under watch before it and old enough that are expected to stand."
            ),
            "whole number",
            "trees",
        ),
        attrgetter("at_risk"),
    ),
    Filled(
        Column(
            "ends_by_then",
            _(
                "Trees in the rates known to have come to this curve's end by this age. Weighed: as"
                " many as are expected to have."
            ),
            "whole number",
            "trees",
        ),
        attrgetter("events"),
    ),
    Filled(
        Column(
            "survival_at_least",
            _(
                "The rate: share of such trees that come through to this age, if every loss between"
                " two looks fell early. Quote this one. Weighed: the estimate."
            ),
            "number",
            "share, 0 to 1",
        ),
        attrgetter("at_least"),
    ),
    Filled(
        Column(
            "survival_at_most",
            _("The same if every loss between two looks fell late. Weighed: the estimate again."),
            "number",
            "share, 0 to 1",
        ),
        attrgetter("at_most"),
    ),
    Filled(
        Column(
            "limit_low",
            _(
                "Lower 95 % limit of the rate; it allows for chance alone. Weighed: also for what"
                " the looks leave open."
            ),
            "number",
            "share, 0 to 1",
        ),
        attrgetter("low"),
    ),
    Filled(
        Column("limit_high", _("Upper 95 % limit of the rate."), "number", "share, 0 to 1"),
        attrgetter("high"),
    ),
    Filled(
        Column(
            "withheld",
            _(
                "Why there is no rate. too_few: fewer than five trees under watch. not_old_enough:"
                " no tree has reached this age. not_watched: nobody watched so early. not_seen: no"
                " tree has been looked at so late. no_looks: fewer than five trees have been looked"
                " at by anybody."
            ),
            "code",
            choices=("too_few", "not_old_enough", "not_watched", "not_seen", "no_looks"),
        ),
        attrgetter("withheld"),
    ),
    Filled(
        Column(
            "known_alive",
            _(
                "The count: of the trees old enough by now, those known alive at this age. Weighed:"
                " those expected to be."
            ),
            "whole number",
            "trees",
        ),
        attrgetter("count_alive"),
    ),
    Filled(
        Column(
            "known_lost",
            _(
                "The count: of the trees old enough by now, those known lost by this age. Weighed:"
                " the others."
            ),
            "whole number",
            "trees",
        ),
        attrgetter("count_lost"),
    ),
    Filled(
        Column(
            "not_known",
            _("The count: trees old enough of which neither is known. Weighed: none."),
            "whole number",
            "trees",
        ),
        attrgetter("count_unknown"),
    ),
    Filled(
        Column(
            "annual_mortality",
            _(
                "Share lost in a year, over all ages watched, if the danger were the same at every"
                " age (it is not: the first years are the hardest). On verified rows of the curve"
                " loss."
            ),
            "number",
            "share a year, 0 to 1",
        ),
        _mortality("annual"),
    ),
    Filled(
        Column(
            "annual_mortality_low", _("Its lower 95 % limit."), "number", "share a year, 0 to 1"
        ),
        _mortality("low"),
    ),
    Filled(
        Column(
            "annual_mortality_high", _("Its upper 95 % limit."), "number", "share a year, 0 to 1"
        ),
        _mortality("high"),
    ),
    Filled(
        Column(
            "half_life_years",
            _("Years until half of such trees are lost, if so; empty if nobody was lost."),
            "number",
            "years",
        ),
        _mortality("half_life_years"),
    ),
    Filled(
        Column("half_life_low", _("Its lower 95 % limit."), "number", "years"),
        _mortality("half_life_low"),
    ),
    Filled(
        Column(
            "half_life_high", _("Its upper 95 % limit; empty if there is none."), "number", "years"
        ),
        _mortality("half_life_high"),
    ),
    Filled(
        Column(
            "two_count_mortality",
            _(
                "Share lost in a year by the textbook formula 1 - (alive / counted) ^ (1 / years),"
                " from the trees whose fate at the second summer is known. On verified rows of the"
                " curve loss."
            ),
            "number",
            "share a year, 0 to 1",
        ),
        _two_count("annual"),
    ),
    Filled(
        Column("two_count_low", _("Its lower 95 % limit."), "number", "share a year, 0 to 1"),
        _two_count("low"),
    ),
    Filled(
        Column("two_count_high", _("Its upper 95 % limit."), "number", "share a year, 0 to 1"),
        _two_count("high"),
    ),
    Filled(
        Column(
            "pooled_survival",
            _(
                "The rate leaning on the rest of the town (species, site, all trees): beside the"
                " group's own, never instead of it. On verified rows of the curve loss."
            ),
            "number",
            "share, 0 to 1",
        ),
        _pooled("share"),
    ),
    Filled(
        Column("pooled_low", _("Its lower 95 % limit."), "number", "share, 0 to 1"),
        _pooled("low"),
    ),
    Filled(
        Column("pooled_high", _("Its upper 95 % limit."), "number", "share, 0 to 1"),
        _pooled("high"),
    ),
    Filled(
        Column(
            "pooled_own_share",
            _("How much of what sets the group apart its own trees told; the rest is borrowed."),
            "number",
            "share, 0 to 1",
        ),
        _own_share,
    ),
    Filled(
        Column(
            "forecast_trees",
            _("Trees not known to be lost that the forecast for this age is about."),
            "whole number",
            "trees",
        ),
        _forecast("trees"),
    ),
    Filled(
        Column(
            "forecast_standing",
            _("How many of them stand at this age if nothing changes: the middle."),
            "whole number",
            "trees",
        ),
        _forecast("stand"),
    ),
    Filled(
        Column("forecast_low", _("Its lower 95 % limit."), "whole number", "trees"),
        _forecast("low"),
    ),
    Filled(
        Column("forecast_high", _("Its upper 95 % limit."), "whole number", "trees"),
        _forecast("high"),
    ),
    Filled(
        Column(
            "median_gap_days",
            _(
                "Half of the gaps between two trained looks at a tree were shorter than this. On"
                " verified rows, as the two columns after it."
            ),
            "whole number",
            "days",
        ),
        _count("median_gap_days"),
    ),
    Filled(
        Column(
            "unseen_over_a_year",
            _("Trees not known to be lost that no trained eye has seen for over a year."),
            "whole number",
            "trees",
        ),
        _count("unseen_over_a_year"),
    ),
    Filled(
        Column("newest_look", _("The day of the newest trained look."), "day"),
        _count("newest_look"),
    ),
    Filled(
        Column(
            "cautions",
            _("What to know before quoting the row: codes with blanks between them."),
            "list",
        ),
        _cautions,
    ),
    Filled(Column("method", _("The method and its version.")), attrgetter("group.method")),
    Filled(
        Column(
            "evidence",
            _("A digest of everything the group rests on: the same evidence, the same figures."),
            "code",
        ),
        attrgetter("group.evidence"),
    ),
]

SURVIVAL = Table(
    "survival",
    _("Survival"),
    _("One row for each group of trees, reading, each of the two curves and each age asked about."),
    tuple(cell.column for cell in FILLED),
)


def survival_rows(groups: QuerySet[Group]) -> Iterator[list[Any]]:
    """The rows of these groups, in an order that never depends on when they were worked out."""
    for group in groups.select_related("area").in_order().iterator(chunk_size=500):
        figures = list(group.figures.all())
        for figure in sorted(figures, key=_in_order):
            figure.group = group
            yield [cell.value(figure) for cell in FILLED]


def _in_order(figure: Figure) -> tuple[int, int]:
    return CURVES.index(figure.curve), list(MILESTONES).index(figure.milestone)
