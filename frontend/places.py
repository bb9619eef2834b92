"""Which town a page is about."""

from django.http import Http404, HttpRequest
from django.shortcuts import get_object_or_404

from survey.trees.models import Area


def home_area() -> Area:
    """The town that this house is for. Without one there is nothing to show yet."""
    area = Area.objects.filter(is_home=True).first()
    if area is None:
        raise Http404
    return area


def area_of(request: HttpRequest) -> Area:
    """The town named by `?area=`, or the home one."""
    ref = request.GET.get("area", "")
    return get_object_or_404(Area, ref=ref) if ref else home_area()
