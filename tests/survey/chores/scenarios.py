"""For each kind of chore: something real to do, and how to see that it was done once.

`SCENARIOS[kind]()` makes rows, and returns the chore's key and a question that is true afterwards.
A kind without a scenario fails the test: what is never killed is never proven.
"""

import io
from collections.abc import Callable
from datetime import date, timedelta

from django.core.files.base import ContentFile
from django.utils import timezone
from PIL import Image

from survey.audit.models import Entry
from survey.causes.models import Finding
from survey.chores.models import Chore
from survey.condition import learning
from survey.condition.models import Belief, Learning, Outlook, SiteMonth
from survey.condition.stale import ranges_of
from survey.people.models import Mail
from survey.photos.models import Photo
from survey.reports.models import Draft
from survey.survival import roll_up, stands
from survey.survival.keys import name_of
from survey.survival.models import CareCompared, Group, LooksWeighed, Stand
from survey.trees.models import CareGiven, Look
from survey.workorders.models import WorkOrder
from tests import factories

Scenario = tuple[str, Callable[[], bool]]


def looked_at_tree():
    tree = factories.TreeFactory()
    for year in (2024, 2025):
        factories.LookFactory(tree=tree, day=date(year, 6, 1))
    return tree


def count_planting() -> Scenario:
    tree = looked_at_tree()
    name = name_of(tree.area, "planting", tree.planting.ref)
    wanted = Chore.objects.filter(kind="roll_up_survival", key=name)
    kept = Stand.objects.filter(planting=tree.planting, trees=1)
    return str(tree.planting_id), lambda: kept.count() == wanted.count() == 1


def count_plantings() -> Scenario:
    tree = looked_at_tree()
    kept = Stand.objects.filter(planting=tree.planting, trees=1)
    [name] = stands.ranges_of(tree.area)[-1:]
    return name, lambda: kept.count() == 1


def roll_up_survival() -> Scenario:
    tree = looked_at_tree()
    stands.keep(stands.count(str(tree.planting_id)))
    name = name_of(tree.area, "site", tree.site.ref)
    kept = Group.objects.verified().filter(by="site", key=tree.site.ref)
    return name, lambda: kept.count() == 1


def pool_survival() -> Scenario:
    tree = looked_at_tree()
    roll_up.catch_up(tree.area)
    Group.objects.update(pooled={})
    leaning = Group.objects.filter(area=tree.area, pooled__fit__isnull=False)
    return str(tree.area_id), lambda: leaning.filter(by="planting").count() >= 1


def compare_care() -> Scenario:
    tree = looked_at_tree()
    CareGiven.objects.create(
        tree=tree,
        care="mulch_ring",
        given_from=date(2024, 7, 1),
        given_to=date(2024, 7, 1),
        given_precision="day",
        entered_at=factories.NOON,
    )
    kept = CareCompared.objects.filter(area=tree.area, care="mulch_ring", told__treated=1)
    return str(tree.area_id), lambda: kept.count() == 1


def weigh_looks() -> Scenario:
    tree = looked_at_tree()
    kept = LooksWeighed.objects.filter(site=tree.site, trees=1, see=1)
    return str(tree.area_id), lambda: kept.count() == 1


def learn_area() -> Scenario:
    tree = looked_at_tree()
    # all of these trees stand in one area, and others ask for learning too
    before = set(Learning.objects.filter(area=tree.area).values_list("number", flat=True))
    wanted = Chore.objects.filter(kind="believe_trees", key__startswith=f"{tree.area_id}|")

    def learnt_once():
        now = list(Learning.objects.filter(area=tree.area).values_list("number", flat=True))
        return set(now) > before and len(now) == len(set(now)) and wanted.exists()

    return str(tree.area_id), learnt_once


def tree_of_a_learnt_area():
    tree = looked_at_tree()
    learning.keep(learning.work_out(str(tree.area_id)))
    return tree


def weigh_survival() -> Scenario:
    tree = tree_of_a_learnt_area()
    kept = Group.objects.filter(area=tree.area).weighed()
    return str(tree.area_id), lambda: kept.filter(by="town").count() == 1


def believe_tree() -> Scenario:
    tree = tree_of_a_learnt_area()
    return str(tree.pk), lambda: Belief.objects.filter(tree=tree, looks=2).count() == 1


def believe_trees() -> Scenario:
    tree = tree_of_a_learnt_area()
    [name] = ranges_of(tree.area)
    return name, lambda: Belief.objects.filter(tree=tree, looks=2).count() == 1


def roll_up_outlook() -> Scenario:
    tree = tree_of_a_learnt_area()
    kept = Outlook.objects.filter(by="site", key=tree.site.ref, trees=1)
    return f"{tree.area_id}|site|{tree.site_id}", lambda: kept.count() == 1


def roll_up_trend() -> Scenario:
    tree = looked_at_tree()
    return str(
        tree.site_id
    ), lambda: SiteMonth.objects.filter(site=tree.site, month=date(2025, 6, 1)).count() == 1


def find_patterns() -> Scenario:
    tree = looked_at_tree()
    here = [factories.TreeFactory(site=tree.site, planting=tree.planting) for _n in range(12)]
    others = [factories.TreeFactory(planting=tree.planting) for _n in range(30)]
    for one in [*here, *others]:
        look = factories.LookFactory(tree=one, day=date(2026, 5, 20))
        if one in here:
            look.signs.create(sign="bark_wound")
    found = Finding.objects.filter(site=tree.site, sign="bark_wound", follows="site")
    return str(tree.area_id), lambda: [f.trees.count() for f in found] == [12]


def match_report() -> Scenario:
    report = factories.ReportFactory(picture="failing", words="It leans")
    return str(report.pk), lambda: Look.objects.filter(reports=report).count() == 1


def clear_old_drafts() -> Scenario:
    long_ago = timezone.now() - timedelta(days=400)
    area = factories.AreaFactory()
    draft = Draft.objects.create(
        client_ref="01900000-0000-7000-8000-000000000001",
        area=area,
        started_at=long_ago,
        touched_at=long_ago,
    )
    return "2026-06-16", lambda: not Draft.objects.filter(pk=draft.pk).exists()


def erase_old_contacts() -> Scenario:
    contact = factories.ContactFactory()
    report = factories.ReportFactory(contact=contact, state="answered")
    report.decisions.create(
        outcome="answer",
        at=factories.NOON - timedelta(days=200),
        by="person:desk",
        reason="It was pruned.",
    )

    def erased():
        contact.refresh_from_db()
        lines = Entry.objects.filter(act__contains="contact")
        return contact.email == "" and lines.count() == 1

    return "2026-06-16", erased


def stored_photo(**fields) -> Photo:
    drawn = io.BytesIO()
    Image.new("RGB", (64, 48), "green").save(drawn, "JPEG")
    photo = factories.PhotoFactory(**{"received_at": timezone.now(), **fields})
    photo.original.save(f"{photo.key}.jpg", ContentFile(drawn.getvalue()))
    return photo


def prepare_photo() -> Scenario:
    photo = stored_photo()

    def ready():
        photo.refresh_from_db()
        return photo.state == "ready" and photo.picture.size > 0 and photo.small.size > 0

    return str(photo.pk), ready


def discard_original() -> Scenario:
    photo = stored_photo(state="refused", refused_because="It was broken.")
    storage, name = photo.original.storage, photo.original.name

    def gone():
        photo.refresh_from_db()
        return not photo.original and not storage.exists(name)

    return str(photo.pk), gone


def clear_loose_photos() -> Scenario:
    loose = stored_photo(received_at=timezone.now() - timedelta(days=8))
    held = stored_photo(received_at=timezone.now() - timedelta(days=8))
    factories.ReportFactory().photos.add(held)
    storage, name = loose.original.storage, loose.original.name

    def cleared():
        left = set(Photo.objects.values_list("key", flat=True))
        return held.key in left and loose.key not in left and not storage.exists(name)

    return "2026-06-16", cleared


def confirm_orders() -> Scenario:
    tree = factories.TreeFactory()
    day = factories.TODAY - timedelta(days=30)
    order = factories.WorkOrderFactory(
        state="done",
        planned_for=day,
        done_on=day,
        done_by="person:crew",
        window_from=day - timedelta(days=5),
    )
    given = CareGiven.objects.create(
        tree=tree,
        care="water",
        given_from=day,
        given_to=day,
        given_precision="day",
        entered_at=factories.NOON,
    )
    factories.OrderLineFactory(order=order, tree=tree, outcome="given", given=given)
    factories.LookFactory(tree=tree, day=factories.TODAY - timedelta(days=2))
    return str(tree.pk), lambda: WorkOrder.objects.filter(pk=order.pk, state="confirmed").exists()


def send_mail() -> Scenario:
    mail = Mail.objects.create(
        key="answer-1",
        contact=factories.ContactFactory(),
        subject="Your tree",
        body="Thank you.",
        due_at=timezone.now(),
    )
    return str(mail.pk), lambda: Mail.objects.filter(pk=mail.pk, state="sent").exists()


def reconcile() -> Scenario:
    stored_photo()
    return "2026-06-16", lambda: Chore.objects.filter(kind="prepare_photo").count() >= 1


def forget_chores() -> Scenario:
    old = timezone.now() - timedelta(days=400)
    done = Chore.objects.create(
        kind="reconcile", key="long ago", state="done", due_at=old, created_at=old, done_at=old
    )
    return "2026-06-16", lambda: not Chore.objects.filter(pk=done.pk).exists()


SCENARIOS: dict[str, Callable[[], Scenario]] = {
    scenario.__name__: scenario
    for scenario in (
        count_planting, count_plantings, pool_survival, roll_up_survival, roll_up_trend,
        find_patterns, match_report, compare_care, weigh_looks, weigh_survival, learn_area,
        believe_tree, believe_trees, roll_up_outlook,
        clear_old_drafts, erase_old_contacts, prepare_photo, discard_original, clear_loose_photos,
        confirm_orders, send_mail, reconcile, forget_chores,
    )
}  # fmt: skip
