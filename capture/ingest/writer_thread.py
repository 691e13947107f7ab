"""A thread that writes all that comes, each time what came while the disk was busy."""

from __future__ import annotations

import time
from asyncio import CancelledError, Future, get_running_loop, to_thread, wait
from collections.abc import Callable
from queue import SimpleQueue
from typing import Final, Generic, TypeVar

from capture.events import AnyFact, Flag, Note
from capture.host.clock import Clock
from capture.ingest.sequencer import PERSON, CommandText, EventSequencer, PendingEvent
from capture.links.inbox.endpoint import Reply

S = TypeVar("S")

DAEMON: Final = "daemon"
_AGAIN: Final = 0.5
"""Seconds between two tries to write."""
_LAST_TRIES: Final = 5.0
"""Seconds that a stopping capture goes on trying."""
_SLOW: Final = 3.0
"""Seconds after which a disk that has not answered is spoken of."""


class NotWritten(Exception):
    """The capture had to stop with events that never came to the disk."""


class WriterThread(Generic[S]):
    """Takes in at once what comes in the loop, and hands it to the sequencer in a thread of its own.

    One hand-over, from the loop to the thread, is all that stands between a gauge's word and the
    disk. The thread takes what waits without asking the loop, and speaks to it only when a person
    is to be told something.
    """

    def __init__(
        self, sequencer: EventSequencer[S], clock: Clock, on_trouble: Callable[[str], None], bound: int
    ) -> None:
        self._sequencer = sequencer
        self._recorder = sequencer.recorder
        self._clock = clock
        self._on_trouble = on_trouble
        self._bound = bound
        self._loop = get_running_loop()
        self._waiting: SimpleQueue[tuple[PendingEvent, int] | None] = SimpleQueue()
        """What came, each with its weight; None at the end."""
        # Bytes that were put in and taken out: each is counted by one thread alone.
        self._came = self._went = 0
        self._closed_at: float | None = None
        self._busy_since: float | None = None
        self._waited_before = 0
        """What the sequencer had waited for the disk by then."""
        self._said = ""
        self._late = self._lost = 0

    async def begin(self) -> None:
        """Goes on where a recording stopped, if it had begun."""
        if self._recorder.due:
            await to_thread(self._sequencer.go_on)
            mended = self._recorder.mended
            tail = f"; {mended.moved} bytes that a crash had cut short are in {mended.to}" if mended else ""
            self.tell(DAEMON, Note(f"the recording goes on{tail}"))

    def tell(self, source: str, fact: AnyFact, stamp: int | None = None) -> None:
        """Takes a fact in; it never waits."""
        self._take(PendingEvent(self._clock.stamp() if stamp is None else stamp, source, fact))

    def say(self, source: str, words: list[str], stamp: int) -> None:
        """A person's words that nobody waits for: if they are refused, that is recorded."""
        self._take(PendingEvent(stamp, source, CommandText(tuple(words))))

    async def accept_command(self, words: list[str], stamp: int) -> Reply:
        """A person's words; returns when they are on disk, or cannot be."""
        if self._closed_at is not None:
            return Reply(ok=False, refused="the capture is stopping")
        if self._recorder.trouble:
            return Reply(ok=False, refused=f"{self._recorder.trouble}: say it again when the disk is back")
        answered: Future[Reply] = self._loop.create_future()

        def answer(reply: Reply) -> None:
            self._loop.call_soon_threadsafe(_set, answered, reply)

        if not self._take(PendingEvent(stamp, PERSON, CommandText(tuple(words)), answer)):
            return Reply(ok=False, refused="too much is waiting for the disk: say it again when it is back")
        return await answered

    def close(self) -> None:
        """Nothing more comes: `write` ends when all is on disk."""
        if self._closed_at is None:
            self._closed_at = time.monotonic()
            self._waiting.put(None)

    def look_at_disk(self) -> None:
        """Says so when a write takes so long that somebody should know, and what it waits for."""
        since = self._busy_since  # once, as the thread may clear it at any moment
        now = time.monotonic()
        if since is None or now - since <= _SLOW:
            return
        at_disk = (self._sequencer.waited - self._waited_before) / 1e9
        why = "the disk does not answer" if at_disk > (now - since) / 2 else "this computer is too busy"
        self._say(f"not on disk: {why}; {self._waiting.qsize()} more lines wait in memory")

    async def write(self) -> None:
        """Has all written until closed.

        Raises:
            NotWritten: The disk took nothing to the end; says how much is lost.
        """
        work = self._loop.run_in_executor(None, self._write)
        try:
            await wait([work])
        except CancelledError:
            # What a thread has begun it ends; only then may the file be closed.
            self.close()
            await wait([work])
            raise
        work.result()

    def finish(self) -> None:
        """Writes what came after the end."""
        if batch := self._taken(None):
            self._sequencer.commit(batch)

    def _take(self, pending: PendingEvent) -> bool:
        weight = pending.weight
        if self._came - self._went + self._recorder.kept + weight > self._bound:
            self._lost += 1
            return False
        self._came += weight
        self._waiting.put((pending, weight))
        return True

    def _report(self, count: int, before: str, trouble: str, notice: str) -> None:
        """Tells a person how a write of *count* events went: the trouble *before* it and after it."""
        if notice:
            self.tell(DAEMON, Note(notice))
            self._say(notice)
        if trouble:
            self._late += count
            self._say(trouble + (f"; {self._lost} more are lost, memory is full" if self._lost else ""))
            return
        if before or self._lost:
            figures: dict[str, float | None] = {"late": float(self._late), "lost": float(self._lost)}
            self.tell(DAEMON, Flag("disk", 0, (), figures))
            self._late = self._lost = 0
        self._say("")

    def _say(self, sentence: str) -> None:
        if sentence != self._said:
            self._said = sentence
            self._on_trouble(sentence)

    # From here on: the thread.

    def _write(self) -> None:
        while self._closed_at is None or self._recorder.trouble or not self._waiting.empty():
            before = self._recorder.trouble
            batch = self._next()
            self._waited_before, self._busy_since = self._sequencer.waited, time.monotonic()
            self._sequencer.commit(batch)
            self._busy_since = None
            trouble, notice = self._recorder.trouble, self._recorder.notice
            self._recorder.notice = ""
            if trouble or before or self._said or self._lost or notice:
                self._loop.call_soon_threadsafe(self._report, len(batch), before, trouble, notice)
            if trouble and self._closed_at is not None and time.monotonic() - self._closed_at > _LAST_TRIES:
                raise NotWritten(self._recorder.loss)

    def _next(self) -> list[PendingEvent]:
        """All that waits, as soon as something does; while the disk takes nothing, after a pause."""
        if self._recorder.trouble:
            time.sleep(_AGAIN)
            return self._taken(None)
        return self._taken(self._waiting.get())

    def _taken(self, item: tuple[PendingEvent, int] | None) -> list[PendingEvent]:
        batch: list[PendingEvent] = []
        while True:
            if item is not None:
                batch.append(item[0])
                self._went += item[1]
            if self._waiting.empty():
                return batch
            item = self._waiting.get_nowait()


def _set(answered: Future[Reply], reply: Reply) -> None:
    if not answered.done():
        answered.set_result(reply)
