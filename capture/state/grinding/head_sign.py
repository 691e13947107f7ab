"""Which way an infeed gauge counts, by the two places between which the wheel head goes from size to size.

The head comes back to within micrometres of where the wheel cuts, a little further in with each feed. Where
it is wound back to is a fixed stop, or any place that will do. Of the two ends of its way the one that goes
on by feeds is the inner one, and most people measure at the other. Lengths are mm in the gauge's own habit.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log

from msgspec import Struct

from capture.metrology.grinding.stream.head_path import Stand

WAY = 0.1
"""mm from which on the head was wound back (common practice, no source)."""
USUAL = 0.02
"""mm that is fed from one size to the next at the most, usually (common practice, no source)."""
STILL = 1.5
"""Steps of the display within which a place is the same."""
NOTHING, FED, MORE, OTHER = 0.2, 0.8, 0.02, 0.001
"""Chance that nothing is fed before a size, a usual feed, more than that, and any other place a mm
(estimates, no source)."""
STOP, ANY = 0.3, 0.7
"""Chance that the head is wound back to a stop, and of any place a mm (estimates, no source)."""
BEHIND = log(10.0)
"""Odds that who has wound the head back measures there, and not after coming in again (an estimate)."""
SURELY = 3.0
"""Logarithm of the odds from which on it is said that the gauge counts the other way."""
KEPT = 6
"""Sizes that are looked back upon."""


class HeadEnds(Struct, frozen=True):
    """Where the head stood from one size to the next."""

    inner: float
    outer: float
    measured: float
    """Where it stood when the size was taken."""

    @property
    def wide(self) -> bool:
        """Whether it was wound back."""
        return self.inner - self.outer > WAY


def ends_of(stands: Sequence[Stand], now: float) -> HeadEnds:
    """The ends of the head's way since the last size; it stands at *now* when the next one is taken."""
    levels = [one.level for one in stands if not one.measured] or [now]
    return HeadEnds(max(levels), min(levels), now)


def mirrored(ends: Sequence[HeadEnds]) -> tuple[HeadEnds, ...]:
    """The same of a gauge that counts the other way."""
    return tuple(HeadEnds(-one.outer, -one.inner, -one.measured) for one in ends)


def shifted(ends: Sequence[HeadEnds], by: float) -> tuple[HeadEnds, ...]:
    """The same where everything is *by* further in."""
    return tuple(HeadEnds(one.inner + by, one.outer + by, one.measured + by) for one in ends)


def reached(ends: Sequence[HeadEnds]) -> float | None:
    """The deepest at which the wheel has cut, where the gauge counts the other way; None: not known.

    The result is in terms of *ends*, so that it is the least of them.
    """
    outers = [one.outer for one in ends if one.wide or one.outer == one.measured]
    return min(outers) if outers else None


def odds(ends: Sequence[HeadEnds], largest: float, step: float) -> float:
    """Logarithm of the odds that the gauge counts the other way.

    Args:
        ends: From size to size, lately.
        largest: An infeed beyond this is refused, mm.
        step: Of the display, mm.

    >>> ways = [HeadEnds(1.38, 0.0, 1.38), HeadEnds(1.416, -0.005, 1.416), HeadEnds(1.30, -0.010, 1.30)]
    >>> odds(ways, 0.1, 0.001) > SURELY, odds(mirrored(ways), 0.1, 0.001) < -SURELY
    (True, True)
    """
    near = 3.0 * max(step, 1e-3)
    found = 0.0
    for number, one in enumerate(ends):
        if not one.wide:
            continue
        found += BEHIND * (one.measured >= one.inner - near) - BEHIND * (one.measured <= one.outer + near)
        before = ends[:number]
        inwards = _further([each.inner for each in before if _tells(each, one.inner, one.outer)], one.inner)
        outwards = _further(
            [-each.outer for each in before if _tells(each, one.outer, one.inner)], -one.outer
        )
        found += _goes_on(outwards, largest, step) + _wound_back(inwards, step)
        found -= _goes_on(inwards, largest, step) + _wound_back(outwards, step)
    return found


def _tells(one: HeadEnds, place: float, other: float) -> bool:
    """Whether *one*, of an earlier size, was at the end of the way that is at *place* now."""
    return one.wide or abs(one.measured - place) < abs(one.measured - other)


def _further(before: Sequence[float], now: float) -> float | None:
    return now - max(before) if before else None


def _goes_on(by: float | None, largest: float, step: float) -> float:
    """Logarithm of how likely the inner end of a way lies *by* further in than before, a mm."""
    if by is None:
        return 0.0
    still = STILL * max(step, 1e-3)
    if abs(by) <= still:
        return log(NOTHING / (2.0 * still))
    if still < by <= USUAL:
        return log(FED / USUAL)
    return log(MORE / largest if 0.0 < by <= largest else OTHER)


def _wound_back(by: float | None, step: float) -> float:
    """The same of the outer end."""
    if by is None:
        return 0.0
    still = STILL * max(step, 1e-3)
    return log(STOP / (2.0 * still) if abs(by) <= still else ANY)
