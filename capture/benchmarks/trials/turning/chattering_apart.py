"""Trials of chatter by other physics than `chattering`: what vibrates is driven, and the gauge is a real one.

Everything is a mean over the gauge's own aperture (0.2 to 2 ms) of one displacement:

- The work turns by a drive that slips with the load: its speed falls by up to 0.15 % when the wheel is on,
  and a torsional resonance of the drive (3 to 9 Hz) rocks its phase by up to 2°. Once a turn it shows its
  run-out, and two or three other lobes of the roundness it came with.
- The wheel's imbalance pushes a support of one degree of freedom (35 to 120 Hz, 2 to 8 % damping); a smaller
  wave stands at twice its speed.
- A belt pushes at its own turns with two overtones, and by its seam up and down (1 to 8 % of amplitude).
- Regeneration is a map from one turn of the work to the next: the waviness that one turn leaves is what the
  next one meets, ``A' = g A / sqrt(1 + (g^2 - 1) (A / A_end)^2)`` with g of 1.003 to 1.08 a turn, near the
  frequency of the support; in a third of the streams it has grown to its end before.
- In a third of the streams a second cause is there, at 0.2 to 0.7 of the first's size, so that the two beat.
- The gauge is polled: 8 to 60 readings a second, each up to 4 ms late, 1 % lost, some in pairs; its noise has
  a memory (0 to 0.6 from one reading to the next), and it steps 0.1, 0.5 or 1 µm.

The speeds are entered as a tachometer has them (± 0.5 %, normal) or, in one stream of five, as the plate has
them with a slip of 0.5 to 2.5 %. All is drawn from one seed.
"""

from __future__ import annotations

import sys
from math import pi

import numpy as np
from msgspec import Struct

from capture.benchmarks.trials.turning.chattering import ChatteringFigures, Stream, figures
from capture.metrology.grinding.wheel.chatter import Speeds
from capture.metrology.uncertainty.propagation import Array

CAUSES = ("centres", "lobes", "wheel", "drive", "regeneration")
FINE = 8
"""Points over the gauge's aperture at which the displacement is worked out."""


class _Machine(Struct, frozen=True):
    """A grinder of one draw: turns a second as they are, and what it rests on."""

    work: float
    wheel: float
    belt: float
    own: float
    """Hz of the support."""
    damping: float


def apart_stream_of(seed: int) -> Stream:
    """The stream of a seed."""
    draw = np.random.default_rng([seed, 7])
    uniform = draw.uniform
    machine = _Machine(
        work=uniform(30, 240) / 60,
        wheel=uniform(1100, 2600) / 60,
        belt=uniform(250, 1600) / 60,
        own=uniform(35, 120),
        damping=uniform(0.02, 0.08),
    )
    rate, span = uniform(8, 60), uniform(40, 150)
    cause, other = draw.choice(CAUSES, 2, replace=False)
    size = uniform(0.8e-3, 4e-3)
    read = _polled(rate, span, draw)
    aperture = uniform(0.2e-3, 2e-3) * np.linspace(-1, 0, FINE)
    t = (read[:, None] + aperture[None, :]).ravel()
    turned = _turns(t, machine, draw)
    wave, frequency = _wave(str(cause), t, turned, size, machine, draw)
    if uniform() < 1 / 3:
        wave = wave + _wave(str(other), t, turned, uniform(0.2, 0.7) * size, machine, draw)[0]
    if "centres" not in {cause, other}:
        wave = wave + uniform(0.1, 0.5) * size * np.cos(2 * pi * turned + uniform(0, 6))
    for _ in range(int(draw.integers(2, 4))):
        n = int(draw.integers(2, 13))
        wave = wave + uniform(0, 0.12) * size * np.cos(2 * pi * n * turned + uniform(0, 6))
    seen = wave.reshape(len(read), FINE).mean(axis=1)
    seen = seen + 0.006 * np.exp(-read / uniform(15, 90)) + _noise(len(read), draw)
    step = float(draw.choice([1e-4, 5e-4, 1e-3]))
    stamped = np.sort(read + np.abs(draw.normal(0, 0.0015, len(read))))
    return Stream(stamped, np.round(seen / step) * step, _told(machine, draw), str(cause), frequency, rate)


def apart_figures(trials: int, *, seed: int = 60_000) -> ChatteringFigures:
    """What *trials* streams of the seeds from *seed* on come to."""
    return figures(trials, seed=seed, drawn=apart_stream_of)


def _told(machine: _Machine, draw: np.random.Generator) -> Speeds:
    """Speeds as a tachometer has them, or as the plate has them without the slip."""
    plate = draw.uniform() < 0.2

    def one(true: float) -> float:
        return true * (1 + (draw.uniform(0.005, 0.025) if plate else draw.normal(0, 0.005)))

    return Speeds(wheel=one(machine.wheel), work=one(machine.work), drives={"belt": one(machine.belt)})


def _polled(rate: float, span: float, draw: np.random.Generator) -> Array:
    """When the gauge was read: a poll that drifts a little, with losses and pairs."""
    at = np.arange(int(rate * span)) / rate + draw.uniform(0, 0.004, int(rate * span))
    at = np.sort(at[draw.uniform(size=len(at)) > 0.01])
    pairs = np.flatnonzero(draw.uniform(size=len(at) - 1) < 0.01)
    at[pairs + 1] = at[pairs] + 0.3 / rate
    return np.asarray(np.sort(at))


def _turns(t: Array, machine: _Machine, draw: np.random.Generator) -> Array:
    """Turns of the work up to *t*: it slips while the wheel is on, and its drive rocks."""
    on = np.asarray(np.mod(t / draw.uniform(8, 25), 1.0) < draw.uniform(0.4, 0.9))
    order = np.argsort(t)
    steps = np.diff(t[order], prepend=t[order][0])
    speed = machine.work * (1 - draw.uniform(0, 0.0015) * on[order])
    turned = np.empty_like(t)
    turned[order] = np.cumsum(speed * steps)
    rocking = np.radians(draw.uniform(0, 2)) / (2 * pi)
    return np.asarray(turned + rocking * np.sin(2 * pi * draw.uniform(3, 9) * t + draw.uniform(0, 6)))


def _wave(
    cause: str, t: Array, turned: Array, size: float, machine: _Machine, draw: np.random.Generator
) -> tuple[Array, float]:
    """What a cause does to the gauge, mm, and its frequency, Hz."""
    phase = draw.uniform(0, 2 * pi)
    match cause:
        case "centres":
            return size * np.cos(2 * pi * turned + phase), machine.work
        case "lobes":
            n = int(draw.integers(2, 13))
            return size * np.cos(2 * pi * n * turned + phase), n * machine.work
        case "wheel":
            return _imbalance(t, size, machine, phase), machine.wheel
        case "drive":
            seam = 1 + draw.uniform(0.01, 0.08) * np.cos(2 * pi * draw.uniform(0.1, 0.9) * t)
            at = 2 * pi * machine.belt * t
            pushed = np.cos(at + phase) + 0.25 * np.cos(2 * at + 2 * phase) + 0.1 * np.cos(3 * at)
            return size * seam * pushed, machine.belt
        case _:
            return _regenerated(t, size, machine, draw)


def _imbalance(t: Array, size: float, machine: _Machine, phase: float) -> Array:
    """The support's answer to the wheel at its turns and at twice those, of *size* at the former."""

    def answer(of: float) -> float:
        r = of / machine.own
        return float(r * r / np.hypot(1 - r * r, 2 * machine.damping * r))

    twice = min(0.33 * answer(2 * machine.wheel) / answer(machine.wheel) / 4, 0.6)
    at = 2 * pi * machine.wheel * t
    return np.asarray(size * (np.cos(at + phase) + twice * np.cos(2 * at + phase)))


def _regenerated(t: Array, size: float, machine: _Machine, draw: np.random.Generator) -> tuple[Array, float]:
    """Waviness from turn to turn: each meets what the one before it left, until contact is lost."""
    frequency = float(machine.own * draw.uniform(1.0, 1.08))
    grown = size if draw.uniform() < 1 / 3 else size * draw.uniform(0.02, 0.4)
    growth, sizes = draw.uniform(1.003, 1.08), [grown]
    for _ in range(int(t.max() * machine.work) + 2):
        grown = growth * grown / np.sqrt(1 + (growth**2 - 1) * (grown / size) ** 2)
        sizes.append(grown)
    envelope = np.interp(t * machine.work, np.arange(len(sizes)), sizes)
    return np.asarray(envelope * np.cos(2 * pi * frequency * t + draw.uniform(0, 6))), frequency


def _noise(n: int, draw: np.random.Generator) -> Array:
    """The gauge's own noise, with a memory from one reading to the next."""
    memory, sd = draw.uniform(0, 0.6), draw.uniform(0.15e-3, 0.5e-3)
    new = draw.normal(0, sd * np.sqrt(1 - memory**2), n)
    out = np.empty(n)
    last = draw.normal(0, sd)
    for number, one in enumerate(new):
        last = memory * last + one
        out[number] = last
    return out


if __name__ == "__main__":
    sys.stdout.write(f"{apart_figures(200)}\n")
