"""The routes of the gauges' page: what is in sight, a gauge taught step by step, and what is kept of it.

A request names a port by the key that the last look gave it, never by a path.
"""

from __future__ import annotations

import asyncio
import os
import stat
import threading
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import msgspec
from fastapi import FastAPI
from msgspec import Struct
from starlette.responses import JSONResponse, Response

from capture.teaching.steps import Wish
from dashboard.setup.command_child import Failed, LessonChild, asked
from dashboard.setup.save_gauge import GaugeSaver, SaveRequest
from dashboard.setup.sheet_api import SheetApi
from dashboard.sources.feed import Feed
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.text.screen import word
from dashboard.views.setup.in_sight import GaugeAddress, shown, ways
from dashboard.web.api import LiveApi, Source

LOOK: Final = ("gauges", "--seconds", "4")
"""A look, and for how many seconds it listens for Bluetooth devices."""
OTHERS: Final = 10.0
"""Seconds without a question of its browser after which another may begin a lesson in place of one."""


class Begin(Struct):
    """Which way to teach, and which value of a Bluetooth device."""

    key: str
    value: str = ""


class Of(Struct):
    """Which lesson, and the number of the newest picture that is known."""

    lesson: str
    since: int = 0


class LessonWish(Struct):
    """A wish of a lesson."""

    lesson: str
    wish: Wish


class GaugeApi:
    """Answers requests about gauges; every one of them asks for this start's token."""

    def __init__(self, source: Source, library: RecordingLibrary, sheets: SheetApi, routes: LiveApi) -> None:
        self._source, self._library, self._routes = source, library, routes
        self._keeper = GaugeSaver(library, sheets)
        self._looking, self._lock = threading.Lock(), threading.Lock()
        self._looks = 0
        self._ways: dict[str, GaugeAddress] = {}
        self._offers: dict[str, frozenset[str]] = {}
        """Of each Bluetooth device that was asked, the values that it offers."""
        self._lesson: LessonChild | None = None
        self._of: tuple[GaugeAddress, str] | None = None
        """Of the lesson its way and its value: another page's look does not end it."""

    def lay(self, server: FastAPI) -> None:
        """Adds the routes to *server*."""
        for path, kind, answer in (
            ("/gauges/look", Struct, self._look),
            ("/gauges/offers", Begin, self._ask),
            ("/teach/begin", Begin, self._begin),
            ("/teach/news", Of, self._news),
            ("/teach/say", LessonWish, self._say),
            ("/teach/keep", SaveRequest, self._keep),
            ("/teach/end", Of, self._end),
        ):
            server.add_route(path, self._routes.guarded(_beside(kind, answer)), methods=["POST"])

    def _stopping(self) -> bool:
        return self._source.store.closed

    def _look(self, _wish: Struct) -> Mapping[str, Any]:
        found = self._child(LOOK)
        scene = self._source.store.scene
        self._looks += 1
        listed = ways(found, self._own(), scene.state, live=scene.kind == "live", look=str(self._looks))
        self._ways = {way.key: way for way in listed}
        self._offers = {}
        sheets = [name for name in self._library.sheets() if name in set(self._keeper.sheets())]
        return {**shown(listed, found.get("trouble", "")), "sheets": sheets}

    def _child(self, words: Sequence[str]) -> Mapping[str, Any]:
        if not self._looking.acquire(blocking=False):
            raise Failed(word("teach.looking"))
        try:
            return asked(words, self._stopping)
        finally:
            self._looking.release()

    def _own(self) -> dict[str, str]:
        """The ports that the sheet of the capture itself names and that are there, with their devices.

        Of a recording that is played its sheet names nothing: it may be anybody's.
        """
        state = self._source.store.scene.state
        if state is None or not isinstance(self._source, Feed):
            return {}
        named = [str(gauge.link["serial"]) for gauge in state.job.gauges if "serial" in gauge.link]
        return {spec: real for spec in named if (real := _device(spec))}

    def _ask(self, wish: Begin) -> Mapping[str, Any]:
        way = self._way(wish.key)
        if way.kind != "ble":
            raise Failed(word("teach.gone"))
        offers = self._child(["gauges", "--ask", way.opens])["offers"]
        self._offers[way.key] = frozenset(offer["value"] for offer in offers)
        said = word("teach.offers" if offers else "teach.offers-none")
        return {"ok": True, "offers": offers, "said": said}

    def _way(self, key: str) -> GaugeAddress:
        way = self._ways.get(key)
        if way is None:
            raise Failed(word("teach.gone"))
        return way

    def _offered(self, way: GaugeAddress, value: str) -> str:
        if value not in self._offers.get(way.key, ()):
            raise Failed(word("teach.gone"))
        return value

    def _begin(self, wish: Begin) -> Mapping[str, Any]:
        way = self._way(wish.key)
        if way.busy:
            raise Failed(word("teach.busy", gauge=way.gauge))
        value = self._offered(way, wish.value) if way.kind == "ble" else ""
        words = ["--ble", way.opens, "--value", value] if value else ["--serial", way.opens]
        with self._lock:
            old = self._lesson
            if old is not None and not old.ended and time.monotonic() - old.asked_at < OTHERS:
                raise Failed(word("teach.other"))
            if old is not None:
                old.end()
            self._lesson, self._of = LessonChild(words), (way, value)
            return {"ok": True, "lesson": self._lesson.name}

    def _mine(self, name: str) -> LessonChild:
        lesson = self._lesson
        if lesson is None or lesson.name != name:
            raise Failed(word("teach.over"))
        return lesson

    def _news(self, wish: Of) -> Mapping[str, Any]:
        version, pictures = self._mine(wish.lesson).news(wish.since, self._stopping)
        return {"ok": True, "version": version, "news": pictures}

    def _say(self, said: LessonWish) -> Mapping[str, Any]:
        self._mine(said.lesson).say(msgspec.json.encode(said.wish))
        return {"ok": True}

    def _keep(self, keep: SaveRequest) -> Mapping[str, Any]:
        if not keep.lesson:
            way = self._way(keep.key)
            link = {**way.link, "value": self._offered(way, keep.value)}
            return self._keeper.keep(keep, way, link, "")
        lesson = self._mine(keep.lesson)
        step, line = lesson.newest("step"), lesson.newest("line")
        if self._of is None or not step.get("file") or not step["agreed"]:
            raise Failed(word("keep.unsure"))
        way, value = self._of
        return self._keeper.taught(keep, way, value, step["file"], line)

    def _end(self, wish: Of) -> Mapping[str, Any]:
        with self._lock:
            self._mine(wish.lesson).end()
            self._lesson = None
        return {"ok": True}


def _device(spec: str) -> str:
    """The device that a path on a sheet stands for now; empty for anything but a device of characters."""
    if not spec.startswith("/"):
        return ""
    try:
        real = Path(spec).resolve(strict=True)
        return os.fspath(real) if stat.S_ISCHR(real.stat().st_mode) else ""
    except OSError:
        return ""


def _beside(kind: Any, answer: Any) -> Any:
    """*answer* to a body of that kind, worked out beside the server and not in its way."""

    async def answered(body: bytes) -> Response:
        wish = msgspec.json.decode(body, type=kind)
        try:
            return JSONResponse(await asyncio.to_thread(answer, wish))
        except Failed as error:
            return JSONResponse({"ok": False, "refused": str(error)}, status_code=409)

    return answered
