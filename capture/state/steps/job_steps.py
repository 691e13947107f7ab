"""What a person checked, tried and photographed in this session, in order."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct
from msgspec.structs import replace

from capture.events import Checked, Event, Picture, Tried
from capture.state.append_log import Log


class JobSteps(Struct, frozen=True):
    """The steps so far, without what was set aside."""

    checks: Log[Event] = Log()
    tries: Log[Event] = Log()
    pictures: Log[Event] = Log()

    @property
    def newest(self) -> Mapping[str, Event]:
        """The newest result of everything that was checked, by its name."""
        return {event.fact.what: event for event in self.checks if isinstance(event.fact, Checked)}


def step(state: JobSteps, event: Event) -> JobSteps:
    """The steps after one event of the history."""
    match event.fact:
        case Checked():
            return replace(state, checks=state.checks.added(event))
        case Tried():
            return replace(state, tries=state.tries.added(event))
        case Picture():
            return replace(state, pictures=state.pictures.added(event))
        case _:
            return state
