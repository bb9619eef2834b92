"""Places, plantings and trees, for anybody to read."""

from django.db.models import Count
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.permissions import AllowAny
from rest_framework.response import Response
from rest_framework.viewsets import ReadOnlyModelViewSet

from api.causes.serializers import CausesOut, causes_out
from api.causes.views import told_or_refused
from api.condition.serializers import WhyOut, WhyQuestion
from api.permissions import only
from api.trees.filters import PlantingFilter, SiteFilter, TreeFilter
from api.trees.saving import SavingOut, saving_row
from api.trees.serializers import LookOut, PlantingOut, SiteOut, TreeOut
from survey.causes.record import causes_of_tree
from survey.causes.saving import decision_of
from survey.causes.saving_words import said_of
from survey.condition.why import NotOnTheList, why
from survey.people.policy import may_look
from survey.trees.models import Planting, Site, Tree
from survey.workorders.holds import holds_in


class SiteViewSet(ReadOnlyModelViewSet):
    """Parks, streets, school yards: the places trees stand at."""

    queryset = Site.objects.none()
    serializer_class = SiteOut
    filterset_class = SiteFilter
    permission_classes = [AllowAny]
    lookup_field = "ref"

    def get_queryset(self):
        return Site.objects.select_related("area", "land_manager").annotate(
            tree_count=Count("trees")
        )


class PlantingViewSet(ReadOnlyModelViewSet):
    """The trees of one order or contract in one season."""

    queryset = Planting.objects.none()
    serializer_class = PlantingOut
    filterset_class = PlantingFilter
    permission_classes = [AllowAny]
    lookup_field = "ref"

    def get_queryset(self):
        return Planting.objects.select_related("area").annotate(tree_count=Count("trees"))


class TreeViewSet(ReadOnlyModelViewSet):
    """Trees on the list, each with its last trained look."""

    queryset = Tree.objects.none()
    serializer_class = TreeOut
    filterset_class = TreeFilter
    permission_classes = [AllowAny]
    lookup_field = "ref"

    def get_queryset(self):
        return Tree.objects.select_related(
            "area", "site", "planting", "replaces", "belief"
        ).with_last_trained_look()

    @extend_schema(
        responses=LookOut(many=True), parameters=[], filters=False, operation_id="trees_looks_list"
    )
    @action(detail=True, filterset_class=None, pagination_class=None)
    def looks(self, request, ref):
        """Every look at one tree, newest first, superseded ones left out."""
        tree = get_object_or_404(Tree, ref=ref)
        looks = tree.looks.standing_record().newest_first()
        looks = looks.prefetch_related("signs", "measures", "wounds")
        return Response(LookOut(looks, many=True).data)

    @extend_schema(responses=SavingOut, filters=False, operation_id="trees_saving")
    @action(detail=True, filterset_class=None, pagination_class=None)
    def saving(self, request, ref):
        """Dead, asleep or saveable: a decision aid with its reasons, and the bark lost."""
        tree = get_object_or_404(Tree.objects.select_related("area"), ref=ref)
        decision = decision_of(tree)
        return Response(SavingOut(saving_row(decision, said_of(decision))).data)

    @extend_schema(
        responses=WhyOut, parameters=[WhyQuestion], filters=False, operation_id="trees_why"
    )
    @action(detail=True, filterset_class=None, pagination_class=None)
    def why(self, request, ref):
        """What is believed of one tree, and how far each look and each silence moved it."""
        tree = get_object_or_404(Tree.objects.select_related("area"), ref=ref)
        asked = WhyQuestion(data=request.query_params.dict())
        asked.is_valid(raise_exception=True)
        try:
            told = why(tree, **asked.validated_data)
        except NotOnTheList:
            raise ValidationError(
                {"at": [_("The tree was not on the list yet in that month.")]}
            ) from None
        return Response(WhyOut(told).data)

    @extend_schema(responses=CausesOut, parameters=[], filters=False, operation_id="trees_causes")
    @action(
        detail=True,
        filterset_class=None,
        pagination_class=None,
        permission_classes=[only(may_look)],
    )
    def causes(self, request, ref):
        """The causes that fit what the record holds of one tree, and the one question left."""
        tree = get_object_or_404(Tree.objects.select_related("area", "site", "planting"), ref=ref)
        in_danger = bool(holds_in(tree.area).on_tree(tree))
        told, recorded = told_or_refused(lambda: causes_of_tree(tree, in_danger=in_danger))
        return Response(CausesOut(causes_out(told, recorded)).data)
