"""A grind in which nobody says a word: the power of the spindle, and a micrometer that is pressed.

The wheel is wound back to measure, the coolant pump hangs on the same meter, and the wheel is dressed once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from capture.simulator.gauge_lines import ONE_PLACE, GaugeLine
from capture.simulator.grinder import HeatBalance, SimulatedGauge, SimulatedGrinder, Wheel, Workholding
from capture.simulator.shop import AIM, diameter_line
from capture.simulator.spindle_power import SimulatedSpindle, SpindleMeter, SpindleSample

POWER = (
    ONE_PLACE.replace("NAME", "by the spindle's power")
    + """\
[[gauge]]
name = "spindle"
measures = "power"
link = {{ serial = "{spindle}" }}
resolution = 1.0

[[gauge]]
name = "mike"
measures = "diameter"
part = "shaft"
link = {{ serial = "{mike}" }}
stream = false
resolution = 0.001
repeatability = 0.0006
limits = 0.001
"""
)
"""The job sheet of the grind, with the addresses of its gauges left open."""

STROKE = 8.0
DRESSED = 2
"""Sizes after which the wheel is dressed."""
CYCLES: Sequence[Sequence[float]] = (
    *((0.005, 0.005), (0.005, 0.005, 0.0), (0.005, 0.004), (0.004, 0.0), (0.003, 0.0, 0.0)),
    *((0.0025, 0.0), (0.0, 0.0), (0.0,), (0.0,)),
)
"""Infeeds from one size to the next."""


def sleeve() -> SimulatedGrinder:
    """The sleeve between centres, with what the cycles take off over its size."""
    return SimulatedGrinder(
        work=Workholding(diameter=AIM + 0.0385, length=280.0),
        wheel=Wheel(share=0.52, wear=0.0),
        warmth=HeatBalance(pushes=False, rubbing=400.0),
        gauge=SimulatedGauge(noise=0.0004),
        seed=55,
    )


def power_session(
    *, meter: SpindleMeter | None = None, cycles: Sequence[Sequence[float]] = CYCLES, stroke: float = STROKE
) -> Iterator[GaugeLine]:
    """All that the gauges send, in the order of its time."""
    grinder = sleeve()
    spindle = SimulatedSpindle(meter or SpindleMeter(pump=110.0), grinder, seed=55)
    yield from _sent(spindle.stay(10.0))
    yield _size(spindle)
    yield from _sent(spindle.stay(4.0))
    for number, infeeds in enumerate(cycles):
        if number == DRESSED:
            yield from _sent(spindle.dress(3, 0.55 * stroke))
            yield from _sent(spindle.stay(6.0))
        spindle.pump = True
        yield from _sent(spindle.stay(2.0))
        yield from _sent(spindle.air_stroke(stroke) if number == 1 else spindle.stay(1.0))
        for infeed in infeeds:
            yield from _sent(spindle.stroke(infeed, stroke))
            yield from _sent(spindle.stay(0.8))
        yield from _sent(spindle.stay(1.5))
        spindle.pump = False
        yield from _sent(spindle.stay(7.0))
        yield _size(spindle)
        yield from _sent(spindle.stay(3.0))


def _sent(shown: Iterator[SpindleSample]) -> Iterator[GaugeLine]:
    for at, watts in shown:
        yield GaugeLine(at, "spindle", f"{watts:.0f} W\r\n".encode("ascii"))


def _size(spindle: SimulatedSpindle) -> GaugeLine:
    return GaugeLine(spindle.time, "mike", diameter_line(spindle.grinder.measure(140.0)))
