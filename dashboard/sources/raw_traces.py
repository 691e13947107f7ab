"""Keeps every raw reading of every gauge in sixteen bytes each, thinned so that no extreme is lost."""

from __future__ import annotations

import threading
from array import array
from collections.abc import Iterable
from typing import Final

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray
from tsdownsample import MinMaxDownsampler, MinMaxLTTBDownsampler

from capture.events import Event, Reading

COLUMNS: Final = 300
"""Columns of a strip in each of which the least and the greatest reading are kept."""
POINTS: Final = 1200
"""About the most points of a strip."""

Numbers = NDArray[np.float64]


class RawTrace(Struct, frozen=True):
    """Readings of one gauge between two times."""

    gauge: str
    unit: str
    times: Numbers
    """Seconds since the recording began."""
    values: Numbers
    """mm, or what *unit* says."""
    readings: int
    """How many there are between the two times, before thinning."""


class RawTraces:
    """Grows in the thread that reads; `window` may be asked from any."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: dict[str, tuple[str, array[float], array[float]]] = {}
        self._end = 0.0

    def add(self, events: Iterable[Event]) -> None:
        """Takes up the readings among *events*."""
        with self._lock:
            for event in events:
                fact = event.fact
                if type(fact) is not Reading:
                    continue
                kept = self._kept.get(event.source)
                if kept is None:
                    kept = self._kept[event.source] = (fact.unit, array("d"), array("d"))
                self._end = event.at.mono / 1e9
                kept[1].append(self._end)
                kept[2].append(fact.value)

    def clear(self) -> None:
        """Forgets all, before another recording."""
        with self._lock:
            self._kept.clear()
            self._end = 0.0

    @property
    def end(self) -> float:
        """Time of the newest reading, s."""
        return self._end

    def window(self, low: float, high: float) -> list[RawTrace]:
        """Each gauge's readings from *low* to *high* seconds, and one to either side so that lines go on."""
        with self._lock:
            kept = [(name, unit, np.array(t), np.array(v)) for name, (unit, t, v) in self._kept.items()]
        found = []
        for name, unit, times, values in kept:
            first = max(int(np.searchsorted(times, low)) - 1, 0)
            last = min(int(np.searchsorted(times, high, side="right")) + 1, len(times))
            chosen = thinned(values[first:last]) + first
            found.append(RawTrace(name, unit, times[chosen], values[chosen], last - first))
        return found


def thinned(values: Numbers) -> NDArray[np.int64]:
    """Places of at most about `POINTS` of *values* that look the same when drawn.

    In each of `COLUMNS` equal columns the least and the greatest are among them; the rest are chosen
    by largest triangles among such extremes ("MinMaxLTTB: Leveraging
    MinMax-Preselection to Scale LTTB-Based Time Series Visualization", IEEE VIS 2023).
    """
    if len(values) <= POINTS:
        return np.arange(len(values))
    extremes = MinMaxDownsampler().downsample(values, n_out=2 * COLUMNS)  # type: ignore[no-untyped-call]  # it has no types
    shape = MinMaxLTTBDownsampler().downsample(values, n_out=POINTS - 2 * COLUMNS)  # type: ignore[no-untyped-call]  # as above
    return np.union1d(extremes, shape).astype(np.int64)
