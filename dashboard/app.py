"""The application: Dash's page, the live stream, and the road for a person's words."""

from __future__ import annotations

import asyncio
import hmac
import secrets
from collections.abc import AsyncIterator, Awaitable, Callable
from pathlib import Path
from typing import Any, Final, Protocol

import msgspec
from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse, Response, StreamingResponse
from msgspec import Struct

from capture.links import inbox
from capture.metrology.units import MM_PER_INCH
from capture.sheet import Units
from dashboard.board import Board
from dashboard.replay import Player
from dashboard.views.page import index_string, page
from dashboard.words import word

LEAST_GAP: Final = 0.03
"""Seconds between two messages to a browser."""
HEARTBEAT: Final = 1.0
"""Seconds of silence after which a browser is told that the dashboard is still there."""
LONGEST: Final = 16 << 10
"""Bytes in a request."""


class Source(Protocol):
    """Where scenes come from: a feed or a player."""

    board: Board

    @property
    def path(self) -> Path | None: ...


class Words(Struct):
    """A person's words, and the units in which a length among them is said."""

    words: list[str]
    units: Units = "mm"


class Wish(Struct):
    """What a replay shall do."""

    do: str
    to: float = 0.0


def build(source: Source) -> FastAPI:
    """The ASGI application that shows what *source* hangs on its board."""
    from dash import Dash  # noqa: PLC0415 - 0.6 s, and only the server needs it

    server = FastAPI(openapi_url=None, docs_url=None, redoc_url=None)
    token, run = secrets.token_urlsafe(32), secrets.token_urlsafe(6)
    _add_roads(server, source, token, run)
    backend: Any = server  # Dash knows this backend at run time, its annotations do not
    dash = Dash(
        "dashboard", server=backend, title=word("page.title"), update_title="", index_string=index_string()
    )
    dash.layout = lambda: page(token=token, run=run, replay=isinstance(source, Player))
    return server


def _add_roads(server: FastAPI, source: Source, token: str, run: str) -> None:
    board = source.board

    @server.get("/live")
    async def live(units: str = "") -> Response:
        chosen: Units | None = "in" if units == "in" else "mm" if units == "mm" else None
        return StreamingResponse(
            stream(board, chosen, run), media_type="text/event-stream", headers={"cache-control": "no-store"}
        )

    @server.get("/health")
    async def health() -> Response:
        scene = board.scene
        seq = scene.state.seq if scene.state is not None else None
        return JSONResponse(
            {
                "ok": not scene.trouble,
                "recording": scene.name,
                "kind": scene.kind,
                "seq": seq,
                "age": scene.age,
            }
        )

    def guarded(answer: Callable[[bytes], Awaitable[Response]]) -> Callable[[Request], Awaitable[Response]]:
        async def checked(request: Request) -> Response:
            given = request.headers.get("x-tenths-token", "")
            if not hmac.compare_digest(given.encode("utf-8", "replace"), token.encode()):
                return _no("the page is older than this dashboard: load it again", 403)
            body = b""
            async for piece in request.stream():
                body += piece
                if len(body) > LONGEST:
                    return _no(f"more than {LONGEST} bytes came", 413)
            try:
                return await answer(body)
            except (msgspec.MsgspecError, UnicodeError) as error:
                return _no(f"not understood: {error}", 400)

        return checked

    async def say(body: bytes) -> Response:
        if isinstance(source, Player):
            return _no(word("ask.replay"), 409)
        asked = msgspec.json.decode(body, type=Words)
        return await asyncio.to_thread(_said, asked, source)

    async def play(body: bytes) -> Response:
        if not isinstance(source, Player):
            return _no("this is no replay", 409)
        wish = msgspec.json.decode(body, type=Wish)
        source.wish(wish.do, wish.to)
        return JSONResponse({"ok": True})

    async def newer(_body: bytes) -> Response:
        show = getattr(source, "show_newer", None)
        if show is not None:
            show()
        return JSONResponse({"ok": True})

    for path, answer in (("/say", say), ("/play", play), ("/newer", newer)):
        server.add_route(path, guarded(answer), methods=["POST"])


def _no(why: str, status: int) -> Response:
    return JSONResponse({"ok": False, "refused": why}, status_code=status)


def _said(asked: Words, source: Source) -> Response:
    path = source.path
    scene = source.board.scene
    if path is None or scene.state is None or scene.closed:
        return _no(scene.closed or word("ask.closed"), 409)
    words = in_units(asked.words, asked.units, scene.state.job.units)
    try:
        reply = inbox.say(words, folder=path.parent)
    except inbox.NoCapture as error:
        return _no(str(error), 503)
    return Response(msgspec.json.encode(reply), media_type="application/json")


def in_units(words: list[str], said: Units, job: Units) -> list[str]:
    """The words with the infeed of a pass in the units that the job's inbox expects.

    >>> in_units(["pass", "0.0254"], "mm", "in")
    ['pass', '0.001']
    """
    if said == job or len(words) != 2 or words[0] != "pass":
        return words
    try:
        value = float(words[1].replace(",", "."))
    except ValueError:
        return words
    return ["pass", f"{value / MM_PER_INCH if job == 'in' else value * MM_PER_INCH:.9g}"]


async def stream(board: Board, units: Units | None, run: str) -> AsyncIterator[bytes]:
    """Server-sent events: all of the page first, then what changed; latest wins, and silence is a beat."""
    before: dict[str, Any] = {}
    yield b"retry: 1000\nevent: hello\ndata: " + msgspec.json.encode(run) + b"\n\n"
    while not board.closed:
        version, shown = board.shown(units)
        changed = {key: value for key, value in shown.items() if key not in before or before[key] != value}
        before = {**before, **shown}
        if changed:
            yield b"id: %d\ndata: %b\n\n" % (version, msgspec.json.encode(changed))
        else:
            yield b"event: beat\ndata:\n\n"
        await asyncio.sleep(LEAST_GAP)
        await board.after(version, HEARTBEAT)
