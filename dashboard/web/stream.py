"""The live stream to one browser: all of the page first, then what changed; latest wins."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Any, Final

import msgspec

from capture.sheet.job import Units
from dashboard.sources.scene_store import SceneStore

LEAST_GAP: Final = 0.05
"""Seconds between two messages to a browser."""
HEARTBEAT: Final = 1.0
"""Seconds of silence after which a browser is told that the dashboard is still there."""


async def stream(board: SceneStore, page: str, units: Units | None, run: str) -> AsyncIterator[bytes]:
    """Server-sent events until the board closes: a greeting with *run*, changes, and beats.

    A browser that comes back gets all of the page again: it is small, and nothing that was
    missed matters but the newest. One that reads slowly misses what lies between.
    """
    before: dict[str, Any] = {}
    yield b"retry: 1000\nevent: hello\ndata: " + msgspec.json.encode(run) + b"\n\n"
    while not board.closed:
        version, shown = board.shown(page, units)
        changed = {key: value for key, value in shown.items() if key not in before or before[key] != value}
        before = {**before, **shown}
        if changed:
            yield b"id: %d\ndata: %b\n\n" % (version, msgspec.json.encode(changed))
        else:
            yield b"event: beat\ndata:\n\n"
        await asyncio.sleep(LEAST_GAP)
        await board.after(version, HEARTBEAT)
