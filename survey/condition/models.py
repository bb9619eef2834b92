"""What we believe of each tree and site, what was learnt to believe it, and who overruled it."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from survey.condition.queries import (
    BeliefQuerySet,
    LearningQuerySet,
    OutlookQuerySet,
    OverrulingQuerySet,
    SiteMonthQuerySet,
    TurnQuerySet,
)
from survey.people.models import Observer
from survey.trees.models import Area, Site, Tree

STATES = ["thriving", "holding", "slipping", "failing", "dead", "gone"]


class State(models.TextChoices):
    """A tree's condition as it is believed: the five of a look, and gone."""

    THRIVING = "thriving", _("thriving")
    HOLDING = "holding", _("holding")
    SLIPPING = "slipping", _("slipping")
    FAILING = "failing", _("failing")
    DEAD = "dead", _("dead")
    GONE = "gone", _("gone")


class Learning(models.Model):
    """What was learnt from one area's whole record: the version that beliefs rest on.

    `learnt` is what `Learnt.as_dict` gives, without the observers, whose weights have rows of
    their own; `names` holds the numbers of the sites and plantings it tells of, in its order.
    `number` counts up in each area; `anew` says that learning began from what is usual.
    `between_rounds` is what sites of this area usually do between two walks (`Usual`).
    """

    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="learnings")
    number = models.PositiveIntegerField()
    method = models.CharField(max_length=40)
    as_of = models.DateField()
    learnt = models.JSONField()
    names = models.JSONField()
    between_rounds = models.JSONField()
    trees = models.PositiveIntegerField()
    looks = models.PositiveIntegerField()
    anew = models.BooleanField()
    learnt_at = models.DateTimeField()

    objects = LearningQuerySet.as_manager()

    class Meta:
        ordering = ["area", "-number"]
        constraints = [
            models.UniqueConstraint(name="learning_numbered_in_area", fields=["area", "number"]),
            models.CheckConstraint(name="learning_counts_from_one", condition=Q(number__gte=1)),
        ]

    def __str__(self):
        return f"{self.area}, version {self.number}"


class Weight(models.Model):
    """How much a look of one observer counts in an area, from 0 to 1: for staff, never ranked.

    It mixes skill, care and having looked at the right tree, so it judges nobody. `kind` is what
    the observer was at those looks, a word of KINDS, so a volunteer has one weight from before the
    training and one from after it; `usual` is where that kind begins. `noise` holds the
    shares of words, in the order of STATES, that they use whatever the tree is like.
    """

    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="weights")
    observer = models.ForeignKey(Observer, on_delete=models.CASCADE, related_name="weights")
    kind = models.CharField(max_length=9)
    weight = models.FloatField()
    usual = models.FloatField()
    looks = models.PositiveIntegerField()
    noise = models.JSONField()
    learning = models.PositiveIntegerField()

    class Meta:
        ordering = ["area", "observer"]
        constraints = [
            models.UniqueConstraint(
                name="weight_once_an_area", fields=["area", "observer", "kind"]
            ),
            models.CheckConstraint(
                name="weight_kind_known", condition=Q(kind__in=["resident", "volunteer", "staff"])
            ),
            models.CheckConstraint(
                name="weight_between_0_and_1",
                condition=Q(weight__gt=0, weight__lt=1, usual__gt=0, usual__lt=1),
            ),
        ]

    def __str__(self):
        return f"{self.observer}: {self.weight:.2f}"


class Belief(models.Model):
    """What is believed of one tree in its newest month; earlier months are worked out when asked.

    The six shares add up to 1. The days of death are first days of months, given only when the
    tree is more likely lost than one in twenty. `evidence` is a digest of all that was read, and
    `learning` the number of the version it rests on. `settle` is the look that would tell most.
    """

    class Settle(models.TextChoices):
        NOTHING = "", _("nothing in doubt")
        LOOK = "look", _("a trained look now")
        SCRATCH = "scratch", _("a trained look with a scratch test now")
        LEAF = "leaf", _("a trained look once it should be in leaf")
        PHOTO = "photo", _("a photo from a neighbor")

    tree = models.OneToOneField(
        Tree, on_delete=models.CASCADE, related_name="belief", primary_key=True
    )
    month = models.DateField()
    thriving = models.FloatField()
    holding = models.FloatField()
    slipping = models.FloatField()
    failing = models.FloatField()
    dead = models.FloatField()
    gone = models.FloatField()
    lost = models.FloatField(db_index=True)
    died_from = models.DateField(null=True, blank=True)
    died_about = models.DateField(null=True, blank=True)
    died_to = models.DateField(null=True, blank=True)
    settle = models.CharField(max_length=8, choices=Settle.choices, blank=True)
    settle_month = models.DateField(null=True, blank=True)
    settle_gain = models.FloatField(default=0, db_index=True)
    looks = models.PositiveIntegerField()
    evidence = models.CharField(max_length=64)
    learning = models.PositiveIntegerField()
    computed_at = models.DateTimeField()

    objects = BeliefQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="belief_shares_are_shares",
                condition=Q(
                    thriving__gte=0,
                    holding__gte=0,
                    slipping__gte=0,
                    failing__gte=0,
                    dead__gte=0,
                    gone__gte=0,
                    lost__gte=0,
                    lost__lte=1.000001,
                ),
            ),
            models.CheckConstraint(
                name="belief_death_dated_whole",
                condition=Q(died_from=None, died_about=None, died_to=None)
                | Q(
                    died_from__isnull=False,
                    died_about__isnull=False,
                    died_to__isnull=False,
                    died_about__gte=F("died_from"),
                    died_to__gte=F("died_about"),
                ),
            ),
            models.CheckConstraint(name="belief_month_first_day", condition=Q(month__day=1)),
            models.CheckConstraint(
                name="belief_settle_known",
                condition=Q(settle__in=["", "look", "scratch", "leaf", "photo"]),
            ),
        ]

    def __str__(self):
        return f"{self.tree}: {self.likeliest}"

    @property
    def shares(self) -> list[float]:
        """The six shares, in the order of STATES."""
        return [getattr(self, name) for name in STATES]

    @property
    def likeliest(self) -> str:
        return max(STATES, key=lambda name: getattr(self, name))


class Overruling(models.Model):
    """An authorised person lays down a tree's condition on a day, with a reason.

    It enters the evidence as a look of the strongest kind. It is never edited: it is withdrawn,
    with a reason, and then counts no more.
    """

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="overrulings")
    state = models.CharField(max_length=8, choices=State.choices)
    day = models.DateField()
    reason = models.CharField(max_length=400)
    by_key = models.CharField(max_length=80)
    by_name = models.CharField(max_length=80)
    at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.CharField(max_length=80, blank=True)
    withdrawn_name = models.CharField(max_length=80, blank=True)
    withdrawn_reason = models.CharField(max_length=400, blank=True)

    objects = OverrulingQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(name="overruling_state_known", condition=Q(state__in=STATES)),
            models.CheckConstraint(
                name="overruling_has_reason_and_author", condition=~Q(reason="") & ~Q(by_key="")
            ),
            models.UniqueConstraint(
                name="overruling_stands_once_a_tree",
                fields=["tree"],
                condition=Q(withdrawn_at=None),
            ),
            models.CheckConstraint(
                name="overruling_withdrawn_whole",
                condition=Q(withdrawn_at=None, withdrawn_by="", withdrawn_reason="")
                | Q(withdrawn_at__isnull=False) & ~Q(withdrawn_by="") & ~Q(withdrawn_reason=""),
            ),
        ]

    def __str__(self):
        return f"{self.tree} is {self.state} on {self.day}"


class Outlook(models.Model):
    """Of 100 trees like those of one site, planting or species: how many should still stand.

    `months` holds one list a month: first day, outlook, low, high, standing, trees, looks,
    surveyed, and the six shares. `rounds` holds the walk surveys as they were made: month,
    outlook by the labels alone, its error, trees, looks. The newest month stands in columns.
    """

    class By(models.TextChoices):
        SITE = "site", _("site")
        PLANTING = "planting", _("planting")
        SPECIES = "species", _("species")

    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="outlooks")
    by = models.CharField(max_length=8, choices=By.choices)
    key = models.CharField(max_length=80)
    label = models.CharField(max_length=120)
    month = models.DateField()
    outlook = models.FloatField()
    low = models.FloatField()
    high = models.FloatField()
    trees = models.PositiveIntegerField()
    standing = models.PositiveIntegerField()
    looks_in_year = models.PositiveIntegerField()
    surveyed = models.BooleanField()
    months = models.JSONField()
    rounds = models.JSONField(default=list, blank=True)
    learning = models.PositiveIntegerField()
    computed_at = models.DateTimeField()

    objects = OutlookQuerySet.as_manager()

    class Meta:
        ordering = ["area", "by", "label", "key"]
        constraints = [
            models.UniqueConstraint(name="outlook_once", fields=["area", "by", "key"]),
            models.CheckConstraint(
                name="outlook_by_known", condition=Q(by__in=["site", "planting", "species"])
            ),
            models.CheckConstraint(
                name="outlook_in_its_band",
                condition=Q(
                    low__gte=0, outlook__gte=F("low"), high__gte=F("outlook"), high__lte=100
                ),
            ),
            models.CheckConstraint(name="outlook_month_first_day", condition=Q(month__day=1)),
        ]

    def __str__(self):
        return f"{self.label}: {self.outlook:.0f}"


class Turn(models.Model):
    """A site turned down: since when, by how much, by which test, and which trees drive it.

    `driven_by` lists short names of trees with their outlook before and after. It stands until
    the test no longer says so (`over_on`) or somebody puts it aside with a reason.
    """

    class Kind(models.TextChoices):
        TREND = "trend", _("going down little by little")
        STEP = "step", _("went down at once")

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="turns")
    kind = models.CharField(max_length=5, choices=Kind.choices)
    since = models.DateField()
    before = models.FloatField()
    after = models.FloatField()
    p = models.FloatField()
    rounds = models.PositiveIntegerField()
    looks = models.PositiveIntegerField()
    driven_by = models.JSONField(default=list, blank=True)
    found_on = models.DateField()
    over_on = models.DateField(null=True, blank=True)
    put_aside_at = models.DateTimeField(null=True, blank=True)
    put_aside_by = models.CharField(max_length=80, blank=True)
    put_aside_reason = models.CharField(max_length=400, blank=True)

    objects = TurnQuerySet.as_manager()

    class Meta:
        ordering = ["-found_on", "-pk"]
        constraints = [
            models.CheckConstraint(name="turn_kind_known", condition=Q(kind__in=["trend", "step"])),
            models.CheckConstraint(name="turn_p_is_a_share", condition=Q(p__gte=0, p__lte=1)),
            models.UniqueConstraint(
                name="turn_stands_once_a_site", fields=["site"], condition=Q(over_on=None)
            ),
            models.CheckConstraint(
                name="turn_put_aside_whole",
                condition=Q(put_aside_at=None, put_aside_by="", put_aside_reason="")
                | Q(put_aside_at__isnull=False) & ~Q(put_aside_by="") & ~Q(put_aside_reason=""),
            ),
        ]

    def __str__(self):
        return f"{self.site} since {self.since:%Y-%m}"


class SiteMonth(models.Model):
    """At the end of one month: a site's trees by the condition of their last trained look.

    Only trees with a trained look in the twelve months before count; `n` is how many.
    """

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="months")
    month = models.DateField()
    thriving = models.PositiveIntegerField()
    holding = models.PositiveIntegerField()
    slipping = models.PositiveIntegerField()
    failing = models.PositiveIntegerField()
    dead = models.PositiveIntegerField()
    n = models.PositiveIntegerField()
    standing = models.PositiveIntegerField()
    looks = models.PositiveIntegerField()

    objects = SiteMonthQuerySet.as_manager()

    class Meta:
        ordering = ["site", "month"]
        constraints = [
            models.UniqueConstraint(name="site_month_once", fields=["site", "month"]),
            models.CheckConstraint(name="site_month_first_day", condition=Q(month__day=1)),
            models.CheckConstraint(
                name="site_month_adds_up",
                condition=Q(
                    n=F("thriving") + F("holding") + F("slipping") + F("failing") + F("dead")
                ),
            ),
        ]

    def __str__(self):
        return f"{self.site} {self.month:%Y-%m}"
