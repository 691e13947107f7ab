"""The stands of a wheel head since the last size, made one where they are one.

What a flicker of the display parted is one; a slow feed on its way is none; a display that shakes is looked
at as a whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from msgspec.structs import replace

from capture.metrology.grinding.stream import head_path, shaken_head
from capture.metrology.grinding.stream.head_path import HeadPath, Stand, least_stand

SAME = 0.6
"""Steps of the display up to which two positions are the same."""
FLICKER = 0.58
"""Standard deviation of one reading, steps: 0.5 of scatter with the step's own 1/sqrt(12) (estimate)."""
MOST_FLICKER = 1.6
"""Steps beyond which two positions are never the same."""
WAY = 4.0
"""Seconds that a stand on the way of a slow feed lasts at the most, and"""
STAIR = 5.0
"""steps of the display, or micrometres, that the next one is further in (both: common practice)."""


def stands_of(path: HeadPath) -> tuple[Stand, ...]:
    """Every stand since the last size, the one in hand included; those that a flicker parted are one."""
    if path.shakes:
        return without_ways(_shaken(path), path.step)
    stands = path.stands if path.stand is None else (*path.stands, path.stand)
    return without_ways(_joined(stands, path), path.step)


def without_ways(stands: Sequence[Stand], step: float) -> tuple[Stand, ...]:
    """*stands* without those of a slow feed on its way: two short ones or more, each a little further in."""
    rising = [
        not one.measured
        and one.ended - one.begun <= WAY
        and 0.0 < after.level - one.level <= STAIR * max(step, 1e-3)
        and after.begun - one.ended <= WAY
        for one, after in pairwise(stands)
    ]
    way = {
        n for n in range(len(rising)) if rising[n] and any(rising[max(n - 1, 0) : n] + rising[n + 1 : n + 2])
    }
    return tuple(one for n, one in enumerate(stands) if n not in way)


def _shaken(path: HeadPath) -> tuple[Stand, ...]:
    """The same of a display that shakes: second for second it tells too little."""
    found: list[Stand] = []
    first = next((one for one in (*path.stands, path.stand) if one is not None), None)
    begun = path.trace[0].begun if path.trace else path.at
    before = path.trace[0].worked if path.trace else path.worked
    if first is not None and first.measured:
        begun, before = first.begun, path.began_at if not path.stands else before
    for one in shaken_head.positions(path.trace, path.shakes):
        stand = Stand(one.level, begun, one.ended, one.worked - before, one.ended - begun)
        begun, before = one.ended, one.worked
        if stand.ended - stand.begun >= least_stand(path):
            measured = not found and first is not None and first.measured
            near = SAME * path.step + 3.0 * path.shakes / one.number**0.5
            found.append(
                replace(
                    stand, measured=measured and first is not None and abs(stand.level - first.level) <= near
                )
            )
    if found and path.worked > before:
        last = found[-1]
        found[-1] = replace(last, work=last.work + path.worked - before)
    return tuple(found)


def _joined(stands: Sequence[Stand], path: HeadPath) -> tuple[Stand, ...]:
    found: list[Stand] = []
    for stand in stands:
        last = found[-1] if found else None
        if last is None or not _one(last, stand, path):
            found.append(stand)
            continue
        weight = last.weight + stand.weight
        level = (last.level * last.weight + stand.level * stand.weight) / weight if weight else stand.level
        found[-1] = replace(last, level=level, weight=weight, ended=stand.ended, work=last.work + stand.work)
    return tuple(found)


def _one(first: Stand, second: Stand, path: HeadPath) -> bool:
    """Whether two stands differ by no more than the flicker of the display makes their means differ."""
    numbers = [max(stand.weight / path.interval, 1.0) for stand in (first, second)]
    apart = FLICKER * (1.0 / numbers[0] + 1.0 / numbers[1]) ** 0.5
    most = min(max(SAME, 3.0 * apart), MOST_FLICKER) * path.step
    return abs(second.level - first.level) <= most and second.begun - first.ended <= head_path.AWAY
