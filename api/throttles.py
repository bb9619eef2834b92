"""How often nobody in particular may send reports."""

from rest_framework.throttling import SimpleRateThrottle


class ReportsFromOnePlace(SimpleRateThrottle):
    """Reports by other programs, for each address; a shared network gets through."""

    scope = "reports"
    rate = "60/hour"

    def get_cache_key(self, request, view):
        if request.method != "POST" or request.user.is_authenticated:
            return None
        return self.cache_format % {"scope": self.scope, "ident": self.get_ident(request)}
