"""Who is calling, when proxies of our own stand in between."""

from django.conf import settings


class TrustedProxies:
    """Puts the caller's address into REMOTE_ADDR and drops every forwarding header.

    Each of our `PROXIES` proxies appends the address it saw, so only that many entries from the
    right can be believed; what stands left of them was written by the caller.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        seen = request.META.pop("HTTP_X_FORWARDED_FOR", "")
        for name in ("HTTP_X_FORWARDED_HOST", "HTTP_FORWARDED", "HTTP_X_REAL_IP"):
            request.META.pop(name, None)
        if settings.PROXIES:
            hops = [part.strip() for part in seen.split(",") if part.strip()]
            if len(hops) >= settings.PROXIES:
                request.META["REMOTE_ADDR"] = hops[-settings.PROXIES]
        else:
            request.META.pop("HTTP_X_FORWARDED_PROTO", None)
        return self.get_response(request)
