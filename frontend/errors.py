"""When something went wrong: say what happened, and what to do now."""

import logging
import uuid

from django.core.exceptions import RequestDataTooBig, TooManyFieldsSent
from django.http import HttpResponseServerError
from django.shortcuts import render
from django.template.loader import render_to_string

_NEVER_SHOWN = ("csrfmiddlewaretoken", "password", "secret", "token")
_SHOWN = 50  # fields that are given back at most
_TOO_LARGE = (RequestDataTooBig, TooManyFieldsSent)

log = logging.getLogger(__name__)


def bad_request(request, exception=None):
    """Renders without the request: reading it may be what failed."""
    status = 413 if isinstance(exception, _TOO_LARGE) else 400
    return render(None, "frontend/errors/400.html", status=status)


def forbidden(request, exception=None):
    return render(request, "frontend/errors/403.html", status=403)


def not_found(request, exception=None):
    return render(request, "frontend/errors/404.html", status=404)


def server_error(request):
    """Touches neither the database nor the session: one of them may be what broke.

    The number on the page stands in the log beside the address.
    """
    reference = uuid.uuid4().hex[:8]
    log.error("Page broke, number %s, at %s", reference, request.path)
    page = render_to_string("frontend/errors/500.html", {"reference": reference})
    return HttpResponseServerError(page)


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
