"""Requests of the home page: jobs and recordings of the folder, a new job, the capture started and stopped.

A sheet and a recording are named, and only one that lies in the folder is found.
"""

from __future__ import annotations

import asyncio
import os
import threading
from collections.abc import Callable, Mapping
from importlib import resources
from pathlib import Path
from typing import Any, Final

import msgspec
from fastapi import FastAPI
from msgspec import Struct
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from capture.host.disk import open_regular
from capture.recording.codec import BadLine, decode_header
from capture.sheet.faults import BadSheet
from capture.sheet.reader import job_of, read_sheet
from capture.text.printable import undirected
from dashboard.setup import capture_child, examples
from dashboard.setup.command_child import Failed
from dashboard.setup.sheet_api import LARGEST, SheetApi, Unsaved
from dashboard.sources.feed import Feed
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.text.screen import word
from dashboard.web.api import LiveApi, Source

EXAMPLES: Final = ("plated-sleeve", "ground-shaft", "ground-shaft-inch", "bore-only")
"""Names of the sheets that a job may begin from."""


class NewJob(Struct):
    """A sheet of that file name, from an example."""

    example: str
    name: str


class Capture(Struct):
    """Which sheet to capture, into a new recording or going on with one."""

    sheet: str
    recording: str = ""


class Chosen(Struct):
    """Which recording to look at."""

    recording: str


class Nothing(Struct):
    """A request without anything in it."""


class HomeApi:
    """Answers requests of the home page; whatever changes something asks for this start's token."""

    def __init__(self, source: Source, library: RecordingLibrary, sheets: SheetApi, routes: LiveApi) -> None:
        self._source, self._library, self._sheets, self._routes = source, library, sheets, routes
        self._lock = threading.Lock()
        """One capture is started or stopped at a time."""

    def lay(self, server: FastAPI) -> None:
        """Adds the routes to *server*."""
        server.add_route("/home", self.home)
        for path, kind, answer in (
            ("/home/new", NewJob, self._new),
            ("/home/start", Capture, self._start),
            ("/home/stop", Nothing, self._stop),
            ("/home/show", Chosen, self._show),
        ):
            server.add_route(path, self._routes.guarded(_beside(kind, answer)), methods=["POST"])

    async def home(self, _request: Request) -> Response:
        """The jobs and recordings of the folder, and the capture that runs."""
        return JSONResponse(await asyncio.to_thread(self.seen))

    def seen(self) -> dict[str, Any]:
        """What the home page shows."""
        recordings = [self._recording(name, path) for name, path in self._library.recordings().items()]
        place = capture_child.running(self._library.folder)
        live = "" if place is None else Path(place.recording).name
        for one in recordings:
            one["live"] = one["name"] == live
        shown = self._source.store.scene.name
        jobs = [self._job(name, recordings) for name in self._sheets.names()]
        return {
            "folder": self._library.folder.name or str(self._library.folder),
            "jobs": jobs,
            "recordings": recordings,
            "live": live,
            "shown": shown,
            "examples": [{"name": name, "title": word(f"home.example-{name}")} for name in EXAMPLES],
        }

    def _recording(self, name: str, path: Path) -> dict[str, Any]:
        facts: dict[str, Any] = {"name": name, "job": "", "began": "", "bytes": 0, "readable": False}
        try:
            facts["bytes"] = path.stat().st_size
            with os.fdopen(open_regular(path), "rb") as file:
                header = decode_header(file.readline(LARGEST).rstrip(b"\n"))
        except (OSError, BadLine, ValueError):
            return facts
        return {**facts, "job": undirected(job_of(header.job).name), "began": header.began, "readable": True}

    def _job(self, name: str, recordings: list[dict[str, Any]]) -> dict[str, Any]:
        try:
            job, _ = read_sheet(self._sheets.text(name), name)
        except Unsaved as error:
            return {"sheet": name, "name": "", "faults": 1, "about": str(error), "recordings": []}
        except BadSheet as error:
            said = undirected(word("home.faults", number=len(error.found), first=error.found[0]))
            return {"sheet": name, "name": "", "faults": len(error.found), "about": said, "recordings": []}
        gauges = ", ".join(gauge.name for gauge in job.gauges) or word("home.no-gauge")
        shown = undirected(job.name)
        own = [one["name"] for one in recordings if one["job"] == shown and one["readable"]]
        about = word("home.about", gauges=gauges, number=len(own))
        return {"sheet": name, "name": shown, "faults": 0, "about": undirected(about), "recordings": own}

    def _new(self, new: NewJob) -> Mapping[str, Any]:
        if new.example not in EXAMPLES:
            raise Unsaved(word("home.no-example", name=new.example[:90]))
        self._sheets.check_new(new.name)
        text = (resources.files(examples) / f"{new.example}.toml").read_text("utf-8")
        self._sheets.write(new.name, text)
        return {"sheet": new.name}

    def _start(self, wanted: Capture) -> Mapping[str, Any]:
        sheets, recordings = self._library.sheets(), self._library.recordings()
        if wanted.sheet not in sheets:
            raise Unsaved(word("job.unknown", name=wanted.sheet[:90]))
        if wanted.recording and wanted.recording not in recordings:
            raise Unsaved(word("record.unknown"))
        feed = self._feed()
        with self._lock:
            recording = capture_child.start(sheets[wanted.sheet], recordings.get(wanted.recording))
        feed.show(recording)
        return {"recording": recording.name, "said": word("home.started", recording=recording.name)}

    def _stop(self, _nothing: Nothing) -> Mapping[str, Any]:
        with self._lock:
            stopped = capture_child.stop(self._library.folder)
        return {"said": word("home.stopped" if stopped else "home.none-runs")}

    def _show(self, chosen: Chosen) -> Mapping[str, Any]:
        path = self._library.recordings().get(chosen.recording)
        if path is None:
            raise Unsaved(word("record.unknown"))
        self._feed().show(path)
        return {"said": word("home.shown", recording=path.name)}

    def _feed(self) -> Feed:
        if not isinstance(self._source, Feed):
            raise Unsaved(word("home.replay"))
        return self._source


def _beside(kind: type[Any], answer: Callable[[Any], Mapping[str, Any]]) -> Callable[[bytes], Any]:
    """*answer* in a thread, with what it refuses as a sentence."""

    async def answered(body: bytes) -> Response:
        asked = msgspec.json.decode(body, type=kind)
        try:
            found = await asyncio.to_thread(answer, asked)
        except (Unsaved, Failed) as error:
            return JSONResponse({"ok": False, "refused": str(error)})
        return JSONResponse({"ok": True, **found})

    return answered
