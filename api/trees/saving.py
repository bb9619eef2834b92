"""Dead, asleep or saveable, and lost bark, as the interface shows them."""

from rest_framework import serializers

from survey.causes.wound_words import how_said, outlook_told
from survey.trees.measured import WoundMeasure


class WoundMeasureOut(serializers.ModelSerializer):
    """One wound of one look. Hours of the clock face: 12 is the street, clockwise from above."""

    class Meta:
        model = WoundMeasure
        fields = [
            "stem",
            "number",
            "girth_m",
            "width_m",
            "from_hour",
            "to_hour",
            "low_edge_m",
            "length_m",
            "wood_shows",
            "rim",
        ]


class ToldOut(serializers.Serializer):
    code = serializers.CharField()
    text = serializers.CharField()
    basis = serializers.CharField(help_text="Sources and marks it rests on.")


class NeedOut(ToldOut):
    from_day = serializers.DateField()
    trained = serializers.BooleanField()


class GirdledOut(serializers.Serializer):
    """The share of the girth without live bark, 0 to 1, as a range."""

    stem = serializers.IntegerField(allow_null=True, help_text="Null: all stems together.")
    low = serializers.FloatField()
    high = serializers.FloatField()
    how = serializers.CharField(help_text="none, tape, clock, mixed or lay.")
    how_said = serializers.CharField()
    band_low = serializers.CharField()
    band_high = serializers.CharField()
    worse = serializers.ListField(child=serializers.CharField())
    adjusted_low = serializers.CharField()
    adjusted_high = serializers.CharField()
    told = ToldOut(many=True)


class SavingOut(serializers.Serializer):
    """A decision aid, never a verdict: what can be said of a tree on a day, and why."""

    day = serializers.DateField()
    state = serializers.CharField(
        help_text="gone, asleep, cannot_tell, alive, top_dead or dead (two visits)."
    )
    sentence = serializers.CharField()
    seen_on = serializers.DateField(allow_null=True)
    waits_until = serializers.DateField(allow_null=True)
    look_by = serializers.DateField(allow_null=True)
    why = ToldOut(many=True)
    contradictions = ToldOut(many=True)
    needs = NeedOut(many=True)
    choice = serializers.CharField(help_text="nothing_to_do, save, watch or replace.")
    reasons = ToldOut(many=True)
    years_lost = serializers.ListField(
        child=serializers.FloatField(),
        help_text="Least and most years that replacing would cost (own rule of this project).",
    )
    plant_from = serializers.DateField(allow_null=True)
    bark = GirdledOut(many=True)
    measured_on = serializers.DateField(allow_null=True)


def girdled_row(stem: int | None, girdled, outlook) -> dict:
    return {
        "stem": stem,
        "low": girdled.low,
        "high": girdled.high,
        "how": girdled.how,
        "how_said": how_said(girdled),
        "band_low": outlook.low,
        "band_high": outlook.high,
        "worse": list(outlook.worse),
        "adjusted_low": outlook.adjusted_low,
        "adjusted_high": outlook.adjusted_high,
        "told": outlook_told(outlook),
    }


def saving_row(decision, said) -> dict:
    """A decision and its words as one record."""
    state, choice, wounds = decision.state, decision.choice, decision.wounds
    needs = dict.fromkeys([*state.needs, *choice.needs])
    return {
        "day": decision.day,
        "state": state.name,
        "sentence": said.sentence,
        "seen_on": state.seen_on,
        "waits_until": state.waits_until,
        "look_by": state.look_by,
        "why": said.why,
        "contradictions": [*said.contradictions, *said.settled],
        "needs": [
            {
                "code": told.code,
                "text": told.text,
                "basis": told.basis,
                "from_day": need.from_day,
                "trained": need.trained,
            }
            for need, told in zip(needs, said.needs, strict=True)
        ],
        "choice": choice.verdict,
        "reasons": said.reasons,
        "years_lost": list(choice.years_lost),
        "plant_from": choice.plant_from,
        "bark": [
            girdled_row(None, wounds.girdled, wounds.outlook),
            *(girdled_row(stem.stem, stem.girdled, stem.outlook) for stem in wounds.stems),
        ],
        "measured_on": wounds.look.day if wounds.look else None,
    }
