"""Which language the next page speaks: chosen by whoever reads it, kept in a cookie."""

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

A_YEAR = 365 * 24 * 3600


def speak(response: HttpResponse, language: str) -> None:
    """Let the next page speak this language."""
    response.set_cookie(
        settings.LANGUAGE_COOKIE_NAME,
        language,
        max_age=A_YEAR,
        secure=settings.LANGUAGE_COOKIE_SECURE,
        httponly=settings.LANGUAGE_COOKIE_HTTPONLY,
        samesite=settings.LANGUAGE_COOKIE_SAMESITE,
    )


@csrf_exempt
@require_POST
def choose(request):
    """Show the page again in the language asked for; one that is not spoken here changes nothing.

    Exempt from the form token because pages opened by a secret have none, and because nothing is
    changed but the words. The way back must lie within this house.
    """
    back = request.POST.get("back", "")
    if not url_has_allowed_host_and_scheme(back, allowed_hosts=None) or not back.startswith("/"):
        back = "/"
    response = redirect(back)
    language = request.POST.get("language", "")
    if language in dict(settings.LANGUAGES):
        speak(response, language)
    return response


routes = [path("language/", choose, name="language")]
