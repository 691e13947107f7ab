"""Connections to the dashboard: how many there may be, and how long one may stay without asking for anything.

One that waits for an answer, as a live stream does, has been let in and stays. Of the others the oldest is
closed where there are too many, so that who fills the server with silent connections shuts nobody out.
"""

from __future__ import annotations

import asyncio
import ipaddress
import logging
import time
from typing import Any, Final

from uvicorn.protocols.http.auto import AutoHTTPProtocol

MOST_HERE: Final = 128
"""Connections from this machine, which those of others never take."""
MOST_OTHERS: Final = 128
"""Connections from other machines, in all."""
MOST_EACH: Final = 32
"""Connections from one other address; a browser opens six to a server (common practice, no source)."""
PATIENCE: Final = 10.0
"""Seconds in which the head of a request must be here."""
BACKLOG: Final = 64
"""Connections that the system takes in at a time: a crowd never takes the last file of the process."""
_SAID_EVERY: Final = 60.0
"""Seconds between two lines in the log about closed connections."""

_log = logging.getLogger("uvicorn.error")


class ConnectionRegister:
    """The connections there are, the oldest first."""

    def __init__(self) -> None:
        self._addresses: dict[BoundedProtocol, str] = {}
        self._closed = 0
        self._said = float("-inf")

    def add(self, connection: BoundedProtocol, address: str) -> None:
        """Takes a connection in, and closes one where there are too many."""
        self._addresses[connection] = address
        here = is_here(address)
        group = [one for one, at in self._addresses.items() if is_here(at) == here]
        same = [one for one in group if self._addresses[one] == address]
        if not here and len(same) > MOST_EACH:
            self._close_one(same)
        elif len(group) > (MOST_HERE if here else MOST_OTHERS):
            self._close_one(group)

    def remove(self, connection: BoundedProtocol) -> None:
        """Forgets a connection that has ended, or become another protocol's."""
        self._addresses.pop(connection, None)

    def _close_one(self, among: list[BoundedProtocol]) -> None:
        """The oldest that asks for nothing, and never the newest where there is another."""
        chosen = next((one for one in among[:-1] if not one.busy), among[-1])
        self.remove(chosen)
        chosen.transport.abort()
        self._closed += 1
        now = time.monotonic()
        if now - self._said > _SAID_EVERY:
            self._said = now
            _log.warning("too many connections: %d closed that asked for nothing", self._closed)
            self._closed = 0


class BoundedProtocol(AutoHTTPProtocol):  # type: ignore[misc, valid-type]  # uvicorn chooses the class as it is loaded
    """A connection that is closed when it says nothing whole in time."""

    register: ConnectionRegister
    """Set by `bounded`, one for each server."""

    _late: asyncio.TimerHandle | None = None

    @property
    def busy(self) -> bool:
        """Whether a request is being answered."""
        return self.cycle is not None and not self.cycle.response_complete

    def connection_made(self, transport: Any) -> None:
        """A new connection."""
        super().connection_made(transport)
        self.register.add(self, self.client[0] if self.client else "")
        self._watch()

    def data_received(self, data: bytes) -> None:
        """Bytes of a request."""
        super().data_received(data)
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        """The end."""
        self._forget()
        super().connection_lost(exc)

    def handle_websocket_upgrade(self, *event: Any) -> None:
        """The connection becomes another protocol's."""
        self._forget()
        super().handle_websocket_upgrade(*event)

    def _watch(self) -> None:
        if self.busy:
            self._stop()
        elif self._late is None and not self.transport.is_closing():
            self._late = self.loop.call_later(PATIENCE, self.transport.abort)

    def _forget(self) -> None:
        self._stop()
        self.register.remove(self)

    def _stop(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None


def bounded() -> type[BoundedProtocol]:
    """The protocol of one server."""
    return type("BoundedProtocol", (BoundedProtocol,), {"register": ConnectionRegister()})


def is_here(address: str) -> bool:
    """Whether *address* is this machine's own."""
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return True  # a pipe or socket file has no address
