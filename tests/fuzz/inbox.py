"""Fuzzes the inbox: whatever comes is answered, or cut off, and the next word is heard.

The first ``TOKEN`` in an input becomes the token of the inbox, so that what stands behind it is tried too.
"""

from __future__ import annotations

import asyncio
import json
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

from fuzzing import fuzz

from capture.events import Beat, Event, Instant
from capture.links.inbox.client import say
from capture.links.inbox.endpoint import Reply, read_endpoint
from capture.links.inbox.server import open_inbox
from capture.sheet.reader import read_sheet
from capture.simulator.shop import SLEEVE
from capture.state import decisions, session
from capture.state.words.commands import CommandRejected, parse_command
from capture.text.command_replies import said

FOLDER = Path(tempfile.mkdtemp(prefix="tenths-fuzz-"))
JOB = read_sheet(SLEEVE.format(mike="/dev/mike", probe="/dev/probe"), "sleeve.toml")[0]
os.environ["XDG_RUNTIME_DIR"] = str(FOLDER)


class Room:
    """A desk that hears words as a capture's does."""

    def __init__(self) -> None:
        self.state = session.step(session.start(JOB), Event(0, Instant(0, 0), "daemon", Beat()))

    async def hear(self, words: list[str], _stamp: int) -> Reply:
        try:
            fact = parse_command(words, self.state)
        except CommandRejected as error:
            return Reply(ok=False, refused=str(error))
        event = Event(self.state.seq + 1, Instant(0, 0), "person", fact)
        self.state, _ = decisions.step_and_decide(self.state, event)
        return Reply(ok=True, seq=event.seq, said=said(fact, JOB))


def target(data: bytes) -> None:
    """Say something and then a good word; raises if either is not answered."""
    asyncio.run(_target(data))


async def _target(data: bytes) -> None:
    async with open_inbox(FOLDER, FOLDER / "session.jsonl", "x", Room().hear) as path:
        place = read_endpoint(path)
        answer = await _said(place.port, data.replace(b"TOKEN", place.token.encode(), 1))
        if answer is not None and set(json.loads(answer)) - {"ok", "seq", "said", "refused"}:
            raise RuntimeError(f"a strange answer: {answer!r}")
        reply = await asyncio.to_thread(say, ["note", "still there"], inbox=path)
        if not reply.ok:
            raise RuntimeError(f"the next word was refused: {reply.refused}")


async def _said(port: int, data: bytes) -> Any:
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    try:
        writer.write(data)
        writer.write_eof()
        async with asyncio.timeout(8):
            return await reader.readline() or None
    except ConnectionError:
        return None  # more came than an inbox takes, and it hung up
    finally:
        writer.close()


if __name__ == "__main__":
    sys.exit(fuzz("inbox", target))
