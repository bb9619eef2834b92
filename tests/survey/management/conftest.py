"""The demo towns, loaded once for all tests of this folder."""

import io

import pytest
from django.core.management import call_command
from django.db import transaction
from django.test import override_settings


@pytest.fixture(scope="package")
def demo(django_db_setup, django_db_blocker, tmp_path_factory):
    """Both towns, and taken away again with one rolled-back transaction.

    Holds the data folder (`data`) and what the command said (`said`).
    """
    data = tmp_path_factory.mktemp("demo")
    out = io.StringIO()
    with (
        django_db_blocker.unblock(),
        override_settings(DATA=data, MEDIA_ROOT=data / "media", DATABASE_URL=""),
        transaction.atomic(),
    ):
        call_command("load_demo", stdout=out)
        yield {"data": data, "said": out.getvalue()}
        transaction.set_rollback(True)
