"""Questions about work orders. Reads only; every word chains."""

from django.db import models


class WorkOrderQuerySet(models.QuerySet):
    def open(self):
        """Orders on which work is still to be done."""
        return self.filter(state__in=["drafted", "planned"])

    def awaiting_a_look(self):
        """Done orders that no later look has confirmed yet."""
        return self.filter(state="done").order_by("look_due", "pk")

    def with_lines(self):
        """Everything that a page about orders shows, in a fixed number of queries."""
        return self.select_related("area").prefetch_related(
            "lines__tree__site__land_manager", "reports"
        )
