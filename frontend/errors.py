"""When something went wrong: say what happened, and what to do now."""

import uuid

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.csrf import requires_csrf_token

_NEVER_SHOWN = ("csrfmiddlewaretoken", "password", "secret", "token")
_SHOWN = 50  # fields that are given back at most


@requires_csrf_token
def bad_request(request, exception=None):
    return render(request, "frontend/errors/400.html", status=400)


@requires_csrf_token
def forbidden(request, exception=None):
    return render(request, "frontend/errors/403.html", status=403)


@requires_csrf_token
def not_found(request, exception=None):
    return render(request, "frontend/errors/404.html", status=404)


def server_error(request):
    """Touches neither the database nor the session: one of them may be what broke."""
    reference = uuid.uuid4().hex[:8]
    return HttpResponse(status=500, content=reference)


def csrf_failure(request, reason=""):
    """The form was not accepted because it could not be tied to this browser.

    Everything typed is given back to be copied; it is not offered for sending again by one
    click, because the form may have come from somebody else's page.
    """
    typed = [
        (name, value)
        for name, values in request.POST.lists()
        for value in values
        if value.strip() and not any(word in name.lower() for word in _NEVER_SHOWN)
    ]
    return render(request, "frontend/errors/csrf.html", {"typed": typed[:_SHOWN]}, status=403)
