"""The clerk: gives each fact its number and its time, asks the desk, and has it all written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, Generic, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from capture.clock import Clock
from capture.events import AnyFact, Event, Garbled, Instant, Reading
from capture.folds import desk as the_desk
from capture.folds.marks import Refused, mark, said, source_of
from capture.journal import BadRecording, read
from capture.links.inbox import Reply
from capture.recorder import CannotRecord, Recorder
from capture.sheet import Job

S = TypeVar("S")

PERSON: Final = "person"


class Desk(Struct, Generic[S], frozen=True):
    """What makes the state and decides on it; `desk_of` gives the real one."""

    start: S
    step: Callable[[S, Event], S]
    decided: Callable[[S, Event], tuple[S, list[Event]]]
    """The state after an event and after the desk's own events on it, and those, numbered on."""
    mark: Callable[[Sequence[str], S], AnyFact]
    """The fact that a person's words mean; raises `Refused`."""
    said: Callable[[AnyFact], str]
    """What was understood, for a person."""


def desk_of(job: Job) -> Desk[the_desk.State]:
    """The desk of a job."""
    return Desk(the_desk.start(job), the_desk.step, the_desk.decided, mark, lambda fact: said(fact, job))


class Words(Struct, frozen=True):
    """A person's words on their way to become a fact."""

    words: tuple[str, ...]


class Heard(Struct, frozen=True):
    """Something to be numbered and written."""

    stamp: int
    """`time.monotonic_ns` at which it came."""
    source: str
    what: AnyFact | Words

    @property
    def weight(self) -> int:
        """Bytes that it takes as a line, roughly."""
        if isinstance(self.what, Reading | Garbled):
            return 250 + 2 * len(self.what.raw)
        return 500


class Clerk(Generic[S]):
    """Holds the newest state; to be used by one thread at a time."""

    def __init__(self, recorder: Recorder, clock: Clock, desk: Desk[S]) -> None:
        self.recorder = recorder
        self._clock = clock
        self._desk = desk
        self._state = desk.start

    def go_on(self) -> None:
        """Makes the state of a resumed recording from what stands in it.

        Raises:
            CannotRecord: It cannot be read.
        """
        try:
            recording = read(self.recorder.path)
            for event in recording:
                self._state = self._desk.step(self._state, event)
        except BadRecording as error:
            raise CannotRecord(str(error)) from None
        if recording.damage is not None:
            raise CannotRecord(str(recording.damage))

    def commit(self, batch: Sequence[Heard]) -> list[Reply | None]:
        """Numbers and writes all of *batch* in the order in which it came, in one write.

        Returns an answer for each person's words, None for the rest, in the order of *batch*.
        An answer is `ok` only when the event is on disk.
        """
        replies: list[Reply | None] = [None] * len(batch)
        events: list[Event] = []
        try:
            for place in sorted(range(len(batch)), key=lambda n: batch[n].stamp):
                replies[place] = self._take(batch[place], events)
        finally:
            # Whatever the desk does, what was heard before it is kept.
            on_disk = self.recorder.append(events)
        if on_disk:
            return replies
        return [reply and self._not_yet(reply) for reply in replies]

    def _take(self, heard: Heard, events: list[Event]) -> Reply | None:
        if isinstance(heard.what, Words):
            try:
                fact = self._desk.mark(heard.what.words, self._state)
            except Refused as error:
                if heard.source != PERSON:  # nobody waits for an answer: let the screen show it
                    self._add(heard, Garbled(str(error), " ".join(heard.what.words)), events)
                return Reply(ok=False, refused=str(error))
            source = source_of(heard.what.words, fact)
            event = self._add(replace(heard, source=source), fact, events)
            return Reply(ok=True, seq=event.seq, said=self._desk.said(fact))
        self._add(heard, heard.what, events)
        return None

    def _add(self, heard: Heard, fact: AnyFact, events: list[Event]) -> Event:
        event = Event(self.recorder.due + len(events), self._at(heard.stamp, events), heard.source, fact)
        events.append(event)
        self._state, own = self._desk.decided(self._state, event)
        events.extend(own)
        return event

    def _at(self, stamp: int, events: list[Event]) -> Instant:
        """What came late, after a batch that held later things, is not dated before them."""
        at = self._clock.at(stamp)
        last = events[-1].at if events else self.recorder.last
        return at if last is None or last.mono <= at.mono else Instant(last.mono, at.wall)

    def _not_yet(self, reply: Reply) -> Reply:
        if not reply.ok:
            return reply
        why = f"{self.recorder.trouble}; it is written when the disk is back: do not say it again"
        return replace(reply, ok=False, refused=why)
