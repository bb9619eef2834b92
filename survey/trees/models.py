"""What stands where, and what was seen of it or done to it."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from survey.names import new_ref
from survey.people.models import Observer
from survey.photos.models import Photo
from survey.trees.places import (
    LATITUDE,
    LONGITUDE,
    Area,
    LandManager,
    LocalSpecies,
    Permission,
    Site,
    Weather,
    point_rule,
)
from survey.trees.queries import (
    CareGivenQuerySet,
    HappeningQuerySet,
    LookQuerySet,
    PlantingQuerySet,
    TreeQuerySet,
)

__all__ = [
    "Acceptance",
    "Area",
    "CareGiven",
    "Condition",
    "Happening",
    "LandManager",
    "LocalSpecies",
    "Look",
    "LookSign",
    "Permission",
    "Planting",
    "Precision",
    "Site",
    "StemMeasure",
    "Tree",
    "Weather",
]


class Precision(models.TextChoices):
    """How well a date is known. The two dates beside it are its first and last possible day."""

    DAY = "day", _("to the day")
    MONTH = "month", _("to the month")
    SEASON = "season", _("to the season")
    YEAR = "year", _("to the year")


class Condition(models.TextChoices):
    THRIVING = "thriving", _("thriving")
    HOLDING = "holding", _("holding")
    SLIPPING = "slipping", _("slipping")
    FAILING = "failing", _("failing")
    DEAD = "dead", _("dead")


PRECISIONS = ["day", "month", "season", "year"]
CONDITIONS = ["thriving", "holding", "slipping", "failing", "dead"]


def dated(prefix: str, name: str, *, required: bool = True) -> models.CheckConstraint:
    """`<prefix>_from` ≤ `<prefix>_to`, one day when known to the day; or, if allowed, none."""
    start, end, precision = f"{prefix}_from", f"{prefix}_to", f"{prefix}_precision"
    known = Q(
        **{
            f"{start}__isnull": False,
            f"{end}__isnull": False,
            f"{end}__gte": F(start),
            f"{precision}__in": PRECISIONS,
        }
    ) & (~Q(**{precision: "day"}) | Q(**{end: F(start)}))
    missing = Q(**{f"{start}__isnull": True, f"{end}__isnull": True, precision: ""})
    return models.CheckConstraint(name=name, condition=known if required else known | missing)


class Planting(models.Model):
    """The trees of one order or contract in one season: a cohort. It may span sites and species."""

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="plantings")
    ref = models.SlugField(max_length=60, unique=True, default=new_ref)
    name = models.CharField(max_length=120)
    planted_from = models.DateField()
    planted_to = models.DateField()
    planted_precision = models.CharField(max_length=6, choices=Precision.choices)
    planted_count = models.PositiveIntegerField(null=True, blank=True)
    supplier = models.CharField(max_length=80, blank=True)
    contractor = models.CharField(max_length=80, blank=True)
    stock_form = models.CharField(max_length=40, blank=True)
    warranty_until = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)

    objects = PlantingQuerySet.as_manager()

    class Meta:
        ordering = ["planted_from", "name", "pk"]
        constraints = [
            dated("planted", "planting_days_ordered"),
            models.CheckConstraint(name="planting_has_name", condition=~Q(name="")),
            models.UniqueConstraint(name="planting_name_once_an_area", fields=["area", "name"]),
            models.CheckConstraint(
                name="planting_warranty_after_planting",
                condition=Q(warranty_until__isnull=True) | Q(warranty_until__gte=F("planted_from")),
            ),
        ]

    def __str__(self):
        return self.name


class Tree(models.Model):
    """One planted individual. A replacement is a new tree and never inherits a survival."""

    class Because(models.TextChoices):
        PLANTING_RECORD = "planting_record", _("written down at planting")
        INVENTORY = "inventory", _("found in an inventory round")
        REPORT = "report", _("registered because of a report")

    class Left(models.TextChoices):
        DIED = "died", _("died")
        REMOVED_HEALTH = "removed_health", _("removed alive for health or safety")
        REMOVED_OTHER = "removed_other", _("removed alive for another reason")
        LOST = "lost", _("lost from sight")

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="trees")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="trees")
    planting = models.ForeignKey(Planting, on_delete=models.PROTECT, related_name="trees")
    ref = models.SlugField(max_length=60, unique=True, default=new_ref)
    tag = models.CharField(max_length=30, blank=True)
    species = models.CharField(max_length=40)
    planted_from = models.DateField()
    planted_to = models.DateField()
    planted_precision = models.CharField(max_length=6, choices=Precision.choices)
    registered_on = models.DateField()
    registered_because = models.CharField(max_length=16, choices=Because.choices)
    latitude = models.FloatField(null=True, blank=True, validators=LATITUDE)
    longitude = models.FloatField(null=True, blank=True, validators=LONGITUDE)
    walk_order = models.PositiveIntegerField(default=0)
    landmark = models.CharField(max_length=120, blank=True)
    stems = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(40)]
    )
    street_bearing = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(359)]
    )
    replaces = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by"
    )
    left = models.CharField(max_length=14, choices=Left.choices, blank=True)
    left_from = models.DateField(null=True, blank=True)
    left_to = models.DateField(null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = TreeQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["site", "walk_order"], name="tree_walk"),
            models.Index(fields=["latitude", "longitude"], name="tree_point"),
            models.Index(fields=["planting"], name="tree_by_planting"),
        ]
        constraints = [
            models.UniqueConstraint(
                name="tree_tag_once_an_area", fields=["area", "tag"], condition=~Q(tag="")
            ),
            dated("planted", "tree_planting_dated"),
            models.CheckConstraint(
                name="tree_registered_after_planting",
                condition=Q(registered_on__gte=F("planted_from")),
            ),
            models.CheckConstraint(
                name="tree_because_known",
                condition=Q(registered_because__in=["planting_record", "inventory", "report"]),
            ),
            point_rule("tree_point_on_earth"),
            models.CheckConstraint(
                name="tree_stems_one_to_forty", condition=Q(stems__gte=1, stems__lte=40)
            ),
            models.CheckConstraint(
                name="tree_street_bearing_in_circle",
                condition=Q(street_bearing__isnull=True)
                | Q(street_bearing__gte=0, street_bearing__lte=359),
            ),
            models.CheckConstraint(name="tree_has_species", condition=~Q(species="")),
            models.CheckConstraint(
                name="tree_not_its_own_replacement",
                condition=Q(replaces__isnull=True) | ~Q(replaces=F("pk")),
            ),
            models.CheckConstraint(
                name="tree_left_has_bounds",
                condition=Q(left="", left_from__isnull=True, left_to__isnull=True)
                | Q(
                    left__in=["died", "removed_health", "removed_other", "lost"],
                    left_from__isnull=False,
                    left_to__isnull=False,
                    left_to__gte=F("left_from"),
                    left_from__gte=F("planted_from"),
                ),
            ),
        ]

    def __str__(self):
        return self.tag or self.ref


class Look(models.Model):
    """One tree, one day, one observer, one channel. Looks may contradict each other: all are kept.

    A slip is corrected by a look that supersedes it. `trained` says whether the observer counted
    as trained on that day.
    """

    class Channel(models.TextChoices):
        ACCEPTANCE = "acceptance", _("acceptance at delivery or planting")
        REGISTRATION = "registration", _("when the tree was registered")
        WALK = "walk", _("walk survey")
        ADOPTER = "adopter", _("neighbor who looks after the tree")
        COMPLAINT = "complaint", _("report")
        FOLLOWUP = "followup", _("look after work")
        CREW = "crew", _("crew")

    class Presence(models.TextChoices):
        STANDING = "standing", _("standing")
        SPROUTING = "sprouting", _("top dead, sprouting from below")
        STUMP = "stump", _("stump")
        GONE = "gone", _("gone")
        NOT_SEEN = "not_seen", _("could not look")
        NEVER_PLANTED = "never_planted", _("never planted")

    class Leaf(models.TextChoices):
        FULL = "full", _("in full leaf")
        PARTIAL = "partial", _("partly in leaf")
        BARE = "bare", _("bare")

    class Scratch(models.TextChoices):
        GREEN = "green", _("green under the bark")
        BROWN = "brown", _("brown under the bark")

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="looks")
    observer = models.ForeignKey(Observer, on_delete=models.PROTECT, related_name="looks")
    day = models.DateField()
    channel = models.CharField(max_length=12, choices=Channel.choices)
    trained = models.BooleanField()
    presence = models.CharField(max_length=13, choices=Presence.choices)
    condition = models.CharField(max_length=8, choices=Condition.choices, blank=True)
    leaf = models.CharField(max_length=7, choices=Leaf.choices, blank=True)
    scratch = models.CharField(max_length=5, choices=Scratch.choices, blank=True)
    note = models.TextField(blank=True)
    photos = models.ManyToManyField(Photo, blank=True, related_name="looks")
    supersedes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="superseded_by"
    )
    repeat_key = models.CharField(max_length=80, unique=True, null=True, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.CharField(max_length=60, blank=True)

    objects = LookQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["tree", "day"], name="look_by_tree"),
            models.Index(fields=["day"], name="look_by_day"),
        ]
        constraints = [
            models.CheckConstraint(
                name="look_channel_known",
                condition=Q(
                    channel__in=[
                        "acceptance",
                        "registration",
                        "walk",
                        "adopter",
                        "complaint",
                        "followup",
                        "crew",
                    ]
                ),
            ),
            models.CheckConstraint(
                name="look_presence_known",
                condition=Q(
                    presence__in=[
                        "standing",
                        "sprouting",
                        "stump",
                        "gone",
                        "not_seen",
                        "never_planted",
                    ]
                ),
            ),
            models.CheckConstraint(
                name="look_condition_known", condition=Q(condition__in=["", *CONDITIONS])
            ),
            models.CheckConstraint(
                name="look_condition_needs_a_standing_tree",
                condition=Q(condition="") | Q(presence__in=["standing", "sprouting"]),
            ),
            models.CheckConstraint(
                name="look_leaf_known", condition=Q(leaf__in=["", "full", "partial", "bare"])
            ),
            models.CheckConstraint(
                name="look_scratch_known", condition=Q(scratch__in=["", "green", "brown"])
            ),
            models.CheckConstraint(
                name="look_leaf_and_scratch_need_a_tree",
                condition=Q(leaf="", scratch="")
                | Q(presence__in=["standing", "sprouting", "stump"]),
            ),
            models.CheckConstraint(
                name="look_repeat_key_not_empty",
                condition=Q(repeat_key__isnull=True) | ~Q(repeat_key=""),
            ),
            models.CheckConstraint(
                name="look_not_its_own_correction",
                condition=Q(supersedes__isnull=True) | ~Q(supersedes=F("pk")),
            ),
        ]

    def __str__(self):
        return f"{self.tree} on {self.day}"


class LookSign(models.Model):
    """A sign seen in one look: what, how far round, on which side, on which stem."""

    look = models.ForeignKey(Look, on_delete=models.CASCADE, related_name="signs")
    sign = models.CharField(max_length=40)
    extent = models.CharField(max_length=24, blank=True)
    side = models.CharField(max_length=24, blank=True)
    stem = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints = [
            models.CheckConstraint(name="look_sign_named", condition=~Q(sign="")),
            models.UniqueConstraint(name="look_sign_once", fields=["look", "sign", "stem"]),
        ]

    def __str__(self):
        return self.sign


class StemMeasure(models.Model):
    """Girth of one stem in meters, and the height above ground at which it was taken."""

    look = models.ForeignKey(Look, on_delete=models.CASCADE, related_name="measures")
    stem = models.PositiveSmallIntegerField(default=1)
    girth_m = models.FloatField()
    height_m = models.FloatField(default=1.37)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="stem_measure_possible",
                condition=Q(girth_m__gt=0, girth_m__lte=20, height_m__gte=0, height_m__lte=3),
            ),
            models.CheckConstraint(name="stem_measure_counts_from_one", condition=Q(stem__gte=1)),
            models.UniqueConstraint(name="stem_measure_once", fields=["look", "stem"]),
        ]

    def __str__(self):
        return f"stem {self.stem}: {self.girth_m} m"


class Acceptance(models.Model):
    """What an acceptance look decided: the base on four sides, root flare, ties, yes or no."""

    class Base(models.TextChoices):
        WHOLE = "whole", _("whole")
        MARKED = "marked", _("marked or cut")
        HIDDEN = "hidden", _("could not see")

    class Flare(models.TextChoices):
        VISIBLE = "visible", _("visible")
        BURIED = "buried", _("buried")
        UNSURE = "unsure", _("not sure")

    class Ties(models.TextChoices):
        LOOSE = "loose", _("loose enough for two fingers")
        TIGHT = "tight", _("tight")
        NONE = "none", _("no ties")

    look = models.OneToOneField(Look, on_delete=models.CASCADE, related_name="acceptance")
    base_street = models.CharField(max_length=6, choices=Base.choices)
    base_path = models.CharField(max_length=6, choices=Base.choices)
    base_left = models.CharField(max_length=6, choices=Base.choices)
    base_right = models.CharField(max_length=6, choices=Base.choices)
    flare = models.CharField(max_length=7, choices=Flare.choices)
    ties = models.CharField(max_length=5, choices=Ties.choices)
    accepted = models.BooleanField()
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="acceptance_sides_known",
                condition=Q(base_street__in=["whole", "marked", "hidden"])
                & Q(base_path__in=["whole", "marked", "hidden"])
                & Q(base_left__in=["whole", "marked", "hidden"])
                & Q(base_right__in=["whole", "marked", "hidden"]),
            ),
            models.CheckConstraint(
                name="acceptance_flare_and_ties_known",
                condition=Q(
                    flare__in=["visible", "buried", "unsure"], ties__in=["loose", "tight", "none"]
                ),
            ),
            models.CheckConstraint(
                name="acceptance_refusal_has_reason", condition=Q(accepted=True) | ~Q(reason="")
            ),
        ]

    def __str__(self):
        return "accepted" if self.accepted else "refused"


class Happening(models.Model):
    """A dated event at one site, planting or tree; known causes are marked without blame.

    The kinds listed here are those a page offers; an import may bring others.
    """

    class Kind(models.TextChoices):
        MOWING = "mowing", _("mowing")
        NEW_CONTRACTOR = "new_contractor", _("another mowing contractor")
        STAKE_ON = "stake_on", _("stake or tie put on")
        STAKE_OFF = "stake_off", _("stake or tie taken off")
        PRUNING = "pruning", _("pruning")
        WATERING = "watering", _("watering")
        IRRIGATION_OFF = "irrigation_off", _("irrigation off")
        STORM = "storm", _("storm")
        HEAT = "heat", _("heat")
        FROST = "frost", _("frost")
        DIGGING = "digging", _("digging near the roots")
        OTHER = "other", _("something else")

    site = models.ForeignKey(
        Site, null=True, blank=True, on_delete=models.CASCADE, related_name="happenings"
    )
    planting = models.ForeignKey(
        Planting, null=True, blank=True, on_delete=models.CASCADE, related_name="happenings"
    )
    tree = models.ForeignKey(
        Tree, null=True, blank=True, on_delete=models.CASCADE, related_name="happenings"
    )
    kind = models.CharField(max_length=30)
    from_day = models.DateField()
    to_day = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    repeat_key = models.CharField(max_length=80, unique=True, null=True, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.CharField(max_length=60, blank=True)

    objects = HappeningQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="happening_has_one_place",
                condition=Q(site__isnull=False, planting__isnull=True, tree__isnull=True)
                | Q(site__isnull=True, planting__isnull=False, tree__isnull=True)
                | Q(site__isnull=True, planting__isnull=True, tree__isnull=False),
            ),
            models.CheckConstraint(
                name="happening_days_ordered", condition=Q(to_day__gte=F("from_day"))
            ),
            models.CheckConstraint(name="happening_has_kind", condition=~Q(kind="")),
        ]

    def __str__(self):
        return f"{self.kind} {self.from_day}"


class CareGiven(models.Model):
    """Care that a tree has had, on a day or within known bounds."""

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="care")
    care = models.CharField(max_length=40)
    given_from = models.DateField()
    given_to = models.DateField()
    given_precision = models.CharField(max_length=6, choices=Precision.choices)
    dose = models.CharField(max_length=120, blank=True)
    by_whom = models.CharField(max_length=80, blank=True)
    note = models.CharField(max_length=300, blank=True)
    repeat_key = models.CharField(max_length=80, unique=True, null=True, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.CharField(max_length=60, blank=True)

    objects = CareGivenQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["tree", "given_to"], name="care_by_tree")]
        constraints = [
            dated("given", "care_given_dated"),
            models.CheckConstraint(name="care_given_named", condition=~Q(care="")),
        ]

    def __str__(self):
        return f"{self.care} on {self.given_to}"
