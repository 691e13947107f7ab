"""Holds the newest scene: one thread publishes it, every browser looks at it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from capture.sheet.job import Units
from dashboard.sources.scene import Scene


class SceneStore:
    """Latest wins: who looks late sees the newest scene and none between.

    `publish` may be called from any thread, the rest from the event loop.
    """

    def __init__(self, draw: Callable[[str, Scene, Units | None], dict[str, Any]]) -> None:
        self.scene = Scene("waiting")
        self.version = 0
        self.closed = False
        self._draw = draw
        self._drawn: dict[tuple[str, Units | None], tuple[int, dict[str, Any]]] = {}
        self._loop: asyncio.AbstractEventLoop | None = None
        self._bell = asyncio.Event()

    def open(self) -> None:
        """Names the running loop as the one whose listeners are to be woken."""
        self._loop = asyncio.get_running_loop()

    def publish(self, scene: Scene) -> None:
        """Shows *scene* from now on."""
        self.scene = scene
        self.version += 1
        self._wake()

    def close(self) -> None:
        """Ends every listener."""
        self.closed = True
        self._wake()

    def shown(self, page: str, units: Units | None) -> tuple[int, dict[str, Any]]:
        """The version and what it shows on *page*, drawn once for all browsers with the same units."""
        version = self.version
        drawn = self._drawn.get((page, units))
        if drawn is None or drawn[0] != version:
            drawn = (version, self._draw(page, self.scene, units))
            self._drawn[page, units] = drawn
        return drawn

    async def after(self, version: int, patience: float) -> None:
        """Waits until there is another version than *version*, at most *patience* seconds."""
        bell = self._bell
        if self.version != version or self.closed:
            return
        try:
            async with asyncio.timeout(patience):
                await bell.wait()
        except TimeoutError:
            return

    def _wake(self) -> None:
        loop = self._loop
        if loop is not None and not loop.is_closed():
            loop.call_soon_threadsafe(self._ring)

    def _ring(self) -> None:
        bell, self._bell = self._bell, asyncio.Event()
        bell.set()
