"""The one way to write an audit line."""

from datetime import datetime
from typing import Any

from survey.audit.models import Entry

NOBODY = "nobody"
"""Who acted when nobody was signed in: a neighbor, or the house itself."""


def record(act: str, *, subject: str, at: datetime, by: Any = None, **detail: Any) -> Entry:
    """Write down an act, inside the caller's transaction.

    `by` is a person (anything with a `key`) or None. `detail` must be JSON and hold no contact
    details: the audit cannot be erased.
    """
    who = f"person:{by.key}" if by is not None else NOBODY
    return Entry.objects.create(at=at, who=who, act=act, subject=subject, detail=detail)
