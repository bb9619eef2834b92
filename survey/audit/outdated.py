"""The answer to the second of two people who decide about the same thing."""

from typing import Any


class Outdated(Exception):
    """Somebody else changed it first. `current` is the row as it is now; nothing was written."""

    def __init__(self, current: Any) -> None:
        super().__init__("Somebody else changed this first.")
        self.current = current
