"""What becomes of an order: done line by line, and the new tree where one was planted."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.people.models import Person
from survey.people.policy import may_do_work, may_register_trees
from survey.photos.models import Photo
from survey.science.care.feeding import label
from survey.science.care.records import Impossible
from survey.trees.actions.look import record_care
from survey.trees.actions.register import record_departure, register_planting, register_tree
from survey.trees.measured import CoatGiven, FeedGiven
from survey.trees.models import Look, Planting, Precision, Tree
from survey.workorders.actions.draft import PLANT, TAKE_DOWN
from survey.workorders.closed_lines import closed_lines
from survey.workorders.followup import LOOK_DUE
from survey.workorders.models import OrderLine, WorkOrder
from survey.workorders.orders import locked, subject_of
from survey.workorders.wordings import impossible_said

COAT, FEED = "whitewash", "fertilize"
"""Care of which it is kept what was put on."""


@dataclass(frozen=True, slots=True)
class Coat:
    """A coat as it was put on; heights in meters, sides as eighths of the compass."""

    product: str
    color: str
    to_m: float
    from_m: float = 0.0
    sides: Sequence[str] = ()
    coats: int = 1
    paint_parts: float = 1.0
    water_parts: float = 1.0


@dataclass(frozen=True, slots=True)
class Feed:
    """Fertilizer as it was put on at one tree: label in percent, kilograms, square meters."""

    product: str
    nitrogen: float
    phosphate: float
    potash: float
    mass_kg: float
    area_m2: float
    slow_release: bool | None = None


@dataclass(frozen=True, slots=True)
class LineResult:
    """What became of one line. `left` says how a tree that was taken down had ended; a coat or
    fertilizer comes with what was put on."""

    outcome: str
    remark: str = ""
    left: str = ""
    coat: Coat | None = None
    feed: Feed | None = None


def _check_closed(
    order: WorkOrder,
    lines: Sequence[OrderLine],
    results: Mapping[int, LineResult],
    done_on: date,
) -> None:
    """What was done where nobody was to work is written down with its reason, or not at all."""
    for key, why in closed_lines(order, lines, done_on).items():
        result = results[key]
        if result.outcome == OrderLine.Outcome.GIVEN and not result.remark.strip():
            words = {"why": " ".join(why)}
            raise ValidationError(
                {f"line{key}": _("%(why)s Say in the remark why it was done all the same.") % words}
            )


def _check_results(lines: Sequence[OrderLine], results: Mapping[int, LineResult]) -> None:
    if results.keys() != {line.pk for line in lines}:
        raise ValidationError({"lines": _("Say for every tree whether it was done.")})
    for line in lines:
        result = results[line.pk]
        if result.outcome not in (OrderLine.Outcome.GIVEN, OrderLine.Outcome.NOT_DONE):
            raise ValidationError({f"line{line.pk}": _("Done, or not done?")})
        if result.outcome == OrderLine.Outcome.NOT_DONE and not result.remark.strip():
            raise ValidationError({f"line{line.pk}": _("Say why it was not done.")})
        given = result.outcome == OrderLine.Outcome.GIVEN
        if given and line.care == COAT and result.coat is None:
            raise ValidationError({"coat": _("Say what was put on the bark: product and color.")})
        if given and line.care == FEED and result.feed is None:
            raise ValidationError({"feed": _("Say what was spread: label, weight and ground.")})
        if line.care == TAKE_DOWN and result.outcome == OrderLine.Outcome.GIVEN:
            taken = {Tree.Left.DIED, Tree.Left.REMOVED_HEALTH, Tree.Left.REMOVED_OTHER}
            if not line.tree.left and result.left not in taken:
                raise ValidationError(
                    {f"line{line.pk}": _("Say whether the tree was dead when it came down.")}
                )
    if all(results[line.pk].outcome == OrderLine.Outcome.NOT_DONE for line in lines):
        raise ValidationError(
            {"lines": _("Nothing was done, so the order is not done: drop it, or plan it again.")}
        )


@transaction.atomic
def report_done(
    *,
    order: WorkOrder,
    version: int,
    done_on: date,
    done_by: str,
    results: Mapping[int, LineResult],
    by: Person,
    at: datetime,
    notes: str = "",
    photos: Sequence[Photo] = (),
) -> WorkOrder:
    """Write down that an order was done: each line given or not, with its reason.

    Care given becomes part of the trees' record, a tree that was taken down leaves, and the look
    that says whether it helped is due 35 days later. `results` go by the lines' primary keys; a
    line that was closed that day is given with a remark alone.
    Raises ValidationError (keys `done_on`, `done_by`, `lines`, `line<pk>`, `coat`, `feed`),
    Outdated, PermissionDenied.
    """
    if not may_do_work(by):
        raise PermissionDenied
    order = locked(order, version, WorkOrder.State.DRAFTED, WorkOrder.State.PLANNED)
    lines = list(order.lines.select_related("tree__area", "tree__site__land_manager"))
    if done_on > order.area.today():
        raise ValidationError({"done_on": _("That day has not come yet.")})
    if not done_by.strip():
        raise ValidationError({"done_by": _("Say who did it: a team or a firm will do.")})
    _check_results(lines, results)
    for line in lines:
        given = results[line.pk].outcome == OrderLine.Outcome.GIVEN
        if given and done_on < line.tree.planted_from:
            raise ValidationError({"done_on": _("That is before %s was planted.") % line.tree})
    _check_closed(order, lines, results, done_on)
    for line in lines:
        result = results[line.pk]
        line.outcome, line.remark = result.outcome, result.remark.strip()
        if line.outcome == OrderLine.Outcome.GIVEN:
            line.given = record_care(
                tree=line.tree,
                care=line.care,
                given_from=done_on,
                given_to=done_on,
                given_precision=Precision.DAY,
                dose=line.dose[:120],
                by_whom=done_by.strip()[:80],
                note=line.remark,
                by=by,
                at=at,
            )
            _put_on(line, result)
            if line.care == TAKE_DOWN and not line.tree.left:
                _take_down(line, result.left, done_on, by, at)
        line.full_clean(exclude=["order", "tree", "given"])
        line.save()
    order.state = WorkOrder.State.DONE
    order.done_on, order.done_by, order.done_notes = done_on, done_by.strip(), notes.strip()
    order.look_due = done_on + LOOK_DUE
    order.version += 1
    order.full_clean()
    order.save()
    order.photos.add(*photos)
    record(
        "order.done",
        subject=subject_of(order),
        by=by,
        at=at,
        given=sum(line.outcome == OrderLine.Outcome.GIVEN for line in lines),
        not_done=sum(line.outcome == OrderLine.Outcome.NOT_DONE for line in lines),
    )
    return order


def _put_on(line: OrderLine, result: LineResult) -> None:
    """Keep what a coat or a feeding was made of, with the care that was recorded."""
    if line.care == COAT and (coat := result.coat) is not None:
        put_on = CoatGiven(
            care=line.given,
            product=coat.product.strip(),
            color=coat.color.strip(),
            from_m=coat.from_m,
            to_m=coat.to_m,
            sides=list(coat.sides),
            coats=coat.coats,
            paint_parts=coat.paint_parts,
            water_parts=coat.water_parts,
        )
        _check(put_on, "coat", _("Check the heights, the parts and the coats."))
    if line.care == FEED and (feed := result.feed) is not None:
        try:
            bag = label(feed.nitrogen, feed.phosphate, feed.potash)
        except Impossible as error:
            raise ValidationError({"feed": impossible_said(error.code)}) from None
        spread = FeedGiven(
            care=line.given,
            product=feed.product.strip(),
            nitrogen_share=bag.nitrogen,
            phosphate_share=bag.phosphate,
            potash_share=bag.potash,
            slow_release=feed.slow_release,
            mass_kg=feed.mass_kg,
            area_m2=feed.area_m2,
        )
        _check(spread, "feed", _("Check the weight and the ground."))


def _check(row: CoatGiven | FeedGiven, field: str, otherwise: str) -> None:
    try:
        row.full_clean(exclude=["care", "sides"])
    except ValidationError as refused:
        said = [
            text
            for name, texts in refused.message_dict.items()
            if name != "__all__"  # a constraint's own name is no message for people
            for text in texts
        ]
        raise ValidationError({field: said or otherwise}) from None
    row.save()


def _take_down(line: OrderLine, left: str, done_on: date, by: Person, at: datetime) -> None:
    """A dead tree died between the last look that saw it alive and the first that did not."""
    first = last = done_on
    if left == Tree.Left.DIED:
        trained = Look.objects.standing_record().trained().filter(tree=line.tree, day__lte=done_on)
        alive = trained.saw_alive().newest_first().first()
        first = alive.day if alive else line.tree.planted_from
        dead = trained.filter(condition="dead", day__gte=first).in_order().first()
        last = dead.day if dead else done_on
    record_departure(
        tree=line.tree,
        left=left,
        left_from=first,
        left_to=last,
        why=f"order {line.order.number}",
        by=by,
        at=at,
    )


@transaction.atomic
def register_replacement(
    *,
    line: OrderLine,
    species: str,
    planted_on: date,
    by: Person,
    at: datetime,
    planting: Planting | None = None,
    tag: str = "",
    latitude: float | None = None,
    longitude: float | None = None,
) -> Tree:
    """Enter the tree that was planted by a "plant a new tree" line; it never inherits a survival.

    Without a planting of its own it gets one, named after the order. Without a point it stands
    where the old one stood.
    """
    if not may_register_trees(by):
        raise PermissionDenied
    order = line.order
    if line.care != PLANT or line.outcome != OrderLine.Outcome.GIVEN:
        raise ValidationError({"line": _("No new tree was planted by this line.")})
    old = Tree.objects.select_related("site", "area").get(pk=line.tree_id)
    if planting is None:
        name = _("Replacements of order %d") % order.number
        planting = Planting.objects.filter(area=order.area, name=name).first()
        if planting is None:
            planting = register_planting(
                area=order.area,
                name=name,
                planted_from=planted_on,
                planted_to=planted_on,
                planted_precision=Precision.DAY,
                by=by,
                at=at,
            )
    if latitude is None and longitude is None:
        latitude, longitude = old.latitude, old.longitude
    return register_tree(
        site=old.site,
        planting=planting,
        species=species,
        planted_from=planted_on,
        planted_to=planted_on,
        planted_precision=Precision.DAY,
        tag=tag,
        latitude=latitude,
        longitude=longitude,
        landmark=old.landmark,
        street_bearing=old.street_bearing,
        replaces=old,
        by=by,
        at=at,
    )
