"""Matches numbers found in frames with what displays showed: by which scale, and which frames."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from math import floor, log2, log10
from typing import Final

from msgspec import Struct

from capture.dialects.decimal import Shown as ShownUnit
from capture.dialects.taught.values import FLOAT_NOISE, Display

MANTISSAS: Final = (Decimal(1), Decimal(5), Decimal(2), Decimal("2.5"))
"""A step of a gauge is one of these times a power of ten."""
_MANTISSAS: Final = (*map(float, MANTISSAS), 10.0)
FLOAT_SCALES: Final = (Decimal(1), Decimal(1000))
"""A floating-point number is what the display shows, or metres where that shows millimetres."""
MOST_COARSE: Final = 5
"""A gauge counts at most so many of its display's last digit at a time."""
NEWEST: Final = 6
"""Frames in a row that came last, when the display was read; more tell little that is new."""
ROOM: Final = 4
"""Numbers up to so many times the largest that was taught are read."""


class Taught(Struct, frozen=True):
    """One example: the frames that came, and what the display showed."""

    frames: tuple[bytes, ...]
    """The different pieces of the capture, the most frequent first."""
    value: Decimal
    unit: ShownUnit
    decimals: int
    """Digits behind the point on the display in this unit."""
    counts: int = 1
    """The display counts by so many of its last digit in this unit: 1, 2 or 5."""
    only: bool = False
    """The gauge has no other unit."""

    @property
    def step(self) -> Decimal:
        """The last digit of the display."""
        return Decimal(1).scaleb(-self.decimals)


class Leeway(Struct, frozen=True):
    """How far a frame and a display may differ and still mean the same."""

    steps: int = 0
    """The gauge moved by so many steps between button and eye."""
    rounds: bool = False
    """The frame has finer steps than the display."""
    free: bool = False
    """The scale is no round number."""


EXACT: Final = Leeway()
LEEWAYS: Final = (EXACT, Leeway(rounds=True), Leeway(steps=1), Leeway(free=True))
"""From strict to lenient; a more lenient one is tried only when nothing fits a stricter one."""


class Match(Struct, frozen=True):
    """Scales that make the numbers in the frames what the displays showed."""

    displays: dict[ShownUnit, Display]
    chosen: tuple[tuple[int, ...], ...]
    """For each example, which of its frames show what the display showed."""


def evidence(taught: Sequence[Taught]) -> float:
    """Bits of information in the displays: what a wrong format would have to get right by chance."""
    return sum(log2(1 + int(size)) for size in {abs(each.value) / each.step for each in taught})


def match(
    taught: Sequence[Taught], raws: Sequence[Sequence[Decimal | None]], leeway: Leeway, *, noise: bool = False
) -> Match | None:
    """The scales that fit *raws*, the numbers of each example's frames (None: no number there).

    *noise* says that the numbers are floating-point and may be off in their last digits.
    """
    displays: dict[ShownUnit, Display] = {}
    chosen: dict[int, tuple[int, ...]] = {}
    for unit in dict.fromkeys(each.unit for each in taught):
        of_unit = [place for place, each in enumerate(taught) if each.unit == unit]
        largest = max(of_unit, key=lambda place: abs(taught[place].value))
        for raw in raws[largest]:
            scale = _scale(raw, taught[largest], leeway, noise=noise)
            if scale is None or raw is None:
                continue
            some = {place: _hits(taught[place], raws[place], scale, leeway, noise=noise) for place in of_unit}
            finer = leeway == EXACT and not noise and _finer(taught, raws, of_unit, scale)
            if (
                all(some.values())
                and not finer
                and _some_exact([taught[at] for at in of_unit], raws, of_unit, scale, leeway)
            ):
                displays[unit] = Display(
                    taught[largest].decimals, plain(scale), limit(taught[largest]), leeway.rounds
                )
                chosen |= some
                break
        else:
            return None
    return Match(displays, tuple(chosen[place] for place in range(len(taught))))


def _finer(
    taught: Sequence[Taught], raws: Sequence[Sequence[Decimal | None]], places: Sequence[int], scale: Decimal
) -> bool:
    """Whether some number is off by less than the display's last digit: others were met by chance."""
    return any(
        0 < abs(raw * scale - taught[place].value) < taught[place].step
        for place in places
        for raw in raws[place]
        if raw is not None
    )


def _some_exact(
    of_unit: Sequence[Taught],
    raws: Sequence[Sequence[Decimal | None]],
    places: Sequence[int],
    scale: Decimal,
    leeway: Leeway,
) -> bool:
    """Whether a reading of each sign is met exactly: a gauge that moved is not off in every one.

    All negative readings off by the same step are another way to write a negative number.
    """
    if not leeway.steps:
        return True
    exact: dict[bool, bool] = {}
    for each, place in zip(of_unit, places, strict=True):
        met = any(raw is not None and raw * scale == each.value for raw in raws[place])
        exact[each.value < 0] = exact.get(each.value < 0, False) or met
    return all(exact.values())


def likely(taught: Taught, raws: Sequence[Decimal | None], leeway: Leeway, *, noise: bool) -> bool:
    """Whether a scale may make one of *raws* what the display showed, but for the sign; quick to say no."""
    shown = abs(float(taught.value))
    if not shown:
        return False
    off = MOST_COARSE * (leeway.steps + leeway.rounds) * float(taught.step) / shown + 1e-6
    for raw in raws:
        if not raw:
            continue
        ratio = shown / abs(float(raw))
        if noise:
            room = off + float(taught.step) / shown
            if any(abs(ratio / float(one) - 1) <= room for one in FLOAT_SCALES):
                return True
            continue
        if not 1e-15 < ratio < 1e6:
            continue
        mantissa = ratio / 10 ** floor(log10(ratio))
        if any(abs(mantissa - each) <= off * each for each in _MANTISSAS):
            return True
    return False


def _scale(raw: Decimal | None, taught: Taught, leeway: Leeway, *, noise: bool) -> Decimal | None:
    if not raw or not taught.value or (raw < 0) != (taught.value < 0):
        return None
    ratio = taught.value / raw
    if noise:
        return next((one for one in FLOAT_SCALES if _near(raw, taught, one, leeway, noise=True)), None)
    power = round(log10(ratio))
    if not -12 <= power <= 3:
        return None
    scales = [mantissa.scaleb(shift) for shift in range(power - 1, power + 2) for mantissa in MANTISSAS]
    if not leeway.rounds:  # two digits or more behind the display's last that were always zero mean something
        scales = [scale for scale in scales if scale == 1 or scale * 10 >= taught.step]
    close = [scale for scale in scales if _near(raw, taught, scale, leeway, noise=False)]
    return min(close, key=lambda scale: abs(scale - ratio), default=None)


def _near(raw: Decimal, taught: Taught, scale: Decimal, leeway: Leeway, *, noise: bool) -> bool:
    off = abs(raw * scale - taught.value)
    if noise and off <= max(taught.step / 50, abs(taught.value) * FLOAT_NOISE):
        return True
    if leeway.rounds:
        return off <= taught.step / 2
    if leeway.steps and scale != 1 and scale > MOST_COARSE * taught.step:
        return False
    return off <= leeway.steps * taught.counts * taught.step


def _hits(
    taught: Taught, raws: Sequence[Decimal | None], scale: Decimal, leeway: Leeway, *, noise: bool
) -> tuple[int, ...]:
    return tuple(
        place
        for place, raw in enumerate(raws)
        if raw is not None and _near(raw, taught, scale, leeway, noise=noise)
    )


def plain(scale: Decimal) -> str:
    """*scale* as a dialect file has it, without an exponent."""
    return f"{scale.normalize():f}"


def limit(largest: Taught) -> str:
    """Beyond which a number is not read when *largest* is the largest that was taught."""
    return plain(max(abs(largest.value) * ROOM, largest.step * 100).quantize(largest.step))
