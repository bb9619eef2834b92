"""Questions to the audit."""

from django.db import models


class EntryQuerySet(models.QuerySet):
    """The vocabulary for asking the audit. Reads only."""

    def about(self, subject: str):
        """The lines of one thing, oldest first."""
        return self.filter(subject=subject).order_by("at", "pk")

    def newest_first(self):
        return self.order_by("-at", "-pk")

    def update(self, **kwargs):
        raise TypeError("An audit line is never changed.")

    def delete(self):
        raise TypeError("An audit line is never deleted.")
