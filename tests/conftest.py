"""What every test may rely on."""

import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connection
from django.utils import translation


@pytest.fixture(autouse=True)
def _nothing_remembered_between_tests():
    cache.clear()
    translation.activate(settings.LANGUAGE_CODE)  # a page asked for in Spanish leaves it behind


@pytest.fixture
def emptied_audit(transactional_db):
    """For tests that commit on SQLite: lets the audit be emptied once the test is over.

    The trigger that keeps audit lines would stop the flush; PostgreSQL's TRUNCATE does not ask it.
    """
    yield
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            name = "audit_never_deleted"
            cursor.execute("SELECT sql FROM sqlite_master WHERE name = %s", [name])
            (trigger,) = cursor.fetchone()
            cursor.execute(f"DROP TRIGGER {name}")
            cursor.execute("DELETE FROM survey_entry")
            cursor.execute(trigger)
