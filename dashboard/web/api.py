"""The routes of the live page: the stream, health, and what a person says, plays or chooses."""

from __future__ import annotations

import asyncio
import hmac
import secrets
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Final, Protocol

import msgspec
from fastapi import FastAPI
from msgspec import Struct
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse

from capture.links.inbox.client import say
from capture.links.inbox.endpoint import NoCapture
from capture.metrology.units import MM_PER_INCH
from capture.sheet.job import Units
from dashboard.sources.feed import Feed
from dashboard.sources.player import Player
from dashboard.sources.raw_traces import RawTraces
from dashboard.sources.scene_store import SceneStore
from dashboard.text.screen import word
from dashboard.views.registry import named
from dashboard.web.stream import stream

LONGEST: Final = 64 << 10
"""Bytes in a request."""


class Source(Protocol):
    """Where scenes come from: a feed or a player."""

    store: SceneStore
    traces: RawTraces
    """Every raw reading."""

    @property
    def folder(self) -> Path:
        """Where recordings and sheets lie."""


class SpokenCommand(Struct):
    """A person's words, and the units in which a length among them is said."""

    words: list[str]
    units: Units = "mm"


class Wish(Struct):
    """What a replay shall do."""

    do: str
    to: float = 0.0


class LiveApi:
    """Answers requests about one source; what changes anything asks for this start's token."""

    def __init__(self, source: Source) -> None:
        self._source, self._store = source, source.store
        self.token = secrets.token_urlsafe(32)
        self.run = secrets.token_urlsafe(6)
        """Distinguishes one start of the dashboard from another, so that an older page loads itself again."""

    def lay(self, server: FastAPI) -> None:
        """Adds the routes to *server*."""
        server.add_route("/live", self.live)
        server.add_route("/health", self.health)
        for path, answer in (("/say", self.say), ("/play", self.play), ("/newer", self.newer)):
            server.add_route(path, self.guarded(answer), methods=["POST"])

    async def live(self, request: Request) -> Response:
        """The live stream; ``?page=NAME``, else the first; ``?units=mm|in``, else those of the job."""
        asked = request.query_params.get("units")
        units: Units | None = "in" if asked == "in" else "mm" if asked == "mm" else None
        page = named(request.query_params.get("page", "")).name
        changes = stream(self._store, page, units, self.run)
        return StreamingResponse(
            changes, media_type="text/event-stream", headers={"cache-control": "no-store"}
        )

    async def health(self, _request: Request) -> Response:
        """What is shown, for a program that watches the dashboard."""
        scene = self._store.scene
        seq = scene.state.seq if scene.state is not None else None
        shown = {"recording": scene.name, "kind": scene.kind, "seq": seq, "age": scene.age}
        return JSONResponse({"ok": not scene.trouble, **shown})

    async def say(self, body: bytes) -> Response:
        """Words to the capture; answered when they are on disk."""
        if not isinstance(self._source, Feed):
            return _no(word("ask.replay"), 409)
        return await asyncio.to_thread(_said, self._source, msgspec.json.decode(body, type=SpokenCommand))

    async def play(self, body: bytes) -> Response:
        """A wish to the player."""
        if not isinstance(self._source, Player):
            return _no(word("play.none"), 409)
        wish = msgspec.json.decode(body, type=Wish)
        self._source.wish(wish.do, wish.to)
        return JSONResponse({"ok": True})

    async def newer(self, _body: bytes) -> Response:
        """Goes over to the newer recording that was offered."""
        if isinstance(self._source, Feed):
            self._source.show_newer()
        return JSONResponse({"ok": True})

    def guarded(
        self, answer: Callable[[bytes], Awaitable[Response]], most: int = LONGEST
    ) -> Callable[[Request], Awaitable[Response]]:
        """*answer* for those alone who bring the page's token, and for no more than may be asked at once."""

        async def checked(request: Request) -> Response:
            given = request.headers.get("x-tenths-token", "")
            if not hmac.compare_digest(given.encode("utf-8", "replace"), self.token.encode()):
                return _no(word("refused.token"), 403)
            body = b""
            async for piece in request.stream():
                body += piece
                if len(body) > most:
                    return _no(word("refused.long", most=most), 413)
            try:
                return await answer(body)
            except (msgspec.MsgspecError, UnicodeError) as error:
                return _no(word("refused.form", why=error), 400)

        return checked


def _said(feed: Feed, asked: SpokenCommand) -> Response:
    scene = feed.store.scene
    if scene.state is None or scene.closed:
        return _no(scene.closed or word("ask.closed"), 409)
    words = in_units(asked.words, asked.units, scene.state.job.units)
    try:
        reply = say(words, inbox=feed.inbox)
    except NoCapture as error:
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
        return words  # the inbox says what is wrong with it
    return ["pass", f"{value / MM_PER_INCH if job == 'in' else value * MM_PER_INCH:.9g}"]


def _no(why: str, status: int) -> Response:
    return JSONResponse({"ok": False, "refused": why}, status_code=status)
