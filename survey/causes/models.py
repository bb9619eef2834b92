"""What is thought of causes: patterns over many trees, verdicts on one, rules of the place."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from survey.causes.queries import FindingQuerySet, LocalRuleQuerySet, VerdictQuerySet
from survey.names import new_ref
from survey.trees.models import Area, Look, Planting, Site, Tree


class Finding(models.Model):
    """One sign that many trees share, and what it follows. It accuses nobody.

    One row for a sign, what it follows and of which place, planting, supplier, species, side or
    stretch of time (`subject` names it). `facts` holds the counts that the sentence is made from.
    `evidence` is a stamp of the looks behind it: a judged finding opens again only when it differs
    from `judged_on`.
    """

    class Follows(models.TextChoices):
        SITE = "site", _("the site")
        PLANTING = "planting", _("the planting")
        SUPPLIER = "supplier", _("the supplier")
        SPECIES = "species", _("the species")
        SIDE = "side", _("the side of the trunk")
        TIME = "time", _("a stretch of time")

    class State(models.TextChoices):
        OPEN = "open", _("not yet judged")
        CONFIRMED = "confirmed", _("confirmed")
        WATCHED = "watched", _("watched")
        DISMISSED = "dismissed", _("dismissed")

    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="findings")
    number = models.PositiveIntegerField()
    sign = models.CharField(max_length=40)
    follows = models.CharField(max_length=8, choices=Follows.choices)
    subject = models.CharField(max_length=120)
    site = models.ForeignKey(
        Site, null=True, blank=True, on_delete=models.CASCADE, related_name="findings"
    )
    planting = models.ForeignKey(
        Planting, null=True, blank=True, on_delete=models.CASCADE, related_name="findings"
    )
    with_sign = models.PositiveIntegerField()
    of_trees = models.PositiveIntegerField()
    chance = models.FloatField()
    after_many = models.FloatField()
    facts = models.JSONField(default=dict)
    trees = models.ManyToManyField(Tree, blank=True, related_name="findings")
    evidence = models.CharField(max_length=64)
    found_on = models.DateField()
    weighed_on = models.DateField()
    gone_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=9, choices=State.choices, default=State.OPEN)
    reason = models.CharField(max_length=500, blank=True)
    judged_by = models.CharField(max_length=60, blank=True)
    judged_at = models.DateTimeField(null=True, blank=True)
    judged_on = models.CharField(max_length=64, blank=True)
    version = models.PositiveIntegerField(default=0)

    objects = FindingQuerySet.as_manager()

    class Meta:
        ordering = ["-found_on", "-number"]
        constraints = [
            models.UniqueConstraint(name="finding_number_once", fields=["area", "number"]),
            models.UniqueConstraint(
                name="finding_once", fields=["area", "sign", "follows", "subject"]
            ),
            models.CheckConstraint(name="finding_numbered_from_one", condition=Q(number__gte=1)),
            models.CheckConstraint(
                name="finding_names_sign_and_subject", condition=~Q(sign="") & ~Q(subject="")
            ),
            models.CheckConstraint(
                name="finding_follows_known",
                condition=Q(
                    follows__in=["site", "planting", "supplier", "species", "side", "time"]
                ),
            ),
            models.CheckConstraint(
                name="finding_counts_trees", condition=Q(with_sign__lte=F("of_trees"))
            ),
            models.CheckConstraint(
                name="finding_chances_are_chances",
                condition=Q(chance__gte=0, chance__lte=1, after_many__gte=0, after_many__lte=1),
            ),
            models.CheckConstraint(
                name="finding_state_known",
                condition=Q(state__in=["open", "confirmed", "watched", "dismissed"]),
            ),
            models.CheckConstraint(
                name="finding_judged_says_why_and_by_whom",
                condition=(
                    Q(state="open", judged_at__isnull=True)
                    | (
                        ~Q(state="open")
                        & Q(judged_at__isnull=False)
                        & ~Q(judged_by="")
                        & ~Q(reason="")
                    )
                ),
            ),
            models.CheckConstraint(
                name="finding_days_ordered", condition=Q(weighed_on__gte=F("found_on"))
            ),
        ]

    def __str__(self):
        return f"finding {self.number}"


class Verdict(models.Model):
    """A trained person's word that a cause was, or was not, behind a tree's trouble.

    Verdicts count how often the words *likely* and *possible* were right; `said` is the word that
    the tool gave at that moment, empty when the cause was not on its list.
    """

    class Was(models.TextChoices):
        CONFIRMED = "confirmed", _("confirmed")
        RULED_OUT = "ruled_out", _("ruled out")

    tree = models.ForeignKey(Tree, on_delete=models.CASCADE, related_name="verdicts")
    cause = models.CharField(max_length=40)
    was = models.CharField(max_length=9, choices=Was.choices)
    said = models.CharField(max_length=12, blank=True)
    reason = models.CharField(max_length=500)
    day = models.DateField()
    by = models.CharField(max_length=60)
    at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.CharField(max_length=60, blank=True)

    objects = VerdictQuerySet.as_manager()

    class Meta:
        ordering = ["-day", "-pk"]
        constraints = [
            models.UniqueConstraint(
                name="verdict_one_in_force",
                fields=["tree", "cause"],
                condition=Q(withdrawn_at__isnull=True),
            ),
            models.CheckConstraint(
                name="verdict_known", condition=Q(was__in=["confirmed", "ruled_out"])
            ),
            models.CheckConstraint(
                name="verdict_said_known",
                condition=Q(said__in=["", "likely", "possible", "unlikely", "cannot_tell"]),
            ),
            models.CheckConstraint(
                name="verdict_names_cause_reason_and_author",
                condition=~Q(cause="") & ~Q(reason="") & ~Q(by=""),
            ),
            models.CheckConstraint(
                name="verdict_withdrawn_names_who",
                condition=Q(withdrawn_at__isnull=True, withdrawn_by="")
                | (Q(withdrawn_at__isnull=False) & ~Q(withdrawn_by="")),
            ),
        ]

    def __str__(self):
        return f"{self.cause}: {self.was}"


class LocalRule(models.Model):
    """A rule or a source of this place, beside the handbook: proposed by one trained person,
    in force when a second one has approved it, and always marked *local* with its date.

    With `sign` and `weight` it also counts when causes are told apart.
    """

    class About(models.TextChoices):
        CAUSE = "cause", _("a cause")
        CARE = "care", _("a kind of care")
        SPECIES = "species", _("a species")
        SIGN = "sign", _("a sign")

    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="local_rules")
    ref = models.SlugField(max_length=12, unique=True, default=new_ref)
    about = models.CharField(max_length=7, choices=About.choices)
    code = models.CharField(max_length=40)
    text = models.CharField(max_length=500)
    text_es = models.CharField(max_length=500, blank=True)
    source = models.CharField(max_length=300)
    clue = models.CharField(max_length=40, blank=True)
    weight = models.SmallIntegerField(null=True, blank=True)
    proposed_by = models.CharField(max_length=60)
    proposed_at = models.DateTimeField()
    approved_by = models.CharField(max_length=60, blank=True)
    approved_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.CharField(max_length=60, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_because = models.CharField(max_length=300, blank=True)

    objects = LocalRuleQuerySet.as_manager()

    class Meta:
        ordering = ["about", "code", "proposed_at", "pk"]
        constraints = [
            models.CheckConstraint(
                name="local_rule_about_known",
                condition=Q(about__in=["cause", "care", "species", "sign"]),
            ),
            models.CheckConstraint(
                name="local_rule_says_what_and_whence",
                condition=~Q(code="") & ~Q(text="") & ~Q(source="") & ~Q(proposed_by=""),
            ),
            models.CheckConstraint(
                name="local_rule_weighs_a_clue_or_nothing",
                condition=Q(clue="", weight__isnull=True)
                | (
                    Q(about="cause", weight__isnull=False, weight__gte=-3, weight__lte=3)
                    & ~Q(clue="")
                    & ~Q(weight=0)
                ),
            ),
            models.CheckConstraint(
                name="local_rule_approved_by_a_second",
                condition=Q(approved_at__isnull=True, approved_by="")
                | (
                    Q(approved_at__isnull=False)
                    & ~Q(approved_by="")
                    & ~Q(approved_by=F("proposed_by"))
                ),
            ),
            models.CheckConstraint(
                name="local_rule_withdrawn_says_why",
                condition=Q(withdrawn_at__isnull=True, withdrawn_by="", withdrawn_because="")
                | (Q(withdrawn_at__isnull=False) & ~Q(withdrawn_by="") & ~Q(withdrawn_because="")),
            ),
        ]

    def __str__(self):
        return f"{self.about} {self.code}"


class ClueNoted(models.Model):
    """An answer to a check: a clue that is so, or is not, at one tree or at a whole site.

    The newest answer of a tree counts before the newest of its site.
    """

    tree = models.ForeignKey(
        Tree, null=True, blank=True, on_delete=models.CASCADE, related_name="clues"
    )
    site = models.ForeignKey(
        Site, null=True, blank=True, on_delete=models.CASCADE, related_name="clues"
    )
    clue = models.CharField(max_length=40)
    so = models.BooleanField()
    day = models.DateField()
    trained = models.BooleanField(default=False)
    look = models.ForeignKey(
        Look, null=True, blank=True, on_delete=models.CASCADE, related_name="clues"
    )
    note = models.CharField(max_length=300, blank=True)
    by = models.CharField(max_length=60)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-day", "-pk"]
        indexes = [
            models.Index(fields=["tree", "clue"], name="clue_by_tree"),
            models.Index(fields=["site", "clue"], name="clue_by_site"),
        ]
        constraints = [
            models.CheckConstraint(
                name="clue_at_a_tree_or_a_site",
                condition=Q(tree__isnull=False, site__isnull=True)
                | Q(tree__isnull=True, site__isnull=False),
            ),
            models.CheckConstraint(name="clue_named_and_signed", condition=~Q(clue="") & ~Q(by="")),
        ]

    def __str__(self):
        return f"{self.clue}: {self.so}"
