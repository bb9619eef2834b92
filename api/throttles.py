"""How often nobody in particular may send reports."""

import logging

from redis.exceptions import RedisError
from rest_framework.throttling import SimpleRateThrottle

log = logging.getLogger(__name__)


class ReportsFromOnePlace(SimpleRateThrottle):
    """Reports by other programs, for each address; a shared network gets through."""

    scope = "reports"
    rate = "60/hour"

    def allow_request(self, request, view):
        """When the cache is out of reach everything may go on: a report matters more."""
        try:
            return super().allow_request(request, view)
        except RedisError as trouble:
            log.warning("Nothing was counted: %s", trouble)
            return True

    def get_cache_key(self, request, view):
        if request.method != "POST" or request.user.is_authenticated:
            return None
        return self.cache_format % {"scope": self.scope, "ident": self.get_ident(request)}


class CausesFromOnePlace(ReportsFromOnePlace):
    """Facts to tell causes from, for each address: it costs some milliseconds and keeps nothing."""

    scope = "causes"
    rate = "600/hour"
