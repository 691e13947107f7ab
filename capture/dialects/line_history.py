"""What a line without a check has shown so far, and the doubt of a piece that breaks it.

A damaged digit is a digit. What tells it is only how the gauge has spoken since its first line: the form
of its lines, how far it steps from one reading to the next, and where its readings lie. A reading that breaks
this is doubted, not taken; the next is, where it agrees with the doubted one, and then the new is known too.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from capture.events import Decoded, Garbled, Reading

LEARNT: Final = 10
"""Readings after which a line is known well enough to doubt the next (measured: benchmarks/RESULTS.md)."""
STREAM: Final = 0.5
"""Seconds between readings of a stream at most; a person who presses takes longer (common practice)."""
COUNTS: Final = 5
"""Steps of the last digit that a stream may always make: a hand that touches the part."""
STEADY: Final = 4.0
"""Times the largest of its newest steps that a stream may step."""
NEWEST: Final = 50
"""Steps of a stream that are remembered."""
MARGIN: Final = 0.05
"""mm, or of another unit, from where readings of presses lay, or as far as those lay apart; doubled with each
new place, since a gauge that measures many things is at none of them again (common practice, no source)."""
_DIGITS: Final = str.maketrans("0123456789", "9" * 10)
_SHOWN: Final = {"in": 25.4, "um": 0.001}


class LineHistory:
    """One gauge's line since its first line, also across lost links."""

    def __init__(self, *, moves: bool = False) -> None:
        """*moves*: it shows where a slide stands, which goes as far and as fast as it likes."""
        self._moves = moves
        self._taken = 0
        self._forms: set[str] = set()
        self._last: Reading | None = None
        self._at = float("-inf")
        self._steps: deque[float] = deque(maxlen=NEWEST)
        self._places: list[tuple[float, float]] = []
        self._doubted: Reading | None = None

    def judge(self, decoded: Decoded, at: float) -> Decoded:
        """*decoded* at so many seconds, or why it is doubted."""
        if not isinstance(decoded, Reading):
            return decoded
        form = decoded.raw.translate(_DIGITS)
        if self._last is None or self._taken < LEARNT or decoded.unit != self._last.unit:
            return self._take(decoded, form, at)
        before, self._doubted = self._doubted, None
        broken = self._broken(decoded, form, at)
        if broken and not (before is not None and self._agree(before, decoded, at)):
            self._doubted, self._at = decoded, at
            return Garbled(f"doubted: {broken}; the next is taken if it agrees", decoded.raw)
        return self._take(decoded, form, at)

    def _take(self, reading: Reading, form: str, at: float) -> Reading:
        value = reading.value
        if self._last is not None and at - self._at < STREAM:
            self._steps.append(abs(value - self._last.value))
        self._forms.add(form)
        places = self._places
        if len(places) != 1 or not places[0][0] <= value <= places[0][1]:
            self._add_place(value)
        self._taken += 1
        self._last, self._at = reading, at
        return reading

    def _broken(self, reading: Reading, form: str, at: float) -> str:
        """What the reading breaks, for a person; empty where nothing."""
        near, why = True, ""
        if at - self._at < STREAM and not self._moves:
            near, why = self._is_a_step(reading, self._last), "a step that is too fast for what came before"
        elif not self._moves:
            near, why = self._is_in_place(reading.value), "a value far from all that came so far"
        if form not in self._forms and not (near and _tail(form) in map(_tail, self._forms)):
            return f"a line of the form {form.strip()!r}, which this gauge has not sent so far"
        return "" if near else why

    def _is_a_step(self, reading: Reading, before: Reading | None) -> bool:
        if before is None:
            return True
        step = abs(reading.value - before.value)
        least = COUNTS * 10.0**-reading.digits * _SHOWN.get(reading.shown, 1.0)
        return step <= least or step <= STEADY * max(self._steps, default=0.0)

    def _is_in_place(self, value: float) -> bool:
        return any(self._is_at(place, value) for place in self._places)

    def _is_at(self, place: tuple[float, float], value: float) -> bool:
        low, high = place
        margin = max(MARGIN, high - low) * 2.0 ** min(len(self._places) - 1, 20)
        return low - margin <= value <= high + margin

    def _agree(self, doubted: Reading, reading: Reading, at: float) -> bool:
        """Whether *reading* says the same as the doubted one, or goes on as it went."""
        same = _form(doubted) == _form(reading)
        if at - self._at >= STREAM:
            return same and abs(reading.value - doubted.value) <= MARGIN
        if same and self._is_a_step(reading, doubted):
            return True
        before = 0.0 if self._last is None else self._last.value
        first, second = doubted.value - before, reading.value - doubted.value
        known = _form(doubted) in self._forms and _form(reading) in self._forms
        return known and first * second > 0 and abs(second) <= STEADY * abs(first)

    def _add_place(self, value: float) -> None:
        near = [place for place in self._places if self._is_at(place, value)]
        ends = [value, *(end for place in near for end in place)]
        self._places = [*(place for place in self._places if place not in near), (min(ends), max(ends))]


def _form(reading: Reading) -> str:
    return reading.raw.translate(_DIGITS)


def _tail(form: str) -> str:
    """What stands behind the point: before it a number that grows, or goes below zero, changes its form."""
    return form.replace(",", ".").rpartition(".")[2]
