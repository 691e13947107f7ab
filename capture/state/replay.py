"""Replays a recording through the state: decisions as they were made, or decided again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from msgspec.structs import replace

from capture.events import Confirmation, Event, Pass, Reject
from capture.sheet.job import Job
from capture.state import decisions, session
from capture.state.append_log import Log
from capture.state.session import PROGRAM, State
from capture.state.stations import HistoryEntry


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
    about the old one is said about that number. That number is the reading's as well, and every pass
    found before it has it: where a person rejects one of these, the passes get their old numbers, in order.
    """

    def __init__(self) -> None:
        self._followed: dict[int, int] = {}
        self._found: dict[int, list[int]] = {}
        """Numbers of the passes that were found, by the event that they followed."""
        self._newest = -1

    def add(self, events: Iterable[Event]) -> None:
        """Goes through the *events* that come next."""
        for event in events:
            if event.source == PROGRAM:
                if _is_found_pass(event) and event.seq not in self._followed:
                    self._found.setdefault(self._newest, []).append(event.seq)
                self._followed[event.seq] = self._newest
            else:
                self._newest = event.seq

    def with_old_numbers(self, state: State, event: Event) -> State:
        """*state*; if *event* rejects an old decision, with the old numbers of the passes found beside it.

        The first pass that is found now has the number of the first one found then, and so on. A pass that
        is not found now leaves its number to nothing.
        """
        fact = event.fact
        followed = self._followed.get(fact.of) if isinstance(fact, Reject) else None
        numbers = [] if followed is None else self._found.get(followed, [])
        return state if followed is None or not numbers else _numbered(state, followed, numbers)

    def about_what_is_left(self, event: Event, state: State) -> Event:
        """*event*; if it is about an old decision, then about the event that the decision followed.

        What is about a pass that has its old number in *state*, and the rejection of a found pass, stay.
        """
        fact = event.fact
        if not isinstance(fact, Reject | Pass | Confirmation) or fact.of not in self._followed:
            return event
        followed = self._followed[fact.of]
        if fact.of in self._found.get(followed, ()):
            rejects = isinstance(fact, Reject)
            if rejects or any(entry.event.seq == fact.of for entry in state.history):
                return event
        return replace(event, fact=replace(fact, of=followed))


def _is_found_pass(event: Event) -> bool:
    return event.source == PROGRAM and isinstance(event.fact, Pass) and event.fact.of is None


def _numbered(state: State, followed: int, numbers: Sequence[int]) -> State:
    """*state* with *numbers*, in order, at the passes that were found after event *followed*."""
    known = {followed, *numbers}
    entries, counts, left = list(state.history), list(state.infeed.counts), list(numbers)
    for place, entry in enumerate(entries):
        if not left or entry.event.seq not in known or not _is_found_pass(entry.event):
            continue
        number, fact = left.pop(0), entry.event.fact
        entries[place] = HistoryEntry(replace(entry.event, seq=number), entry.warmth)
        same = (n for n, one in enumerate(counts) if one.seq == followed and one.found == fact)
        if (counted := next(same, None)) is not None:
            counts[counted] = replace(counts[counted], seq=number)
    infeed = replace(state.infeed, counts=tuple(counts))
    return replace(state, history=Log(entries), infeed=infeed)


def again(state: State, event: Event, trail: Trail) -> State:
    """The state after *event* and what the program decides on it now; its old decisions are passed over.

    *trail* must have gone through all events before *event*; further is no harm.
    """
    if event.source == PROGRAM:
        return state
    state = trail.with_old_numbers(state, event)
    state = session.step(state, trail.about_what_is_left(event, state))
    while facts := decisions.decide(state):
        for fact in facts:
            state = session.step(state, Event(event.seq, event.at, PROGRAM, fact))
    return state
