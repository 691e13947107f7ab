"""The body of a request, read before anything is done with it: bounded in bytes and in time."""

from __future__ import annotations

import asyncio
from typing import Final

from starlette.datastructures import Headers
from starlette.types import Message, Receive, Scope

LONGEST: Final = 1 << 20
"""Bytes in the body of any request; a callback of the pages sends some kilobytes."""
PATIENCE: Final = 10.0
"""Seconds in which a body must be here."""


class TooLong(Exception):
    """A body of more than `LONGEST` bytes."""


class TooSlow(Exception):
    """A body that was not here within `PATIENCE` seconds."""


async def read_body(scope: Scope, receive: Receive) -> Receive:
    """Reads the whole body, and gives what hands it on to the application.

    Raises:
        TooLong: It has more than `LONGEST` bytes, or says so beforehand; no more than that is ever kept.
        TooSlow: It did not come in time.
    """
    length = Headers(scope=scope).get("content-length", "0")
    if length.isdecimal() and int(length[:20]) > LONGEST:
        raise TooLong
    try:
        async with asyncio.timeout(PATIENCE):
            body = await _whole(receive)
    except TimeoutError:
        raise TooSlow from None
    waiting: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def handed_on() -> Message:
        return waiting.pop() if waiting else await receive()

    return handed_on


async def _whole(receive: Receive) -> bytes:
    body = bytearray()
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return bytes(body)
        body += message.get("body", b"")
        if len(body) > LONGEST:
            raise TooLong
        if not message.get("more_body", False):
            return bytes(body)
