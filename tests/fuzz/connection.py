"""Fuzzes what a connection to the dashboard may send: it is answered or cut off, and shows nothing unasked.

``HOST`` in an input becomes the server's own address and ``TOKEN`` its token, so that what stands behind the
guard is tried too; ``SPLIT`` parts what arrives in one piece from the next.
"""

from __future__ import annotations

import asyncio
import logging
import re
import socket
import sys

import uvicorn
from fuzzing import fuzz
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route
from uvicorn.server import ServerState

from dashboard.web.access.connections import bounded
from dashboard.web.access.guard import Guard
from dashboard.web.access.tokens import Tokens

NAME, TOKEN, SECRET = b"127.0.0.1:8050", b"right-to-speak-0123456789", b"what only its owner sees"
GOOD = b"GET / HTTP/1.1\r\nHost: %b\r\nAuthorization: Bearer %b\r\nConnection: close\r\n\r\n" % (NAME, TOKEN)
_STATUS = re.compile(rb"HTTP/1\.1 ([0-9]{3}) ")


async def page(_request: Request) -> Response:
    """A page."""
    return PlainTextResponse(SECRET)


async def say(request: Request) -> Response:
    """Takes a body in."""
    return PlainTextResponse(SECRET + b" %d" % len(await request.body()))


APP = Guard(
    Starlette(routes=[Route("/", page), Route("/say", say, methods=["POST"])]),
    host="127.0.0.1",
    tokens=Tokens(TOKEN.decode(), own=False),
    port=8050,
)
CONFIG = uvicorn.Config(
    APP, log_level="critical", access_log=False, server_header=False, http=bounded(), ws="none"
)
CONFIG.load()
LOOP = asyncio.new_event_loop()


def target(data: bytes) -> None:
    """Send it, and then a good request by another connection; raises if a law does not hold."""
    LOOP.run_until_complete(_target(data))


async def _target(data: bytes) -> None:
    faults: list[str] = []
    LOOP.set_exception_handler(lambda _, about: faults.append(str(about)))
    knows = b"TOKEN" in data
    sent = data.replace(b"HOST", NAME).replace(b"TOKEN", TOKEN)
    answer = await _answer(sent.split(b"SPLIT"))
    if faults:
        raise RuntimeError(f"raised in the server: {faults[0]}")
    if answer and not _STATUS.match(answer):
        raise RuntimeError(f"a strange answer: {answer[:80]!r}")
    if any(status >= b"500" for status in _STATUS.findall(answer)):
        raise RuntimeError(f"a fault of the server: {answer[:80]!r}")
    if SECRET in answer and not knows:
        raise RuntimeError("shown to who has no token")
    if SECRET not in await _answer([GOOD], 20.0):
        raise RuntimeError("its owner was not let in afterwards")


async def _answer(pieces: list[bytes], patience: float = 0.5) -> bytes:
    """All that comes back until both ends are done, or for so many seconds."""
    theirs, ours = socket.socketpair()
    theirs.setblocking(False)
    protocol = CONFIG.http_protocol_class(config=CONFIG, server_state=ServerState(), app_state={}, _loop=LOOP)
    transport, _ = await LOOP.connect_accepted_socket(lambda: protocol, ours)
    came = b""
    try:
        for piece in pieces:
            await LOOP.sock_sendall(theirs, piece)
            await asyncio.sleep(0)
        theirs.shutdown(socket.SHUT_WR)
        async with asyncio.timeout(patience):
            while some := await LOOP.sock_recv(theirs, 65536):
                came += some
    except (TimeoutError, OSError):
        pass  # it waits for more, or has hung up
    finally:
        transport.abort()
        theirs.close()
        await asyncio.sleep(0)
    return came


if __name__ == "__main__":
    logging.disable(logging.CRITICAL)
    sys.exit(fuzz("connection", target))
