"""What an action refused, shown beside the fields of its form."""

from django.core.exceptions import ValidationError
from django.forms import BaseForm


def show_refusal(form: BaseForm, refusal: ValidationError) -> None:
    """Put each message at the field of that name; those without a field stand above the form."""
    if not hasattr(refusal, "error_dict"):
        form.add_error(None, refusal)
        return
    for name, errors in refusal.error_dict.items():
        form.add_error(name if name in form.fields else None, errors)
