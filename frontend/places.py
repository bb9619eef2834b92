"""Which town a page is about."""

from django.http import Http404, HttpRequest
from django.shortcuts import get_object_or_404

from survey.trees.models import Area

MOST_LETTERS = 100  # of a parameter that are read


def asked(request: HttpRequest, name: str) -> str:
    """A parameter of the address, short and without the letter that PostgreSQL cannot hold."""
    return request.GET.get(name, "").replace("\0", "")[:MOST_LETTERS]


def home_area() -> Area:
    """The town that this house is for. Without one there is nothing to show yet."""
    area = Area.objects.filter(is_home=True).first()
    if area is None:
        raise Http404
    return area


def area_of(request: HttpRequest) -> Area:
    """The town named by `?area=`, or the home one."""
    ref = asked(request, "area")
    return get_object_or_404(Area, ref=ref) if ref else home_area()
