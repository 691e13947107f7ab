"""Trials of chatter: streams whose cause is known, and how often it is named and its aliases are.

The work turns 40 to 220 times a minute and wanders by up to a thousandth, the wheel 1200 to 2400, a belt 280
to 1450; each up to 1.5 % from what was entered. The cause is drawn evenly: the centres, 2 to 12 lobes of the
work, the wheel, the belt, or self-excited chatter of 40 to 300 Hz that grows in half of the trials. Beside it
stand run-out and ovality of the work, and a size that decays. 10, 20 or 50 readings a second for 30 to 120 s,
noise of 0.2 to 0.5 µm, steps of 0.1 or 1 µm, amplitudes of 0.7 to 4 µm, readings up to some ms late. All is
drawn from one seed.
"""

from __future__ import annotations

from collections.abc import Callable
from math import pi

import numpy as np
from msgspec import Struct

from capture.metrology.grinding.wheel.chatter import Speeds, tones
from capture.metrology.grinding.wheel.stream_waves import shown_at
from capture.metrology.uncertainty.propagation import Array

CAUSES = ("centres", "lobes", "wheel", "drive", "regeneration")


RATES = (10.0, 20.0, 50.0)


class ChatteringTrial(Struct, frozen=True):
    """One stream beside its truth."""

    cause: str
    frequency: float
    """Hz."""
    rate: float
    named: str
    """The likeliest cause of the tone where it is shown; "" where no tone was found there."""
    sure: bool
    """Said to be likely, not left open."""
    aliased: bool
    """It is faster than half the rate."""
    alias_named: bool


class Stream(Struct, frozen=True):
    """A stream, what was entered of its speeds, and what is true of it."""

    times: Array
    values: Array
    speeds: Speeds
    cause: str
    frequency: float
    rate: float


def stream_of(seed: int) -> Stream:
    """The stream of a seed."""
    draw = np.random.default_rng(seed)
    uniform = draw.uniform
    entered = (uniform(40, 220) / 60, uniform(1200, 2400) / 60, uniform(280, 1450) / 60)
    work, wheel, belt = (one * (1 + uniform(-0.015, 0.015)) for one in entered)
    rate, span = float(draw.choice([10, 20, 50])), uniform(30, 120)
    cause = str(draw.choice(CAUSES))
    frequency = {
        "centres": work,
        "lobes": work * int(draw.integers(2, 13)),
        "wheel": wheel,
        "drive": belt,
        "regeneration": uniform(40, 300),
    }[cause]
    t = np.arange(int(rate * span)) / rate
    wander = np.cumsum(np.sin(2 * pi * t / uniform(10, 60) + uniform(0, 6))) / rate
    turned = t + uniform(0, 1e-3) * wander
    a = uniform(0.7e-3, 4e-3)
    own = turned if cause in {"centres", "lobes"} else t
    values = a * np.cos(2 * pi * frequency * own + uniform(0, 6))
    if cause == "regeneration" and uniform() < 0.5:
        values *= np.minimum(1, 0.3 + t / span)
    if cause != "centres":
        values += uniform(0.1, 0.6) * a * np.cos(2 * pi * work * turned + uniform(0, 6))
    values += uniform(0, 0.2) * a * np.cos(4 * pi * work * turned + uniform(0, 6))
    values += 0.004 * np.exp(-t / uniform(20, 80)) + draw.normal(0, uniform(0.2e-3, 0.5e-3), len(t))
    step = float(draw.choice([1e-4, 1e-3]))
    late = np.sort(t + draw.normal(0, 0.002, len(t)))
    speeds = Speeds(wheel=entered[1], work=entered[0], drives={"belt": entered[2]})
    return Stream(late, np.round(values / step) * step, speeds, cause, frequency, rate)


def trial(seed: int, drawn: Callable[[int], Stream] = stream_of) -> ChatteringTrial:
    """One stream looked at, by this module's physics or by another's."""
    one = drawn(seed)
    found = tones(one.times, one.values, one.speeds)
    shown, close = shown_at(one.frequency, one.rate), 3 / float(one.times[-1] - one.times[0])
    here = [tone for tone in found if abs(tone.frequency - shown) < close]
    best = here[0].causes[0] if here else None
    return ChatteringTrial(
        cause=one.cause,
        frequency=one.frequency,
        rate=one.rate,
        named="" if best is None else best.kind,
        sure=best is not None and best.probability >= 0.5,
        aliased=one.frequency > one.rate / 2,
        alias_named=any(abs(each - one.frequency) < 2 * close for tone in here[:1] for each in tone.aliases),
    )


class ChatteringFigures(Struct, frozen=True):
    """What many streams came to, as shares."""

    right: float
    sure: float
    """Of those whose cause was said to be likely: the right one."""
    aliases: float
    """Of the frequencies faster than half the rate: named among the aliases."""
    by_rate: dict[float, dict[str, float]]
    """Right by readings a second and by cause."""


def figures(
    trials: int, *, seed: int = 20_000, drawn: Callable[[int], Stream] = stream_of
) -> ChatteringFigures:
    """*trials* streams of the seeds from *seed* on."""
    each = [trial(seed + number, drawn) for number in range(trials)]

    def share(of: list[ChatteringTrial]) -> float:
        return float(np.mean([one.named == one.cause for one in of])) if of else 0.0

    return ChatteringFigures(
        right=share(each),
        sure=share([one for one in each if one.sure]),
        aliases=float(np.mean([one.alias_named for one in each if one.aliased])),
        by_rate={
            rate: {
                c: share([one for one in each if (_near(one.rate), one.cause) == (rate, c)]) for c in CAUSES
            }
            for rate in RATES
        },
    )


def _near(rate: float) -> float:
    """The rate of the figures that is nearest to one that was drawn, by its logarithm."""
    return min(RATES, key=lambda one: abs(np.log(one / rate)))
