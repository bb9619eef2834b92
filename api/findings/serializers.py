"""Findings as the interface shows them: counts, what they follow, and what staff said."""

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from survey.causes import finding_words as words
from survey.causes.models import Finding


class FindingOut(serializers.ModelSerializer):
    """One finding. `chance` is exact, `after_many` corrected for all questions of its run."""

    area = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    site = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    planting = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    said = serializers.SerializerMethodField(help_text="The finding in a sentence or two.")
    standing = serializers.SerializerMethodField(
        help_text="alone: its rivals show nothing; both: they do too; open: too little is known "
        "of them; cannot_tell: the two never stand apart."
    )
    elsewhere = serializers.SerializerMethodField(
        help_text="With the sign and looked at, among all other trees; null for sides and days."
    )

    class Meta:
        model = Finding
        fields = [
            "number",
            "area",
            "sign",
            "follows",
            "subject",
            "site",
            "planting",
            "said",
            "with_sign",
            "of_trees",
            "elsewhere",
            "standing",
            "chance",
            "after_many",
            "found_on",
            "weighed_on",
            "gone_on",
            "state",
            "reason",
        ]

    @extend_schema_field(serializers.CharField())
    def get_said(self, row: Finding) -> str:
        return words.heading(row, self.context["names"](row))

    @extend_schema_field(serializers.CharField())
    def get_standing(self, row: Finding) -> str:
        return row.facts.get("standing", "")

    @extend_schema_field(serializers.ListField(child=serializers.IntegerField(), allow_null=True))
    def get_elsewhere(self, row: Finding) -> list[int] | None:
        there = row.facts.get("there")
        return [there["with"], there["of"]] if there else None


class OneFindingOut(FindingOut):
    """One finding with its trees and everything it was weighed from."""

    trees = serializers.SlugRelatedField(slug_field="ref", many=True, read_only=True)
    evidence = serializers.SerializerMethodField(
        help_text="Counts, exact tests within strata, first looks; fields may be added."
    )

    class Meta(FindingOut.Meta):
        fields = [*FindingOut.Meta.fields, "trees", "evidence"]

    @extend_schema_field(serializers.DictField())
    def get_evidence(self, row: Finding) -> dict:
        return {name: told for name, told in row.facts.items() if name not in PRIVATE}


PRIVATE = frozenset({"judged", "earlier", "levels", "places"})
"""Who judged, and rows that name places by their keys instead of their references."""
