"""What a finding says, built from its counts in the reader's language. It accuses nobody.

First *seen* is never told as when it happened, and a happening beside it never as its cause.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from survey.causes.models import Finding
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.trees.models import Area, Happening, Planting, Site
from survey.trees.species import kinds_in

HAVE = {
    "bark_wound": gettext_lazy("have bark gone at the base"),
    "bark_torn": gettext_lazy("have torn or clawed bark"),
    "bark_sunken": gettext_lazy("have cracked or sunken bark"),
    "fungus": gettext_lazy("have a mushroom or shelf at the foot"),
    "heaped_soil": gettext_lazy("have soil or mulch heaped on the trunk"),
    "circling_root": gettext_lazy("have a root round the trunk"),
    "holes_sawdust": gettext_lazy("have small holes with sawdust"),
    "base_shoots": gettext_lazy("have shoots from the bottom"),
    "tie_cuts_in": gettext_lazy("have a tie that cuts in"),
    "stake_rubs": gettext_lazy("have a stake that rubs or leans"),
    "crisp_edges": gettext_lazy("have leaves with brown, crisp edges"),
    "wilting": gettext_lazy("have leaves that hang limp"),
    "bare_branches": gettext_lazy("have bare branches"),
    "dieback": gettext_lazy("have twigs dead at the tips"),
    "sticky_leaves": gettext_lazy("have sticky or sooty leaves"),
    "spotted_leaves": gettext_lazy("have spotted or eaten leaves"),
    "yellow_veins": gettext_lazy("have leaves yellow between the veins"),
    "broken_branch": gettext_lazy("have a broken small branch"),
    "dry_soil": gettext_lazy("stand in dry soil"),
    "soggy_soil": gettext_lazy("stand in soggy soil"),
    "discoloured_leaves": gettext_lazy("have leaves of a wrong color"),
    "twisted_leaves": gettext_lazy("have twisted or cupped leaves"),
    "sooty": gettext_lazy("have soot that rubs off"),
    "oozing_bark": gettext_lazy("have dark sap oozing from the bark"),
    "buried_flare": gettext_lazy("show no root flare"),
    "loose_ball": gettext_lazy("have a root ball that moves"),
    "packed_soil": gettext_lazy("stand in hard-packed soil"),
    "bracket": gettext_lazy("have a shelf of fungus on the wood"),
    "hole_rows": gettext_lazy("have holes in neat rows"),
    "black_tips": gettext_lazy("have soft tips that turned black"),
}
"""What trees with a sign do, after "13 of 14 trees at Quarry Green"."""

HAPPENED = {
    "mowing": gettext_lazy("mowing"),
    "new_contractor": gettext_lazy("another mowing contractor"),
    "stake_on": gettext_lazy("stakes or ties put on"),
    "stake_off": gettext_lazy("stakes or ties taken off"),
    "pruning": gettext_lazy("pruning"),
    "irrigation_off": gettext_lazy("irrigation off"),
    "storm": gettext_lazy("a storm"),
    "heat": gettext_lazy("heat"),
    "frost": gettext_lazy("frost"),
    "digging": gettext_lazy("digging near the roots"),
}


@dataclass(frozen=True)
class Names:
    """Names of an area's places, loads and kinds, read once for a whole page."""

    sites: Mapping[int, str] = field(default_factory=dict)
    site_refs: Mapping[str, str] = field(default_factory=dict)
    plantings: Mapping[int, str] = field(default_factory=dict)
    kinds: Mapping[str, str] = field(default_factory=dict)


def names_of(area: Area, findings: Iterable[Finding]) -> Names:
    """The names that these findings need, in three questions."""
    findings = list(findings)
    sites: set[int] = {row.site_id for row in findings if row.site_id}
    plantings: set[int] = {row.planting_id for row in findings if row.planting_id}
    for row in findings:
        sites |= {place["site"] for place in row.facts.get("places", ())}
        codes = {level["code"] for level in row.facts.get("levels", ())}
        if row.follows == Finding.Follows.SITE:
            sites |= codes
        elif row.follows == Finding.Follows.PLANTING:
            plantings |= codes
    found = list(Site.objects.filter(pk__in=sites).values_list("pk", "ref", "name"))
    return Names(
        sites={pk: name for pk, _ref, name in found},
        site_refs={ref: name for _pk, ref, name in found},
        plantings=dict(Planting.objects.filter(pk__in=plantings).values_list("pk", "name")),
        kinds={code: kind.name for code, kind in kinds_in(area).items()},
    )


def have(sign: str) -> str:
    known = HAVE.get(sign)
    if known:
        return str(known)
    entry = book().signs.get(sign)
    return _("show “%s”") % (said(entry.label) if entry else sign)


def sign_name(sign: str) -> str:
    entry = book().signs.get(sign)
    return said(entry.label) if entry else sign


def happened(kind: str) -> str:
    return str(HAPPENED.get(kind, kind))


def so_many(with_sign: int, of: int) -> str:
    """ "1 in 11", "none of 40", "9 of 12": a share the way people say it."""
    if not with_sign:
        return _("none of %d") % of
    each = round(of / with_sign)
    if each >= 3:
        return _("1 in %d") % each
    return _("%(with)d of %(of)d") % {"with": with_sign, "of": of}


def subject_name(row: Finding, names: Names) -> str:
    """The place, load, kind, side or day that a finding is about."""
    match row.follows:
        case Finding.Follows.SITE:
            return names.sites.get(row.site_id, row.subject)
        case Finding.Follows.PLANTING:
            return names.plantings.get(row.planting_id, row.subject)
        case Finding.Follows.SPECIES:
            return names.kinds.get(row.subject, row.subject)
        case Finding.Follows.SIDE:
            return side_name(row.subject)
        case Finding.Follows.TIME:
            question = row.facts.get("question", {})
            what = happened(question.get("kind", ""))
            when = day_said(question.get("day"))
            place = names.sites.get(row.site_id, "") if row.site_id else ""
            return f"{place}: {what}, {when}" if place else f"{what}, {when}"
    return row.subject


def side_name(code: str) -> str:
    return {
        "street": _("the street side"),
        "away": _("the side away from the street"),
        "sunny": _("the sunny side"),
    }.get(code, code)


def heading(row: Finding, names: Names) -> str:
    """The finding in a sentence or two: counts, elsewhere, and what it follows."""
    told = {
        "with": row.with_sign,
        "of": row.of_trees,
        "have": have(row.sign),
        "subject": subject_name(row, names),
    }
    there = row.facts.get("there")
    told["there"] = so_many(there["with"], there["of"]) if there else _("not known")
    match row.follows:
        case Finding.Follows.SITE:
            first = _(
                "%(with)d of %(of)d trees at %(subject)s %(have)s; elsewhere it is %(there)s."
            )
        case Finding.Follows.PLANTING:
            first = _(
                "%(with)d of %(of)d trees of “%(subject)s” %(have)s; among others it is %(there)s."
            )
        case Finding.Follows.SUPPLIER:
            first = _(
                "%(with)d of %(of)d trees that came from %(subject)s %(have)s; "
                "among others it is %(there)s."
            )
        case Finding.Follows.SPECIES:
            first = _(
                "%(subject)s: %(with)d of %(of)d trees %(have)s; among other kinds it is %(there)s."
            )
        case Finding.Follows.SIDE:
            return _side_heading(row, told)
        case _:
            return _time_heading(row, told, names)
    return f"{first % told} {conclusion(row)}"


def conclusion(row: Finding) -> str:
    """What the counts leave: the place, the load, both, or nobody can tell."""
    if row.follows == Finding.Follows.SITE and not row.facts.get("held"):
        return _("This follows the site.")  # of soil nothing else is asked
    return str(CONCLUSIONS.get((row.follows, row.facts.get("standing", "")), ""))


CONCLUSIONS = {
    ("site", "alone"): gettext_lazy("This follows the site, not the nursery."),
    ("site", "both"): gettext_lazy("The site shows, and so do the loads that were planted there."),
    ("site", "open"): gettext_lazy(
        "This follows the site; whether the loads planted there bring it too is not known yet."
    ),
    ("site", "cannot_tell"): gettext_lazy(
        "Nobody can tell the site from what was planted there: the two never stand apart."
    ),
    ("planting", "alone"): gettext_lazy("This follows the planting, not the sites it stands at."),
    ("planting", "both"): gettext_lazy("The planting shows, and so do the sites it stands at."),
    ("planting", "open"): gettext_lazy(
        "This follows the planting; whether its sites bring it too is not known yet."
    ),
    ("planting", "cannot_tell"): gettext_lazy(
        "Nobody can tell the planting from the site it stands at: the two never stand apart."
    ),
    ("supplier", "alone"): gettext_lazy("This follows the loads, not the sites they stand at."),
    ("supplier", "both"): gettext_lazy("These loads show, and so do the sites they stand at."),
    ("supplier", "open"): gettext_lazy(
        "This follows the loads; whether their sites bring it too is not known yet."
    ),
    ("supplier", "cannot_tell"): gettext_lazy(
        "Nobody can tell these loads from the sites they stand at: the two never stand apart."
    ),
    ("species", "alone"): gettext_lazy("This follows the kind, also among trees planted together."),
    ("species", "both"): gettext_lazy("The kind shows, and so do the places where it stands."),
    ("species", "open"): gettext_lazy(
        "This follows the kind; whether its places bring it too is not known yet."
    ),
    ("species", "cannot_tell"): gettext_lazy(
        "Nobody can tell the kind from where it stands: it is never planted beside others."
    ),
}


def _side_heading(row: Finding, told: dict) -> str:
    question = row.facts.get("question", {})
    if row.subject == "sunny":
        (sunny, of_sunny), (other, of_other) = (
            question.get("sunny_streets", (0, 0)),
            question.get("other_streets", (0, 0)),
        )
        told |= {"a": sunny, "b": of_sunny, "c": other, "d": of_other}
        return (
            _(
                "Where the street lies on the sunny side, %(a)d of %(b)d trees that %(have)s have "
                "it toward the street; where it lies on the other, %(c)d of %(d)d. This follows "
                "the sun."
            )
            % told
        )
    street, of = question.get("street", 0), question.get("of", 0)
    count = street if row.subject == "street" else of - street
    return _("Of %(of)d trees that %(have)s, %(n)d have it on %(subject)s.") % (
        told | {"n": count, "of": of}
    )


def _time_heading(row: Finding, told: dict, names: Names) -> str:
    question = row.facts.get("question", {})
    told |= {"what": happened(question.get("kind", "")), "day": day_said(question.get("day"))}
    place = names.sites.get(row.site_id, "") if row.site_id else ""
    if "after" in question:
        told |= {
            "after": question["after"],
            "all": row.with_sign,
            "place": place,
        }
        return (
            _(
                "At %(place)s, %(after)d of %(all)d trees that %(have)s were still without it on a "
                "look after %(day)s (%(what)s)."
            )
            % told
        )
    told |= {"days": question.get("days", 0), "within": question.get("within", 0)}
    return (
        _(
            "Trees that %(have)s were first seen so more often in the %(days)d days after %(day)s "
            "(%(what)s) than at other times of that season."
        )
        % told
    )


def how_sure(row: Finding) -> str:
    """The chance in words, and how many questions were asked in the same run."""
    asked = row.facts.get("asked", 0)
    if row.after_many < 1e-6:
        rare = _("less than once in a million times")
    else:
        rare = _("about once in %s times") % number_format(
            _rounded(1 / row.after_many), force_grouping=True
        )
    return ngettext(
        "If the sign were dealt out by lot, as many or more would fall together %(rare)s. "
        "That allows for %(asked)d question asked in the same run.",
        "If the sign were dealt out by lot, as many or more would fall together %(rare)s. "
        "That allows for %(asked)d questions asked in the same run.",
        asked,
    ) % {"rare": rare, "asked": asked}


def _rounded(times: float) -> int:
    """To one or two digits: a chance is not known more closely than that."""
    digits = max(len(str(int(times))) - 2, 0)
    return int(round(times, -digits))


def first_seen(row: Finding) -> str:
    """Between which looks it was first seen; never when it happened."""
    seen = row.facts.get("first_seen", {})
    if not seen.get("on"):
        return ""
    told = {"on": day_said(seen["on"]), "clean": day_said(seen.get("clean_until"))}
    if seen.get("clean_until"):
        return (
            _(
                "The first of these trees was seen with it on %(on)s; the look of %(clean)s had "
                "seen none of those it looked at. When it happened is not known from this."
            )
            % told
        )
    return (
        _(
            "The first was seen with it on %(on)s, and no earlier look is on record. When it "
            "happened is not known from this."
        )
        % told
    )


def change_said(change: Mapping, with_sign: int = 0) -> str:
    """One happening beside the looks: how many trees lie surely after it, and how many between.
    `with_sign` is the number of the finding's trees; who of them is left out is said."""
    told = dict(change) | {"what": happened(change["kind"]), "day": day_said(change["day"])}
    if "after" not in change:
        return (
            _("%(day)s, %(what)s: %(within)d trees surely began within %(days)d days after it.")
            % told
        )
    if not change["straddling"]:
        line = _(
            "%(day)s, %(what)s. Trees seen with it before: %(before)d, surely after: %(after)d."
        )
    else:
        line = _(
            "%(day)s, %(what)s. Trees seen with it before: %(before)d, surely after: %(after)d, "
            "between two looks so that nobody can tell: %(straddling)d."
        )
    return " ".join([line % told, *_who_else(change, with_sign)])


def _who_else(change: Mapping, with_sign: int) -> Iterable[str]:
    """Trees of the finding that these counts leave out, and trees that the chance adds."""
    counted = change["before"] + change["straddling"] + change["after"]
    if with_sign > counted:
        left_out = with_sign - counted
        yield ngettext(
            "Left out: %(n)d tree that had it when it was first looked at.",
            "Left out: %(n)d trees that had it when they were first looked at.",
            left_out,
        ) % {"n": left_out}
    if change.get("once"):
        yield ngettext(
            "%(n)d more tree had it once and does not show it now: it is not among these.",
            "%(n)d more trees had it once and do not show it now: they are not among these.",
            change["once"],
        ) % {"n": change["once"]}


@dataclass(frozen=True, slots=True)
class Settles:
    """What would settle a question: what is on record, and what is missing."""

    question: str
    on_record: tuple[str, ...]
    missing: tuple[str, ...]


def what_settles(row: Finding, happenings: Iterable[Happening]) -> list[Settles]:
    """Before or after planting: the looks at planting. Who or what: happenings at the place."""
    came = row.facts.get("came", {})
    known, missing = [], []
    if row.sign in ("bark_wound", "bark_torn"):
        looked = came.get("whole", 0) + came.get("marked", 0)
        if looked:
            known.append(_("looks at planting: %(whole)d bases whole, %(marked)d marked") % came)
        if came.get("hidden"):
            known.append(
                ngettext(
                    "%d base could not be seen at planting",
                    "%d bases could not be seen at planting",
                    came["hidden"],
                )
                % came["hidden"]
            )
        without = came.get("of", 0) - looked - came.get("hidden", 0)
        if without:
            missing.append(
                ngettext(
                    "no look at planting is on record for %d tree",
                    "no look at planting is on record for %d trees",
                    without,
                )
                % without
            )
    out = []
    if known or missing:
        out.append(Settles(_("Before or after planting?"), tuple(known), tuple(missing)))
    return [*out, _what_happened(row, happenings)]


def _what_happened(row: Finding, happenings: Iterable[Happening]) -> Settles:
    days: dict[str, list[date]] = {}
    for happening in happenings:
        days.setdefault(happening.kind, []).append(happening.from_day)
    known = []
    for kind in WORTH_KNOWING:
        if kind not in days:
            continue
        if kind == "mowing":
            mown = days[kind]
            words = ngettext(
                "%(n)d mowing day since %(day)s", "%(n)d mowing days since %(day)s", len(mown)
            )
            known.append(words % {"n": len(mown), "day": day_said(min(mown).isoformat())})
        else:
            last = day_said(max(days[kind]).isoformat())
            known.append(_("%(what)s, %(day)s") % {"what": happened(kind), "day": last})
    entry = book().signs.get(row.sign)
    missing = []
    if entry and entry.where in ("base", "trunk"):
        missing = [str(words) for kind, words in MISSING.items() if kind not in days]
    return Settles(_("By what, or by whom?"), tuple(known), tuple(missing))


WORTH_KNOWING = (
    "mowing",
    "new_contractor",
    "stake_on",
    "stake_off",
    "digging",
    "irrigation_off",
    "heat",
    "frost",
    "storm",
)

MISSING = {
    "mowing": gettext_lazy("no mowing day"),
    "new_contractor": gettext_lazy("no change of contractor"),
    "stake_on": gettext_lazy("when stakes were put on"),
    "stake_off": gettext_lazy("when stakes came off"),
}
"""What would tell who was there, for wounds of base and trunk, where it is not on record."""


def day_said(day: str | None) -> str:
    """A day of the facts, as the reader's language writes it."""
    return date_format(date.fromisoformat(day), "DATE_FORMAT") if day else ""
