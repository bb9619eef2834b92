"""Causes as the interface shows them, and plain facts as it takes them."""

from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from survey.causes.differential import ABLE, Differential
from survey.causes.facts import Facts
from survey.causes.kinds import calendar_of
from survey.causes.record import Recorded
from survey.causes.telling import causes_said, label_of_cause, line_said, why_said, word_said
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.science.causes.records import WORDS, Witness

LONGEST_WORDS = 5000
MOST_CODES = 60


class Named(serializers.Field):
    """Codes of the handbook: a list of those that are so, or a table of true and false."""

    def to_internal_value(self, data):
        if isinstance(data, list) and all(isinstance(code, str) for code in data):
            data = dict.fromkeys(data, True)
        if not isinstance(data, dict) or not all(isinstance(so, bool) for so in data.values()):
            raise ValidationError([_("Give a list of codes, or a table of true and false.")])
        if len(data) > MOST_CODES:
            raise ValidationError([_("Give at most %d.") % MOST_CODES])
        return data

    def to_representation(self, value):
        return value


@extend_schema_field({"type": "object", "additionalProperties": {"type": "boolean"}})
class Codes(Named):
    pass


class FactsIntake(serializers.Serializer):
    """What is known of one tree on one day. All may be left out; nothing is guessed."""

    signs = Codes(required=False, help_text="Signs of the handbook.")
    clues = Codes(required=False, help_text="Other clues of the handbook.")
    extent = serializers.CharField(required=False, allow_blank=True, max_length=40)
    side = serializers.CharField(
        required=False,
        allow_blank=True,
        max_length=40,
        help_text="A side of the handbook, or a compass word: north, southwest.",
    )
    street_bearing = serializers.FloatField(required=False, min_value=0, max_value=360)
    month = serializers.IntegerField(required=False, help_text="1 to 12, where the tree stands.")
    latitude = serializers.FloatField(required=False, help_text="Degrees, the south negative.")
    season = serializers.CharField(required=False, allow_blank=True, max_length=10)
    species = serializers.CharField(required=False, allow_blank=True, max_length=40)
    age_years = serializers.FloatField(required=False, help_text="Years since it was planted.")
    leaf = serializers.ChoiceField(["full", "partial", "bare"], required=False)
    words = serializers.CharField(
        required=False,
        allow_blank=True,
        max_length=LONGEST_WORDS,
        help_text="A neighbor's own words, English or Spanish.",
    )
    seen_by = serializers.ChoiceField(["lay", "photo", "trained", "check"], default="lay")
    who = serializers.ChoiceField(
        sorted(ABLE), default="anyone", help_text="Who is to make the check that is asked for."
    )
    in_danger = serializers.BooleanField(
        default=False, help_text="Whether a danger is open: then nothing is asked."
    )

    def to_internal_value(self, data):
        if isinstance(data, dict) and (unknown := sorted(set(data) - set(self.fields))):
            known = ", ".join(self.fields)
            raise ValidationError(
                {name: [_("Unknown field. Known: %s.") % known] for name in unknown}
            )
        return super().to_internal_value(data)

    def validate_species(self, code):
        if code and code not in book().species:
            raise ValidationError([_("The handbook has no species called “%s”.") % code])
        return code

    def facts(self) -> Facts:
        """The facts, once they are valid in form; `read_facts` judges what they say."""
        given = dict(self.validated_data)
        for name in ("who", "in_danger"):
            given.pop(name)
        witness = Witness(given.pop("seen_by"), "the sender")
        latitude = given.get("latitude")
        code = given.pop("species", "")
        if code:
            hemisphere = None if latitude is None else "south" if latitude < 0 else "north"
            given["species"] = calendar_of(code, hemisphere)
        return Facts(**given, witness=witness)


class LineOut(serializers.Serializer):
    clue = serializers.CharField()
    so = serializers.BooleanField(help_text="Whether it is so; else it was found not to be so.")
    says = serializers.CharField()
    note = serializers.CharField(help_text="Whence it is known, and what takes from it.")
    local = serializers.BooleanField(help_text="Whether a rule of the place weighs it.")


class CauseOut(serializers.Serializer):
    cause = serializers.CharField()
    label = serializers.CharField()
    word = serializers.ChoiceField(list(WORDS))
    says = serializers.CharField(help_text="The word in the reader's language.")
    why = serializers.CharField(help_text="What holds the word down; empty if nothing does.")
    speaks_for = LineOut(many=True)
    speaks_against = LineOut(many=True)


class QuestionOut(serializers.Serializer):
    """The one question: what either answer would change."""

    check = serializers.CharField()
    asks = serializers.CharField()
    how = serializers.CharField()
    who = serializers.CharField(help_text="Who may make it.")
    yes = serializers.CharField()
    no = serializers.CharField()
    after_yes = serializers.CharField()
    after_no = serializers.CharField()


class JudgedOut(serializers.Serializer):
    """What a trained person found of a cause at this tree. Nobody is named."""

    cause = serializers.CharField()
    label = serializers.CharField()
    was = serializers.ChoiceField(["confirmed", "ruled_out"])
    day = serializers.DateField()
    until = serializers.DateField(help_text="The last day on which it speaks.")


class CausesOut(serializers.Serializer):
    """Causes in words, several at once; no numbers. Foremost first, without those that nothing
    seen speaks for or against. What was confirmed or ruled out stands apart, in `judged`: the rest
    is about the other causes."""

    judged = JudgedOut(many=True)
    word = serializers.ChoiceField(["likely", "possible", "cannot_tell"])
    summary = serializers.CharField()
    asleep = serializers.BooleanField(help_text="Whether it is bare because its kind is bare now.")
    causes = CauseOut(many=True)
    question = QuestionOut(allow_null=True)
    notes = serializers.ListField(child=serializers.CharField())
    heard = serializers.ListField(
        child=serializers.CharField(), help_text="Clues that were read out of the words."
    )


def causes_out(told: Differential, recorded: Recorded | None = None) -> dict:
    """Everything of one answer, as `CausesOut` has it."""
    spoken = causes_said(told, recorded)
    shown = [
        one
        for one in told.answer.causes
        if one.cause not in told.rulings
        and (
            any(not line.context for line in (*one.speaks_for, *one.speaks_against))
            or one.word != "cannot_tell"
        )
    ]

    def lines(of):
        return [
            {
                "clue": line.clue,
                "so": line.so,
                "says": (in_words := line_said(line, recorded)).says,
                "note": in_words.note,
                "local": line.local,
            }
            for line in of
        ]

    question = spoken.question
    return {
        "judged": [
            {
                "cause": code,
                "label": label_of_cause(code),
                "was": "confirmed" if ruling.confirmed else "ruled_out",
                "day": ruling.day,
                "until": ruling.until,
            }
            for code, ruling in told.rulings.items()
        ],
        "word": told.named[0].word if told.named else "cannot_tell",
        "summary": spoken.summary,
        "asleep": told.asleep is not None,
        "causes": [
            {
                "cause": one.cause,
                "label": str(said(book().causes[one.cause].label)),
                "word": one.word,
                "says": word_said(one.word),
                "why": why_said(one),
                "speaks_for": lines(one.speaks_for),
                "speaks_against": lines(one.speaks_against),
            }
            for one in shown
        ],
        "question": None
        if question is None
        else {
            "check": question.code,
            "asks": question.asks,
            "how": question.how,
            "who": question.who,
            "yes": question.yes,
            "no": question.no,
            "after_yes": question.after_yes,
            "after_no": question.after_no,
        },
        "notes": list(told.read.notes),
        "heard": [one.clue for one in told.read.heard],
    }
