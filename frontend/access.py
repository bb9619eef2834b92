"""Who may open a page: nobody, unless the page says so."""

from collections.abc import Callable
from functools import wraps
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.shortcuts import resolve_url


def only(may: Callable[..., bool]) -> Callable:
    """Open a page to people for whom `may(person)` holds, a predicate of survey.people.policy.

    Whoever is not signed in is asked to sign in, and led back; others are refused.
    """

    def guard(view):
        @wraps(view)
        def guarded(request, *args, **kwargs):
            if not request.user.is_authenticated:
                return redirect_to_login(_back_to(request), resolve_url(settings.LOGIN_URL))
            if not may(request.user):
                raise PermissionDenied
            return view(request, *args, **kwargs)

        return guarded

    return guard


def _back_to(request) -> str:
    """The page to open after signing in: this one, or for a form the page it stood on."""
    if request.method in ("GET", "HEAD"):
        return request.get_full_path()
    came_from = urlsplit(request.headers.get("Referer", ""))
    return came_from.path if came_from.netloc == request.get_host() else ""
