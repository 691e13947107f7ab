"""A capture to be killed: listens to the serial port *port* and records in *folder*, going on if it can."""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path
from typing import TypeAlias

from capture.dialects.dialect import Dialect
from capture.events import AnyFact, Event, Instant, Note, Reading
from capture.host.clock import Clock
from capture.ingest.daemon import capture
from capture.ingest.gauge_reader import Instrument
from capture.ingest.sequencer import DecisionEngine
from capture.links.serial import serial_link
from capture.recording.opening import create, resume

JOB = {"job": {"name": "Jig-borer spindle sleeve"}}
LINES = Dialect(
    "lines", lambda data: data.find(b"\n") + 1, lambda raw: Reading(float(raw), "mm", 0, raw), longest=64
)


State: TypeAlias = tuple[int, float | None]
"""How many events there were, and the value of the reading that is still to be remarked on."""


def step(state: State, event: Event) -> State:
    return state[0] + 1, event.fact.value if isinstance(event.fact, Reading) else None


def settled(state: State, at: Instant) -> tuple[State, list[Event]]:
    """Remarks on every reading, so that more is written than was heard."""
    seq, value = state
    if value is None:
        return state, []
    return (seq + 1, None), [Event(seq, at, "desk", Note(f"saw {value:.0f}"))]


def said(fact: AnyFact) -> str:
    return str(fact)


def main(folder: Path, port: str) -> None:
    path, clock = folder / "session.jsonl", Clock.start()
    if path.exists():
        recorder, clock = resume(path, JOB, clock)
    else:
        recorder = create(path, JOB, clock)
    desk = DecisionEngine((0, None), step, settled, lambda words, _: Note(" ".join(words)), said)
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
