"""What is believed of a tree, and why, as the interface shows it. Nobody is ever in it."""

from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from survey.condition.models import STATES, Belief, Learning
from survey.condition.why import CLAIMS


class SharesOut(serializers.Serializer):
    """How likely each condition is; the six add up to 1."""

    thriving = serializers.FloatField()
    holding = serializers.FloatField()
    slipping = serializers.FloatField()
    failing = serializers.FloatField()
    dead = serializers.FloatField(help_text="Dead and still standing.")
    gone = serializers.FloatField(help_text="No tree there any more.")


class BeliefOut(serializers.ModelSerializer):
    as_of = serializers.DateField(source="month", help_text="First day of the month believed of.")
    shares = SharesOut(source="*")
    lost = serializers.FloatField(help_text="How likely it is dead or gone: the sum of the two.")
    died_from = serializers.DateField(
        allow_null=True,
        help_text="The first of the months in which it died with 9 in 10; empty below 1 in 20.",
    )
    died_about = serializers.DateField(
        allow_null=True, help_text="As likely before this month as after it."
    )
    died_to = serializers.DateField(allow_null=True, help_text="The last of those months.")
    settle = serializers.CharField(
        help_text="The look that would tell most: look, scratch, leaf, photo, or empty."
    )
    settle_month = serializers.DateField(
        allow_null=True, help_text="The month in which to take that look."
    )
    looks = serializers.IntegerField(help_text="Looks weighed; one an observer and month.")
    version = serializers.IntegerField(
        source="learning", help_text="Number of what was learnt in the town; see learnings."
    )

    class Meta:
        model = Belief
        fields = [
            "as_of",
            "shares",
            "lost",
            "died_from",
            "died_about",
            "died_to",
            "settle",
            "settle_month",
            "looks",
            "version",
        ]


class LearningOut(serializers.ModelSerializer):
    area = serializers.SlugRelatedField(slug_field="ref", read_only=True)

    class Meta:
        model = Learning
        fields = ["area", "number", "method", "as_of", "trees", "looks", "learnt_at"]


class WhyQuestion(serializers.Serializer):
    """What to explain. Refuses words it does not know, as every filter does."""

    claim = serializers.ChoiceField(
        sorted(CLAIMS), default="lost", help_text="lost: dead or gone; worse: slipping or worse."
    )
    at = serializers.DateField(
        required=False, help_text="Look back to the end of this day's month."
    )

    def to_internal_value(self, data):
        if unknown := sorted(set(data) - set(self.fields)):
            known = ", ".join(self.fields)
            raise ValidationError(
                {name: [f"Unknown parameter. Known: {known}."] for name in unknown}
            )
        return super().to_internal_value(data)


class PartOut(serializers.Serializer):
    name = serializers.CharField()
    words = serializers.CharField()
    points = serializers.FloatField()


class RowOut(serializers.Serializer):
    kind = serializers.ChoiceField(["looks", "decision", "departure", "removal", "between"])
    since = serializers.DateField()
    day = serializers.DateField()
    title = serializers.CharField()
    words = serializers.CharField()
    points = serializers.FloatField(help_text="10 times the decimal logarithm of the odds' factor.")
    strength = serializers.ChoiceField(["nothing", "little", "some", "much", "settles"])
    share = serializers.FloatField(help_text="How likely the claim was after this.")
    without = serializers.FloatField(
        allow_null=True, help_text="How likely it would be now without these looks."
    )
    looks = serializers.IntegerField()
    look_ids = serializers.ListField(
        child=serializers.IntegerField(), help_text="The looks at the tree behind this row."
    )
    parts = PartOut(many=True)


class MonthOut(serializers.Serializer):
    month = serializers.DateField()
    shares = serializers.SerializerMethodField()
    claim = serializers.FloatField()

    def get_shares(self, month) -> dict[str, float]:
        return dict(zip(STATES, month.shares, strict=True))


class DiedOut(serializers.Serializer):
    first = serializers.DateField()
    about = serializers.DateField()
    last = serializers.DateField()


class WhyOut(serializers.Serializer):
    """A claim about one tree, and everything that moved it; the points add up."""

    tree = serializers.CharField(source="tree.ref")
    claim = serializers.ChoiceField(sorted(CLAIMS))
    as_of = serializers.DateField(source="month")
    finding = serializers.CharField(help_text="What is believed, as a sentence.")
    hinge = serializers.CharField(help_text="What most of it rests on; empty if on nothing alone.")
    share = serializers.FloatField(help_text="How likely the claim is.")
    low = serializers.FloatField(help_text="Odds half as high.")
    high = serializers.FloatField(help_text="Odds twice as high.")
    died = DiedOut(allow_null=True)
    start = serializers.FloatField(help_text="Points in the month it came on the list.")
    start_month = serializers.DateField()
    start_words = serializers.CharField()
    points = serializers.FloatField(help_text="Points now: start plus those of all rows.")
    rows = RowOut(many=True)
    notes = serializers.ListField(child=serializers.CharField())
    months = MonthOut(source="strip", many=True)
    basis = serializers.CharField()
    version = serializers.IntegerField(source="learning", allow_null=True)
