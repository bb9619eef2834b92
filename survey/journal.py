"""How a line of the log looks: one line whatever the text says, times in UTC, no secrets."""

import logging
import re
import time

_BREAKS = {ord(c): repr(c)[1:-1] for c in "\r\v\f\x1b\x85\u2028\u2029"} | {ord("\n"): "\n  | "}

_SECRET = re.compile(r"(/(?:note|report)/)[\w%-]{20,}")  # opens a neighbor's page or draft


class OneLine(logging.Formatter):
    """Keeps text from outside from passing itself off as a log line of its own.

    Later lines of a message or a traceback begin with a bar; other control characters are shown.
    Whoever may read the log may not open a neighbor's page with it: the secret in an address is
    left out.
    """

    converter = time.gmtime
    default_time_format = "%Y-%m-%dT%H:%M:%S"
    default_msec_format = "%s.%03dZ"

    def __init__(self) -> None:
        super().__init__("%(asctime)s %(levelname)s %(process)d %(name)s: %(message)s")

    def format(self, record: logging.LogRecord) -> str:
        return _SECRET.sub(r"\1…", super().format(record)).translate(_BREAKS)
