"""One shape for every error: problem details (RFC 9457)."""

from http import HTTPStatus

from django.core.exceptions import PermissionDenied as DomainPermissionDenied
from django.core.exceptions import ValidationError as DomainValidationError
from django.http import Http404
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import exception_handler

from survey.audit.outdated import Outdated

PROBLEM = "application/problem+json"


class Conflict(exceptions.APIException):
    status_code = HTTPStatus.CONFLICT
    default_detail = "Somebody else decided first. Read it again, then decide."
    default_code = "outdated"


def answer(error: Exception, context: dict) -> Response | None:
    """Turn any expected exception into a problem; the unexpected ones stay a plain 500."""
    response = exception_handler(_translated(error), context)
    if response is None:
        return None
    problem = {
        "type": "about:blank",
        "title": HTTPStatus(response.status_code).phrase,
        "status": response.status_code,
    }
    if response.status_code == HTTPStatus.BAD_REQUEST:
        problem["title"] = "Some fields were refused"
        problem["errors"] = response.data
    else:
        problem["detail"] = str(response.data.get("detail", ""))
    response.data = problem
    response.content_type = PROBLEM
    return response


def _translated(error: Exception) -> Exception:
    """The domain's errors as the framework's."""
    if isinstance(error, DomainValidationError):
        detail = error.message_dict if hasattr(error, "error_dict") else {"detail": error.messages}
        return exceptions.ValidationError(detail)
    if isinstance(error, DomainPermissionDenied):
        return exceptions.PermissionDenied()
    if isinstance(error, Outdated):
        return Conflict()
    if isinstance(error, Http404):
        return exceptions.NotFound()
    return error
