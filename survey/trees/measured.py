"""Details in numbers: wounds as measured, coats and fertilizer as put on."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from survey.trees.models import CareGiven, Look


class WoundMeasure(models.Model):
    """One wound as measured: where round the trunk, how wide and high, and the girth there.

    Clock hours run from the street side, which is 12, clockwise as seen from above; a wound from
    10 to 2 goes over 12. Lengths in meters. `width_m` is the widest arc of lost bark.
    """

    class Rim(models.TextChoices):
        FRESH = "fresh", _("fresh, moist, sharp edges")
        DRY = "dry", _("dry, a thin swollen lip")
        ROUNDED = "rounded", _("a rounded rim of new wood")
        STACKED = "stacked", _("stacked ribs, gray wood")
        UNSEEN = "unseen", _("not seen")

    look = models.ForeignKey(Look, on_delete=models.CASCADE, related_name="wounds")
    stem = models.PositiveSmallIntegerField(default=1)
    number = models.PositiveSmallIntegerField(default=1)
    girth_m = models.FloatField(null=True, blank=True)
    width_m = models.FloatField(null=True, blank=True)
    from_hour = models.FloatField(null=True, blank=True)
    to_hour = models.FloatField(null=True, blank=True)
    low_edge_m = models.FloatField(null=True, blank=True)
    length_m = models.FloatField(null=True, blank=True)
    wood_shows = models.BooleanField(null=True, blank=True)
    rim = models.CharField(max_length=7, choices=Rim.choices, default=Rim.UNSEEN)
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["look", "stem", "number"]
        constraints = [
            models.UniqueConstraint(name="wound_once", fields=["look", "stem", "number"]),
            models.CheckConstraint(
                name="wound_counts_from_one", condition=Q(stem__gte=1, number__gte=1)
            ),
            models.CheckConstraint(
                name="wound_is_measured_or_placed",
                condition=Q(girth_m__isnull=False, width_m__isnull=False)
                | Q(from_hour__isnull=False, to_hour__isnull=False),
            ),
            models.CheckConstraint(
                name="wound_no_wider_than_girth",
                condition=Q(width_m__isnull=True)
                | (
                    Q(girth_m__isnull=False, girth_m__gt=0, girth_m__lte=20)
                    & Q(width_m__gt=0, width_m__lte=models.F("girth_m"))
                ),
            ),
            models.CheckConstraint(
                name="wound_hours_on_the_clock",
                condition=Q(from_hour__isnull=True, to_hour__isnull=True)
                | Q(
                    from_hour__isnull=False,
                    to_hour__isnull=False,
                    from_hour__gte=0,
                    from_hour__lt=12,
                    to_hour__gt=0,
                    to_hour__lte=24,
                ),
            ),
            models.CheckConstraint(
                name="wound_heights_possible",
                condition=(
                    (Q(low_edge_m__isnull=True) | Q(low_edge_m__gte=0, low_edge_m__lte=30))
                    & (Q(length_m__isnull=True) | Q(length_m__gt=0, length_m__lte=30))
                ),
            ),
            models.CheckConstraint(
                name="wound_rim_known",
                condition=Q(rim__in=["fresh", "dry", "rounded", "stacked", "unseen"]),
            ),
        ]

    def __str__(self):
        return f"wound {self.number} of stem {self.stem}"


class CoatGiven(models.Model):
    """A coat on sound bark: what, which color, from where to where, which sides."""

    care = models.OneToOneField(CareGiven, on_delete=models.CASCADE, related_name="coat")
    product = models.CharField(max_length=120)
    color = models.CharField(max_length=40)
    water_parts = models.FloatField(default=1)
    paint_parts = models.FloatField(default=1)
    from_m = models.FloatField(default=0)
    to_m = models.FloatField()
    sides = models.JSONField(default=list)
    coats = models.PositiveSmallIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="coat_names_product_and_color", condition=~Q(product="") & ~Q(color="")
            ),
            models.CheckConstraint(
                name="coat_parts_and_heights_possible",
                condition=Q(water_parts__gte=0, paint_parts__gt=0, coats__gte=1)
                & Q(from_m__gte=-0.1, to_m__gt=models.F("from_m"), to_m__lte=10),
            ),
        ]

    def __str__(self):
        return f"{self.product}, {self.color}"


class FeedGiven(models.Model):
    """Fertilizer as put on: the label's three numbers, the bag, how much, on what area."""

    care = models.OneToOneField(CareGiven, on_delete=models.CASCADE, related_name="feed")
    product = models.CharField(max_length=120)
    nitrogen_share = models.FloatField()
    phosphate_share = models.FloatField()
    potash_share = models.FloatField()
    slow_release = models.BooleanField(null=True, blank=True)
    mass_kg = models.FloatField()
    area_m2 = models.FloatField()

    class Meta:
        constraints = [
            models.CheckConstraint(name="feed_names_product", condition=~Q(product="")),
            models.CheckConstraint(
                name="feed_label_adds_up",
                condition=Q(nitrogen_share__gte=0, phosphate_share__gte=0, potash_share__gte=0)
                & Q(
                    nitrogen_share__lte=1.000001
                    - models.F("phosphate_share")
                    - models.F("potash_share")
                ),
            ),
            models.CheckConstraint(
                name="feed_amounts_possible", condition=Q(mass_kg__gt=0, area_m2__gt=0)
            ),
        ]

    def __str__(self):
        return self.product
