"""A capture in a time of its own: what it writes is what a capture of the same shop would have written."""

from __future__ import annotations

from pathlib import Path

from capture.dialects.decimal import decimal_line
from capture.dialects.dialect import Decoder
from capture.events import AnyFact, Beat, Down, Up
from capture.host.clock import Clock
from capture.ingest.sequencer import CommandText, EventSequencer, PendingEvent, engine_of
from capture.recording.opening import create
from capture.sheet.reader import read_sheet

BEGAN = 1_772_442_847_000_000_000
"""2026-03-02T09:14:07Z, when the made-up shop opens."""
BEAT = 1_000_000_000


class Virtual:
    """A capture with a clock of its own, which advances as asked."""

    def __init__(self, path: Path, sheet: str) -> None:
        job, plain = read_sheet(sheet, str(path))
        self._now = 0
        clock = Clock.start(monotonic=lambda: self._now, wall=lambda: BEGAN + self._now)
        self._sequencer = EventSequencer(create(path, plain, clock), clock, engine_of(job))
        self._decoders = {
            gauge.name: Decoder(decimal_line(unit=gauge.unit, channel=gauge.channel)) for gauge in job.gauges
        }

    def wait(self, seconds: float) -> None:
        """Let time pass, a beat each second."""
        end = self._now + int(seconds * 1e9)
        while (beat := (self._now // BEAT + 1) * BEAT) <= end:
            self._now = beat
            self._tell("daemon", Beat())
        self._now = end

    def receive(self, gauge: str, data: bytes) -> None:
        """Bytes from a gauge."""
        self._decoders[gauge], facts = self._decoders[gauge].feed(data)
        for fact in facts:
            self._tell(gauge, fact)

    def link(self, gauge: str, fact: Up | Down) -> None:
        """A link opened or lost."""
        self._tell(gauge, fact)

    def say(self, *words: str) -> None:
        """A person's words."""
        self._tell("person", CommandText(words))

    def close(self) -> None:
        """The end of the capture."""
        self._sequencer.recorder.close()

    def _tell(self, source: str, what: AnyFact | CommandText) -> None:
        self._sequencer.commit([PendingEvent(self._now, source, what)])
