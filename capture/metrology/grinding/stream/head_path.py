"""Where the wheel head stood and for how long, followed from the readings of an infeed gauge.

A head stands while a window of readings keeps within a few steps of the display. What it only passes
through (overshoot of the hand, a bounce on the stop, a bearing that settles) is no stand. Displays that
send only on change stand as long as they are silent; those that send all the time do not, beyond a gap.

Positions are mm in the gauge's own habit, + into the part; times and work are seconds, or whatever
unit the work is counted in.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from capture.metrology.grinding.stream import shaken_head
from capture.metrology.grinding.stream.shaken_head import Second

LEAST_STAND = 1.0
"""Seconds (common practice, no source: no table turns sooner)."""
READINGS = 3
"""Intervals of the gauge that a stand lasts at the least."""
SPREAD = 2.5
"""Steps of the display within which a head that stands keeps."""
SHIFT = 0.75
"""Steps of the display by which the mean of a stand must differ from the one before."""
SHORT = 1.2
"""Windows below which a stand is part of the next one."""
AWAY = 2.0
"""Seconds after which a head that left its place has left it: a chip or a bounce is over sooner."""
MOST_STANDS = 64
"""Stands that are remembered between two sizes."""
FASTEST = 0.02
"""Seconds between two readings that are looked at: faster ones tell nothing more of a hand."""
SLOWEST = 5.0
"""Seconds between two readings beyond which a gauge is taken to be silent."""
SELDOM = 1.5
"""Seconds between readings from which on each of them counts (common practice, no source)."""
GAPS = 8
"""Newest gaps between readings that the gauge's rate is known from."""
LIKENESS = 3
"""Equal readings in a row by which a gauge shows that it sends all the time."""


class Sample(NamedTuple):
    """One reading of the infeed gauge."""

    at: float
    value: float
    worked: float
    """Work done up to then."""


class Stand(Struct, frozen=True):
    """The head stood at one position."""

    level: float
    begun: float
    ended: float
    work: float
    """Of the wheel while it stood there: seconds, or strokes of the table."""
    weight: float = 0.0
    """Seconds that the mean `level` rests on."""
    measured: bool = False
    """A size was taken while it stood, and it has stood since."""


class HeadPath(Struct, frozen=True):
    """The head since the last size was taken."""

    now: float
    at: float
    step: float
    """Smallest step that the gauge shows."""
    gaps: tuple[float, ...] = ()
    """Newest times between readings."""
    alike: int = 0
    window: tuple[Sample, ...] = ()
    """The newest readings."""
    stand: Stand | None = None
    """Where it stands, or stood last."""
    began_at: float = 0.0
    """Work done when `stand` began."""
    stands: tuple[Stand, ...] = ()
    """Before that, since the last size."""
    deepest: float = 0.0
    """Furthest in since the last size, however short."""
    shallowest: float = 0.0
    worked: float = 0.0
    """Work done up to now."""
    shown: tuple[float, ...] = ()
    """The newest readings."""
    shakes: float = 0.0
    """Largest standard deviation of one reading since the last size, where the display shook; else 0."""
    trace: tuple[Second, ...] = ()
    """What it showed since the last size, by seconds."""

    @property
    def interval(self) -> float:
        """Short time between two readings, lately; the very shortest may be two that came in one piece."""
        return min(max(sorted(self.gaps)[1], FASTEST), SLOWEST) if len(self.gaps) > 1 else SLOWEST

    @property
    def seldom(self) -> bool:
        """Whether the gauge sends so seldom that each of its readings counts."""
        return self.interval > SELDOM

    @property
    def streams(self) -> bool:
        """Whether the gauge sends all the time, so that its silence tells nothing."""
        return self.alike >= LIKENESS


def begin(at: float, value: float, step: float, worked: float) -> HeadPath:
    """The path after its first reading."""
    return HeadPath(
        now=value,
        at=at,
        step=step,
        window=(Sample(at, value, worked),),
        deepest=value,
        shallowest=value,
        worked=worked,
        shown=(value,),
        trace=shaken_head.noted((), at, value, worked),
    )


def moved_to(path: HeadPath, at: float, value: float, worked: float) -> HeadPath:
    """The path after one more reading at *at*; *worked* is the work done up to then."""
    if at - path.at < FASTEST:
        if value == path.now:
            return path
        at = max(at, path.at)
    gap = at - path.at
    path = lasted(path, at, worked)
    alike = path.alike + 1 if value == path.now else (path.alike if path.streams else 0)
    path = replace(
        path,
        now=value,
        at=at,
        gaps=(*path.gaps, gap)[-GAPS:],
        alike=alike,
        window=(*path.window, Sample(at, value, worked)),
        deepest=max(path.deepest, value),
        shallowest=min(path.shallowest, value),
        shown=(*path.shown, value)[-shaken_head.KEPT :],
        trace=shaken_head.noted(path.trace, at, value, worked),
    )
    if path.streams:
        path = replace(path, shakes=max(path.shakes, shaken_head.scatter(path.shown, path.step)))
    return _seen(path, at, worked)


def lasted(path: HeadPath, until: float, worked: float) -> HeadPath:
    """The path when nothing was sent until *until*: the head stands where the gauge showed it last."""
    most = path.at + max(5.0 * path.interval, LEAST_STAND) if path.streams else until
    if until > most:
        # it may have gone anywhere since; the next reading tells
        until, worked = most, path.worked + (worked - path.worked) * (most - path.at) / (until - path.at)
    return replace(_settled(path, until, worked), worked=worked)


def least_stand(path: HeadPath) -> float:
    """Seconds that a stand lasts at the least."""
    return max(LEAST_STAND, READINGS * path.interval)


def _seen(path: HeadPath, at: float, worked: float) -> HeadPath:
    """A reading within reach of the stand keeps it; long out of reach it is over."""
    stand = path.stand
    path = replace(path, worked=worked)
    if stand is None:
        return path
    if abs(path.now - stand.level) <= 0.6 * SPREAD * path.step:
        return replace(path, stand=replace(stand, ended=at, work=worked - path.began_at))
    return _left(path) if at - stand.ended > max(AWAY, least_stand(path)) else path


def _left(path: HeadPath) -> HeadPath:
    if path.stand is None:
        return path
    return replace(path, stand=None, stands=(*path.stands, path.stand)[-MOST_STANDS:])


def _settled(path: HeadPath, until: float, worked: float) -> HeadPath:
    """What the window up to *until* says of where the head stands."""
    start = until - least_stand(path)
    window = path.window
    while len(window) > 1 and window[1].at <= start:
        window = window[1:]
    path = replace(path, window=window)
    values = [sample.value for sample in window]
    if window[0].at > start or max(values) - min(values) > SPREAD * path.step:
        return path
    ends = [*(sample.at for sample in window[1:]), until]
    spans = [end - max(sample.at, start) for sample, end in zip(window, ends, strict=True)]
    level = sum(value * span for value, span in zip(values, spans, strict=True)) / sum(spans)
    return _stood(path, level, until, worked)


def _stood(path: HeadPath, level: float, until: float, worked: float) -> HeadPath:
    stand = path.stand
    if stand is not None and abs(level - stand.level) <= SHIFT * path.step:
        weight = stand.weight + max(until - stand.ended, 0.0)
        part = (weight - stand.weight) / weight if weight else 0.0
        mean = stand.level + (level - stand.level) * part
        work = worked - path.began_at
        return replace(path, stand=replace(stand, level=mean, weight=weight, ended=until, work=work))
    if stand is not None and stand.ended - stand.begun < SHORT * least_stand(path) and not stand.measured:
        # a slow hand on its way: it has not stood
        begun, began_at = stand.begun, path.began_at
        new = Stand(level, begun, until, worked - began_at, weight=0.25 * (until - begun))
        return replace(path, stand=new)
    path = _left(path)
    first = path.window[0]
    begun, began_at = first.at, first.worked
    if path.stands and path.stands[-1].ended > begun:
        begun, began_at = path.stands[-1].ended, max(began_at, path.began_at + path.stands[-1].work)
    # the window may still hold the way here: let it count for little, but not what was silent for longer
    lasts = until - begun
    weight = max(0.25 * lasts, lasts - least_stand(path))
    new = Stand(level, begun, until, worked - began_at, weight=weight)
    return replace(path, stand=new, began_at=began_at)


def measured(path: HeadPath, at: float, worked: float) -> HeadPath:
    """A size was taken at *at*: what comes belongs to the next passes."""
    path = lasted(path, at, worked)
    level = path.now if path.stand is None else path.stand.level
    weight = 0.0 if path.stand is None else path.stand.weight
    stand = Stand(level, at, at, 0.0, weight, measured=True)
    path = replace(path, stand=stand, began_at=worked, stands=(), deepest=path.now, shallowest=path.now)
    return replace(path, shown=(), shakes=0.0, trace=())


def mirrored(path: HeadPath) -> HeadPath:
    """The path of a gauge that counts the other way."""
    window = tuple(sample._replace(value=-sample.value) for sample in path.window)
    stands = tuple(replace(stand, level=-stand.level) for stand in path.stands)
    stand = None if path.stand is None else replace(path.stand, level=-path.stand.level)
    return replace(
        path,
        now=-path.now,
        window=window,
        stands=stands,
        stand=stand,
        deepest=-path.shallowest,
        shallowest=-path.deepest,
        shown=tuple(-value for value in path.shown),
        trace=tuple(one._replace(total=-one.total) for one in path.trace),
    )


def shifted(path: HeadPath, by: float, *, since: float = -inf) -> HeadPath:
    """The path where everything *since* then is *by* further in."""

    def moved(stand: Stand) -> Stand:
        return replace(stand, level=stand.level + by) if stand.ended > since else stand

    whole = since == -inf
    # where the head was before is at the one end or the other, which is known to this much
    deepest, shallowest = path.deepest + by, path.shallowest + by
    if not whole:
        deepest = max(deepest, *(moved(one).level for one in _stands(path)), path.now + by)
    return replace(
        path,
        now=path.now + by,
        window=tuple(one._replace(value=one.value + by) if one.at >= since else one for one in path.window),
        stands=tuple(moved(stand) for stand in path.stands),
        stand=None if path.stand is None else moved(path.stand),
        deepest=deepest,
        shallowest=shallowest if whole else min(shallowest, path.now + by),
        shown=tuple(value + by for value in path.shown) if whole else (),
        trace=tuple(
            one._replace(total=one.total + by * one.number) if one.begun >= since else one
            for one in path.trace
        ),
    )


def _stands(path: HeadPath) -> tuple[Stand, ...]:
    return path.stands if path.stand is None else (*path.stands, path.stand)
