"""Fuzzes the job sheet: it is read, or refused with its faults; no gauge is opened."""

from __future__ import annotations

import sys
from pathlib import Path

from fuzzing import fuzz

from capture.ingest.instruments import BadInstrument, instruments_of
from capture.sheet.faults import BadSheet
from capture.sheet.reader import job_of, read_sheet
from capture.state import session
from capture.state.target import target as size_to_aim_at

FOLDER = Path(__file__).parent


def target(data: bytes) -> None:
    """Read a sheet and make its gauges ready; raises if it is neither taken nor refused."""
    try:
        job, plain = read_sheet(data.decode("utf-8", "replace"), "sheet.toml")
    except BadSheet as error:
        if not str(error).strip():
            raise RuntimeError("refused without a word") from error
        return
    if job_of(plain) != job:
        raise RuntimeError("what a recording keeps of the sheet is another job")
    size_to_aim_at(job, session.start(job).stations)
    try:
        instruments_of(job, FOLDER)
    except BadInstrument as error:
        if not str(error).strip():
            raise RuntimeError("refused without a word") from error


if __name__ == "__main__":
    sys.exit(fuzz("sheet", target))
