"""`python -m survey.web`: granian, whose workers can be ended while they load.

A worker is a copy of its server, signal handlers included. Asked to end before it has handlers of
its own, it would set a flag that nobody reads, and be killed when the server's patience is over.
"""

import os
import signal

from granian.cli import entrypoint


def end_when_asked() -> None:
    """Runs in every worker as soon as it exists; granian sets its own handlers later."""
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, signal.SIG_DFL)


if __name__ == "__main__":
    os.register_at_fork(after_in_child=end_when_asked)
    entrypoint()
