"""The keys of private pages: who holds one may open the page; the database holds only digests.

A draft's address carries a random key. The secret of the report's private page is worked out from
that key, one way, so that the same browser can be shown the same receipt again after a resend or
a reload, even when the draft is long gone, and still nothing in the database opens a page: the
draft keeps the digest of its key, the report keeps the digest of its secret.
"""

import hashlib
import hmac
import secrets
from base64 import urlsafe_b64encode

_PURPOSE = b"second summer: private page of a report"


def new_key() -> str:
    """32 random bytes, as text for an address."""
    return secrets.token_urlsafe(32)


def digest(key: str) -> str:
    """What is stored of a key or a secret: its SHA-256, in hexadecimal."""
    return hashlib.sha256(key.encode("utf-8", "replace")).hexdigest()


def page_secret(key: str) -> str:
    """The secret of the private page that belongs to a draft's key: 32 bytes, as text.

    HMAC-SHA-256 (RFC 2104) under the key: nobody without the key can work it out, and it does not
    give the key away.
    """
    made = hmac.new(key.encode("utf-8", "replace"), _PURPOSE, hashlib.sha256).digest()
    return urlsafe_b64encode(made).rstrip(b"=").decode()
