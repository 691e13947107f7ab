"""An instrument that only answers: asked again and again, with one question outstanding."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress

from msgspec import Struct

from capture.events import AnyFact
from capture.links.link import Link, Open, StatusReporter

QUIET = 0.02
"""Seconds without a byte before a question, so that nothing late is taken for its answer.

It is also the silence of 3.5 characters between two Modbus frames at any rate from 2,000 baud up.
"""
PATIENCE = 3
"""Questions without an answer, in a row, after which the link is given up."""


class Question(Struct, frozen=True):
    """What to send, how often, and what an answer is."""

    ask: bytes
    answer: Callable[[bytes], int]
    """Length of the first whole answer in some bytes, or 0 to wait for more."""
    every: float = 1.0
    """Seconds from one question to the next."""
    timeout: float = 1.0
    """Seconds to wait for a whole answer."""
    gap: float | None = None
    """Seconds of silence that end an answer which has no other end."""
    hello: bytes = b""
    """What to send first of all."""

    def __post_init__(self) -> None:
        for name in ("every", "timeout"):
            if not getattr(self, name) > 0:
                raise ValueError(f"{name} = {getattr(self, name)}: seconds, more than 0, were due")


def query_link(open_: Open, question: Question, turn: asyncio.Lock | None = None) -> Open:
    """How to open an instrument that speaks only when asked over the link that *open_* opens.

    It is open once it has answered. Its chunks are whole answers with the time at which each began; what
    comes unasked is dropped. When it stops answering, or in the middle of an answer, the link is lost.
    Instruments that share one line share one *turn*.
    """
    mine = turn or asyncio.Lock()

    @asynccontextmanager
    async def connect() -> AsyncIterator[Link]:
        async with open_() as link:
            reader = _AnswerReader(link)
            try:
                conversation = _Conversation(link, reader, question, mine)
                await conversation.begin()
                yield conversation
            finally:
                await reader.close()

    return connect


class _AnswerReader:
    """The chunks of a link, each waited for as long as one likes."""

    def __init__(self, link: Link) -> None:
        self._chunks = link.chunks()
        self._next: asyncio.Task[tuple[bytes, int]] | None = None

    async def next_chunk(self, seconds: float) -> tuple[bytes, int] | None:
        """The next chunk, or None if none comes within *seconds*; OSError when the link is lost or ends."""
        if self._next is None:
            self._next = asyncio.create_task(self._take())
        # Waiting must not cancel what it waits for: an iterator that is cancelled has ended.
        done, _ = await asyncio.wait({self._next}, timeout=seconds)
        if not done:
            return None
        taken, self._next = self._next, None
        return taken.result()

    async def _take(self) -> tuple[bytes, int]:
        async for chunk in self._chunks:
            return chunk
        raise OSError("the instrument closed the link")

    async def close(self) -> None:
        if self._next is not None:
            self._next.cancel()
            with suppress(asyncio.CancelledError, OSError):
                await self._next


class _Conversation:
    def __init__(self, link: Link, reader: _AnswerReader, question: Question, turn: asyncio.Lock) -> None:
        self.detail = link.detail
        self._link = link
        self._reader = reader
        self._question = question
        self._turn = turn
        self._silent = 0
        self._due = asyncio.get_running_loop().time()
        self._first: tuple[bytes, int] | None = None

    @property
    def tell(self) -> Callable[[AnyFact], None] | None:
        """Where the link puts what is in no answer, if it receives such: see `StatusReporter`."""
        return self._link.tell if isinstance(self._link, StatusReporter) else None

    @tell.setter
    def tell(self, tell: Callable[[AnyFact], None] | None) -> None:
        if isinstance(self._link, StatusReporter):
            self._link.tell = tell

    async def begin(self) -> None:
        """Ask until the first answer; raises OSError when none comes."""
        if self._question.hello:
            await self._link.send(self._question.hello)
        while self._first is None:
            self._first = await self._exchange()

    async def send(self, data: bytes) -> None:
        await self._link.send(data)

    async def chunks(self) -> AsyncIterator[tuple[bytes, int]]:
        answer, self._first = self._first, None
        while True:
            if answer is not None:
                yield answer
                if not self._whole(answer[0]):
                    raise OSError(f"{self.detail}: an answer broke off after {len(answer[0])} bytes")
            answer = await self._exchange()

    def _whole(self, data: bytes) -> bool:
        return self._question.gap is not None or self._question.answer(data) == len(data)

    async def _exchange(self) -> tuple[bytes, int] | None:
        """One question and what came of it, whole or not; None if nothing came."""
        loop = asyncio.get_running_loop()
        await asyncio.sleep(self._due - loop.time())
        async with self._turn:
            await self._drop_stale()
            self._due = max(self._due, loop.time() - self._question.every) + self._question.every
            await self._link.send(self._question.ask)
            answer = await self._hear_out()
        self._silent = 0 if answer else self._silent + 1
        if self._silent == PATIENCE:
            raise OSError(
                f"{self.detail}: no answer to {self._question.ask!r}, {PATIENCE} times within "
                f"{self._question.timeout:g} s; is it switched on, are the question and the settings right?"
            )
        return answer

    async def _drop_stale(self) -> None:
        loop = asyncio.get_running_loop()
        quiet = self._question.timeout if self._silent else QUIET  # what was missed may still be coming
        end = loop.time() + self._question.timeout + quiet
        while await self._reader.next_chunk(quiet) is not None:
            if loop.time() > end:
                raise OSError(f"{self.detail}: it talks without being asked; leave `ask` out of the sheet")

    async def _hear_out(self) -> tuple[bytes, int] | None:
        loop = asyncio.get_running_loop()
        end = loop.time() + self._question.timeout
        data, began = b"", 0
        while (left := end - loop.time()) > 0:
            gap = self._question.gap if data else None
            chunk = await self._reader.next_chunk(left if gap is None else min(left, gap))
            if chunk is None:
                break
            data, began = data + chunk[0], began or chunk[1]
            if length := self._question.answer(data):
                return data[:length], began
        return (data, began) if data else None
