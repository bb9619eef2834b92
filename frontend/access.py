"""Who may open a page: nobody, unless the page says so."""

from collections.abc import Callable
from functools import wraps

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied


def only(may: Callable[..., bool]) -> Callable:
    """Open a page to people for whom `may(person)` holds, a predicate of survey.people.policy.

    Whoever is not signed in is asked to sign in, and led back; others are refused.
    """

    def guard(view):
        @wraps(view)
        def guarded(request, *args, **kwargs):
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path(), "/sign-in/")
            if not may(request.user):
                raise PermissionDenied
            return view(request, *args, **kwargs)

        return guarded

    return guard
