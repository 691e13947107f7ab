"""How quiet a riding gauge is: of a second's mean, of single readings, and while the wheel is by."""

from __future__ import annotations

from math import log, sqrt
from statistics import median

from msgspec.structs import replace

from capture.metrology.gauges.turning_part import SecondMean
from capture.state.stream.riding_state import RidingState

FIRST = 12
"""Seconds from which the noise of a second's mean is known."""
LEAST_NOISE = 0.00004
"""mm; no second's mean is quieter (common practice, no source)."""
SPOILT, LEAST_SPOILT = 4.0, 0.001
"""Times the usual scatter of a second, and mm, from which its mean is no size, for"""
MOST_SPOILT = 2
"""seconds in a row: a pass that takes much in one second scatters as well (both set by trials)."""


def pooled(seconds: tuple[SecondMean, ...]) -> float:
    """Standard deviation of single readings over *seconds*, mm."""
    squares = sum(one.scatter**2 * (one.kept - 2) for one in seconds)
    return sqrt(squares / max(1, sum(one.kept - 2 for one in seconds)))


def noise_of(state: RidingState) -> float:
    """Standard deviation of a second's mean, mm; wide until it has been learnt."""
    if state.learnt >= FIRST:
        return max(state.noise, LEAST_NOISE)
    kept = sum(one.kept for one in state.seconds) / max(1, len(state.seconds))
    return max(1.5 * state.noise, pooled(state.seconds) / sqrt(max(1.0, kept)), LEAST_NOISE)


def learnt(state: RidingState) -> RidingState:
    """The noise of a second's mean, by second differences while nothing changes."""
    if len(state.seconds) < 3:
        return state
    a, b, c = (one.value for one in state.seconds[-3:])
    square = (a - 2.0 * b + c) ** 2 / 6.0
    if state.learnt >= FIRST:
        square = min(square, 9.0 * state.noise**2)
    count = min(state.learnt + 1, 60)
    noise = sqrt(((count - 1) * state.noise**2 + square) / count)
    return replace(state, noise=noise, learnt=count)


def is_spoilt(state: RidingState, found: SecondMean, resolution: float) -> bool:
    """Whether a chip or coolant lifted the finger: the readings scatter far more than they do."""
    if state.spoilt >= MOST_SPOILT or len(state.seconds) < 3:
        return False
    usual = median(one.scatter for one in state.seconds[-12:])
    return found.scatter > max(SPOILT * usual, 2.0 * resolution, LEAST_SPOILT)


def roughened(state: RidingState, since: list[SecondMean]) -> RidingState:
    """Learns how much rougher the stream is while the wheel is by."""
    quiet, near = state.plateau.scatter, pooled(tuple(since[:-2]))
    if quiet <= 0.0 or near <= 0.0 or len(since) < 3:
        return state
    clear = min(state.clear + 1, 5)
    rough = ((clear - 1) * state.rough + log(near / quiet)) / clear
    return replace(state, rough=rough, clear=clear)
