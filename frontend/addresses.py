"""Addresses that no page can have."""

from collections.abc import Callable

from django.http import Http404, HttpRequest, HttpResponse


class WholeAddresses:
    """An address with the letter that PostgreSQL cannot hold names nothing: it is not found."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if "\0" in request.path_info:
            raise Http404
        return self.get_response(request)
