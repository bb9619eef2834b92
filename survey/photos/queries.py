"""Questions about pictures."""

from django.db import models


class PhotoQuerySet(models.QuerySet):
    def open_to_all(self):
        """Pictures that staff have accepted: anybody may see them."""
        return self.filter(state="ready", shown="accepted")

    def unprepared(self):
        return self.filter(state="waiting")
