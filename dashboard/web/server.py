"""The web server: one process, says when it is ready, and stops cleanly."""

from __future__ import annotations

import logging
import signal
import socket
import ssl
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Final

import uvicorn
import uvicorn.server
from starlette.types import ASGIApp

from dashboard.sources.scene_store import SceneStore
from dashboard.web.access.connections import BACKLOG, bounded
from dashboard.web.open_browser import open_browser

BROWSER_STARTS: Final = 60.0
"""Seconds in which a browser has read the file that sends it on."""


WARNED_EVERY: Final = 60.0
"""Seconds between two lines in the log of one warning."""


class SeldomWarnings(logging.Filter):
    """Lets a warning through once a minute, since whoever sends rubbish needs no token to write one."""

    def __init__(self) -> None:
        super().__init__()
        self._said: dict[str, float] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether the record is logged."""
        if record.levelno != logging.WARNING:
            return True
        before = self._said.get(record.msg, float("-inf"))
        if record.created - before < WARNED_EVERY:
            return False
        self._said[record.msg] = record.created
        return True


class Server(uvicorn.Server):
    """Ends the live streams when it is told to stop, since they would keep it for ever."""

    def __init__(
        self, config: uvicorn.Config, store: SceneStore, address: str, *, show: bool, more: str = ""
    ) -> None:
        super().__init__(config)
        self._store, self._address, self._show, self._more = store, address, show, more
        self._opening: threading.Thread | None = None
        self._ended = threading.Event()

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Starts, and says where."""
        await super().startup(sockets)
        if self.started:
            sys.stdout.write(f"dashboard ready {self._address}\n{self._more}")
            sys.stdout.flush()
            if self._show:
                self._opening = threading.Thread(target=self._open_browser, daemon=True)
                self._opening.start()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Ends, and leaves no private file behind."""
        self._ended.set()
        if self._opening is not None:
            self._opening.join(1.0)  # unless the browser keeps it waiting
        await super().shutdown(sockets)

    def _open_browser(self) -> None:
        file = open_browser(self._address)
        self._ended.wait(BROWSER_STARTS)
        if file is not None:
            file.unlink(missing_ok=True)

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Stops on a signal, and does not raise it again afterwards: to be told to stop is no failure."""
        before = {sig: signal.signal(sig, self.handle_exit) for sig in uvicorn.server.HANDLED_SIGNALS}
        try:
            yield
        finally:
            for sig, handler in before.items():
                signal.signal(sig, handler)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """A signal to stop."""
        self._store.close()
        super().handle_exit(sig, frame)


async def serve(
    app: ASGIApp,
    listening: socket.socket,
    address: str,
    store: SceneStore,
    *,
    show: bool,
    more: str = "",
    tls: ssl.SSLContext | None = None,
) -> None:
    """Serves until SIGTERM or SIGINT, over *tls* where it is given; says *more* after where it is."""
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=3,
        http=bounded(tls),
        backlog=BACKLOG,
        ws="none",  # no page uses one, and nobody else needs to be let in by another door
    )
    logging.getLogger("uvicorn.error").addFilter(SeldomWarnings())
    await Server(config, store, address, show=show, more=more).serve([listening])
