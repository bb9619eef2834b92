"""Questions about pictures."""

from django.db import models


class PhotoQuerySet(models.QuerySet):
    def open_to_all(self):
        """Pictures that staff have accepted: anybody may see them."""
        return self.filter(state="ready", shown="accepted")

    def ready(self):
        return self.filter(state="ready")

    def unprepared(self):
        return self.filter(state="waiting")

    def with_left_over_original(self):
        """Settled pictures whose original has not been thrown away yet."""
        return self.exclude(state="waiting").exclude(original="")

    def held_by_nothing(self):
        """Pictures that no draft, report, look or order holds, nor any other kind."""
        holders = [relation.name for relation in self.model._meta.related_objects]
        return self.filter(**dict.fromkeys(holders))
