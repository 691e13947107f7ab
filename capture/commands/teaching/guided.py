"""Teaching for another program: its wishes on standard input, what there is to show on standard output."""

from __future__ import annotations

import asyncio
import sys
import threading
import time
from collections.abc import Callable
from typing import TypeAlias

import msgspec
from msgspec import Struct

from capture.links.link import Link, Open
from capture.teaching.guide import Guide
from capture.teaching.line_settings import LineSetting
from capture.teaching.steps import Answered, Ended, Here, Picture, Trouble, Wish, sent_bytes, wish_of

LOOK = 0.2
"""Seconds between two looks at what is to be shown."""
PAUSE = 0.5
"""Seconds without a byte after which what came is judged as it is."""
AWAY = 60.0
"""Seconds without a line from the other program after which nobody is there any more."""
LONGEST = 3600.0
"""Seconds that a lesson may take."""
AGAIN = 1.0
"""Seconds between two tries to open a link, and between two questions to a gauge."""
WAITING = 256
"""Chunks that may wait while something is learnt; behind them the link has to wait."""
LONG_LINE = 4096
"""Characters of a line on standard input."""

Opening: TypeAlias = Callable[[LineSetting], Open]
"""How to open the gauge's link with a setting of its line."""


class Chunk(Struct, frozen=True):
    """What came from the gauge."""

    turn: int
    """Counts the settings with which was listened."""
    at: float
    data: bytes


Item: TypeAlias = Chunk | Trouble | str | None
"""What came, how the link is, a line from the other program, or the end of its lines."""


async def guided(opening: Opening, guide: Guide, *, away: float = AWAY) -> int:
    """Teach until the other program ends its lines, stays away for *away* seconds, or time is up."""
    items: asyncio.Queue[Item] = asyncio.Queue()
    loop = asyncio.get_running_loop()
    threading.Thread(target=_read, args=(loop, items), daemon=True).start()
    lesson = _Lesson(opening, guide, items)
    try:
        why = await lesson.run(away)
    finally:
        await lesson.close()
    _say(Ended(why))
    return 0


def _read(loop: asyncio.AbstractEventLoop, items: asyncio.Queue[Item]) -> None:
    """In a thread: standard input as it comes; a thread that waits for it cannot be stopped."""
    try:
        while line := sys.stdin.readline(LONG_LINE):
            loop.call_soon_threadsafe(items.put_nowait, line)
        loop.call_soon_threadsafe(items.put_nowait, None)
    except (RuntimeError, ValueError, OSError):
        return  # the lesson has ended


def _say(picture: Picture) -> None:
    sys.stdout.buffer.write(msgspec.json.encode(picture) + b"\n")
    sys.stdout.buffer.flush()


class _Lesson:
    """The gauge's link, and what is to be shown."""

    def __init__(self, opening: Opening, guide: Guide, items: asyncio.Queue[Item]) -> None:
        self._opening, self._guide, self._items = opening, guide, items
        self._shown: dict[type[Picture], Picture] = {}
        self._listening: asyncio.Task[None] | None = None
        self._link: Link | None = None
        self._room = asyncio.Semaphore(WAITING)
        self._turns = 0
        self._spoke = self._asked = 0.0

    async def run(self, away: float) -> str:
        """Why it ended."""
        began = spoke = time.monotonic()
        self._listen()
        while True:
            self._show(*self._guide.pictures())
            await self._ask()
            end = time.monotonic() + LOOK
            while (left := end - time.monotonic()) > 0:
                try:
                    async with asyncio.timeout(left):
                        item = await self._items.get()
                except TimeoutError:
                    break
                if item is None:
                    return "who taught has gone"
                if isinstance(item, str):
                    spoke = time.monotonic()
                    await self._answer(item)
                else:
                    await self._receive(item)
            now = time.monotonic()
            if self._spoke and now - self._spoke > PAUSE:
                self._spoke = 0.0
                await self._turn(self._guide.pause())
            if now - spoke > away:
                return f"nobody has been there for {away:.0f} s"
            if now - began > LONGEST:
                return f"a lesson may take {LONGEST / 60:.0f} min"

    async def close(self) -> None:
        """Closes the link."""
        if self._listening is not None:
            self._listening.cancel()
            await asyncio.wait([self._listening])

    def _show(self, *pictures: Picture) -> None:
        for picture in pictures:
            # Who asks for the same twice waits for an answer twice.
            if isinstance(picture, Answered) or self._shown.get(type(picture)) != picture:
                self._shown[type(picture)] = picture
                _say(picture)

    async def _receive(self, item: Chunk | Trouble) -> None:
        if isinstance(item, Trouble):
            self._show(item)
            return
        self._room.release()
        if item.turn == self._turns:  # what came in under another setting is no longer of use
            self._spoke = time.monotonic()
            await self._turn(self._guide.receive(item.at, item.data))

    async def _answer(self, line: str) -> None:
        try:
            wish: Wish = wish_of(line)
        except (msgspec.MsgspecError, UnicodeError) as error:
            self._show(Answered(0, "", why=f"not understood: {error}"))
            return
        if isinstance(wish, Here):
            return
        after, answered = await asyncio.to_thread(self._guide.answer, wish)  # what is learnt takes its time
        await self._turn(after)
        # What is to be shown of it comes first, so that who reads the answer knows all of it.
        self._show(*self._guide.pictures(), answered)

    async def _turn(self, after: Guide) -> None:
        """Goes on with *after*; listens anew where the line is to be set otherwise."""
        before, self._guide = self._guide, after
        if after.setting != before.setting:
            await self.close()
            self._listen()

    async def _ask(self) -> None:
        now = time.monotonic()
        if self._guide.ask and self._link is not None and now - self._asked >= AGAIN:
            self._asked = now
            try:
                await self._link.send(sent_bytes(self._guide.ask))
            except OSError:
                return  # the listener says why

    def _listen(self) -> None:
        self._turns += 1
        self._listening = asyncio.create_task(self._follow(self._opening(self._guide.setting), self._turns))

    async def _follow(self, open_: Open, turn: int) -> None:
        while True:
            try:
                async with open_() as link:
                    self._link = link
                    self._items.put_nowait(Trouble(""))
                    async for data, stamp in link.chunks():
                        await self._room.acquire()
                        self._items.put_nowait(Chunk(turn, stamp / 1e9, data))
                why = "the gauge has closed the link"
            except OSError as error:
                why = str(error.strerror or error)
            finally:
                self._link = None
            self._items.put_nowait(Trouble(why))
            await asyncio.sleep(AGAIN)
