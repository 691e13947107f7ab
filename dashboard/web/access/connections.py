"""Connections to the dashboard: how many there may be, and how long one may stay without asking for anything.

One that waits for an answer, as a live stream does, has been let in and stays. Of the others the oldest is
closed where there are too many, so that who fills the server with silent connections shuts nobody out.
"""

from __future__ import annotations

import asyncio
import ipaddress
import logging
import ssl
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
LONGEST_HEAD: Final = 64 << 10
"""Bytes in the head of a request; a browser sends some kilobytes."""
MOST_PENDING: Final = 16
"""Requests of one connection that wait for the answer to another; no browser sends a second before it."""
_SLICE: Final = 4 << 10
"""Bytes that are looked at before it is asked again whether too many came."""
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
        """Forgets a connection that has ended."""
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
    """A connection that is closed when it says nothing whole in time.

    Over TLS it is counted from its first byte, and what it says is taken once both ends are secured.
    """

    register: ConnectionRegister
    """Set by `bounded`, one for each server."""
    tls: ssl.SSLContext | None = None
    """Set by `bounded`; None: plain."""

    _head: int | None = None
    """Bytes of the head that is being read; None: none is."""
    _late: asyncio.TimerHandle | None = None
    _securing: asyncio.Task[None] | None = None
    _early: bytes | None = None
    """What came over TLS before the connection was handed over; None: it was, or it is plain."""

    @property
    def busy(self) -> bool:
        """Whether a request is being answered."""
        return self.cycle is not None and not self.cycle.response_complete

    def connection_made(self, transport: Any) -> None:
        """A new connection."""
        self.transport = transport
        peer = transport.get_extra_info("peername")
        self.register.add(self, peer[0] if isinstance(peer, tuple) else "")
        if self.tls is None:
            super().connection_made(transport)
            self._watch()
        else:
            self._early = b""
            self._securing = self.loop.create_task(self._secure(transport, self.tls))

    async def _secure(self, plain: Any, tls: ssl.SSLContext) -> None:
        try:
            secured = await self.loop.start_tls(
                plain, self, tls, server_side=True, ssl_handshake_timeout=PATIENCE
            )
        except OSError:  # no TLS, none of ours, or none in time
            secured = None
        if secured is None or self._early is None:
            self.register.remove(self)
            plain.abort()
            return
        early, self._early = self._early, None
        super().connection_made(secured)
        self._take(early)
        self._watch()

    def data_received(self, data: bytes) -> None:
        """Bytes of a request."""
        if self._early is not None:
            self._early += data  # of one read: the transport gives no more before the task above has run
            return
        self._take(data)
        self._watch()

    def on_message_begin(self) -> None:
        """The head of a request begins."""
        self._head = 0
        super().on_message_begin()

    def on_headers_complete(self) -> None:
        """The head of a request is whole."""
        self._head = None
        super().on_headers_complete()

    def _take(self, data: bytes) -> None:
        """Bytes to uvicorn, which itself sets no end to a head, nor to requests that wait for one another."""
        for start in range(0, len(data), _SLICE):
            if self.transport.is_closing() or self.parser is None:
                return
            piece = data[start : start + _SLICE]
            super().data_received(piece)
            if self._head is not None:
                self._head += len(piece)
            if (self._head or 0) > LONGEST_HEAD or len(self.pipeline) > MOST_PENDING:
                self.transport.abort()
                return

    def eof_received(self) -> None:
        """The other end says no more."""
        if self._early is None:
            super().eof_received()

    def connection_lost(self, exc: Exception | None) -> None:
        """The end."""
        self._forget()
        if self._early is not None:
            self._early = None  # it never was uvicorn's
            return
        super().connection_lost(exc)

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


def bounded(tls: ssl.SSLContext | None = None) -> type[BoundedProtocol]:
    """The protocol of one server, over *tls* where it is given."""
    return type("BoundedProtocol", (BoundedProtocol,), {"register": ConnectionRegister(), "tls": tls})


def is_here(address: str) -> bool:
    """Whether *address* is this machine's own."""
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return True  # a pipe or socket file has no address
