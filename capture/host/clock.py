"""The clock: the only place that asks the host what time it is.

Links stamp what they receive with `time.monotonic_ns` themselves; `Clock.at` turns such a
stamp into an instant of the recording.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime

from msgspec import Struct

from capture.events import Instant


class Clock(Struct, frozen=True):
    """Two clocks read together: one that never goes back, one that people set."""

    began: int
    """Wall-clock nanoseconds since 1970 at which the recording's time was `origin`."""
    origin: int
    """The recording's time at the start: 0 for a new recording, later for one that goes on."""
    zero: int
    """What `monotonic` said at that moment."""
    monotonic: Callable[[], int]
    wall: Callable[[], int]

    @classmethod
    def start(
        cls,
        after: Instant | None = None,
        *,
        monotonic: Callable[[], int] = time.monotonic_ns,
        wall: Callable[[], int] = time.time_ns,
    ) -> Clock:
        """A clock that starts now.

        Args:
            after: The last instant of a recording that goes on. How long it stood still
                nobody measured; the wall clock's answer is taken, and never less than nothing.
            monotonic: Nanoseconds that never go back, as the links stamp with.
            wall: Nanoseconds since 1970-01-01T00:00Z.
        """
        began, zero = wall(), monotonic()
        origin = 0 if after is None else after.mono + max(0, began - after.wall)
        return cls(began, origin, zero, monotonic, wall)

    def stamp(self) -> int:
        """A stamp of this moment, as links make them."""
        return self.monotonic()

    def now(self) -> Instant:
        """This moment."""
        return self.at(self.monotonic())

    def at(self, stamp: int) -> Instant:
        """The moment of a link's *stamp*, not before this clock started."""
        age = self.monotonic() - stamp
        return Instant(self.origin + max(0, stamp - self.zero), self.wall() - age)


def iso(wall: int) -> str:
    """Nanoseconds since 1970 as ISO 8601 in UTC, to the millisecond.

    >>> iso(1772442847120000000)
    '2026-03-02T09:14:07.120Z'
    """
    text = datetime.fromtimestamp(wall // 1_000_000_000, UTC).strftime("%Y-%m-%dT%H:%M:%S")
    return f"{text}.{wall // 1_000_000 % 1000:03d}Z"
