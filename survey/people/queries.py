"""Questions about people, observers, contacts and mail."""

from django.db import models


class ObserverQuerySet(models.QuerySet):
    def trained(self):
        return self.exclude(kind="resident")


class ContactQuerySet(models.QuerySet):
    def standing(self):
        """Contacts that have not been erased."""
        return self.filter(erased_at=None)


class MailQuerySet(models.QuerySet):
    def waiting(self):
        return self.filter(state="waiting").order_by("due_at", "pk")

    def to_be_called(self):
        """Answers that somebody has to give by phone, oldest first."""
        return self.filter(state="by_phone").order_by("due_at", "pk")


class PracticeQuerySet(models.QuerySet):
    def newest_first(self):
        return self.order_by("-at", "-pk")
