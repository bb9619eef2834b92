"""Tables to take away: streamed, and the same bytes for the same data."""

from django.http import StreamingHttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.exceptions import ValidationError
from rest_framework.renderers import JSONRenderer
from rest_framework.views import APIView

from api.permissions import only
from api.survival.filters import SurvivalFilter
from survey.exports.survival import SURVIVAL, survival_rows
from survey.exports.writing import csv_lines
from survey.people.policy import may_read_survival
from survey.survival.models import Group

CSV = "text/csv; charset=utf-8; header=present"


class SurvivalCsvFilter(SurvivalFilter):
    also_known = frozenset({"for"})


class SurvivalCsv(APIView):
    """The survival table."""

    permission_classes = [only(may_read_survival)]

    def perform_content_negotiation(self, request, force=False):
        """The table is streamed past the renderers, whatever is asked for; errors are JSON."""
        return JSONRenderer(), JSONRenderer.media_type

    @extend_schema(
        operation_id="survival_csv",
        parameters=[
            OpenApiParameter("by", str, required=True, enum=Group.By.values),
            OpenApiParameter("area", str),
            OpenApiParameter("key", str),
            OpenApiParameter(
                "reading",
                str,
                enum=Group.Reading.values,
                description="One reading only; both where nothing is said.",
            ),
            OpenApiParameter(
                "for",
                str,
                enum=["programs", "spreadsheets"],
                description="spreadsheets: with a byte order mark.",
            ),
        ],
        responses={(200, "text/csv"): OpenApiTypes.STR},
    )
    def get(self, request):
        """One row for each group, reading, curve and age; columns as in the data dictionary."""
        if "by" not in request.GET:
            raise ValidationError({"by": f"Say by what: {', '.join(Group.By.values)}."})
        reader = request.GET.get("for", "programs")
        if reader not in ("programs", "spreadsheets"):
            raise ValidationError({"for": "Either programs or spreadsheets."})
        asked = SurvivalCsvFilter(request.GET, queryset=Group.objects.all())
        if not asked.is_valid():
            raise ValidationError(asked.errors)
        lines = csv_lines(
            SURVIVAL, survival_rows(asked.qs), for_spreadsheets=reader == "spreadsheets"
        )
        name = f"survival-by-{request.GET['by']}.csv"
        return StreamingHttpResponse(
            lines,
            content_type=CSV,
            headers={"Content-Disposition": f'attachment; filename="{name}"'},
        )
