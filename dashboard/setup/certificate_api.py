"""Calibration certificates read in the browser, and written onto a sheet of the folder."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime
from typing import Any, Final

import msgspec
from fastapi import FastAPI
from msgspec import Struct
from starlette.responses import JSONResponse, Response

from capture.analysis.calibration_certificate import (
    LARGEST,
    BadCertificate,
    CalibrationCertificate,
    CertifiedLength,
    overdue,
    read_certificate,
)
from capture.analysis.calibrations import Calibrated, sheet_keys
from capture.sheet.faults import BadSheet
from capture.sheet.gauges.gauge import DAY, Gauge, is_day
from capture.sheet.gauges.keys import with_keys
from capture.sheet.job import Job, Units
from capture.sheet.reader import read_sheet
from capture.text.lengths import size, small
from dashboard.setup.sheet_api import SheetApi, Unsaved
from dashboard.text.screen import word
from dashboard.web.api import LiveApi

MOST: Final = LARGEST * 4 // 3 + 1024
"""Bytes of a request: a certificate in base64, and what was chosen."""
FINE: Final = 6
"""Decimals of a certified length."""


class GivenCertificate(Struct):
    """A certificate in base64, and where it is to be written."""

    data: bytes
    units: Units = "mm"
    due: str = ""
    sheet: str = ""
    gauge: str = ""
    of: Calibrated = "master"
    length: int = 0
    """Which of its lengths, from 0."""


class Unkept(Exception):
    """Why a certificate is not read or not written: the field, and the sentence."""

    def __init__(self, field: str, why: str) -> None:
        self.field, self.why = field, why
        super().__init__(why)


class CertificateApi:
    """Answers what the page Certificates asks; what writes asks for this start's token."""

    def __init__(self, sheets: SheetApi, routes: LiveApi) -> None:
        self._sheets, self._routes = sheets, routes

    def lay(self, server: FastAPI) -> None:
        """Adds the routes to *server*."""
        server.add_route("/certificate/read", self._routes.guarded(self.read, MOST), methods=["POST"])
        server.add_route("/certificate/keep", self._routes.guarded(self.keep, MOST), methods=["POST"])

    async def read(self, body: bytes) -> Response:
        """What a certificate says, and the gauges of the folder's sheets that it may be of."""
        return await asyncio.to_thread(self._answered, self._read, body)

    async def keep(self, body: bytes) -> Response:
        """Answered when the sheet is on disk."""
        return await asyncio.to_thread(self._answered, self._keep, body)

    def _answered(self, work: Any, body: bytes) -> Response:
        given = msgspec.json.decode(body, type=GivenCertificate)
        try:
            return JSONResponse({"ok": True, **work(given, read_certificate(given.data))})
        except BadCertificate as error:
            refused = Unkept("file", str(error))
        except (BadSheet, Unsaved) as error:
            refused = Unkept("place", str(error))
        except Unkept as error:
            refused = error
        return JSONResponse({"ok": False, "field": refused.field, "refused": refused.why}, status_code=422)

    def _read(self, given: GivenCertificate, found: CalibrationCertificate) -> dict[str, Any]:
        places = [
            {"sheet": name, "gauge": gauge.name, "of": of, "text": word(f"certificates.{of}", **label)}
            for name in self._sheets.names()
            for gauge in self._gauges(name)
            for label in ({"sheet": name, "gauge": gauge.name},)
            for of in ("master", "gauge")
        ]
        return {
            "said": certificate_lines(found),
            "lengths": [length_line(one, given.units) for one in found.lengths],
            "places": places,
        }

    def _gauges(self, name: str) -> tuple[Gauge, ...]:
        try:
            return tuple(self._job(name)[1].gauges)
        except (BadSheet, Unsaved):  # the page Job says what is wrong with it
            return ()

    def _job(self, name: str) -> tuple[str, Job]:
        text = self._sheets.text(name)
        return text, read_sheet(text, name)[0]

    def _keep(self, given: GivenCertificate, found: CalibrationCertificate) -> dict[str, Any]:
        due = given.due.strip() or None
        if due is not None and not is_day(due):
            raise Unkept("due", word("certificates.due-bad", came=due[:40], due=DAY))
        text, job = self._job(given.sheet)
        gauge = job.gauge(given.gauge)
        if gauge is None:
            raise Unkept("place", word("certificates.no-gauge", gauge=given.gauge[:40], sheet=given.sheet))
        if found.lengths and not 0 <= given.length < len(found.lengths):
            raise Unkept("length", word("certificates.no-length"))
        chosen = found.lengths[given.length] if found.lengths else None
        keys = sheet_keys(found, chosen, given.of, due, gauge, job.units)
        changed = with_keys(text, given.gauge, keys)
        read_sheet(changed, given.sheet)
        self._sheets.write(given.sheet, changed)
        said = ", ".join(f"{key} = {value}" for key, value in keys.items())
        answer = word("certificates.kept", sheet=given.sheet, gauge=given.gauge, keys=said)
        late = overdue(due, datetime.now(UTC).date())
        return {"said": f"{answer} {word('certificates.late', due=due)}" if late else answer}


def certificate_lines(found: CalibrationCertificate) -> list[str]:
    """What a certificate says beside its lengths."""
    marks = f" ({', '.join(found.marks)})" if found.marks else ""
    return [
        word("certificates.number", number=found.number or "–", item=(found.item or "–") + marks),
        word("certificates.days", performed=found.performed or "–", issued=found.issued or "–"),
        word("certificates.signed" if found.signed else "certificates.unsigned"),
    ]


def length_line(one: CertifiedLength, units: Units) -> str:
    """A length with its expanded uncertainty."""
    shown = f"{one.name or word('certificates.length')}: {size(one.value, units, FINE)}"
    if one.expanded is None or one.k is None:
        return f"{shown}, {word('certificates.no-u')}"
    return f"{shown}, U {small(one.expanded, units)} (k = {one.k:g})"
