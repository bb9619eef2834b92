"""Who did what, when. Rows are added and never changed."""

from django.db import models

from survey.audit.queries import EntryQuerySet


class Entry(models.Model):
    """One line of the audit: an act, its subject and whoever did it.

    People and things are named by string keys ("person:lw4kd", "report:0190…"), so that a line
    outlives the row it speaks of and holds no personal data. Database triggers refuse UPDATE and
    DELETE; this class refuses them earlier, with a clearer error.
    """

    at = models.DateTimeField()
    who = models.CharField(max_length=60)
    act = models.CharField(max_length=60)
    subject = models.CharField(max_length=80)
    detail = models.JSONField(default=dict)

    objects = EntryQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["subject", "at"], name="audit_by_subject"),
            models.Index(fields=["at"], name="audit_by_time"),
        ]
        constraints = [
            models.CheckConstraint(
                name="audit_names_who_and_what",
                condition=~models.Q(who="") & ~models.Q(act="") & ~models.Q(subject=""),
            ),
        ]

    def __str__(self):
        return f"{self.at:%Y-%m-%d %H:%M} {self.who} {self.act} {self.subject}"

    def save(self, *args, **kwargs):
        if self.pk is not None:
            raise TypeError("An audit line is never changed.")
        super().save(*args, **kwargs)

    def delete(self, *args, **kwargs):
        raise TypeError("An audit line is never deleted.")
