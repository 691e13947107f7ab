"""Fuzzes what is drawn: of whatever recording can be read every page, the record and the tables are made."""

from __future__ import annotations

import io
import sys
import tempfile
from contextlib import redirect_stderr, redirect_stdout, suppress
from pathlib import Path

import msgspec
from fuzzing import fuzz

from capture.cli import main
from capture.recording.reader import BadRecording
from capture.sessions import opened
from dashboard.sources.scene import Scene
from dashboard.views.registry import PAGES

FOLDER = Path(tempfile.mkdtemp(prefix="tenths-fuzz-"))
PATH = FOLDER / "session.jsonl"


def command(*words: str) -> None:
    """Runs a command; one that refuses in a sentence has answered."""
    with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()), suppress(SystemExit):
        main(list(words))


def target(data: bytes) -> None:
    """Draw all; raises what a person would see as a page that could not be drawn, or as a traceback."""
    PATH.write_bytes(data)
    command("report", str(PATH), "-o", str(FOLDER / "record.html"))
    for what in ("stations", "readings", "passes"):
        command("export", str(PATH), "-o", str(FOLDER / "table.csv"), "--what", what)
    try:
        state = opened(PATH).state
    except BadRecording:
        return
    for one in PAGES:
        for kind, units in (("live", "mm"), ("replay", "in")):
            msgspec.json.encode(one.draw(Scene(kind, PATH.name, state), units))


if __name__ == "__main__":
    sys.exit(fuzz("shown", target))
