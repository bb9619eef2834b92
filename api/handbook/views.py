"""The handbook, for anybody and any program to read."""

from django.utils.translation import get_language
from django.utils.translation import gettext as _
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.exceptions import NotFound
from rest_framework.permissions import AllowAny
from rest_framework.response import Response
from rest_framework.views import APIView

from api.handbook.serializers import EntryOut, ShelfOut, entry_of
from survey.causes.local import SHELVES, rules_in_force
from survey.handbook.book import book
from survey.trees.models import Area

ABOUT = {shelf: about for about, shelf in SHELVES.items()}
LANGUAGE = OpenApiParameter(
    "Accept-Language", str, OpenApiParameter.HEADER, description="en or es: the language of texts."
)


def _shelf(name: str):
    found = {file.removesuffix(".toml"): records for file, records in book().files()}.get(name)
    if found is None:
        raise NotFound(_("The handbook has no file of this name."))
    return found


def _rules(shelf: str, codes=None):
    """The rules of the home area that are in force for entries of this file."""
    if shelf not in ABOUT:
        return {}
    return rules_in_force(Area.objects.filter(is_home=True).first(), ABOUT[shelf], codes)


def _answer(data) -> Response:
    return Response(data, headers={"Content-Language": get_language() or "en"})


class HandbookView(APIView):
    """The files of the handbook."""

    permission_classes = [AllowAny]

    @extend_schema(responses=ShelfOut(many=True), operation_id="handbook_list")
    def get(self, request):
        files = ((file.removesuffix(".toml"), records) for file, records in book().files())
        return Response([{"shelf": name, "entries": len(records)} for name, records in files])


class ShelfView(APIView):
    """All entries of one file, each with its sources or its mark, and the local rules beside it."""

    permission_classes = [AllowAny]

    @extend_schema(
        responses=EntryOut(many=True), parameters=[LANGUAGE], operation_id="handbook_shelf"
    )
    def get(self, request, shelf: str):
        records, rules = _shelf(shelf), _rules(shelf)
        return _answer([entry_of(shelf, one, rules.get(code, [])) for code, one in records.items()])


class EntryView(APIView):
    """One entry."""

    permission_classes = [AllowAny]

    @extend_schema(responses=EntryOut, parameters=[LANGUAGE], operation_id="handbook_entry")
    def get(self, request, shelf: str, code: str):
        records = _shelf(shelf)
        if code not in records:
            raise NotFound(_("The handbook has no entry of this name."))
        return _answer(entry_of(shelf, records[code], _rules(shelf, [code]).get(code, [])))
