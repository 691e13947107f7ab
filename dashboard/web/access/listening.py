"""The socket that a screen listens on, and the address by which a browser on this machine finds it."""

from __future__ import annotations

import ipaddress
import socket
import sys
from urllib.parse import quote


def listen(host: str, port: int) -> socket.socket:
    """A socket bound to *host* and *port*, 0 for any that is free.

    Raises:
        OSError: It cannot listen there.
    """
    try:
        family = socket.AF_INET6 if ipaddress.ip_address(host).version == 6 else socket.AF_INET
    except ValueError:
        family = socket.AF_INET
    # With the protocol named asyncio sets TCP_NODELAY; without, an answer waits 40 ms for an acknowledgement.
    listening = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    if sys.platform != "win32":
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
    except OSError:
        listening.close()
        raise
    return listening


def address(listening: socket.socket, token: str, page: str = "", *, secure: bool = False) -> str:
    """Where a browser on this machine finds the page; *secure*: over TLS."""
    host, port = listening.getsockname()[:2]
    if host in {"0.0.0.0", "::"}:  # noqa: S104 - compared, not bound
        host = socket.gethostname()
    host = f"[{host}]" if ":" in host else host
    scheme = "https" if secure else "http"
    return f"{scheme}://{host}:{port}/?token={quote(token, safe='')}" + (f"#{page}" if page else "")


def own_address() -> str:
    """The address of this machine in its network, else its name; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(("192.0.2.1", 9))  # RFC 5737, for documentation: a route is chosen, no packet goes
            return str(asking.getsockname()[0])
        except OSError:
            return socket.gethostname()
