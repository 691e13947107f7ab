"""Gives each event its number and its time, has it written, and then lets the program decide on it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from operator import attrgetter
from typing import Final, Generic, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from capture.events import AnyFact, Event, Garbled, Instant, Reading
from capture.host.clock import Clock
from capture.links.inbox.endpoint import Reply
from capture.recording.opening import CannotRecord
from capture.recording.reader import BadRecording, read
from capture.recording.writer import Recorder
from capture.sheet.job import Job
from capture.state import decisions, session
from capture.state.words.commands import CommandRejected, parse_command, source_of
from capture.text.command_replies import said

S = TypeVar("S")

PERSON: Final = "person"
_WITH_BYTES: Final = (Reading, Garbled)
_STAMP: Final = attrgetter("stamp")


class DecisionEngine(Struct, Generic[S], frozen=True):
    """What makes the state and decides on it; `engine_of` gives the real one."""

    start: S
    step: Callable[[S, Event], S]
    apply_decisions: Callable[[S, Instant], tuple[S, list[Event]]]
    """The state after what the program decides on it, and that as events of an instant, numbered on."""
    parse_command: Callable[[Sequence[str], S], AnyFact]
    """The fact that a person's words mean; raises `CommandRejected`."""
    said: Callable[[AnyFact], str]
    """What was understood, for a person."""


def engine_of(job: Job) -> DecisionEngine[session.State]:
    """The decision engine of a job."""
    return DecisionEngine(
        session.start(job),
        session.step,
        decisions.apply_decisions,
        parse_command,
        lambda fact: said(fact, job),
    )


class CommandText(Struct, frozen=True):
    """A person's words on their way to become a fact."""

    words: tuple[str, ...]


class PendingEvent(Struct, frozen=True):
    """Something to be numbered and written."""

    stamp: int
    """`time.monotonic_ns` at which it came."""
    source: str
    what: AnyFact | CommandText
    answer: Callable[[Reply], None] | None = None
    """Gets the answer to a person's words, in the sequencer's thread: `ok` only when the event is on disk."""

    @property
    def weight(self) -> int:
        """Bytes that it takes as a line, roughly."""
        what = self.what
        return 250 + 2 * len(what.raw) if isinstance(what, _WITH_BYTES) else 500


class EventSequencer(Generic[S]):
    """Holds the newest state; to be used by one thread at a time."""

    def __init__(self, recorder: Recorder, clock: Clock, engine: DecisionEngine[S]) -> None:
        self.recorder = recorder
        self._clock = clock
        self._engine = engine
        self._state = engine.start
        self._owed: list[tuple[Callable[[Reply], None], Reply]] = []
        """Answers to what is not on disk yet."""
        self._written = self._took = 0
        """When the disk last answered, and how long that took it, in nanoseconds."""
        self._asked: int | None = None
        """When the disk was asked that has not answered yet."""
        self._waited = 0

    def go_on(self) -> None:
        """Makes the state of a resumed recording from what stands in it, and decides what was left open.

        Raises:
            CannotRecord: It cannot be read.
        """
        try:
            recording = read(self.recorder.path)
            for event in recording:
                self._state = self._engine.step(self._state, event)
        except BadRecording as error:
            raise CannotRecord(str(error)) from None
        if recording.damage is not None:
            raise CannotRecord(str(recording.damage))
        if self.recorder.last is not None:
            self._decide(self.recorder.last)
            self._write()

    @property
    def waited(self) -> int:
        """Nanoseconds that it has waited for the disk so far; another thread may ask."""
        asked = self._asked
        return self._waited + (0 if asked is None else self._clock.stamp() - asked)

    def commit(self, batch: Iterable[PendingEvent]) -> None:
        """Numbers and writes all of *batch*, in the order of its stamps.

        What is received is on its way to the disk before the program thinks about it: a judgement takes
        longer than the disk does. What comes so thick that the disk would do nothing else goes out
        together.
        """
        try:
            for pending in sorted(batch, key=_STAMP):
                self._take(pending)
        finally:
            # Whatever the program does, what was received before it is kept.
            self._write()

    def _take(self, pending: PendingEvent) -> None:
        source, fact = pending.source, pending.what
        if isinstance(fact, CommandText):
            words = fact.words
            try:
                fact = self._engine.parse_command(words, self._state)
            except CommandRejected as error:
                if pending.answer is not None:
                    pending.answer(Reply(ok=False, refused=str(error)))
                if source == PERSON:
                    return
                # Nobody waits for an answer: let the screen show it.
                fact = Garbled(str(error), " ".join(words))
            else:
                source = source_of(words, fact)
                if pending.answer is not None:
                    said = self._engine.said(fact)
                    self._owed.append((pending.answer, Reply(ok=True, seq=self.recorder.due, said=said)))
        event = Event(self.recorder.due, self._at(pending.stamp), source, fact)
        self.recorder.add(event)
        if self._clock.stamp() - self._written > self._took and not self.recorder.trouble:
            self._write()
        self._state = self._engine.step(self._state, event)
        self._decide(event.at)

    def _decide(self, at: Instant) -> None:
        self._state, own = self._engine.apply_decisions(self._state, at)
        for event in own:
            self.recorder.add(event)

    def _at(self, stamp: int) -> Instant:
        """What came late, after a batch that held later things, is not dated before them."""
        at, last = self._clock.at(stamp), self.recorder.last
        return at if last is None or last.mono <= at.mono else Instant(last.mono, at.wall)

    def _write(self) -> None:
        """Has all that was numbered written, and answers for it."""
        if not self.recorder.kept:
            return
        begun = self._asked = self._clock.stamp()
        on_disk = self.recorder.flush()
        self._written, self._asked = self._clock.stamp(), None
        self._took = self._written - begun
        self._waited += self._took
        owed, self._owed = self._owed, []
        for answer, reply in owed:
            answer(reply if on_disk else self._not_yet(reply))

    def _not_yet(self, reply: Reply) -> Reply:
        why = f"{self.recorder.trouble}; it is written when the disk is back: do not say it again"
        return replace(reply, ok=False, refused=why)
