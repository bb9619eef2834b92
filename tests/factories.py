"""Rows that are valid as they stand. No dice: every value is the same in every run.

`TreeFactory()` is alive and unseen; `LookFactory(tree=…)` is a trained walk look at a holding tree.
"""

from datetime import UTC, date, datetime

import factory
from factory.django import DjangoModelFactory

from survey.people.models import Contact, Observer, Person
from survey.photos.models import Photo
from survey.reports.models import Report
from survey.trees.models import Area, LandManager, Look, Planting, Site, Tree
from survey.workorders.models import OrderLine, WorkOrder

NOON = datetime(2026, 6, 16, 12, tzinfo=UTC)
TODAY = NOON.date()
PASSWORD = "linden and hornbeam"


class PersonFactory(DjangoModelFactory):
    """A desk person; `role="volunteer"` and so on for others. The password is PASSWORD."""

    class Meta:
        model = Person
        skip_postgeneration_save = True

    sign_in = factory.Sequence(lambda n: f"person{n}")
    name = factory.LazyAttribute(lambda p: p.sign_in.capitalize())
    role = Person.Role.STAFF
    trained_on = date(2024, 3, 1)
    password = factory.django.Password(PASSWORD)


class ObserverFactory(DjangoModelFactory):
    class Meta:
        model = Observer

    key = factory.Sequence(lambda n: f"observer:{n}")
    kind = Observer.Kind.VOLUNTEER


class ContactFactory(DjangoModelFactory):
    class Meta:
        model = Contact

    email = factory.Sequence(lambda n: f"neighbor{n}@pellworth.example")
    created_at = NOON


class AreaFactory(DjangoModelFactory):
    """The home area, frozen on TODAY."""

    class Meta:
        model = Area
        django_get_or_create = ("ref",)

    ref = "pellworth"
    name = "Pellworth"
    latitude, longitude = 36.62, -34.91
    time_zone = "Atlantic/Azores"
    data_date = TODAY
    invented = True
    is_home = True
    emergency_number = "911"
    utility_line = "555 0199"
    hazard_line = "555 0111"
    hazard_fallback = "555 0112"
    call_line = "555 0142"


class LandManagerFactory(DjangoModelFactory):
    class Meta:
        model = LandManager

    ref = factory.Sequence(lambda n: f"manager-{n}")
    name = "Town Gardens"
    kind = LandManager.Kind.CITY


class SiteFactory(DjangoModelFactory):
    class Meta:
        model = Site

    area = factory.SubFactory(AreaFactory)
    ref = factory.Sequence(lambda n: f"site-{n}")
    name = factory.Sequence(lambda n: f"Site {n}")
    kind = Site.Kind.STREET
    latitude, longitude = 36.62, -34.91


class PlantingFactory(DjangoModelFactory):
    """Ten trees, planted on one day in November 2023."""

    class Meta:
        model = Planting

    area = factory.SubFactory(AreaFactory)
    ref = factory.Sequence(lambda n: f"planting-{n}")
    name = factory.Sequence(lambda n: f"Planting {n}")
    planted_from = date(2023, 11, 14)
    planted_to = factory.SelfAttribute("planted_from")
    planted_precision = "day"
    planted_count = 10
    supplier = "North Quay Nursery"


class TreeFactory(DjangoModelFactory):
    """A linden, registered on the day it was planted."""

    class Meta:
        model = Tree

    planting = factory.SubFactory(PlantingFactory)
    site = factory.SubFactory(SiteFactory)
    area = factory.SelfAttribute("planting.area")
    ref = factory.Sequence(lambda n: f"tree-{n}")
    tag = factory.Sequence(lambda n: f"{n:04d}")
    species = "linden"
    planted_from = factory.SelfAttribute("planting.planted_from")
    planted_to = factory.SelfAttribute("planting.planted_to")
    planted_precision = factory.SelfAttribute("planting.planted_precision")
    registered_on = factory.SelfAttribute("planted_to")
    registered_because = Tree.Because.PLANTING_RECORD
    latitude, longitude = 36.62, -34.91
    walk_order = factory.Sequence(lambda n: n + 1)


class LookFactory(DjangoModelFactory):
    """A trained volunteer on a walk found the tree holding."""

    class Meta:
        model = Look

    tree = factory.SubFactory(TreeFactory)
    observer = factory.SubFactory(ObserverFactory)
    day = date(2024, 6, 1)
    channel = Look.Channel.WALK
    trained = True
    presence = Look.Presence.STANDING
    condition = "holding"
    entered_at = NOON

    class Params:
        dead = factory.Trait(condition="dead")
        gone = factory.Trait(presence=Look.Presence.GONE, condition="")


class PhotoFactory(DjangoModelFactory):
    class Meta:
        model = Photo

    key = factory.Sequence(lambda n: f"photo{n}")
    received_at = NOON


class ReportFactory(DjangoModelFactory):
    """A new report about one tree, sent this morning."""

    class Meta:
        model = Report

    tree = factory.SubFactory(TreeFactory)
    site = factory.SelfAttribute("tree.site")
    area = factory.SelfAttribute("tree.area")
    day = TODAY
    number = factory.Sequence(lambda n: n + 1)
    seen_on = TODAY
    words = "The bark is cut at the bottom"
    secret_digest = factory.Sequence(lambda n: f"{n:064d}")
    submitted_at = NOON


class WorkOrderFactory(DjangoModelFactory):
    """A drafted order for volunteers, to be done this month."""

    class Meta:
        model = WorkOrder

    area = factory.SubFactory(AreaFactory)
    number = factory.Sequence(lambda n: n + 1)
    why = "The bark is cut at the base"
    who = WorkOrder.Who.VOLUNTEER
    window_from = TODAY
    window_to = date(2026, 7, 16)
    created_at = NOON
    created_by = "person:desk"


class OrderLineFactory(DjangoModelFactory):
    class Meta:
        model = OrderLine

    order = factory.SubFactory(WorkOrderFactory)
    tree = factory.SubFactory(TreeFactory)
    care = "water"
