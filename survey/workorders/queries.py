"""Questions about work orders. Reads only; every word chains."""

from django.db import models


class WorkOrderQuerySet(models.QuerySet):
    def open(self):
        """Orders on which work is still to be done."""
        return self.filter(state__in=["drafted", "planned"])

    def awaiting_a_look(self):
        """Done orders that no later look has confirmed yet."""
        return self.filter(state="done").order_by("look_due", "pk")
