"""The life of a tree, a planting or a site, as a page tells it: newest first."""

from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.field.measures import girth_said
from frontend.work.dosing import coat_said
from survey.causes.actions.measure_wound import MEASURED
from survey.causes.wound_words import steps_said
from survey.causes.wounds import share_of
from survey.condition.models import Overruling
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.people.models import Observer
from survey.reports.models import Report
from survey.reports.reference import report_name
from survey.trees.models import CareGiven, Happening, Look, Planting, Site, Tree
from survey.trees.species import kinds_in

# What comes again and again all summer; a longer gap than this ends the run. Ours to choose.
ROUTINE = (Happening.Kind.MOWING, Happening.Kind.WATERING)
ROUTINE_GAP_DAYS = 45


@dataclass(frozen=True, slots=True)
class Event:
    """One line of a history. `kind` picks its drawing; `condition` its gauge."""

    day: date
    when: str
    kind: str
    title: str
    detail: str = ""
    condition: str = ""
    note: str = ""
    look: Look | None = None
    address: str = ""
    photos: tuple = ()
    who: str = ""


def day_said(day: date) -> str:
    return date_format(day, "F j, Y")


def dates_said(first: date, last: date, precision: str) -> str:
    """A day as well as it is known: "November 14, 2023", "November 2023", "2023"."""
    if precision == "day" or first == last:
        return day_said(first)
    if precision == "month":
        return date_format(first, "F Y")
    if precision == "year" and (first.month, last.month) == (1, 12):
        return date_format(first, "Y")
    return _("%(first)s to %(last)s") % {
        "first": date_format(first, "F Y"),
        "last": date_format(last, "F Y"),
    }


def age_said(day: date | None, today: date) -> str:
    """How long ago, in the words people use."""
    if day is None:
        return _("never")
    days = (today - day).days
    if days <= 0:
        return _("today")
    if days < 60:
        return ngettext("%d day ago", "%d days ago", days) % days
    months = round(days / 30.44)
    if months < 24:
        return ngettext("%d month ago", "%d months ago", months) % months
    years = round(days / 365.25)
    return ngettext("%d year ago", "%d years ago", years) % years


def signs_said(signs) -> str:
    """The signs of a look in words, each with how far round and on which side."""
    known = book()
    parts = []
    for seen in signs:
        sign = known.signs.get(seen.sign)
        words = [str(said(sign.label)) if sign else seen.sign]
        more = [
            str(said(found.label)).lower()
            for found in (
                known.extents.get(seen.extent) if seen.extent else None,
                known.sides.get(seen.side) if seen.side else None,
            )
            if found
        ]
        if more:
            words.append("(" + ", ".join(more) + ")")
        parts.append(" ".join(words))
    return "; ".join(parts)


def care_said(code: str) -> str:
    care = book().care.get(code)
    return str(said(care.label)) if care else code


def happening_said(kind: str) -> str:
    return str(Happening.Kind(kind).label if kind in Happening.Kind.values else kind)


def _seen(look: Look) -> list[str]:
    """The signs of a look; where its wounds were measured, all of them together say how far round
    the bark is lost, and not the step of a sign."""
    share = share_of(look)
    if share is None:
        return [signs_said(look.signs.all())]
    others = [sign for sign in look.signs.all() if sign.sign != MEASURED]
    return [steps_said(share), signs_said(others)]


def _look_event(look: Look, *, inside: bool, desk: bool, metric: bool) -> Event:
    """One look. What a neighbor wrote, and a picture nobody has accepted yet, are for the desk."""
    seen = _seen(look)
    if look.leaf:
        seen.append(look.get_leaf_display())
    if look.scratch:
        seen.append(look.get_scratch_display())
    measures = sorted(look.measures.all(), key=lambda m: m.stem)
    if measures:
        girths = ", ".join(girth_said(m.girth_m, metric) for m in measures)
        seen.append(_("girth %s") % girths)
    accepted = getattr(look, "acceptance", None)
    if accepted is not None:
        seen.append(_("accepted") if accepted.accepted else _("refused: %s") % accepted.reason)
    if look.presence != Look.Presence.STANDING:
        title = str(look.get_presence_display())
    elif look.condition:
        title = str(look.get_condition_display())
    else:
        title = _("standing")
    title = title[:1].upper() + title[1:]
    kind = "look" if look.trained else "untrained"
    reports = [] if look.trained else list(look.reports.all())
    if reports:
        # the look that a report made is that report: one line for both
        kind, who = "report", title if look.condition else ""
        title = _report_title(reports[0])
    elif look.trained:
        who = _("Trained look")
    elif look.observer.kind == Observer.Kind.RESIDENT:
        who = _("Look by a neighbor")
    else:
        who = _("Look without training")
    return Event(
        day=look.day,
        when=day_said(look.day),
        kind=kind,
        title=title,
        who=who,
        detail=". ".join(part[:1].upper() + part[1:] for part in map(str, seen) if part),
        condition=look.condition if look.presence in ("standing", "sprouting") else "",
        note=look.note if (desk if look.channel == Look.Channel.COMPLAINT else inside) else "",
        look=look,
        photos=tuple(
            photo
            for photo in look.photos.all()
            if photo.state == "ready"
            and (photo.shown == "accepted" or (desk and photo.shown == "hidden"))
        ),
    )


def _care_event(given: CareGiven, *, inside: bool, metric: bool) -> Event:
    coat = getattr(given, "coat", None)
    put_on = coat_said(coat, "metric" if metric else "us") if coat is not None else ""
    return Event(
        day=given.given_to,
        when=dates_said(given.given_from, given.given_to, given.given_precision),
        kind="care",
        title=care_said(given.care),
        detail=". ".join(filter(None, (given.dose, put_on))),
        note=" ".join(filter(None, (given.by_whom, given.note))) if inside else "",
    )


def span_said(first: date, last: date) -> str:
    """Two days as short as they can be said: the month and the year are said once if shared."""
    if first == last:
        return day_said(first)
    words = {"first": day_said(first), "last": day_said(last)}
    if first.year == last.year:
        words["first"] = date_format(first, "F j")
        if first.month == last.month:
            words["last"] = date_format(last, "j, Y")
    return _("%(first)s to %(last)s") % words


def _happening_event(run: list[Happening], *, inside: bool) -> Event:
    """One happening, or a run of the same routine one; a run has the days of its ends."""
    last = run[-1]
    title = happening_said(last.kind)
    title = title[:1].upper() + title[1:]
    if len(run) > 1:
        title = ngettext("%(what)s, %(times)d time", "%(what)s, %(times)d times", len(run)) % {
            "what": title,
            "times": len(run),
        }
    return Event(
        day=last.to_day,
        when=span_said(run[0].from_day, last.to_day),
        kind="happening",
        title=title,
        note=last.note if inside else "",
    )


def _happening_events(happenings, *, inside: bool) -> list[Event]:
    """Happenings as lines; what comes every other week is one line for as long as it kept coming.

    One line has one note: what was noted otherwise, and may be read, is another line.
    """
    runs: list[list[Happening]] = []
    open_runs: dict[tuple, list[Happening]] = {}
    for happening in sorted(happenings, key=lambda h: (h.from_day, h.pk)):
        note = happening.note if inside else ""
        place = (happening.site_id, happening.planting_id, happening.tree_id)
        where = (happening.kind, place, note)
        run = open_runs.get(where)
        is_routine = happening.kind in ROUTINE
        if is_routine and run and (happening.from_day - run[-1].to_day).days <= ROUTINE_GAP_DAYS:
            run.append(happening)
            continue
        runs.append([happening])
        open_runs[where] = runs[-1]
    return [_happening_event(run, inside=inside) for run in runs]


def _report_title(report: Report) -> str:
    return _("A neighbor told us: %s") % report_name(report)


def _report_event(report: Report) -> Event:
    labels = [
        str(said(book().signs[row.sign].label))
        for row in report.signs.all()
        if row.sign in book().signs
    ]
    return Event(
        day=report.day,
        when=day_said(report.day),
        kind="report",
        title=_report_title(report),
        detail="; ".join(labels),
    )


def _overruling_event(made: Overruling, zone: ZoneInfo, *, inside: bool) -> Event:
    """What staff laid down, and that it was taken back. Names and reasons are for those inside."""
    detail = ""
    if made.withdrawn_at:
        day = made.withdrawn_at.astimezone(zone).date()
        words = {"day": day_said(day), "who": made.withdrawn_name}
        detail = _("Taken back on %(day)s") % words
        if inside:
            detail = _("Taken back on %(day)s by %(who)s") % words + f": {made.withdrawn_reason}"
    return Event(
        day=made.day,
        when=day_said(made.day),
        kind="laid_down",
        title=_("Laid down by trained staff: %s") % made.get_state_display(),
        who=made.by_name if inside else "",
        detail=detail,
        condition=made.state,
        note=made.reason if inside else "",
    )


def life_of_tree(
    tree: Tree, *, inside: bool, desk: bool = False, metric: bool = False
) -> list[Event]:
    """Everything known of a tree. `inside` adds what only signed-in people may read, `desk` what
    only the desk may: neighbors' words, and pictures that wait to be accepted."""
    looks = (
        tree.looks.standing_record()
        .select_related("acceptance", "observer")
        .in_order()
        .prefetch_related("signs", "measures", "wounds", "photos", "reports__area")
    )
    events = [_look_event(look, inside=inside, desk=desk, metric=metric) for look in looks]
    told = {report.pk for look in looks if not look.trained for report in look.reports.all()}
    zone = ZoneInfo(tree.area.time_zone)
    laid_down = tree.overrulings.all()
    events += [_overruling_event(made, zone, inside=inside) for made in laid_down]
    events += [
        _care_event(given, inside=inside, metric=metric)
        for given in tree.care.select_related("coat")
    ]
    happenings = Happening.objects.filter(
        Q(tree=tree) | Q(site=tree.site_id) | Q(planting=tree.planting_id),
        to_day__gte=tree.planted_from,
    )
    events += _happening_events(happenings, inside=inside)
    events += [
        _report_event(report)
        for report in tree.reports.prefetch_related("signs")
        if report.pk not in told
    ]
    events.append(
        Event(
            day=tree.planted_from,
            when=dates_said(tree.planted_from, tree.planted_to, tree.planted_precision),
            kind="planted",
            title=_("Planted"),
            detail=tree.planting.name,
        )
    )
    if tree.left:
        events.append(
            Event(
                day=tree.left_to,
                when=_("between %(first)s and %(last)s")
                % {"first": day_said(tree.left_from), "last": day_said(tree.left_to)}
                if tree.left_from != tree.left_to
                else day_said(tree.left_to),
                kind="left",
                title=str(tree.get_left_display()).capitalize(),
            )
        )
    order = {"planted": 0, "left": 2}
    return sorted(events, key=lambda e: (e.day, order.get(e.kind, 1)), reverse=True)


def life_of_place(place: Site | Planting, *, inside: bool) -> list[Event]:
    """What happened at a site or to a planting, its replacements and losses among it."""
    events = _happening_events(place.happenings.all(), inside=inside)
    kinds = kinds_in(place.area)
    gone = place.trees.exclude(left="")
    for tree in gone:
        kind = kinds.get(tree.species)
        events.append(
            Event(
                day=tree.left_to,
                when=day_said(tree.left_to),
                kind="left",
                title=_("%(species)s %(tag)s %(left)s")
                % {
                    "species": str(kind.name) if kind else tree.species,
                    "tag": tree,
                    "left": tree.get_left_display(),
                },
                address=tree.ref,
            )
        )
    return sorted(events, key=lambda e: e.day, reverse=True)
