"""Where things stand: areas, land managers, what they allow, and sites."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from survey.trees.queries import PermissionQuerySet, SiteQuerySet

LATITUDE = [MinValueValidator(-90), MaxValueValidator(90)]
LONGITUDE = [MinValueValidator(-180), MaxValueValidator(180)]


def point_rule(name: str) -> models.CheckConstraint:
    """Both coordinates inside their bounds, or neither."""
    return models.CheckConstraint(
        name=name,
        condition=Q(latitude__isnull=True, longitude__isnull=True)
        | Q(
            latitude__isnull=False,
            longitude__isnull=False,
            latitude__gte=-90,
            latitude__lte=90,
            longitude__gte=-180,
            longitude__lte=180,
        ),
    )


class Area(models.Model):
    """One town or neighborhood: its clock, its hemisphere and its telephone numbers.

    `data_date` freezes the area's today: a demo or an imported town lives on that day, and every
    computation about it uses that day as now.
    """

    class Hemisphere(models.TextChoices):
        NORTH = "north", _("northern hemisphere")
        SOUTH = "south", _("southern hemisphere")

    class Climate(models.TextChoices):
        COLD = "cold", _("long frost, short summers")
        TEMPERATE = "temperate", _("some frost, rain all year")
        DRY_SUMMER = "dry_summer", _("mild winters, dry summers")
        WARM = "warm", _("hardly any frost")

    ref = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    latitude = models.FloatField(validators=LATITUDE)
    longitude = models.FloatField(validators=LONGITUDE)
    radius_m = models.FloatField(default=8000)
    time_zone = models.CharField(max_length=40, default="UTC")
    hemisphere = models.CharField(
        max_length=5, choices=Hemisphere.choices, default=Hemisphere.NORTH
    )
    climate = models.CharField(max_length=10, choices=Climate.choices, default=Climate.TEMPERATE)
    last_frost_month = models.PositiveSmallIntegerField(null=True, blank=True)
    first_frost_month = models.PositiveSmallIntegerField(null=True, blank=True)
    units = models.CharField(
        max_length=6,
        choices=[("us", _("feet and gallons")), ("metric", _("meters and liters"))],
        default="us",
    )
    data_date = models.DateField(null=True, blank=True)
    invented = models.BooleanField(default=False)
    is_home = models.BooleanField(default=False)
    association = models.CharField(max_length=80, blank=True)
    department = models.CharField(max_length=80, blank=True)
    emergency_number = models.CharField(max_length=30, default="911")
    utility_line = models.CharField(max_length=40, blank=True)
    hazard_line = models.CharField(max_length=40, blank=True)
    hazard_hours = models.CharField(max_length=80, blank=True)
    hazard_fallback = models.CharField(max_length=40, blank=True)
    call_line = models.CharField(max_length=40, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="area_hemisphere_known", condition=Q(hemisphere__in=["north", "south"])
            ),
            models.CheckConstraint(
                name="area_climate_and_units_known",
                condition=Q(climate__in=["cold", "temperate", "dry_summer", "warm"])
                & Q(units__in=["us", "metric"]),
            ),
            models.CheckConstraint(
                name="area_frost_months_on_the_calendar",
                condition=(
                    (Q(last_frost_month__isnull=True) | Q(last_frost_month__range=(1, 12)))
                    & (Q(first_frost_month__isnull=True) | Q(first_frost_month__range=(1, 12)))
                ),
            ),
            point_rule("area_point_on_earth"),
            models.CheckConstraint(name="area_has_size", condition=Q(radius_m__gt=0)),
            models.UniqueConstraint(
                name="area_one_home", fields=["is_home"], condition=Q(is_home=True)
            ),
        ]

    def __str__(self):
        return self.name

    def today(self) -> date:
        """The area's calendar day: its data date, or today in its time zone."""
        return self.data_date or timezone.now().astimezone(ZoneInfo(self.time_zone)).date()

    def now(self) -> datetime:
        """The moment: on an area with a data date, that day at the present time of day."""
        moment = timezone.now().astimezone(ZoneInfo(self.time_zone))
        if self.data_date is None:
            return moment
        return datetime.combine(self.data_date, moment.timetz())


class LandManager(models.Model):
    """Who owns the ground and decides what may be done on it."""

    class Kind(models.TextChoices):
        CITY = "city", _("city department")
        SCHOOL = "school", _("school")
        ASSOCIATION = "association", _("residents' association")
        PRIVATE = "private", _("private owner")

    ref = models.SlugField(max_length=60, unique=True)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    phone = models.CharField(max_length=40, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="land_manager_kind_known",
                condition=Q(kind__in=["city", "school", "association", "private"]),
            ),
        ]

    def __str__(self):
        return self.name


class Permission(models.Model):
    """A land manager's leave for one kind of care, for some people, from one day to another."""

    class Who(models.TextChoices):
        VOLUNTEER = "volunteer", _("volunteers")
        CREW = "crew", _("crews")
        ANYBODY = "anybody", _("volunteers and crews")

    land_manager = models.ForeignKey(
        LandManager, on_delete=models.CASCADE, related_name="permissions"
    )
    care = models.CharField(max_length=40)
    who = models.CharField(max_length=10, choices=Who.choices)
    from_day = models.DateField()
    to_day = models.DateField()
    letter = models.CharField(max_length=120, blank=True)

    objects = PermissionQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="permission_days_ordered", condition=Q(to_day__gte=F("from_day"))
            ),
            models.CheckConstraint(
                name="permission_who_known", condition=Q(who__in=["volunteer", "crew", "anybody"])
            ),
            models.CheckConstraint(name="permission_names_care", condition=~Q(care="")),
            models.UniqueConstraint(
                name="permission_once", fields=["land_manager", "care", "who", "from_day"]
            ),
        ]

    def __str__(self):
        return f"{self.land_manager}: {self.care} by {self.who}"


class Site(models.Model):
    """A park, a street, a school yard: a place that people name."""

    class Kind(models.TextChoices):
        PARK = "park", _("park")
        STREET = "street", _("street")
        SCHOOL = "school", _("school yard")
        SQUARE = "square", _("square")
        OTHER = "other", _("other place")

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="sites")
    ref = models.SlugField(max_length=60, unique=True)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    land_manager = models.ForeignKey(
        LandManager, null=True, blank=True, on_delete=models.PROTECT, related_name="sites"
    )
    mowing_contractor = models.CharField(max_length=80, blank=True)
    walk_from = models.CharField(max_length=120, blank=True)
    latitude = models.FloatField(null=True, blank=True, validators=LATITUDE)
    longitude = models.FloatField(null=True, blank=True, validators=LONGITUDE)
    boundary = models.JSONField(null=True, blank=True)

    objects = SiteQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                name="site_kind_known",
                condition=Q(kind__in=["park", "street", "school", "square", "other"]),
            ),
            models.CheckConstraint(name="site_has_name", condition=~Q(name="")),
            models.UniqueConstraint(name="site_name_once_an_area", fields=["area", "name"]),
            point_rule("site_point_on_earth"),
        ]

    def __str__(self):
        return self.name


class LocalSpecies(models.Model):
    """A species of one area that the handbook does not hold, with its own bare months."""

    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="local_species")
    code = models.CharField(max_length=40)
    name = models.CharField(max_length=80)
    deciduous = models.BooleanField(default=True)
    bare_months = models.JSONField(default=list)
    shoulder_months = models.JSONField(default=list)

    class Meta:
        constraints = [
            models.UniqueConstraint(name="local_species_once", fields=["area", "code"]),
            models.CheckConstraint(
                name="local_species_has_names", condition=~Q(code="") & ~Q(name="")
            ),
        ]

    def __str__(self):
        return self.name


class Weather(models.Model):
    """One day's weather in an area, as a station gave it."""

    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="weather")
    day = models.DateField()
    rain_mm = models.FloatField(null=True, blank=True)
    low_c = models.FloatField(null=True, blank=True)
    high_c = models.FloatField(null=True, blank=True)
    eto_mm = models.FloatField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(name="weather_once_a_day", fields=["area", "day"]),
            models.CheckConstraint(
                name="weather_rain_not_negative",
                condition=Q(rain_mm__isnull=True) | Q(rain_mm__gte=0),
            ),
            models.CheckConstraint(
                name="weather_eto_not_negative", condition=Q(eto_mm__isnull=True) | Q(eto_mm__gte=0)
            ),
            models.CheckConstraint(
                name="weather_low_below_high",
                condition=Q(low_c__isnull=True)
                | Q(high_c__isnull=True)
                | Q(low_c__lte=F("high_c")),
            ),
        ]

    def __str__(self):
        return f"{self.area} {self.day}"
