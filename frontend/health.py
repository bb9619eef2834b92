"""Is this machine alive, and can it take a report?"""

import shutil

from django.conf import settings
from django.db import DatabaseError, connection, transaction
from django.http import HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe


@require_safe
@never_cache
def livez(request):
    """The process answers. Asks nothing else, so that a slow database never restarts it."""
    return HttpResponse("alive\n", content_type="text/plain")


@require_safe
@never_cache
def readyz(request):
    """A report can be taken: the database accepts a write and the disk has room.

    Redis and mail are not asked: reports are accepted while both are down.
    """
    troubles = []
    if not _database_writes():
        troubles.append("the database takes no writes")
    if shutil.disk_usage(settings.DATA).free < settings.DISK_FLOOR:
        troubles.append("the disk is nearly full")
    text = "".join(f"not ready: {trouble}\n" for trouble in troubles) or "ready\n"
    return HttpResponse(text, status=503 if troubles else 200, content_type="text/plain")


def _database_writes() -> bool:
    """Whether a row can be written; it is taken back at once."""
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(
                "INSERT INTO survey_schedule (kind, period) VALUES ('health', '') "
                "ON CONFLICT (kind) DO UPDATE SET period = ''"
            )
            transaction.set_rollback(True)
    except DatabaseError:
        return False
    return True
