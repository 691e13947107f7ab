"""A part of known lobes that turns under a gauge: what the gauge would show, with all that goes wrong.

The speed wanders (a smooth random process), the gauge rounds, scatters and drifts, its readings come late by
a few milliseconds, keyways and chips pass under it, a foot gives the mark of each turn late or not at all.
Simulated truth; lengths mm.
"""

from __future__ import annotations

from math import pi

import numpy as np
from msgspec import Struct
from scipy.ndimage import gaussian_filter1d
from scipy.signal import lfilter

from capture.metrology.form.contacts import RoundnessSetup, row, touching
from capture.metrology.uncertainty.propagation import Array

FINE = 200
"""Points a second at which the turning itself is drawn."""


class Spinning(Struct, frozen=True):
    """How a part turns and how it is read."""

    rpm: float
    turns: float
    rate: float
    """Readings a second."""
    wander: float = 0.0
    """Standard deviation of the speed as a share of it."""
    off: float = 0.0
    """How much faster it turns than the sheet says, as a share."""
    noise: float = 0.0003
    resolution: float = 0.001
    drift: float = 0.002
    eccentric: float = 0.01
    late: float = 0.003
    """Mean lateness of a reading, seconds."""
    keyways: tuple[tuple[float, float, float], ...] = ()
    """Where each is, how wide, radians, and how deep, mm."""
    chips: float = 0.0
    """Share of readings on a chip."""
    u_mark: float | None = None
    """Scatter of the time of a mark, seconds; None: no marks."""


class ShownTurns(Struct, frozen=True):
    """What came of it."""

    times: Array
    values: Array
    marks: Array
    rate: float
    """Mean turns a second that it truly made."""


def turned(
    random: np.random.Generator,
    part: Array,
    how: Spinning,
    setups: list[RoundnessSetup],
    axis: tuple[Array, Array] | None = None,
) -> list[ShownTurns]:
    """What one gauge in each of *setups* shows while the part turns once for all of them.

    Args:
        random: Where all chance comes from.
        part: Its lobes, complex, by their count.
        how: The turning and the reading.
        setups: One for each gauge.
        axis: Movement of the axis along 0 and along 90 degrees, by lobes, as of the part.
    """
    seconds = 60.0 * how.turns / how.rpm
    fine = np.arange(-1.0, seconds + 1.0, 1 / FINE)
    speed = _speed(random, fine, how)
    angle = 2 * pi * np.cumsum(speed) / FINE
    angle += random.uniform(0, 2 * pi) - np.interp(0.0, fine, angle)
    marks = _marks(random, fine, angle, seconds, how)
    high = random.uniform(0, 2 * pi)
    found = []
    for setup in setups:
        t = np.arange(int(seconds * how.rate)) / how.rate + random.uniform(0, 1 / how.rate)
        theta = np.interp(t, fine, angle)
        values = _surface(part, axis, setup, theta)
        if setup.contacts == "centres":
            values += how.eccentric * np.cos(theta + np.radians(setup.at) - high)
        values += _spoiled(random, how, setup, theta, t / seconds)
        if how.resolution:
            values = np.round(values / how.resolution) * how.resolution
        late = random.exponential(how.late, len(t)) if how.late else np.zeros(len(t))
        mean = float(np.interp(seconds, fine, angle) - np.interp(0.0, fine, angle)) / (2 * pi * seconds)
        found.append(ShownTurns(np.maximum.accumulate(t + late), values, marks, mean))
    return found


def _speed(random: np.random.Generator, fine: Array, how: Spinning) -> Array:
    """Turns a second at fine times: an Ornstein-Uhlenbeck process smoothed over half a turn."""
    period = 60.0 / how.rpm
    keep = np.exp(-1 / FINE / (random.uniform(1.0, 6.0) * period))
    rough = lfilter([np.sqrt(1 - keep * keep)], [1.0, -keep], random.standard_normal(len(fine)))
    smooth = gaussian_filter1d(rough, 0.5 * period * FINE)
    found: Array = (1 + how.off) / period * (1 + how.wander * smooth)
    return found


def _marks(random: np.random.Generator, fine: Array, angle: Array, seconds: float, how: Spinning) -> Array:
    if how.u_mark is None:
        return np.zeros(0)
    first, last = np.interp([0.0, seconds], fine, angle) / (2 * pi)
    times = np.interp(2 * pi * np.arange(np.ceil(first), np.floor(last) + 1), angle, fine)
    times = times + random.normal(0.0, how.u_mark, len(times))
    return np.sort(times[random.random(len(times)) > 0.05])


def _surface(part: Array, axis: tuple[Array, Array] | None, setup: RoundnessSetup, theta: Array) -> Array:
    values = np.zeros(len(theta))
    for n in range(2, len(part)):
        seen, x, y = row(n, setup)
        shown = seen * part[n]
        if axis is not None:
            shown += x * axis[0][n] + y * axis[1][n]
        values += (shown * np.exp(1j * n * theta)).real
    return values


def _spoiled(
    random: np.random.Generator, how: Spinning, setup: RoundnessSetup, theta: Array, share: Array
) -> Array:
    spoiled = random.normal(0.0, how.noise, len(theta))
    spoiled += how.drift * (share * random.uniform(-1, 1) + 0.3 * np.sin(share * random.uniform(1, 5)))
    for where, width, depth in how.keyways:
        for place in touching(setup):
            turned_by = np.radians(setup.at + setup.turned + place)
            away = np.abs((theta + turned_by - where + pi) % (2 * pi) - pi)
            spoiled -= depth * np.clip((width / 2 - away) / 0.03 + 0.5, 0.0, 1.0)
    if how.chips:
        on = random.random(len(theta)) < how.chips
        spoiled[on] += random.normal(0.0, 0.02, int(on.sum()))
    return spoiled
