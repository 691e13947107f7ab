"""Job sheets opened and saved by form: the same TOML, in the dashboard's folder and nowhere else."""

from __future__ import annotations

import asyncio
import hashlib
import os
import re
import tempfile
from pathlib import Path
from typing import Any, Final

import msgspec
from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from capture.analysis.fit.orientation import orientation
from capture.host.disk import read_small, sync_folder
from capture.metrology.units import MM_PER_INCH
from capture.sheet.faults import BadSheet
from dashboard.setup.sheet_faults import checked
from dashboard.setup.sheet_form import Typed, filled, opened, values_of
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.text.screen import word
from dashboard.views.setup.job import described
from dashboard.web.api import LiveApi

NAME: Final = re.compile(r"[^\W_][\w \-.()]{0,80}\.toml")
"""A file name: no folder, no leading dot, nothing that a shell or a host takes amiss."""
RESERVED: Final = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)\.", re.IGNORECASE)
"""Names that Windows takes for devices."""
LARGEST: Final = 1 << 20
"""Bytes of a sheet."""
DIALECT: Final = ".dialect.toml"
"""How the name of a dialect's file ends that the dashboard has written."""


class Unsaved(Exception):
    """Why a sheet is not opened or not saved."""


class SheetApi:
    """Answers requests about sheets; what saves asks for this start's token."""

    def __init__(self, library: RecordingLibrary, routes: LiveApi) -> None:
        self._library, self._routes = library, routes

    def lay(self, server: FastAPI) -> None:
        """Adds the routes to *server*."""
        server.add_route("/sheets", self.listed)
        server.add_route("/sheet", self.shown)
        server.add_route("/sheet/fits", self.fits)
        server.add_route("/sheet/check", self._routes.guarded(self.check), methods=["POST"])
        server.add_route("/sheet/save", self._routes.guarded(self.save), methods=["POST"])

    async def listed(self, _request: Request) -> Response:
        """Names of the folder's sheets."""
        return JSONResponse({"names": await asyncio.to_thread(self.names)})

    def names(self) -> list[str]:
        """Names of the folder's sheets, without the dialects that lie beside them."""
        return sorted(name for name in self._library.sheets() if not name.endswith(DIALECT))

    async def shown(self, request: Request) -> Response:
        """A sheet as a form; without a name, an empty one."""
        name = request.query_params.get("name", "")
        try:
            text = await asyncio.to_thread(self.text, name) if name else ""
            document = opened(text)
        except (Unsaved, BadSheet) as error:
            return JSONResponse({"ok": False, "refused": str(error)}, status_code=404)
        digest = digest_of(text) if name else ""
        return JSONResponse({"ok": True, "name": name, "digest": digest, **described(values_of(document))})

    async def fits(self, request: Request) -> Response:
        """Standard fits at a nominal size, in the unit that was asked for, for the list of the form."""
        scale = MM_PER_INCH if request.query_params.get("units") == "in" else 1.0
        try:
            nominal = float(request.query_params.get("nominal", "").replace(",", "."))
            rows = orientation(nominal * scale, None) if 0 < nominal < LARGEST else []
        except ValueError:
            rows = []
        found = [
            {
                "name": f"{row['name']} ({row['standard']})",
                "least": f"{row['least'] / scale:.5g}",
                "most": f"{row['most'] / scale:.5g}",
                "aim": f"{(row['least'] + row['most']) / 2 / scale:.5g}",
            }
            for row in rows
        ]
        return JSONResponse({"fits": found})

    async def check(self, body: bytes) -> Response:
        """What is wrong with a form, by field; nothing is saved."""
        typed = msgspec.json.decode(body, type=Typed)
        return await asyncio.to_thread(self._answer, typed, save=False)

    async def save(self, body: bytes) -> Response:
        """Saves a form that nothing is wrong with."""
        typed = msgspec.json.decode(body, type=Typed)
        return await asyncio.to_thread(self._answer, typed, save=True)

    def _answer(self, typed: Typed, *, save: bool) -> Response:
        """Every fault of the name and of the fields at once."""
        named: dict[str, str] = {}
        try:
            self._check_name(typed)
        except Unsaved as error:
            named = {"name": str(error)}
        try:
            text = filled(opened(self.text(typed.name) if typed.digest and not named else ""), typed)
            faults = checked(text, typed.name)
            fields = named | faults.fields
            open_ = {} if typed.meant == faults.questions else faults.questions
            if save and not fields and not faults.rest and not open_:
                self.write(typed.name, text)
                return JSONResponse(
                    {
                        "ok": True,
                        "said": word("job.saved", name=typed.name),
                        "digest": digest_of(text),
                        "fields": {},
                        "rest": [],
                    }
                )
        except (Unsaved, BadSheet) as error:
            return _said(named, [str(error)], word("job.not-saved") if save else "")
        wrong = bool(fields or faults.rest)
        said = _sentence(save=save, wrong=wrong, asked=bool(open_))
        return _said(fields, faults.rest, said, ok=not wrong and not open_, questions=faults.questions)

    def check_new(self, name: str) -> None:
        """Refuses a name under which no new sheet can be written.

        Raises:
            Unsaved: It is no file name, or it is taken.
        """
        self._check_name(Typed(name, {}, []))

    def _check_name(self, typed: Typed) -> None:
        """Refuses a name that is none, one that is taken, and a sheet that changed since it was opened.

        Raises:
            Unsaved: As said.
        """
        if NAME.fullmatch(typed.name) is None or RESERVED.match(typed.name):
            raise Unsaved(word("job.bad-name", came=typed.name[:90]))
        path = self._library.folder / typed.name
        there = typed.name in self._library.sheets()
        if not typed.digest and (there or path.exists() or path.is_symlink()):
            raise Unsaved(word("job.taken"))
        if typed.digest and (not there or digest_of(self.text(typed.name)) != typed.digest):
            raise Unsaved(word("job.changed"))

    def text(self, name: str) -> str:
        """A sheet of the folder as it is written.

        Raises:
            Unsaved: There is none of this name, or it cannot be read.
        """
        path = self._library.sheets().get(name)
        if path is None:
            raise Unsaved(word("job.unknown", name=name[:90]))
        try:
            if path.stat().st_size > LARGEST:
                raise Unsaved(word("job.large", name=name))
            return read_small(path, LARGEST).decode()
        except (OSError, UnicodeDecodeError) as error:
            raise Unsaved(word("job.unreadable", name=name, why=error)) from None

    def write(self, name: str, text: str) -> None:
        """Writes the sheet so that a power cut leaves the old one or the new one.

        Raises:
            Unsaved: It cannot be written.
        """
        folder = self._library.folder
        temporary = ""
        try:
            with tempfile.NamedTemporaryFile(
                "wb", dir=folder, prefix=f".{name}.", suffix=".tmp", delete=False
            ) as file:
                temporary = file.name
                file.write(text.encode())
                file.flush()
                os.fsync(file.fileno())
            mode = (folder / name).stat().st_mode if (folder / name).exists() else 0o644
            Path(temporary).chmod(mode & 0o777)
            Path(temporary).replace(folder / name)
            sync_folder(folder)
        except OSError as error:
            if temporary:
                Path(temporary).unlink(missing_ok=True)
            raise Unsaved(word("job.unwritable", name=name, why=error.strerror or error)) from None


def digest_of(text: str) -> str:
    """Distinguishes one state of a sheet from another."""
    return hashlib.sha256(text.encode()).hexdigest()


def _sentence(*, save: bool, wrong: bool, asked: bool) -> str:
    if not wrong:
        return word(("job.meant" if save else "job.asked") if asked else "job.good")
    return word("job.not-saved") if save else word("job.wrong")


def _said(
    fields: dict[str, str],
    rest: list[str],
    said: str,
    *,
    ok: bool = False,
    questions: dict[str, str] | None = None,
) -> Response:
    answer: dict[str, Any] = {
        "ok": ok,
        "said": said,
        "fields": fields,
        "rest": rest,
        "questions": questions or {},
    }
    return JSONResponse(answer, status_code=200)
