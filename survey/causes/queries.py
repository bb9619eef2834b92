"""Questions about findings, verdicts and local rules."""

from django.db import models


class FindingQuerySet(models.QuerySet):
    def standing(self):
        """Findings that the last run still finds."""
        return self.filter(gone_on__isnull=True)

    def awaiting_a_word(self):
        """Standing findings that nobody has judged on the evidence they rest on now."""
        return self.standing().filter(state="open")


class VerdictQuerySet(models.QuerySet):
    def in_force(self):
        return self.filter(withdrawn_at__isnull=True)


class LocalRuleQuerySet(models.QuerySet):
    def awaiting_a_second(self):
        """Proposed, and neither approved nor withdrawn."""
        return self.filter(approved_at__isnull=True, withdrawn_at__isnull=True)

    def in_force(self):
        return self.filter(approved_at__isnull=False, withdrawn_at__isnull=True)
