"""What a person checked, tried and photographed in this session, in order."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct
from msgspec.structs import replace

from capture.events import Checked, Event, Picture, RunOut, Stage, Tried
from capture.state.append_log import Log
from capture.state.strip_target import before_plating


class RunOutReading(Struct, frozen=True):
    """A run-out, and when in the job it was read."""

    event: Event
    stage: str | None
    ground: bool
    """Whether a pass was made on the surface that it is of."""


class JobSteps(Struct, frozen=True):
    """The steps so far, without what was set aside."""

    checks: Log[Event] = Log()
    tries: Log[Event] = Log()
    pictures: Log[Event] = Log()
    runouts: Log[RunOutReading] = Log()
    passes_before: int = 0
    """Passes made before the surface in hand was there: on the base, before it was plated."""

    @property
    def newest(self) -> Mapping[str, Event]:
        """The newest result of everything that was checked, by its name."""
        return {event.fact.what: event for event in self.checks if isinstance(event.fact, Checked)}


def step(state: JobSteps, event: Event, stage: str | None, passes: int) -> JobSteps:
    """The steps after one event of the history, in the *stage* and after so many *passes* that it left."""
    match event.fact:
        case Checked():
            return replace(state, checks=state.checks.added(event))
        case Tried():
            return replace(state, tries=state.tries.added(event))
        case RunOut():
            seen = RunOutReading(event, stage, passes > state.passes_before)
            return replace(state, runouts=state.runouts.added(seen))
        case Stage(name=name) if before_plating(name) or "plat" in name.lower():
            return replace(state, passes_before=passes)
        case Picture():
            return replace(state, pictures=state.pictures.added(event))
        case _:
            return state
