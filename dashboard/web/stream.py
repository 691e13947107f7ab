"""The live stream to one browser: all of the page first, then what changed; latest wins."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Any, Final

import msgspec

from capture.sheet.job import Units
from dashboard.sources.scene_store import SceneStore

LEAST_GAP: Final = 0.05
"""Seconds from what a browser has to draw to the next message."""
HEARTBEAT: Final = 1.0
"""Seconds of silence after which a heartbeat goes to the browser."""


async def stream(store: SceneStore, page: str, units: Units | None, run: str) -> AsyncIterator[bytes]:
    """Server-sent events until the store closes: a greeting with *run*, changes, and beats.

    A browser that comes back gets all of the page again: it is small, and nothing that was
    missed matters but the newest. One that reads slowly misses what lies between.
    """
    before: dict[str, Any] = {}
    yield b"retry: 1000\nevent: hello\ndata: " + msgspec.json.encode(run) + b"\n\n"
    while not store.closed:
        version, shown = store.shown(page, units)
        changed = {key: value for key, value in shown.items() if key not in before or before[key] != value}
        before = {**before, **shown}
        if changed:
            yield b"id: %d\ndata: %b\n\n" % (version, msgspec.json.encode(changed))
            await asyncio.sleep(LEAST_GAP)
        else:
            # Nothing to draw: a reading that comes right behind it waits for no gap.
            yield b"event: beat\ndata:\n\n"
        await store.after(version, HEARTBEAT)
