"""What gauges sent, word for word, for those readings that a record shows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from msgspec import Struct

from capture.events import Event, Instant, Reading, Reject, Taken
from capture.sheet.job import Job
from capture.state.session import State
from capture.text.command_replies import said
from capture.text.lengths import place, size


class Raw(Struct, frozen=True):
    """One event as it came."""

    seq: int
    at: Instant
    source: str
    kind: str
    shown: str
    """What the gauge sent, with what is not printable made visible; of other events, what they say."""
    why: str
    """Why it was set aside; empty where it was not."""


def raws_of(events: Iterable[Event], state: State) -> dict[int, Raw]:
    """The events that taken readings rest on, and those set aside with the reason, by number."""
    wanted = {seq for reading in state.stations.taken for seq in reading.of}
    why: dict[int, str] = {}
    kept: dict[int, Event] = {}
    for event in events:
        if isinstance(event.fact, Reject) and event.seq not in state.aside:
            why[event.fact.of] = event.fact.why
        if event.seq in wanted or event.seq in state.aside:
            kept[event.seq] = event
    return {seq: _raw(event, why, state.job) for seq, event in kept.items()}


def _raw(event: Event, why: Mapping[int, str], job: Job) -> Raw:
    return Raw(
        event.seq,
        event.at,
        event.source,
        type(event.fact).__name__.lower(),
        _shown(event, job),
        why.get(event.seq, ""),
    )


def _shown(event: Event, job: Job) -> str:
    match event.fact:
        case Reading(raw=raw):
            return "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in raw.rstrip("\r\n"))
        case Taken(part=part, z=z, angle=angle, value=value):
            at = "" if z is None else f" at {place(z, job.units)}"
            at += "" if angle is None else f", {angle:g}°"
            return f"{part}{at}: {size(value, job.units, 5)}"
        case _:
            return said(event.fact, job)
