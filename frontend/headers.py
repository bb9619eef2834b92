"""The headers that keep a browser honest."""

from functools import wraps

CONTENT_POLICY = "; ".join(
    (
        "default-src 'self'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "connect-src 'self'",
        "form-action 'self'",
        "object-src 'none'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
PERMISSIONS = "geolocation=(self), camera=(self), microphone=(), payment=(), usb=()"


class SafeHeaders:
    """Adds what a view did not set itself; pages of a signed-in person are never stored."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", CONTENT_POLICY)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        person = getattr(request, "user", None)
        if person is not None and person.is_authenticated:
            response.headers.setdefault("Cache-Control", "no-store")
        return response


def secret_page(view):
    """For a page that is opened by a secret in its address: no copies, no referrer, no robots."""

    @wraps(view)
    def guarded(request, *args, **kwargs):
        response = view(request, *args, **kwargs)
        response.headers["Referrer-Policy"] = "no-referrer"
        response.headers["Cache-Control"] = "no-store"
        response.headers["X-Robots-Tag"] = "noindex, nofollow"
        return response

    return guarded
