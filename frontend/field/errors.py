"""What the domain refuses becomes an error of the field it is about."""

from collections.abc import Mapping

from django import forms
from django.core.exceptions import ValidationError


def put_errors(
    form: forms.Form, refused: ValidationError, names: Mapping[str, str] | None = None
) -> None:
    """Add the domain's errors to a form; `names` maps its field names to the form's."""
    if not hasattr(refused, "error_dict"):
        form.add_error(None, refused)
        return
    for field, errors in refused.error_dict.items():
        name = (names or {}).get(field, field)
        form.add_error(name if name in form.fields else None, errors)
