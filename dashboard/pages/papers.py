"""Papers of the folder's recordings: the record to see, print and keep, and tables for other programs."""

from __future__ import annotations

import asyncio
import hashlib
import os
import tempfile
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from typing import Final, cast

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from capture import __version__
from capture.analysis.fit.measured_part import Measured
from capture.analysis.grind.chatter_findings import chatter_rows
from capture.export.data_package import data_package
from capture.export.files import write
from capture.export.package_tables import PackagedRecording, package_tables
from capture.export.tables import COLUMNS, What, rows
from capture.host.disk import open_regular
from capture.recording.codec import first_chain, next_chain, split_chain
from capture.recording.pictures import shown_pictures
from capture.recording.reader import BadRecording
from capture.report.order import NoOrder, order_page
from capture.report.page import CitedRecording, page
from capture.report.pdf import NoPdf, write_pdf
from capture.report.raws import raws_of
from capture.sessions import Opened
from dashboard.sources.fit_findings import fit_of, plan_of, sources
from dashboard.sources.recording_library import RecordingLibrary, TooLarge
from dashboard.text.screen import word

TABLES: Final = tuple(COLUMNS)
KINDS: Final = {
    "html": "text/html; charset=utf-8",
    "pdf": "application/pdf",
    "csv": "text/csv; charset=utf-8",
    "json": "application/json",
    "parquet": "application/vnd.apache.parquet",
    "zip": "application/zip",
}
POLICY: Final = (
    "default-src 'none'; img-src data:; font-src data:; style-src 'unsafe-inline'; frame-ancestors 'self'; "
    "sandbox allow-same-origin allow-modals"
)
"""Of the record as a page: it runs nothing, loads nothing, and only our own page may frame it."""


class Papers:
    """Answers requests for papers; a recording is named, and only one that lies in the folder is found."""

    def __init__(self, library: RecordingLibrary) -> None:
        self._library = library

    def lay(self, server: FastAPI) -> None:
        """Adds the routes to *server*."""
        for ending in ("html", "pdf"):
            server.add_route(f"/record/report.{ending}", self._road("report", ending))
        server.add_route("/record/order.html", self._road("order", "html"))
        server.add_route("/record/package.zip", self._road("package", "zip"))
        for what in TABLES:
            for ending in ("csv", "parquet", "json"):
                server.add_route(f"/record/{what}.{ending}", self._road(what, ending))

    def _road(self, what: str, ending: str) -> Callable[[Request], Awaitable[Response]]:
        async def answer(request: Request) -> Response:
            name = request.query_params.get("recording", "")
            keep = ending != "html" or "keep" in request.query_params
            return await asyncio.to_thread(self._answer, what, ending, name, keep=keep)

        return answer

    def _answer(self, what: str, ending: str, name: str, *, keep: bool) -> Response:
        if name not in self._library.recordings():
            return PlainTextResponse(word("record.unknown"), status_code=404)
        try:
            body = self._body(what, name, ending)
        except NoOrder as error:
            return PlainTextResponse(word("record.no-order", why=error), status_code=409)
        except TooLarge as error:
            return PlainTextResponse(str(error), status_code=413)
        except BadRecording as error:
            return PlainTextResponse(str(error), status_code=422)
        except NoPdf as error:
            return PlainTextResponse(str(error), status_code=503)
        headers = {"cache-control": "no-store", "content-security-policy": POLICY}
        if keep:
            headers["content-disposition"] = (
                f'attachment; filename="{_plain(Path(name).stem)}-{what}.{ending}"'
            )
        return Response(body, media_type=KINDS[ending], headers=headers)

    def _body(self, what: str, name: str, ending: str) -> bytes:
        match what:
            case "report":
                return self._report(name, ending)
            case "order":
                return self._order(name).encode()
            case "package":
                return self._package(name)
            case _:
                return self._table(name, what, ending)

    def _order(self, name: str) -> str:
        opened = self._library.opened(name)
        job = opened.state.job
        planned = plan_of(sources(opened.state, name, self._library), job, job.units)
        return order_page(job, planned, version=__version__, written=_written())

    def _report(self, name: str, ending: str) -> bytes:
        text = self.report(name)
        if ending == "html":
            return text.encode()
        with tempfile.TemporaryDirectory(prefix="tenths-") as folder:
            path = Path(folder) / "report.pdf"
            write_pdf(text, path)
            return path.read_bytes()

    def report(self, name: str) -> str:
        """The record of a recording as a page, with the other part from beside it.

        Raises:
            BadRecording: There is none of this name, or it cannot be read.
            TooLarge: It is too large to be read while a browser waits.
        """
        opened = self._library.opened(name)
        found = sources(opened.state, name, self._library)
        parts = [one for one in found.found if one is not None]
        job = opened.state.job
        plating = job.shaft is not None and job.shaft.plating is not None
        plated = plan_of(found, job, job.units) if plating else None
        return page(
            job,
            [self._cited(one) for one in _cited_names(name, parts)],
            fit_of(found, job.units),
            parts,
            plated,
            version=__version__,
            written=_written(),
        )

    def _cited(self, name: str) -> CitedRecording:
        opened = self._library.opened(name)
        header, damage = opened.recording.header, opened.recording.damage
        events = opened.state.seq + 1
        digest, chain = prints(opened.path, None if damage else events + 1)
        return CitedRecording(
            name=name,
            began=header.began,
            program=header.program,
            events=events,
            sha256=digest,
            chain="" if damage else chain,
            damage="" if damage is None else str(damage),
            state=opened.state,
            pictures=shown_pictures(opened.path.parent, opened.state.steps.pictures),
            chatter=chatter_rows(_events(opened), opened.state.job),
            raws=raws_of(islice(opened.recording, events), opened.state),
        )

    def _package(self, name: str) -> bytes:
        """The results as data, with the other part from beside the recording."""
        opened = self._library.opened(name)
        found = sources(opened.state, name, self._library)
        job, parts = opened.state.job, [one for one in found.found if one is not None]
        recordings = [
            PackagedRecording(one, prints(session.path, None)[0], list(_events(session)), session.state)
            for one in _cited_names(name, parts)
            for session in (self._library.opened(one),)
        ]
        tables = package_tables(job, recordings, fit_of(found, job.units), datetime.now(UTC).date())
        return data_package(job.name, tables, recordings, program=f"tenths {__version__}", written=_written())

    def _table(self, name: str, what: str, ending: str) -> bytes:
        opened = self._library.opened(name)
        table = cast("What", what)
        found = rows(table, _events(opened), opened.state)
        about = {
            "program": f"tenths {__version__}",
            "recording": name,
            "sha256": prints(opened.path, None)[0],
            "job": opened.state.job.name,
        }
        with tempfile.TemporaryDirectory(prefix="tenths-") as folder:
            path = Path(folder) / f"table.{ending}"
            write(path, table, found, about)
            return path.read_bytes()


def _written() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _events(opened: Opened) -> islice:  # type: ignore[type-arg]  # islice takes no argument before Python 3.14
    """The events that its state is of, of a recording that may have grown since."""
    return islice(opened.recording, opened.state.seq + 1)


def _cited_names(name: str, parts: list[Measured]) -> list[str]:
    return list(dict.fromkeys([*(part.source for part in parts), *([] if parts else [name])]))


def _plain(name: str) -> str:
    """A file name that a header can carry."""
    return "".join(c if c.isascii() and (c.isalnum() or c in "-_. ") else "_" for c in name) or "recording"


def prints(path: Path, lines: int | None) -> tuple[str, str]:
    """SHA-256 and chain of a recording, of its first *lines* where it may have grown since.

    Raises:
        BadRecording: It cannot be read.
    """
    whole, chain = hashlib.sha256(), ""
    try:
        with os.fdopen(open_regular(path), "rb") as file:
            for line in islice(file, lines):
                whole.update(line)
                body = split_chain(line.rstrip(b"\n"))[0]
                chain = next_chain(chain, body) if chain else first_chain(line.rstrip(b"\n"))
    except OSError as error:
        raise BadRecording(f"{path.name}: cannot be read: {error.strerror or error}") from None
    return whole.hexdigest(), chain
