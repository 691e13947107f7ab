"""Scripts and style sheets, compressed once and kept: what a browser fetches before it can show anything."""

from __future__ import annotations

import gzip
from typing import Final

from cachetools import LRUCache
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

FILES: Final = ("/packaged/", "/_dash-component-suites/", "/assets/")
"""Where files lie that are the same for everybody. What a page says is never compressed: beside a text that
another chooses, its length would tell of what is secret (the attack known as BREACH)."""
KINDS: Final = ("text/javascript", "application/javascript", "text/css", "image/svg+xml")
LEAST: Final = 1000
"""Bytes below which a packet is sent all the same."""
_KEPT: Final = 64
_A_YEAR: Final = "public, max-age=31536000"


class CompressedFiles:
    """Compresses files on their way to a browser that takes them so; the newest are kept compressed."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self._kept: LRUCache[bytes, bytes] = LRUCache(_KEPT)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request of any kind."""
        if scope["type"] != "http" or not scope["path"].startswith(FILES):
            await self.app(scope, receive, send)
            return
        takes = "gzip" in Headers(scope=scope).get("accept-encoding", "")
        answer = _FileAnswer(scope, send, self._kept, takes=takes and scope["method"] == "GET")
        await self.app(scope, receive, answer.send)


class _FileAnswer:
    """One answer, gathered until it is whole."""

    def __init__(self, scope: Scope, send: Send, kept: LRUCache[bytes, bytes], *, takes: bool) -> None:
        self._send, self._kept, self._takes = send, kept, takes
        self._named = scope["query_string"].startswith(b"m=")
        """Whether the address changes with the file: Dash puts the time of its last change there."""
        self._start: Message = {}
        self._body = bytearray()

    async def send(self, message: Message) -> None:
        """Takes in a message of the answer, and sends all of it with the last."""
        if message["type"] == "http.response.start":
            self._start = message
            return
        self._body += message.get("body", b"")
        if message.get("more_body", False):
            return
        headers = MutableHeaders(raw=list(self._start.get("headers", [])))
        if self._named and self._start["status"] == 200:
            headers["cache-control"] = _A_YEAR
        kind = headers.get("content-type", "").partition(";")[0]
        body = bytes(self._body)
        if self._start["status"] == 200 and kind in KINDS and len(body) >= LEAST:
            headers.add_vary_header("accept-encoding")
            if self._takes:
                body = self._compressed(body)
                headers["content-encoding"] = "gzip"
                headers["content-length"] = str(len(body))
        await self._send({**self._start, "headers": headers.raw})
        await self._send({"type": "http.response.body", "body": body})

    def _compressed(self, body: bytes) -> bytes:
        if body not in self._kept:
            self._kept[body] = gzip.compress(body, 6, mtime=0)
        return self._kept[body]
