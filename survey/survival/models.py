"""Survival as last worked out: stands counted, and groups of trees with their figures."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from survey.survival.queries import GroupQuerySet, StandQuerySet
from survey.trees.models import Area, Planting, Site


class Stand(models.Model):
    """Trees of one planting, site, species and year, counted by fate: the part groups are made of.

    Written anew whenever its planting is counted. `fates` is what `Fates.as_rows` gives; `evidence`
    a digest of it; `counted_on` the town's day on which the looks were read.
    """

    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="stands")
    planting = models.ForeignKey(Planting, on_delete=models.CASCADE, related_name="stands")
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="stands")
    species = models.CharField(max_length=40)
    year = models.PositiveSmallIntegerField()
    supplier = models.CharField(max_length=80, blank=True)
    trees = models.PositiveIntegerField()
    fates = models.JSONField()
    newest = models.DateField(null=True, blank=True)
    counted_on = models.DateField()
    evidence = models.CharField(max_length=64)

    objects = StandQuerySet.as_manager()

    class Meta:
        ordering = ["planting", "site", "species", "year"]
        indexes = [
            models.Index(fields=["area", "species"], name="stand_by_species"),
            models.Index(fields=["area", "supplier"], name="stand_by_supplier"),
        ]
        constraints = [
            models.UniqueConstraint(
                name="stand_once", fields=["planting", "site", "species", "year"]
            ),
            models.CheckConstraint(name="stand_has_trees", condition=Q(trees__gt=0)),
        ]

    def __str__(self):
        return f"{self.species} of {self.planting} at {self.site}"


class Group(models.Model):
    """A set of trees whose survival is reported: one planting, species, site, year or supplier.

    Replaced whole whenever it is worked out again. `evidence` is a digest of everything that went
    in, so that the same data give the same row, and the same bytes in the CSV. `pooled` and
    `forecast` lean on the whole town's record and are worked out for all groups of a town together.
    """

    class By(models.TextChoices):
        PLANTING = "planting", _("planting")
        SPECIES = "species", _("species")
        SITE = "site", _("site")
        YEAR = "year", _("planting year")
        SUPPLIER = "supplier", _("supplier")
        TOWN = "town", _("all trees")

    class Reading(models.TextChoices):
        VERIFIED = "verified", _("verified looks only")
        WEIGHED = "weighed", _("all evidence weighed")

    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="survival_groups")
    by = models.CharField(max_length=8, choices=By.choices)
    key = models.CharField(max_length=80)
    label = models.CharField(max_length=120)
    reading = models.CharField(max_length=12, choices=Reading.choices, default=Reading.VERIFIED)
    as_of = models.DateField()
    counts = models.JSONField(default=dict)
    curves = models.JSONField(default=dict)
    mortality = models.JSONField(default=dict)
    pooled = models.JSONField(default=dict, blank=True)
    forecast = models.JSONField(default=dict, blank=True)
    cautions = models.JSONField(default=list)
    method = models.CharField(max_length=120)
    evidence = models.CharField(max_length=64)
    computed_at = models.DateTimeField()

    objects = GroupQuerySet.as_manager()

    class Meta:
        ordering = ["area", "by", "key"]
        constraints = [
            models.UniqueConstraint(
                name="survival_group_once", fields=["area", "by", "key", "reading"]
            ),
            models.CheckConstraint(
                name="survival_group_by_known",
                condition=Q(by__in=["planting", "species", "site", "year", "supplier", "town"]),
            ),
            models.CheckConstraint(
                name="survival_group_reading_known",
                condition=Q(reading__in=["verified", "weighed"]),
            ),
        ]

    def __str__(self):
        return f"{self.get_by_display()} {self.label}"


class Figure(models.Model):
    """Survival of one group at one milestone, for loss or for death.

    `at_least` and `at_most` bound the estimate: inside an interval between two looks the curve is
    not known. `low` and `high` are 95 % limits of the rate that such trees have.
    """

    class Curve(models.TextChoices):
        LOSS = "loss", _("loss")
        DEATH = "death", _("death")

    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="figures")
    curve = models.CharField(max_length=5, choices=Curve.choices)
    milestone = models.CharField(max_length=14)
    age_months = models.FloatField()
    at_risk = models.PositiveIntegerField()
    events = models.PositiveIntegerField()
    at_least = models.FloatField(null=True, blank=True)
    at_most = models.FloatField(null=True, blank=True)
    low = models.FloatField(null=True, blank=True)
    high = models.FloatField(null=True, blank=True)
    count_alive = models.PositiveIntegerField()
    count_lost = models.PositiveIntegerField()
    count_unknown = models.PositiveIntegerField()
    withheld = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["group", "curve", "age_months", "milestone"]
        constraints = [
            models.UniqueConstraint(name="figure_once", fields=["group", "curve", "milestone"]),
            models.CheckConstraint(
                name="figure_curve_known", condition=Q(curve__in=["loss", "death"])
            ),
            models.CheckConstraint(
                name="figure_bounds_ordered_or_withheld",
                condition=Q(
                    at_least__isnull=True,
                    at_most__isnull=True,
                    low__isnull=True,
                    high__isnull=True,
                )
                & ~Q(withheld="")
                | Q(
                    at_least__isnull=False,
                    at_most__isnull=False,
                    low__isnull=False,
                    high__isnull=False,
                    low__gte=0,
                    at_least__gte=F("low"),
                    at_most__gte=F("at_least"),
                    high__gte=F("at_most"),
                    high__lte=1,
                ),
            ),
        ]

    def __str__(self):
        return f"{self.group} {self.curve} at {self.milestone}"


class CareCompared(models.Model):
    """What can be said of one kind of care in an area: trees after it against trees like them.

    Written anew once a day. `told` is what `helped.told_of` gives.
    """

    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="care_compared")
    care = models.CharField(max_length=40)
    as_of = models.DateField()
    told = models.JSONField()
    computed_at = models.DateTimeField()

    class Meta:
        ordering = ["area", "care"]
        constraints = [
            models.UniqueConstraint(name="care_compared_once", fields=["area", "care"]),
            models.CheckConstraint(name="care_compared_names_care", condition=~Q(care="")),
        ]

    def __str__(self):
        return f"{self.care} in {self.area}"


class LooksWeighed(models.Model):
    """What walks of some minutes on one site would tell of the number standing there.

    Written anew once a day. `trees` are those that count; `see` of them settle their number to
    within ten of 100. `walks` is what `weighing.walk_told` gives, by minutes as text; minutes in
    which no look tells anything are not in it.
    """

    site = models.OneToOneField(Site, on_delete=models.CASCADE, related_name="looks_weighed")
    as_of = models.DateField()
    trees = models.PositiveIntegerField()
    see = models.PositiveIntegerField()
    walks = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["site"]
        constraints = [
            models.CheckConstraint(
                name="looks_weighed_sees_some_of_its_trees",
                condition=Q(see__gte=1, trees__gte=F("see")),
            ),
        ]

    def __str__(self):
        return f"looks at {self.site}"
