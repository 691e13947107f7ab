"""The web server: one process, says when it is ready, and stops cleanly."""

from __future__ import annotations

import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

import uvicorn
import uvicorn.server
from starlette.types import ASGIApp

from dashboard.sources.scene_store import SceneStore
from dashboard.web.connections import BACKLOG, bounded


class Server(uvicorn.Server):
    """Ends the live streams when it is told to stop, since they would keep it for ever."""

    def __init__(
        self, config: uvicorn.Config, board: SceneStore, address: str, *, show: bool, more: str = ""
    ) -> None:
        super().__init__(config)
        self._board, self._address, self._show, self._more = board, address, show, more

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Starts, and says where."""
        await super().startup(sockets)
        if self.started:
            sys.stdout.write(f"dashboard ready {self._address}\n{self._more}")
            sys.stdout.flush()
            if self._show:
                threading.Thread(target=webbrowser.open, args=(self._address,), daemon=True).start()

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
        self._board.close()
        super().handle_exit(sig, frame)


async def serve(
    app: ASGIApp, listening: socket.socket, address: str, board: SceneStore, *, show: bool, more: str = ""
) -> None:
    """Serves until SIGTERM or SIGINT; says *more* after where it is."""
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=3,
        http=bounded(),
        backlog=BACKLOG,
        ws_max_size=1 << 16,
    )
    await Server(config, board, address, show=show, more=more).serve([listening])
