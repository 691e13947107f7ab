"""Reads one gauge, however often its link is lost."""

from __future__ import annotations

import random
from asyncio import CancelledError, Event, TimerHandle, get_running_loop, sleep
from collections.abc import Iterable, Iterator
from typing import Final, Generic, TypeVar

from msgspec import Struct

from capture.dialects.dialect import Decoder, Dialect
from capture.dialects.line_history import LineHistory
from capture.events import Decoded, Down, Up
from capture.ingest.writer_thread import WriterThread
from capture.links.link import Link, Midway, Open, Pushes, StatusReporter
from capture.state.health import STOPPED

S = TypeVar("S")

LONGEST_WORDS: Final = 2000
"""Bytes of a line of words."""


class Instrument(Struct, frozen=True):
    """One gauge, ready to be listened to."""

    name: str
    open: Open
    dialect: Dialect
    words: bool = False
    """Its lines are a person's words, as a pedal's are."""
    moves: bool = False
    """It shows where a slide stands, and may show any place at any speed."""


async def read_until_closed(instrument: Instrument, writer: WriterThread[S], tried: Event) -> None:
    """Listens to one instrument for ever, however often its link is lost; *tried* is set after one try."""
    pauses = _pauses()
    known = ""
    history = LineHistory(moves=instrument.moves)
    while True:
        reader = _GaugeReader(instrument, writer, history)
        why = "the instrument closed the link"
        try:
            async with instrument.open() as link:
                known = ""
                writer.tell(instrument.name, Up(link.detail))
                tried.set()
                await reader.listen(link)
        except OSError as error:
            why = error.strerror or str(error) or type(error).__name__
        except CancelledError:
            why = known or STOPPED
            raise
        finally:
            tried.set()
            reader.close()
            if why != known:
                writer.tell(instrument.name, Down(why))
            known = why
        if reader.spoke:
            pauses = _pauses()
        await sleep(next(pauses))


class _GaugeReader(Generic[S]):
    """One link while it is open: bytes in, facts to the writer."""

    def __init__(self, instrument: Instrument, writer: WriterThread[S], history: LineHistory) -> None:
        self.spoke = False
        self._instrument = instrument
        self._writer = writer
        self._history = history if instrument.dialect.unchecked else None
        self._decoder = Decoder(instrument.dialect)
        self._stamp: int | None = None
        self._gap: TimerHandle | None = None

    async def listen(self, link: Link) -> None:
        if isinstance(link, Midway) and link.midway:
            self._decoder = self._decoder.midway()
        if isinstance(link, StatusReporter):
            link.tell = lambda fact: self._writer.tell(self._instrument.name, fact)
        if self._instrument.dialect.hello:
            await link.send(self._instrument.dialect.hello)
        await (self._hear_words(link) if self._instrument.words else self._read(link))

    async def _hear_words(self, link: Link) -> None:
        rest = b""
        async for data, stamp in link.chunks():
            self.spoke = True
            *lines, rest = (rest + data).replace(b"\n", b"\r").split(b"\r")
            for line in filter(None, lines):
                self._writer.say(self._instrument.name, line.decode("latin-1").split(), stamp)
            rest = rest[:LONGEST_WORDS]

    async def _read(self, link: Link) -> None:
        if isinstance(link, Pushes):
            link.push = self._receive
        async for data, stamp in link.chunks():
            self._receive(data, stamp)

    def _receive(self, data: bytes, stamp: int) -> None:
        gap = self._instrument.dialect.gap
        self.spoke = True
        if self._gap is not None:
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

    def _tell(self, facts: Iterable[Decoded]) -> None:
        history, at = self._history, (self._stamp or 0) / 1e9
        for fact in facts:
            judged = fact if history is None else history.judge(fact, at)
            self._writer.tell(self._instrument.name, judged, self._stamp)


def _pauses() -> Iterator[float]:
    """Seconds before each new try: longer and longer, and never all instruments at once."""
    pause = 0.2
    while True:
        yield pause * random.uniform(0.8, 1.2)  # noqa: S311 - nobody gains by guessing it
        pause = min(2 * pause, 5.0)
