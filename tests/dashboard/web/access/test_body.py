"""The body of a request: bounded at the guard for every road, before anything reads it."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator

import pytest
from starlette.requests import Request
from starlette.responses import PlainTextResponse

from dashboard.web.access import body
from dashboard.web.access.guard import Guard
from dashboard.web.access.tokens import Tokens


async def echo(scope, receive, send):
    size = len(await Request(scope, receive).body())
    await PlainTextResponse(f"{size}")(scope, receive, send)


SPEAK, WATCH = b"right-to-speak", b"right-to-watch"


def post(pieces: Iterator[bytes], *, cookie=SPEAK, headers=(), path="/_dash-update-component"):
    """The status of the answer, its text, and how many pieces of the body were read."""
    read, said = 0, []

    async def receive():
        nonlocal read
        read += 1
        piece = next(pieces, None)
        if piece == b"never":
            await asyncio.sleep(3600)
        return {"type": "http.request", "body": piece or b"", "more_body": piece is not None}

    async def send(message):
        said.append(message)

    own = [(b"host", b"127.0.0.1"), (b"cookie", b"tenths-80=" + cookie), *headers]
    scope = {"type": "http", "method": "POST", "path": path, "query_string": b"", "headers": own}
    tokens = Tokens(SPEAK.decode(), WATCH.decode())
    asyncio.run(Guard(echo, host="127.0.0.1", tokens=tokens, port=80)(scope, receive, send))
    return said[0]["status"], b"".join(one.get("body", b"") for one in said), read


def endless() -> Iterator[bytes]:
    while True:
        yield b"x" * 65536


@pytest.mark.parametrize("path", ["/_dash-update-component", "/say", "/anything"])
def test_a_body_without_end_is_refused_after_a_megabyte_on_every_road(path):
    status, _, read = post(endless(), path=path)

    assert status == 413
    assert read <= body.LONGEST // 65536 + 1


def test_a_viewers_body_without_end_is_refused_too():
    assert post(endless(), cookie=WATCH)[0] == 413


def test_a_length_that_is_too_great_is_refused_before_a_byte_is_read():
    assert post(endless(), headers=[(b"content-length", b"419430400")])[::2] == (413, 0)


def test_a_body_is_not_read_from_who_has_no_token():
    assert post(endless(), cookie=b"wrong")[::2] == (403, 0)


def test_a_body_that_never_ends_coming_is_given_up(monkeypatch):
    monkeypatch.setattr(body, "PATIENCE", 0.01)
    assert post(iter([b"x", b"never"]))[0] == 408


def test_a_body_within_bounds_arrives_whole():
    assert post(iter([b"x" * 65536] * 16))[:2] == (200, b"1048576")
