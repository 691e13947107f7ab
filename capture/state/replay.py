"""Replays a recording through the state: decisions as they were made, or decided again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from msgspec.structs import replace

from capture.events import Confirmation, Event, Pass, Reject
from capture.sheet.job import Job
from capture.state import decisions, session
from capture.state.session import PROGRAM, State


def replay_as_decided(job: Job, events: Iterable[Event]) -> Iterator[tuple[Event, State]]:
    """Every event with the state after it, decisions as they were recorded."""
    state = session.start(job)
    for event in events:
        state = session.step(state, event)
        yield event, state


def redecide(job: Job, events: Iterable[Event]) -> Iterator[tuple[Event, State]]:
    """Every event that was not the program's, with the state after what the program decides on it now."""
    state, trail = session.start(job), Trail()
    for event in events:
        trail.add([event])
        state = again(state, event, trail)
        if event.source != PROGRAM:
            yield event, state


def state_at_end(job: Job, events: Iterable[Event]) -> State:
    """The state at the end, decisions as they were made; a recording without any gets them now.

    *events* is gone through twice if it has none, so it must not be an iterator.
    """
    state = session.start(job)
    for event in events:
        state = session.step(state, event)
    return state if has_decisions(state) else redecided_state(job, events)


def redecided_state(job: Job, events: Iterable[Event]) -> State:
    """The state at the end with everything decided again."""
    state = session.start(job)
    for _, after in redecide(job, events):
        state = after
    return state


def has_decisions(state: State) -> bool:
    """Whether the program took part in the recording, or there was nothing for it to decide."""
    sizes = any(gauge.measures in {"diameter", "bore"} for gauge in state.job.gauges)
    return "taken" in state.kinds or "flag" in state.kinds or not (sizes and "reading" in state.kinds)


class Trail:
    """Which event each decision of the program followed, as far as a recording has been gone through.

    A decision made again has the number of the event that it follows, so what a person said
    about the old one is said about that number.
    """

    def __init__(self) -> None:
        self._followed: dict[int, int] = {}
        self._newest = -1

    def add(self, events: Iterable[Event]) -> None:
        """Goes through the *events* that come next."""
        for event in events:
            if event.source == PROGRAM:
                self._followed[event.seq] = self._newest
            else:
                self._newest = event.seq

    def about_what_is_left(self, event: Event) -> Event:
        """*event*; if it is about an old decision, then about the event that the decision followed."""
        fact = event.fact
        if (
            isinstance(fact, Reject | Pass | Confirmation)
            and fact.of is not None
            and fact.of in self._followed
        ):
            return replace(event, fact=replace(fact, of=self._followed[fact.of]))
        return event


def again(state: State, event: Event, trail: Trail) -> State:
    """The state after *event* and what the program decides on it now; its old decisions are passed over.

    *trail* must have gone through all events before *event*; further is no harm.
    """
    if event.source == PROGRAM:
        return state
    state = session.step(state, trail.about_what_is_left(event))
    while facts := decisions.decide(state):
        for fact in facts:
            state = session.step(state, Event(event.seq, event.at, PROGRAM, fact))
    return state
