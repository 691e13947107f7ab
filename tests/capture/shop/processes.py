"""Commands as processes of their own, forked from a server that has their imports: only those are shared."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Final

_CONTEXT: Final = multiprocessing.get_context("forkserver")
_CONTEXT.set_forkserver_preload(
    [
        "__main__",
        "capture.cli",
        "capture.commands.shop.stored",
        "capture.commands.shop.ask",
        "capture.shop.archive.archive",
        "capture.shop.tables.ask",
        "capture.shop.publish.publisher",
    ]
)


def _run(words: tuple[str, ...], folder: Path, environment: dict[str, str], log: Path) -> None:
    said = os.open(log, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
    for number in (1, 2):
        os.dup2(said, number)
    os.chdir(folder)
    os.environ.update(environment)
    for stream in (sys.stdout, sys.stderr):
        stream.reconfigure(line_buffering=True)  # type: ignore[union-attr]
    from capture.cli import main

    main(list(words))


class Command:
    """A running `tenths`, with what `subprocess.Popen` offers of it."""

    def __init__(self, *words: str, folder: Path, environment: dict[str, str], log: Path) -> None:
        self._words = words
        self._process = _CONTEXT.Process(target=_run, args=(words, folder, environment, log))
        self._process.start()

    @property
    def returncode(self) -> int | None:
        """As of a process: negative where a signal ended it."""
        return self._process.exitcode

    def send_signal(self, number: int) -> None:
        """Sends a signal, if it still runs."""
        if self.returncode is None and self._process.pid is not None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self._process.pid, number)

    def terminate(self) -> None:
        """Asks it to end."""
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        """Ends it as a power failure would."""
        self.send_signal(signal.SIGKILL)

    def wait(self, patience: float = 20.0) -> int:
        """Its status when it has ended."""
        self._process.join(patience)
        status = self.returncode
        if status is None:
            raise subprocess.TimeoutExpired(self._words, patience)
        return status
