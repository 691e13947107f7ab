"""A capture to be killed: listens to the serial port *port* and records in *folder*, going on if it can."""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path

from capture.clerk import Desk
from capture.clock import Clock
from capture.daemon import Instrument, capture
from capture.dialects.dialect import Dialect
from capture.events import AnyFact, Event, Note, Reading
from capture.links.serial import serial_link
from capture.recorder import create, resume

JOB = {"job": {"name": "Jig-borer spindle sleeve"}}
LINES = Dialect(
    "lines", lambda data: data.find(b"\n") + 1, lambda raw: Reading(float(raw), "mm", 0, raw), longest=64
)


def decided(state: int, event: Event) -> tuple[int, list[Event]]:
    """Counts, and remarks on every reading, so that a batch holds more than was heard."""
    if not isinstance(event.fact, Reading):
        return state + 1, []
    return state + 2, [Event(event.seq + 1, event.at, "desk", Note(f"saw {event.fact.value:.0f}"))]


def said(fact: AnyFact) -> str:
    return str(fact)


def main(folder: Path, port: str) -> None:
    path, clock = folder / "session.jsonl", Clock.start()
    if path.exists():
        recorder, clock = resume(path, JOB, clock)
    else:
        recorder = create(path, JOB, clock)
    desk = Desk(0, lambda state, _: state + 1, decided, lambda words, _: Note(" ".join(words)), said)
    mike = Instrument("mike", serial_link(port), LINES)
    asyncio.run(
        capture(
            [mike],
            recorder,
            clock,
            desk,
            folder=folder,
            on_ready=lambda *_: sys.stdout.write("ready\n") and sys.stdout.flush(),
            on_trouble=sys.stderr.write,
        )
    )


main(Path(sys.argv[1]), sys.argv[2])
