"""Finds a scale that is no round number: of a converter's counts, from the sizes that displays showed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from math import log2
from typing import Final

from msgspec import Struct

from capture.dialects.taught.values import Display
from capture.teaching.search.matching import (
    MOST_COARSE,
    Leeway,
    Match,
    Taught,
    evidence,
    likely,
    limit,
    match,
    plain,
)

COINCIDENCE: Final = Decimal("0.01")
"""Chance with which a simple scale may lie where any may lie, and still be believed (our own choice)."""
RANGES: Final = tuple(
    map(Decimal, ("1", "1.25", "1.5", "2", "2.5", "2.54", "3", "4", "5", "5.08", "6", "7.5", "8"))
)
"""Travels that a converter's counts may divide, times a power of ten (common practice, no source; an inch
and two among them)."""
BITS: Final = range(8, 25)
LEAST_SIZES: Final = 3
"""Sizes in a unit of which two give a scale and the third proves it."""
_PLACES: Final = 12
EXACTLY: Final = Decimal("1E-9")
"""Spread of a scale that is known to be a simple one: it is written with so many digits."""


class FreeScale(Struct, frozen=True):
    """Scales that explain all sizes: any from `low` to `high`."""

    low: Decimal
    high: Decimal

    @property
    def middle(self) -> Decimal:
        """One scale, and how far it may be off, as a share of it."""
        return (self.low + self.high) / 2

    @property
    def spread(self) -> Decimal:
        """How far the scale may be off, as a share of it."""
        return (self.high - self.low) / (2 * self.middle)

    def simplest(self) -> FreeScale:
        """The scales within that are simple, where it can hardly be chance that there are some; else all."""
        shares = [scale for scale in _shares(self.middle) if self.low <= scale <= self.high]
        # Of the travels in a decade with a divisor each, some fifty have their scale in each octave.
        if shares and 2 * self.spread * 60 < COINCIDENCE:
            return FreeScale(min(shares), max(shares))
        for digits in range(1, 5):
            unit = Decimal(1).scaleb(self.middle.adjusted() - digits + 1)
            scale = self.middle.quantize(unit)
            if self.low <= scale <= self.high and (self.high - self.low) / unit < COINCIDENCE:
                return FreeScale(scale, scale)
        return self


def _shares(near: Decimal) -> Iterator[Decimal]:
    """Travels divided by a power of two, or by one less, that are *near*."""
    for bits in BITS:
        for divisor in (1 << bits, (1 << bits) - 1):
            travel = near * divisor
            for each in RANGES:
                whole = each.scaleb(travel.adjusted() - each.adjusted())
                if abs(whole / travel - 1) < Decimal("0.001"):
                    yield whole / divisor


def free_scale(
    taught: Sequence[Taught], raws: Sequence[Sequence[Decimal | None]]
) -> tuple[FreeScale, tuple[tuple[int, ...], ...]] | None:
    """The scales that make *raws* what displays in one unit showed, and which frames of each example fit.

    Half a step of the display may be lost in rounding it.
    """
    order = sorted(range(len(taught)), key=lambda place: -abs(taught[place].value))
    first = order[0]
    for raw in raws[first]:
        scale = None if raw is None else _between(taught[first], raw)
        chosen: dict[int, tuple[int, ...]] = {}
        for place in order if scale else ():
            fits = [(at, _narrowed(scale, taught[place], each)) for at, each in enumerate(raws[place])]
            good = [(at, narrow) for at, narrow in fits if narrow is not None]
            if not good:
                break
            chosen[place] = tuple(at for at, _ in good)
            for _, narrow in good:
                scale = _common(scale, narrow) or scale
        if scale and len(chosen) == len(taught):
            return scale, tuple(chosen[place] for place in range(len(taught)))
    return None


def scales(
    taught: Sequence[Taught], raws: Sequence[Sequence[Decimal | None]], leeway: Leeway, *, noise: bool = False
) -> Match | None:
    """The scales that fit *raws*, as `matching.match` finds them; by *leeway* ones that are not round."""
    if not leeway.free:
        return match(taught, raws, leeway, noise=noise)
    displays, chosen = {}, dict[int, tuple[int, ...]]()
    for unit in dict.fromkeys(each.unit for each in taught):
        places = [place for place, each in enumerate(taught) if each.unit == unit]
        own = [taught[place] for place in places]
        found = free_scale(own, [raws[place] for place in places])
        if found is None:
            return None
        scale, fits = found[0].simplest(), found[1]
        displays[unit] = Display(
            own[0].decimals,
            written(scale.middle),
            limit(max(own, key=lambda each: abs(each.value))),
            rounds=True,
            spread=plain(max(EXACTLY, round(scale.spread * Decimal("1.01"), _PLACES))),
        )
        chosen |= dict(zip(places, fits, strict=True))
    return Match(displays, tuple(chosen[place] for place in range(len(taught))))


def may_fit(
    taught: Sequence[Taught], raws: Sequence[Sequence[Decimal | None]], leeway: Leeway, *, noise: bool
) -> bool:
    """Whether some scale may fit, but for the sign; quick to say no."""
    if leeway.free:
        return likely_free(taught, raws)
    largest = max(range(len(taught)), key=lambda place: abs(taught[place].value))
    return likely(taught[largest], raws[largest], leeway, noise=noise)


def _between(taught: Taught, raw: Decimal) -> FreeScale | None:
    """The scales that make *raw* what the display showed."""
    if not raw or not taught.value or (raw < 0) != (taught.value < 0):
        return None
    half = taught.step * taught.counts / 2
    return FreeScale((abs(taught.value) - half) / abs(raw), (abs(taught.value) + half) / abs(raw))


def _narrowed(scale: FreeScale | None, taught: Taught, raw: Decimal | None) -> FreeScale | None:
    """*scale* as far as it makes *raw* what the display showed too; None where it does not."""
    if scale is None or raw is None:
        return None
    if not raw or not taught.value:
        return scale if abs(raw * scale.middle - taught.value) <= taught.step else None
    own = _between(taught, raw)
    return _common(scale, own) if own else None


def _common(one: FreeScale | None, other: FreeScale | None) -> FreeScale | None:
    if one is None or other is None:
        return None
    low, high = max(one.low, other.low), min(one.high, other.high)
    return FreeScale(low, high) if low < high else None


def proof(taught: Sequence[Taught]) -> float:
    """Bits of information in displays, less the size in each unit that sets the scale; 0 of too few sizes."""
    bits = evidence(taught)
    for unit in {each.unit for each in taught}:
        own = {abs(each.value) / each.step for each in taught if each.unit == unit}
        if len(own) < LEAST_SIZES:
            return 0.0
        bits -= log2(1 + int(max(own)))
    return bits


def likely_free(taught: Sequence[Taught], raws: Sequence[Sequence[Decimal | None]]) -> bool:
    """Whether the two largest sizes may have one scale, but for the sign; quick to say no."""
    places = sorted(range(len(taught)), key=lambda place: -abs(taught[place].value))[:2]
    ratios = [
        [abs(float(taught[place].value)) / abs(float(raw)) for raw in raws[place] if raw] for place in places
    ]
    if len(ratios) < 2 or taught[places[0]].unit != taught[places[1]].unit:
        return True
    room = sum(
        MOST_COARSE * float(taught[at].step) / max(abs(float(taught[at].value)), 1e-9) for at in places
    )
    return any(abs(one / other - 1) <= room for one in ratios[0] for other in ratios[1])


def written(scale: Decimal) -> str:
    """*scale* with as many digits as tell it from its neighbours."""
    return f"{round(scale, _PLACES - scale.adjusted()).normalize():f}"
