"""Survival of plantings and other groups, for anybody with an account."""

from rest_framework.viewsets import ReadOnlyModelViewSet

from api.permissions import only
from api.survival.filters import SurvivalFilter
from api.survival.serializers import GroupOut
from survey.people.policy import may_read_survival
from survey.survival.models import Group


class SurvivalViewSet(ReadOnlyModelViewSet):
    """Each group with its counts and its figures: the rate such trees have, with limits.

    A list that does not say which reading it wants is of verified looks only.
    """

    queryset = Group.objects.none()
    serializer_class = GroupOut
    filterset_class = SurvivalFilter
    permission_classes = [only(may_read_survival)]

    def get_queryset(self):
        groups = Group.objects.select_related("area").prefetch_related("figures")
        if self.action == "list" and not self.request.query_params.get("reading"):
            return groups.verified()
        return groups
