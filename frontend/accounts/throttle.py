"""Slows down whoever guesses passwords, the same for names that exist and names that do not.

When the cache is out of reach nothing is counted: the desk must get in when a server is down.
"""

import hashlib
import logging
from contextlib import contextmanager

from django.core.cache import cache
from redis.exceptions import RedisError

log = logging.getLogger(__name__)

WINDOW = 15 * 60  # seconds
TRIES_HERE = 10  # wrong passwords for one name from one network address
TRIES_A_NAME = 100  # for one name from everywhere; higher, so that a stranger locks nobody out
TRIES_AN_ADDRESS = 60  # from one network address: a school has only one


def _keys(sign_in: str, address: str) -> dict[str, int]:
    name = hashlib.sha256(sign_in.strip().lower().encode("utf-8", "replace")).hexdigest()
    return {
        f"sign-in:here:{name}:{address}": TRIES_HERE,
        f"sign-in:name:{name}": TRIES_A_NAME,
        f"sign-in:address:{address}": TRIES_AN_ADDRESS,
    }


@contextmanager
def _whatever_the_cache_does():
    try:
        yield
    except RedisError as trouble:
        log.warning("Tries to sign in are not counted: %s", trouble)


def is_slowed(sign_in: str, address: str) -> bool:
    """Whether one more try must wait."""
    keys = _keys(sign_in, address)
    tried = {}
    with _whatever_the_cache_does():
        tried = cache.get_many(keys)
    return any(tried.get(key, 0) >= most for key, most in keys.items())


def count_failure(sign_in: str, address: str) -> None:
    with _whatever_the_cache_does():
        for key in _keys(sign_in, address):
            if not cache.add(key, 1, WINDOW):
                try:
                    cache.incr(key)
                except ValueError:  # it ran out this instant
                    cache.add(key, 1, WINDOW)


def forget_failures(sign_in: str, address: str) -> None:
    """After a right password: the count of this name here, so that slips do not add up."""
    with _whatever_the_cache_does():
        cache.delete(next(iter(_keys(sign_in, address))))
