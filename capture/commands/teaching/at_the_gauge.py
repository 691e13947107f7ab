"""Teaching at the gauge, on a terminal: what to show is asked for, and what the display shows is typed."""

from __future__ import annotations

import asyncio
import os
import re
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Final, TypeAlias

import click

from capture.commands.terminal import echo
from capture.links.link import Link, Open
from capture.teaching.lesson import END, HOW, Conversation
from capture.teaching.line_settings import LineSetting, Search

LOOK: Final = 0.2
"""Seconds between two looks at what came."""
PAUSE: Final = 0.5
"""Seconds without a byte after which what came is judged as it is."""
LIVE: Final = 20.0
"""Seconds for which readings are shown through what was learnt."""

Opening: TypeAlias = Callable[[LineSetting], Open]
"""How to open the gauge's link with a setting of its line."""


def at_the_gauge(opening: Opening, search: Search, out: Path) -> int:
    """Teach in a conversation, and write what was learnt to *out*; the exit status."""
    try:
        return asyncio.run(_listen(opening, search, out))
    except OSError as error:
        raise click.UsageError(str(error.strerror or error)) from None
    except KeyboardInterrupt:
        return 0 if out.exists() else 1


class _Typed:
    """Lines that a person types, as they come; None at their end."""

    def __init__(self) -> None:
        self._lines: asyncio.Queue[str | None] = asyncio.Queue()
        # A thread that waits for a key cannot be stopped: it must hold nothing that an exit needs.
        threading.Thread(target=self._read, args=(asyncio.get_running_loop(),), daemon=True).start()

    def _read(self, loop: asyncio.AbstractEventLoop) -> None:
        pending = b""
        try:
            while data := os.read(sys.stdin.fileno(), 4096):
                *lines, pending = (pending + data).split(b"\n")
                for line in lines:
                    loop.call_soon_threadsafe(self._lines.put_nowait, line.decode("utf-8", "replace"))
            loop.call_soon_threadsafe(self._lines.put_nowait, None)
        except (RuntimeError, OSError):
            return  # the lesson has ended

    async def within(self, seconds: float) -> str | None:
        """The next line, "" while there is none within *seconds*; None at the end of all."""
        try:
            async with asyncio.timeout(seconds):
                line = await self._lines.get()
        except TimeoutError:
            return ""
        return None if line is None else f"{line}\n"


async def _listen(opening: Opening, search: Search, out: Path) -> int:
    """Find the setting of the line, then converse with it."""
    typed = _Typed()
    while True:
        setting = search.setting
        async with opening(setting)() as link:
            received = _Received(link)
            listening = asyncio.create_task(received.listen())
            try:
                if search.found is None:
                    search = await _found(search, received, listening, typed)
                if search.setting == setting:
                    return await _converse(received, listening, typed, out)
            finally:
                listening.cancel()
                await asyncio.wait([listening])


async def _found(search: Search, received: _Received, listening: asyncio.Task[None], typed: _Typed) -> Search:
    """Judge what comes under each setting in turn; return the search that names the setting that fits."""
    if search.number:
        echo(f"not text; listening at {search.setting.words}: press again, or let it send")
    else:
        echo(
            f"listening at {search.setting.words}: press the gauge's button, or let it send; if its manual "
            "says its setting, type it, such as 4800 7E1"
        )
    setting, chunks, silent = search.setting, list[tuple[float, bytes]](), 0.0
    while search.found is None and search.setting == setting:
        search = _chosen(await typed.within(LOOK), search)
        _raise_what_broke(listening)
        now = received.taken()
        chunks += now
        silent = 0.0 if now else silent + LOOK
        if search.found is None:
            search = search.receive(b"".join(data for _, data in now), pause=silent > PAUSE)
    if search.setting == setting:
        received.put_back(chunks)
    if search.sure:
        echo(f"it reads as text at {search.setting.words}")
    elif search.found is not None:
        echo(
            f"nothing reads as text, so it may send bytes: they are learnt at {search.setting.words} "
            "(another setting: --baud, --bytesize, --parity)"
        )
    return search


def _chosen(line: str | None, search: Search) -> Search:
    """*search* ended by the setting that a person typed, if it is one."""
    if not line:
        return search
    match = re.fullmatch(r"\s*([0-9]{2,7})(?:[ ,/]*([5-8])([NEO])(1|1\.5|2))?\s*", line.upper())
    if match is None:
        echo(f"  {line.strip()!r} is no setting, and nothing is learnt before it is known: press again")
        return search
    baud, bits, parity, stop = match.groups()
    setting = LineSetting(int(baud), int(bits or 8), parity or "N", float(stop or 1))  # type: ignore[arg-type]
    return Search(found=setting)


async def _converse(received: _Received, listening: asyncio.Task[None], typed: _Typed, out: Path) -> int:
    talk = Conversation()
    echo(HOW)
    while not talk.done:
        echo(talk.prompt, nl=False)
        line: str | None = ""
        while line == "":
            line = await typed.within(LOOK)
            for at, data in received.taken():
                talk = talk.receive(at, data)
            if not line:
                _raise_what_broke(listening)
        if line is None or line.strip().lower() == END:
            break
        talk, said = talk.answer(line)
        for each in said:
            echo(f"  {each}")
    if not _written(talk, out):
        return 1
    await _show_live(talk, received)
    return 0


def _raise_what_broke(listening: asyncio.Task[None]) -> None:
    if listening.done():
        listening.result()


def _written(talk: Conversation, out: Path) -> bool:
    if talk.file is None:
        echo("stopped: nothing is certain yet, so nothing is written", err=True)
        return False
    out.write_text(talk.file, "utf-8")
    echo(f'written to {out}; on the sheet: dialect = "{out}"')
    return True


async def _show_live(talk: Conversation, received: _Received) -> None:
    """Each reading that differs from the one before: a gauge that streams says the same fifty times."""
    echo(f"Compare with the display for {LIVE:.0f} s (Ctrl-C ends):")
    chunks: list[tuple[float, bytes]] = []
    shown, last = 0, ""
    for _ in range(int(LIVE / LOOK)):
        await asyncio.sleep(LOOK)
        chunks += received.taken()
        lines = talk.live(chunks)
        newest = lines[-1][1] if len(lines) > shown else last
        if newest != last:
            echo(f"  {newest}")
        shown, last = len(lines), newest


class _Received:
    """What came from the gauge and has not been taken yet, with its times in seconds."""

    def __init__(self, link: Link) -> None:
        self._link = link
        self._chunks: list[tuple[float, bytes]] = []

    async def listen(self) -> None:
        async for data, stamp in self._link.chunks():
            self._chunks.append((stamp / 1e9, data))

    def put_back(self, chunks: list[tuple[float, bytes]]) -> None:
        self._chunks = [*chunks, *self._chunks]

    def taken(self) -> list[tuple[float, bytes]]:
        chunks, self._chunks = self._chunks, []
        return chunks
