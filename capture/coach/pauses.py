"""Pauses: whether a part without a probe is warm, by its size before and after a wait.

A part that was warm gets smaller while it is not ground; with coolant running nearly all of it in two
minutes, in still air in hours (see `cooling`): a dry part that is as large after two minutes is not cold.
So readings of one place after the same pass, before and after a pause, say what the passes alone can't:
how much of the size is heat.

Lengths are mm on diameter, times seconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

from msgspec import Struct, structs

from capture.metrology.grinding.outlook import SizeReading, Stroke
from capture.metrology.grinding.spring.passes import Prior, groups_of

GAP = 90.0
"""Seconds without a pass that make a pause (common practice, no source)."""
WAIT = 120.0
"""Seconds of coolant advised: two of its time constants on a part of 50 mm leave a seventh."""
COLD = 0.0005
"""Fall over a pause up to which the part counts as cold."""
RECENT = 8
"""Passes after which a pause no longer speaks for the part."""
SEEN_NOW = 1e-4
"""What is left of the suspicion of heat right after a pause without a fall: the part is cold, whatever else
may be odd (an engineering estimate, no source)."""
SEEN_COLD = 0.1
"""What is left of it a pass and more later (an engineering estimate, no source)."""


STATED = 4.0
"""Degrees of freedom that the stated scatter counts as beside what the readings show (an estimate)."""


class PauseEvidence(Struct, frozen=True):
    """What a pause showed."""

    after: int
    """Passes made before it."""
    fall: float
    """Size before less size after."""
    u: float

    @property
    def cold(self) -> bool:
        """Whether the part was cold before, as far as the readings can tell."""
        return self.fall <= max(COLD, 2.0 * self.u) and self.fall + self.u < 4.0 * COLD


def newest_pause(sizes: Sequence[SizeReading], gap: float = GAP) -> PauseEvidence | None:
    """The newest pause with readings of one place before and after it, or None.

    >>> before = [SizeReading(after=3, value=0.0102, u=0.0005, t=t) for t in (100.0, 110.0)]
    >>> later = [SizeReading(after=3, value=0.0081, u=0.0005, t=t) for t in (240.0, 250.0)]
    >>> found = newest_pause(before + later)
    >>> round(found.fall, 4), found.cold
    (0.0021, False)
    >>> newest_pause(before) is None
    True
    """
    scatter = _scatter(sizes, gap)
    for after in sorted({size.after for size in sizes}, reverse=True):
        members = [size for size in sizes if size.after == after]
        for place in sorted({size.place for size in members}):
            found = _pause(after, [size for size in members if size.place == place], gap, scatter)
            if found is not None:
                return found
    return None


def _scatter(sizes: Sequence[SizeReading], gap: float) -> float:
    """Scatter of the readings over that stated, from what those of one place after one pass differ by.

    Not what they differ by over a pause, and never less than stated.
    """
    firsts: dict[tuple[int, int], float] = {}
    for size in sizes:
        key = size.after, size.place
        firsts[key] = min(size.t, firsts.get(key, size.t))
    groups = groups_of([size for size in sizes if size.t - firsts[size.after, size.place] < gap])
    freedom = sum(group.readings - 1 for group in groups)
    if not freedom:
        return 1.0
    stated = sum((group.readings - 1) * (group.u**2 + group.resolution**2 / 12.0) for group in groups)
    ratio = sum(group.squares for group in groups) / stated
    return sqrt(max(1.0, (STATED + freedom * ratio) / (STATED + freedom)))


def _pause(after: int, sizes: list[SizeReading], gap: float, scatter: float) -> PauseEvidence | None:
    ordered = sorted(sizes, key=lambda size: size.t)
    first = ordered[0].t
    before = [size for size in ordered if size.t - first < gap]
    later = [size for size in ordered if size.t - first >= gap]
    if not later:
        return None
    (one,) = groups_of(before)
    (other,) = groups_of(later)
    u = scatter * sqrt(_variance(before) + _variance(later))
    return PauseEvidence(after, one.mean - other.mean, u)


def _variance(sizes: Sequence[SizeReading]) -> float:
    return sum(size.u**2 + size.resolution**2 / 12.0 for size in sizes) / len(sizes) ** 2


def after_pause(
    strokes: Sequence[Stroke], sizes: Sequence[SizeReading], prior: Prior, gap: float = GAP
) -> tuple[Sequence[Stroke], Sequence[SizeReading], Prior, PauseEvidence | None]:
    """The input of the model once there was a pause.

    A part that did not get smaller was cold: heat is hardly to be feared for the next passes. One that did
    was warm: its sizes from before are no sizes, and the grind begins anew with those after the pause.

    Args:
        strokes: The passes.
        sizes: The readings of them.
        prior: What is believed beforehand.
        gap: Seconds that make a pause long enough to cool a part as this one is cooled.
    """
    if any(size.growth is not None for size in sizes):
        return strokes, sizes, prior, None
    found = newest_pause(sizes, gap)
    if found is None:
        return strokes, sizes, prior, None
    if found.cold:
        if len(strokes) - found.after > RECENT:
            return strokes, sizes, prior, found
        left = SEEN_NOW if found.after == len(strokes) else SEEN_COLD
        calm = structs.replace(prior, heat=prior.heat * left, failing=prior.failing * left)
        return strokes, sizes, calm, found
    first = {size.place: min(s.t for s in sizes if s.after == found.after) for size in sizes}
    kept = [
        structs.replace(size, after=size.after - found.after)
        for size in sizes
        if size.after > found.after or (size.after == found.after and size.t - first[size.place] >= gap)
    ]
    return strokes[found.after :], kept, prior, found
