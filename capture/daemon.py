"""The daemon: joins links, dialects, desk and recording. All the concurrency there is."""

from __future__ import annotations

import random
import signal
import sys
from asyncio import (
    CancelledError,
    Event,
    Future,
    TaskGroup,
    TimerHandle,
    get_running_loop,
    sleep,
    timeout,
    to_thread,
    wait,
)
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final, Generic, TypeVar

from msgspec import Struct

from capture.clerk import PERSON, Clerk, Desk, Heard, Words
from capture.clock import Clock
from capture.dialects.dialect import Decoder, Dialect
from capture.events import AnyFact, Beat, Down, Flag, Note, Up
from capture.links.inbox import Reply, open_inbox
from capture.links.link import Link, Open, Tells
from capture.recorder import BOUND, Recorder

S = TypeVar("S")

DAEMON: Final = "daemon"
LONGEST_WORDS: Final = 2000
"""Bytes of a line of words."""
_AGAIN: Final = 0.5
"""Seconds between two tries to write."""
_LAST_TRIES: Final = 5.0
"""Seconds that a stopping capture goes on trying."""
_FIRST_TRIES: Final = 2.0
"""Seconds that gauges are given to open before the capture says it is ready without them."""
_SLOW: Final = 3.0
"""Seconds after which a disk that has not answered is spoken of."""


class Instrument(Struct, frozen=True):
    """One gauge, ready to be listened to."""

    name: str
    open: Open
    dialect: Dialect
    words: bool = False
    """Its lines are a person's words, as a pedal's are."""


class NotWritten(Exception):
    """The capture had to stop with events that never came to the disk."""


async def capture(
    instruments: Iterable[Instrument],
    recorder: Recorder,
    clock: Clock,
    desk: Desk[S],
    *,
    folder: Path,
    on_ready: Callable[[Path, Path], None],
    on_trouble: Callable[[str], None],
    stop: Event | None = None,
    signals: bool = True,
    bound: int = BOUND,
) -> None:
    """Records until *stop* is set or SIGINT or SIGTERM comes; all that was heard is on disk then.

    Args:
        instruments: The gauges.
        recorder: The recording, new or resumed; closed at the end.
        clock: The clock that the recording began or goes on with.
        desk: What decides.
        folder: Where the inbox opens: the job's folder.
        on_ready: Called once, when every gauge has been tried, with the paths of the recording and of
            the inbox's file.
        on_trouble: Called with a sentence for a person when something is not on disk, and with
            an empty one when all is on disk again.
        stop: Stops the capture when set.
        signals: Whether to stop on signals; only in the main thread.
        bound: Bytes that are kept in memory while the disk takes none.

    Raises:
        Taken: Another capture runs for this folder.
        CannotRecord: The recording to go on with cannot be read.
        NotWritten: The disk took nothing to the end; says how much is lost.
    """
    stop = stop or Event()
    scribe = _Scribe(Clerk(recorder, clock, desk), clock, on_trouble, bound)
    try:
        await scribe.begin()
        with _stopping(stop, signals=signals):
            async with TaskGroup() as group:
                group.create_task(scribe.write())
                try:
                    async with open_inbox(folder, recorder.path, recorder.header.began, scribe.hear) as inbox:
                        await _listen(instruments, scribe, stop, lambda: on_ready(recorder.path, inbox))
                finally:
                    scribe.close()
    except BaseExceptionGroup as errors:
        raise _single(errors) from errors.__cause__
    finally:
        try:
            scribe.finish()
        finally:
            recorder.close()


def _single(error: BaseException) -> BaseException:
    """The one error in a group of groups, which is what a caller can name; else the group."""
    while isinstance(error, BaseExceptionGroup) and len(error.exceptions) == 1:
        error = error.exceptions[0]
    return error


@contextmanager
def _stopping(stop: Event, *, signals: bool) -> Iterator[None]:
    names = (signal.SIGINT, signal.SIGTERM) if signals else ()
    loop = get_running_loop()
    before = {name: signal.getsignal(name) for name in names}
    for name in names:
        if sys.platform == "win32":
            signal.signal(name, lambda *_: loop.call_soon_threadsafe(stop.set))
        else:
            loop.add_signal_handler(name, stop.set)
    try:
        yield
    finally:
        for name in names:
            if sys.platform != "win32":
                loop.remove_signal_handler(name)
            signal.signal(name, before[name])


async def _listen(
    instruments: Iterable[Instrument], scribe: _Scribe[S], stop: Event, ready: Callable[[], None]
) -> None:
    async with TaskGroup() as group:
        tried = [(instrument, Event()) for instrument in instruments]
        tasks = [group.create_task(_hear_out(instrument, scribe, once)) for instrument, once in tried]
        tasks.append(group.create_task(_beat(scribe)))
        with suppress(TimeoutError):
            async with timeout(_FIRST_TRIES):
                for _, once in tried:
                    await once.wait()
        ready()
        await stop.wait()
        for task in tasks:
            task.cancel()


async def _beat(scribe: _Scribe[S]) -> None:
    loop = get_running_loop()
    due = loop.time()
    while True:
        due = max(due + 1.0, loop.time())
        await sleep(due - loop.time())
        scribe.tell(DAEMON, Beat())
        scribe.look_at_disk()


def _pauses() -> Iterator[float]:
    """Seconds before each new try: longer and longer, and never all instruments at once."""
    pause = 0.2
    while True:
        yield pause * random.uniform(0.8, 1.2)  # noqa: S311 - nobody gains by guessing it
        pause = min(2 * pause, 5.0)


async def _hear_out(instrument: Instrument, scribe: _Scribe[S], tried: Event) -> None:
    """Listens to one instrument for ever, however often its link is lost; *tried* is set after one try."""
    pauses = _pauses()
    known = ""
    while True:
        ear = _Ear(instrument, scribe)
        why = "the instrument closed the link"
        try:
            async with instrument.open() as link:
                known = ""
                scribe.tell(instrument.name, Up(link.detail))
                tried.set()
                await ear.listen(link)
        except OSError as error:
            why = error.strerror or str(error) or type(error).__name__
        except CancelledError:
            why = known or "the capture was stopped"
            raise
        finally:
            tried.set()
            ear.close()
            if why != known:
                scribe.tell(instrument.name, Down(why))
            known = why
        if ear.heard:
            pauses = _pauses()
        await sleep(next(pauses))


class _Ear(Generic[S]):
    """One link while it is open: bytes in, facts to the scribe."""

    def __init__(self, instrument: Instrument, scribe: _Scribe[S]) -> None:
        self.heard = False
        self._instrument = instrument
        self._scribe = scribe
        self._decoder = Decoder(instrument.dialect)
        self._stamp: int | None = None
        self._gap: TimerHandle | None = None

    async def listen(self, link: Link) -> None:
        if isinstance(link, Tells):
            link.tell = lambda fact: self._scribe.tell(self._instrument.name, fact)
        if self._instrument.dialect.hello:
            await link.send(self._instrument.dialect.hello)
        await (self._hear_words(link) if self._instrument.words else self._read(link))

    async def _hear_words(self, link: Link) -> None:
        rest = b""
        async for data, stamp in link.chunks():
            self.heard = True
            *lines, rest = (rest + data).replace(b"\n", b"\r").split(b"\r")
            for line in filter(None, lines):
                self._scribe.say(self._instrument.name, line.decode("latin-1").split(), stamp)
            rest = rest[:LONGEST_WORDS]

    async def _read(self, link: Link) -> None:
        gap = self._instrument.dialect.gap
        async for data, stamp in link.chunks():
            self.heard = True
            self._stop_waiting()
            if gap is not None and self._stamp is not None and stamp - self._stamp > gap * 1e9:
                self._silence()
            self._stamp = stamp
            self._decoder, facts = self._decoder.feed(data)
            self._tell(facts)
            if gap is not None and self._decoder.pending:
                self._gap = get_running_loop().call_later(gap, self._silence)

    def close(self) -> None:
        self._stop_waiting()
        self._tell(self._decoder.close())

    def _silence(self) -> None:
        self._decoder, facts = self._decoder.silence()
        self._tell(facts)

    def _stop_waiting(self) -> None:
        if self._gap is not None:
            self._gap.cancel()
            self._gap = None

    def _tell(self, facts: Iterable[AnyFact]) -> None:
        for fact in facts:
            self._scribe.tell(self._instrument.name, fact, self._stamp)


class _Scribe(Generic[S]):
    """Gathers what comes while the disk is busy, and has it all written in the next go."""

    def __init__(self, clerk: Clerk[S], clock: Clock, on_trouble: Callable[[str], None], bound: int) -> None:
        self._clerk = clerk
        self._recorder = clerk.recorder
        self._clock = clock
        self._on_trouble = on_trouble
        self._bound = bound
        self._waiting: list[tuple[Heard, Future[Reply] | None]] = []
        self._weight = 0
        self._wake = Event()
        self._closed_at: float | None = None
        self._busy_since: float | None = None
        self._said = ""
        self._late = self._lost = 0

    async def begin(self) -> None:
        if self._recorder.due:
            await to_thread(self._clerk.go_on)
            mended = self._recorder.mended
            tail = f"; {mended.moved} bytes that a crash had cut short are in {mended.to}" if mended else ""
            self.tell(DAEMON, Note(f"the recording goes on{tail}"))

    def tell(self, source: str, fact: AnyFact, stamp: int | None = None) -> None:
        """Takes a fact in; it never waits."""
        self._take(Heard(self._clock.stamp() if stamp is None else stamp, source, fact), None)

    def say(self, source: str, words: list[str], stamp: int) -> None:
        """A person's words that nobody waits for: if they are refused, that is recorded."""
        self._take(Heard(stamp, source, Words(tuple(words))), None)

    async def hear(self, words: list[str], stamp: int) -> Reply:
        """A person's words; returns when they are on disk, or cannot be."""
        if self._closed_at is not None:
            return Reply(ok=False, refused="the capture is stopping")
        if self._recorder.trouble:
            return Reply(ok=False, refused=f"{self._recorder.trouble}: say it again when the disk is back")
        answer: Future[Reply] = get_running_loop().create_future()
        if not self._take(Heard(stamp, PERSON, Words(tuple(words))), answer):
            return Reply(ok=False, refused="too much is waiting for the disk: say it again when it is back")
        return await answer

    def close(self) -> None:
        """Nothing more comes: `write` ends when all is on disk."""
        self._closed_at = get_running_loop().time()
        self._wake.set()

    def look_at_disk(self) -> None:
        """Says so when a write takes so long that somebody should know."""
        if self._busy_since is not None and get_running_loop().time() - self._busy_since > _SLOW:
            self._say(
                f"not on disk: the disk does not answer; {len(self._waiting)} events more wait in memory"
            )

    async def write(self) -> None:
        """Writes until closed, each time all that came meanwhile."""
        while self._waiting or self._recorder.trouble or self._closed_at is None:
            await (sleep(_AGAIN) if self._recorder.trouble else self._wake.wait())
            self._wake.clear()
            await self._write_once()
            if self._recorder.trouble and self._given_up():
                raise NotWritten(self._recorder.trouble.replace("kept in memory", "and now lost"))

    def finish(self) -> None:
        """Writes what an end in the middle has left."""
        if self._waiting:
            self._clerk.commit([heard for heard, _ in self._waiting])

    def _given_up(self) -> bool:
        return self._closed_at is not None and get_running_loop().time() - self._closed_at > _LAST_TRIES

    async def _write_once(self) -> None:
        taken, self._waiting, self._weight = self._waiting, [], 0
        before = self._recorder.trouble
        self._busy_since = get_running_loop().time()
        batch = [heard for heard, _ in taken]
        work = get_running_loop().run_in_executor(None, self._clerk.commit, batch)
        try:
            await wait([work])
        except CancelledError:
            # What a thread has begun it ends; only then may the file be closed.
            await wait([work])
            raise
        finally:
            self._busy_since = None
        replies = work.result()
        for (_, answer), reply in zip(taken, replies, strict=True):
            if answer is not None and reply is not None and not answer.done():
                answer.set_result(reply)
        self._report(len(taken), before)

    def _take(self, heard: Heard, answer: Future[Reply] | None) -> bool:
        if self._weight + self._recorder.kept + heard.weight > self._bound:
            self._lost += 1
            return False
        self._waiting.append((heard, answer))
        self._weight += heard.weight
        self._wake.set()
        return True

    def _report(self, count: int, before: str) -> None:
        trouble = self._recorder.trouble
        if self._recorder.notice:
            notice, self._recorder.notice = self._recorder.notice, ""
            self.tell(DAEMON, Note(notice))
            self._say(notice)
        if trouble:
            self._late += count
            self._say(trouble + (f"; {self._lost} more are lost, memory is full" if self._lost else ""))
            return
        if before or self._lost:
            text = f"{self._late} events came late to the disk, {self._lost} were lost"
            figures: dict[str, float | None] = {"late": float(self._late), "lost": float(self._lost)}
            self.tell(DAEMON, Flag("disk", 0, (), figures, text=text))
            self._late = self._lost = 0
        self._say("")

    def _say(self, sentence: str) -> None:
        if sentence != self._said:
            self._said = sentence
            self._on_trouble(sentence)
