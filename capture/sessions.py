"""Brings recordings to their end, and finds which of several tells the newest of a part."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from msgspec import Struct

from capture.events import Part
from capture.recording.reader import BadRecording, Recording, read
from capture.sheet.reader import job_of
from capture.state import replay
from capture.state.session import State
from capture.state.stations import Warmth

PARTS: tuple[Part, ...] = ("bore", "shaft")


class Opened(Struct, frozen=True):
    """A recording brought to its end."""

    path: Path
    recording: Recording
    state: State

    def newest(self, part: Part) -> int | None:
        """Wall-clock time of the newest reading of *part*; None where there is none."""
        return next((one.at.wall for one in reversed(self.state.stations.taken) if one.part == part), None)


def opened(path: Path) -> Opened:
    """The recording at *path* at its end.

    Raises:
        BadRecording: It cannot be read, or is no recording.
    """
    recording = read(path)
    try:
        return Opened(path, recording, replay.state_at_end(job_of(recording.header.job), recording))
    except OverflowError:
        raise BadRecording(
            f"{path}: numbers came that are too large to work with, which no gauge gives"
        ) from None


def newest_of(sessions: Sequence[Opened], part: Part) -> Opened | None:
    """The session with the newest reading of *part*; None where none has any."""
    holding = [(at, one) for one in sessions if (at := one.newest(part)) is not None]
    return max(holding, key=lambda pair: pair[0])[1] if holding else None


def shop_of(states: Iterable[State]) -> dict[str, Warmth]:
    """The newest temperature of each place over all *states*, by the wall clock; of two equals the first."""
    found: dict[str, Warmth] = {}
    for state in states:
        for place, warmth in state.warmth.items():
            if place not in found or warmth.at.wall > found[place].at.wall:
                found[place] = warmth
    return found
