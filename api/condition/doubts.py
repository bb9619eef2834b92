"""Which trees to see so that most of the doubt is settled, for whoever may walk."""

from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.response import Response
from rest_framework.views import APIView

from api.permissions import only
from survey.condition.doubt_walks import TIMES
from survey.people.policy import may_look
from survey.trees.models import Area, Site
from survey.workorders.doubts import doubts_to_settle


class DoubtsQuestion(serializers.Serializer):
    """How long, and where. Refuses words it does not know, as every filter does."""

    minutes = serializers.ChoiceField(
        [(str(minutes), str(minutes)) for minutes in TIMES],
        default="60",
        help_text="How long the walk may take, in minutes, with the way there.",
    )
    site = serializers.CharField(
        required=False, max_length=100, help_text="Short name of the one site to walk."
    )
    area = serializers.CharField(
        required=False, max_length=100, help_text="Short name of a town; the home one without."
    )

    def to_internal_value(self, data):
        if unknown := sorted(set(data) - set(self.fields)):
            known = ", ".join(self.fields)
            raise ValidationError(
                {name: [_("Unknown parameter. Known: %s.") % known] for name in unknown}
            )
        return super().to_internal_value(data)

    def validate(self, told):
        """The town and the site by their names."""
        areas = (
            Area.objects.filter(ref=told["area"])
            if "area" in told
            else Area.objects.filter(is_home=True)
        )
        area = areas.first()
        if area is None:
            raise ValidationError({"area": [_("No such town.")]})
        site = Site.objects.filter(area=area, ref=told["site"]).first() if "site" in told else None
        if "site" in told and site is None:
            raise ValidationError({"site": [_("No such site in this town.")]})
        return {"area": area, "minutes": int(told["minutes"]), "site": site}


class StopOut(serializers.Serializer):
    tree = serializers.CharField(source="tree.ref")
    tag = serializers.CharField(source="tree.tag")
    look = serializers.ChoiceField(
        ["look", "scratch"], help_text="scratch: a look with a scratch test on a twig."
    )


class SiteDoubtsOut(serializers.Serializer):
    site = serializers.CharField(source="site.ref")
    name = serializers.CharField(source="site.name")
    minutes = serializers.FloatField(help_text="With the way there.")
    listed = serializers.IntegerField(help_text="Trees of which one look now would tell something.")
    unsure = serializers.IntegerField(
        help_text="Those of them of which nobody is sure, with 19 in 20, whether they are alive."
    )
    settled = serializers.FloatField(
        help_text="Of how many of these one is expected to be sure after the walk."
    )
    stops = StopOut(many=True, help_text="In walking order.")


class LaterOut(serializers.Serializer):
    """Trees of which a look now would tell little."""

    month = serializers.DateField(help_text="First day of the month to wait for.")
    trees = serializers.IntegerField()
    at_least = serializers.BooleanField(help_text="Whether there are more than were counted.")
    first = serializers.ListField(
        child=serializers.CharField(), source="refs", help_text="The most telling."
    )


class DoubtsOut(serializers.Serializer):
    area = serializers.CharField()
    as_of = serializers.DateField()
    minutes = serializers.FloatField(help_text="What the walk takes.")
    closed = serializers.BooleanField(
        help_text="Whether the site that was asked for is closed for danger, or a part of it."
    )
    dangers_without_place = serializers.IntegerField(
        help_text="Open dangers that nobody could find the place of: keep away from what fits."
    )
    sites = SiteDoubtsOut(many=True, help_text="In the order in which to walk.")
    later = LaterOut(many=True)
    photos = serializers.ListField(
        child=serializers.CharField(), help_text="Trees that a neighbor's photo would settle."
    )


class DoubtsView(APIView):
    """A walk to the trees of which one look would tell most, in the time there is.

    Sites with an open danger are left out, and so is what is believed of each tree: whoever goes
    should see it with their own eyes.
    """

    permission_classes = [only(may_look)]

    @extend_schema(
        parameters=[DoubtsQuestion], responses=DoubtsOut, operation_id="walks_doubts_retrieve"
    )
    def get(self, request):
        asked = DoubtsQuestion(data=request.query_params.dict())
        asked.is_valid(raise_exception=True)
        area = asked.validated_data["area"]
        found = doubts_to_settle(**asked.validated_data)
        told = {
            "area": area.ref,
            "as_of": area.today(),
            "minutes": found.walk.minutes,
            "closed": found.closed,
            "dangers_without_place": len(found.unplaced),
            "sites": found.walk.sites,
            "later": [
                {
                    "month": one.month,
                    "trees": one.trees,
                    "at_least": one.at_least,
                    "refs": [tree.ref for tree in one.named],
                }
                for one in found.later
            ],
            "photos": [tree.ref for tree in found.photos],
        }
        return Response(DoubtsOut(told).data)
