"""Causes told apart from plain facts: for anybody, without the database."""

from drf_spectacular.utils import extend_schema
from rest_framework.exceptions import ValidationError
from rest_framework.permissions import AllowAny
from rest_framework.response import Response
from rest_framework.views import APIView

from api.causes.serializers import CausesOut, FactsIntake, causes_out
from api.throttles import CausesFromOnePlace
from survey.causes.conflicts import BadFacts
from survey.causes.differential import tell_apart


class CausesView(APIView):
    """Causes that fit the facts of one tree, in words, and the one question left.

    Nothing is kept. Facts that contradict themselves are refused and nothing is ranked. It never
    says how dangerous a tree is: with a danger open it asks nothing.
    """

    permission_classes = [AllowAny]
    throttle_classes = [CausesFromOnePlace]

    @extend_schema(request=FactsIntake, responses=CausesOut, operation_id="causes_of_facts")
    def post(self, request):
        sent = FactsIntake(data=request.data)
        sent.is_valid(raise_exception=True)
        given = sent.validated_data
        told = told_or_refused(
            lambda: tell_apart(sent.facts(), who=given["who"], in_danger=given["in_danger"])
        )
        return Response(CausesOut(causes_out(told)).data)


def told_or_refused(tell):
    """What `tell` tells; facts that cannot be right are refused by their field."""
    try:
        return tell()
    except BadFacts as bad:
        raise ValidationError({bad.field: [bad.problem]}) from None
