"""Watches the process that started this one, and ends this one with it, however that one ended."""

from __future__ import annotations

import os
import signal
import threading
from contextlib import suppress


def tie_to_input() -> None:
    """Stops this process when its standard input ends: who holds the other end of that pipe is gone.

    It is stopped as by a person, with SIGTERM. Nothing else may read the standard input.
    """
    threading.Thread(target=_wait, name="tied", daemon=True).start()


def _wait() -> None:
    with suppress(OSError):  # a terminal that has hung up has ended too
        while os.read(0, 4096):  # not through sys.stdin, whose lock would outlive this thread
            pass
    signal.raise_signal(signal.SIGTERM)
