"""What one docket shows: evidence left, what is known right. Only what the record holds."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.desk import sayings
from frontend.desk.rows import moves, reports_by_key
from survey.handbook.book import book
from survey.people.models import Person
from survey.photos.models import Photo
from survey.reports import queue as desk
from survey.reports.matching import likely_same_as, likely_trees, point_of
from survey.reports.models import Report
from survey.reports.promises import promise_for
from survey.reports.reference import report_name
from survey.science.distance import metres_between
from survey.trees.models import Area, Look, Permission, Tree

FEET = 1 / 0.3048
RAIL = 9
SOON = timedelta(days=14)


@dataclass(frozen=True, slots=True)
class Plate:
    """One frame of the photo plate: a picture, or what is missing."""

    caption: str
    photo: Photo | None
    day: date | None = None
    missing: str = ""
    is_report: bool = False


def plates(report: Report) -> list[Plate]:
    """Rows whole tree and base, columns then and now; then whatever else was sent.

    *Then* is the newest accepted picture from an earlier look at the tree, *now* the report's.
    """
    sent = list(report.photos.order_by("pk"))
    earlier = _earlier_photos(report)
    out, used = [], set()
    rows = ((Photo.Part.WHOLE, _("whole tree")), (Photo.Part.BASE, _("base of the trunk")))
    for part, name in rows:
        then = earlier.get(part)
        now = next((photo for photo in sent if photo.part == part), None)
        if then is None and now is None:
            continue
        if then:
            out.append(Plate(name, then[0], then[1]))
        else:
            out.append(Plate(name, None, missing=_("No earlier photo: %s") % name))
        if now:
            used.add(now.pk)
            out.append(Plate(name, now, report.seen_on, is_report=True))
        else:
            out.append(Plate(name, None, missing=_("Not sent: %s") % name))
    for photo in sent:
        if photo.pk not in used:
            part = str(photo.get_part_display())
            out.append(Plate(part, photo, report.seen_on, is_report=True))
    for reply in report.replies.all():
        for photo in reply.photos.all():
            part = _("%s, sent with the reply") % photo.get_part_display()
            out.append(Plate(part, photo, reply.at.date(), is_report=True))
    return out


def _earlier_photos(report: Report) -> dict[str, tuple[Photo, date]]:
    if report.tree_id is None:
        return {}
    looks = (
        Look.objects.standing_record()
        .filter(tree=report.tree_id, day__lte=report.seen_on, photos__shown=Photo.Shown.ACCEPTED)
        .exclude(reports=report)
        .newest_first()
        .prefetch_related("photos")
        .distinct()[:12]
    )
    found: dict[str, tuple[Photo, date]] = {}
    for look in looks:
        for photo in look.photos.all():
            if photo.shown == Photo.Shown.ACCEPTED:
                found.setdefault(photo.part, (photo, look.day))
    return found


@dataclass(frozen=True, slots=True)
class Clock:
    day: date
    what: str
    kind: str = ""


def clocks(report: Report) -> list[Clock]:
    """Dated lines, the nearest first; what is close or over is pressing."""
    today = report.area.today()
    lines = []
    if report.state in (Report.State.NEW, Report.State.ASKED):
        promised = promise_for(report.day, in_danger=_in_danger(report))
        lines.append((promised.look_by, _("somebody stands before the tree, as we promised")))
    if report.look_due:
        lines.append((report.look_due, _("look again by then")))
    lines += [
        (order.look_due, _("look after order %d is due") % order.number)
        for order in report.orders.all()
        if order.look_due and order.state != "dropped"
    ]
    site = report.site
    if site is not None and site.land_manager_id:
        ends = list(Permission.objects.filter(land_manager=site.land_manager_id).on(today))
        if ends:
            first = min(ends, key=lambda leave: leave.to_day)
            lines.append((first.to_day, _("our leave to work here ends (%s)") % first.land_manager))
        else:
            lines.append((today, _("no leave to work here is in force")))
    if report.tree is not None and report.tree.planting.warranty_until:
        until = report.tree.planting.warranty_until
        if until >= today:
            lines.append((until, _("warranty of the planting ends; the contract says what counts")))
        elif today - until < timedelta(days=365):
            lines.append((until, _("warranty of the planting is over")))
    return [Clock(day, what, _pressing(day, today)) for day, what in sorted(lines)]


def _pressing(day: date, today: date) -> str:
    return "is-pressing" if today <= day <= today + SOON else ""


def _in_danger(report: Report) -> bool:
    return bool(report.danger) and report.danger_cleared_at is None


@dataclass(frozen=True, slots=True)
class Repeat:
    """Another note about what may be the same tree, beside this one."""

    report: Report
    name: str
    why: str
    far: str
    days: str
    said: str


def repeats(report: Report, most: int = 6) -> list[Repeat]:
    """Notes that are likely about the same tree, the surest first, with distance and days."""
    near = Q(likely_same_as=report) | Q(joined_to=report)
    if report.likely_same_as_id:
        near |= Q(pk=report.likely_same_as_id)
    if report.joined_to_id:
        near |= Q(pk=report.joined_to_id)
    if report.tree_id:
        near |= Q(tree=report.tree_id)
    others = (
        Report.objects.filter(near, area=report.area_id)
        .exclude(pk=report.pk)
        .select_related("tree", "site", "joined_to")
        .prefetch_related("signs")
        .order_by("-submitted_at", "pk")[:40]
    )
    here = point_of(report)
    ranked = sorted(others, key=lambda other: (_rank(report, other), abs(_apart(report, other))))
    return [_repeat(report, other, here) for other in ranked[:most]]


def _apart(report: Report, other: Report) -> int:
    return (report.day - other.day).days


def _rank(report: Report, other: Report) -> int:
    if other.pk == report.joined_to_id or other.joined_to_id == report.pk:
        return 0
    return 1 if other.pk == report.likely_same_as_id or other.likely_same_as_id == report.pk else 2


def _repeat(report: Report, other: Report, here) -> Repeat:
    rank = _rank(report, other)
    why = (_("joined"), _("likely the same"), _("same tree"))[rank]
    there, far = point_of(other), ""
    if report.tree_id and report.tree_id == other.tree_id:
        far = _("same tree") if rank < 2 else ""
    elif here and there:
        far = _("%d ft") % round(metres_between(*here, *there) * FEET)
    days = abs(_apart(report, other))
    return Repeat(
        report=other,
        name=report_name(other, today=report.area.today()),
        why=why,
        far=far,
        days=_("same day") if not days else ngettext("%d day", "%d days", days) % days,
        said=sayings.heading(other),
    )


def trunk_of(report: Report) -> dict | None:
    """The trunk from above, when bark is gone and somebody said how far round."""
    extent = book().extents.get(report.extent)
    if extent is None or extent.from_fraction is None:
        return None
    bark = {"bark_wound", "bark_torn", "bark_sunken"}
    if not bark & {tick.sign for tick in report.signs.all()}:
        return None
    return {"lost_from": extent.from_fraction * 100, "lost_to": extent.to_fraction * 100}


def planted_with(report: Report, most: int = 24) -> tuple[list[Tree], int]:
    """Trees of the same planting with their last trained look, and how many there are."""
    if report.tree is None:
        return [], 0
    trees = Tree.objects.filter(planting=report.tree.planting_id).in_place()
    seen = trees.with_last_trained_look()
    shown = list(seen.order_by("walk_order", "tag", "pk")[:most])
    if report.tree_id not in {tree.pk for tree in shown}:
        # The tree of the report is always among them, also when it stands further on.
        shown[most - 1 :] = seen.filter(pk=report.tree_id)
    return shown, trees.count()


@dataclass(frozen=True, slots=True)
class RailRow:
    report: Report
    name: str
    place: str
    why: str
    kind: str


def rail(report: Report, area: Area, person: Person) -> list[RailRow]:
    """What else is on the desk, most pressing first, and this docket in its place.

    A docket from further down the queue stands below the first dangers, with what follows it.
    """
    keys = desk.next_keys(area, most=RAIL)
    if report.pk not in dict(keys):
        here = desk.keys_from(area, report.pk, most=RAIL)
        if here:
            dangers = [(key, why) for key, why in keys if why == "danger"][: RAIL - 4]
            keys = dangers + here[: RAIL - len(dangers)]
    reports = reports_by_key([key for key, _why in keys])
    now = timezone.now()
    rows = []
    for key, why in keys:
        other = reports.get(key)
        if other is None:
            continue
        leased = (
            other.opened_by_id not in (None, person.pk)
            and other.opened_at is not None
            and now - other.opened_at < timedelta(minutes=10)
        )
        kind = "is-danger" if why == "danger" else "is-leased" if leased else ""
        said = moves(other, why, area)
        if leased and why != "danger":
            said = _("Open by %s") % other.opened_by.name
        name = report_name(other, today=area.today())
        rows.append(RailRow(other, name, sayings.place_words(other), said, kind))
    return rows


def guesses(report: Report) -> list[dict]:
    """Trees this report may mean, with how far away each is."""
    found = []
    for guess in likely_trees(report):
        far = "" if guess.metres is None else _("%d ft away") % round(guess.metres * FEET)
        found.append({"tree": guess.tree, "far": far})
    return found


def join_candidates(report: Report, shown: Sequence[Repeat]) -> list[Report]:
    """Notes that this one can be joined to: never to one that is joined itself."""
    found = {repeat.report.pk: repeat.report for repeat in shown if not repeat.report.joined_to_id}
    if not found:
        same = likely_same_as(report)
        if same is not None:
            found[same.pk] = same
    return list(found.values())


def local(report: Report, moment):
    """A moment in the time zone of the report's town."""
    return moment.astimezone(ZoneInfo(report.area.time_zone))
