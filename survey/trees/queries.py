"""Questions about places, plantings, trees and looks. Reads only; every word chains."""

from datetime import date

from django.db import models
from django.db.models import OuterRef, Q, Subquery

ALIVE = Q(presence="sprouting") | Q(presence="standing") & ~Q(condition="dead")
"""A look that saw a living tree. Sprouting from below counts as alive, whatever the top is."""


class PermissionQuerySet(models.QuerySet):
    def on(self, day: date):
        return self.filter(from_day__lte=day, to_day__gte=day)

    def for_workers(self, who: str):
        return self.filter(who__in=[who, "anybody"])


class SiteQuerySet(models.QuerySet):
    def matching(self, words: str):
        """Sites whose name or reference holds every word."""
        found = self
        for word in words.split():
            found = found.filter(Q(name__icontains=word) | Q(ref__icontains=word))
        return found


class PlantingQuerySet(models.QuerySet):
    def matching(self, words: str):
        found = self
        for word in words.split():
            found = found.filter(
                Q(name__icontains=word) | Q(ref__icontains=word) | Q(supplier__icontains=word)
            )
        return found


class TreeQuerySet(models.QuerySet):
    def in_place(self):
        """Trees that have not left the registry."""
        return self.filter(left="")

    def in_walking_order(self):
        return self.order_by("site__name", "walk_order", "tag", "pk")

    def matching(self, words: str):
        """Trees by tag, reference, street or landmark: every word must be found in one of them."""
        found = self
        for word in words.split():
            found = found.filter(
                Q(tag__icontains=word)
                | Q(ref__icontains=word)
                | Q(site__name__icontains=word)
                | Q(landmark__icontains=word)
                | Q(species__icontains=word)
            )
        return found

    def with_last_trained_look(self):
        """Adds gauge_condition, gauge_presence, gauge_day of the newest standing trained look."""
        newest = (
            self.model._meta.get_field("looks")
            .related_model.objects.filter(tree=OuterRef("pk"), trained=True, superseded_by=None)
            .exclude(presence="not_seen")
            .order_by("-day", "-pk")
        )
        return self.annotate(
            gauge_condition=Subquery(newest.values("condition")[:1]),
            gauge_presence=Subquery(newest.values("presence")[:1]),
            gauge_day=Subquery(newest.values("day")[:1]),
        )


class LookQuerySet(models.QuerySet):
    def standing_record(self):
        """Looks that no later look has superseded."""
        return self.filter(superseded_by=None)

    def trained(self):
        return self.filter(trained=True)

    def saw_alive(self):
        return self.filter(ALIVE)

    def in_order(self):
        return self.order_by("day", "pk")

    def newest_first(self):
        return self.order_by("-day", "-pk")


class HappeningQuerySet(models.QuerySet):
    def newest_first(self):
        return self.order_by("-from_day", "-pk")


class CareGivenQuerySet(models.QuerySet):
    def newest_first(self):
        return self.order_by("-given_to", "-pk")
