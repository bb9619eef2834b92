"""How much one network may send in an hour, and how it is told when that is enough for now.

Counted by network, not by phone: whoever shares one (a school, a library, a mobile carrier) must
still get through, so the bounds lie well above what a busy neighborhood sends. Own rule of this
project; the reason for each stands beside it.
"""

import ipaddress
import logging
import math
import time
from dataclasses import dataclass

from django.core.cache import cache
from django.shortcuts import render
from redis.exceptions import RedisError

log = logging.getLogger(__name__)
HOUR = 3600


@dataclass(frozen=True, slots=True)
class Limit:
    """At most `most` acts of one kind from one network in an hour."""

    name: str
    most: int


SENDING = Limit("send", 60)  # twice a school class, all at once
BEGINNING = Limit("begin", 180)  # three begun for every one sent
PHOTOS = Limit("photo", 240)  # four photos with each of those reports
POSTING = Limit("post", 2400)  # forty form pages for each report: typing again, going back
LOOKING_UP = Limit("look up", 120)  # trying out secrets: 256 bits would outlast the sun anyway


def network_of(address: str) -> str:
    """The network a call comes from: the first 24 bits of an IPv4 address, 56 of an IPv6 one."""
    try:
        known = ipaddress.ip_address(address)
    except ValueError:
        return "unknown"
    if isinstance(known, ipaddress.IPv6Address) and known.ipv4_mapped:
        known = known.ipv4_mapped
    return str(ipaddress.ip_network(f"{known}/{24 if known.version == 4 else 56}", strict=False))


def seconds_to_wait(request, limit: Limit, count: int = 1) -> int:
    """Count this act; 0 when it may go on, else how long until the next hour begins.

    When the cache is out of reach everything may go on: a report matters more than a count.
    """
    now = time.time()
    network = network_of(request.META.get("REMOTE_ADDR", ""))
    key = f"limit:{limit.name}:{network}:{int(now // HOUR)}".replace(" ", "_")
    try:
        cache.add(key, 0, timeout=2 * HOUR)
        done = cache.incr(key, count)
    except (RedisError, ValueError) as trouble:
        log.warning("Nothing was counted: %s", trouble)
        return 0
    return 0 if done <= limit.most else math.ceil(HOUR - now % HOUR)


def please_wait(request, seconds: int, *, go_on_url: str = ""):
    """The page for whoever must wait: for how long, what was kept, and the telephone."""
    response = render(
        request,
        "frontend/neighbor/wait.html",
        {"minutes": max(1, math.ceil(seconds / 60)), "go_on_url": go_on_url},
        status=429,
    )
    response.headers["Retry-After"] = str(seconds)
    return response
