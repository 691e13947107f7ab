"""A grind in which nobody says a word: head, micrometer and probe send, and the passes find themselves.

Three feeds at the most and one or two rests before each size, the head wound back to measure.
"""

from __future__ import annotations

from collections.abc import Iterator

from capture.simulator.gauge_lines import GaugeLine
from capture.simulator.grinder import SimulatedGrinder
from capture.simulator.infeed_head import InfeedDisplay, InfeedHand, InfeedHead, Shown
from capture.simulator.shop import (
    AIM,
    SLEEVE,
    STATIONS,
    diameter_line,
    over_aim,
    sleeve_grinder,
    temperature_line,
)

SADDLE = """
[[gauge]]
name = "saddle"
measures = "infeed"
link = {{ serial = "{saddle}" }}
resolution = 0.001
"""
"""An infeed gauge on the saddle, with its address left open."""
UNTOLD = SLEEVE + SADDLE
"""The sheet of the demo with that gauge."""
DEEPEST = 0.005
PASS_SECONDS = 30.0
BACK = 5.0


def untold_session(*, wind_back: bool = True, rest: int = 6, seed: int = 55) -> Iterator[GaugeLine]:
    """The sleeve ground to size and sparked out, the last *rest* sizes after passes without infeed alone.

    *wind_back*: the head is wound back to measure; else the part is measured beside it.
    """
    shop = _Silent(sleeve_grinder(), wind_back=wind_back, seed=seed)
    yield from shop.lines(shop.head.stay(3.0))
    yield from shop.measure()
    yield from shop.touch_off()
    number = 0
    while over_aim(shop.grinder, AIM) > 0.001:
        for _ in range(1 + number % 3):
            left = over_aim(shop.grinder, AIM)
            if left > 0.001:
                yield from shop.grind(round(min(DEEPEST, max(left * 0.6, 0.001)), 3))
        for _ in range(number % 3 if wind_back else 0):
            yield from shop.grind(0.0)
        yield from shop.measure()
        number += 1
    for _ in range(rest):
        yield from shop.grind(0.0)
        yield from shop.measure()


class _Silent:
    """Somebody who grinds and says nothing."""

    def __init__(self, grinder: SimulatedGrinder, *, wind_back: bool, seed: int) -> None:
        self.grinder = grinder
        self.wind_back = wind_back
        display = InfeedDisplay(rate=4.0, on_change=True)
        hand = InfeedHand(overshoot=0.1, halting=0.05, bounce=0.002, misses=0.0003)
        self.head = InfeedHead(display, hand, at=-BACK if wind_back else 0.0, seed=seed)
        self.depth = 0.0

    def lines(self, shown: Iterator[Shown]) -> Iterator[GaugeLine]:
        for at, value in shown:
            yield GaugeLine(at, "saddle", f"{value:+.3f} mm\r\n".encode("ascii"))

    def touch_off(self) -> Iterator[GaugeLine]:
        yield from self.lines(self.head.come_in(0.0))
        yield from self.lines(self.head.stay(4.0))

    def grind(self, infeed: float) -> Iterator[GaugeLine]:
        self.depth += infeed
        if self.head.position < -1.0:
            yield from self.lines(self.head.come_in(self.depth))
        elif infeed:
            yield from self.lines(self.head.feed(self.depth - self.head.position))
        yield from self.lines(self.head.stay(PASS_SECONDS))
        self.grinder.advance(infeed)

    def measure(self) -> Iterator[GaugeLine]:
        if self.wind_back and self.head.position > -1.0:
            yield from self.lines(self.head.draw_back(BACK))
        yield GaugeLine(self.head.time, "probe", temperature_line(self.grinder.probe()))
        for z in STATIONS:
            yield from self.lines(self.head.stay(8.0))
            yield GaugeLine(self.head.time, "mike", diameter_line(self.grinder.measure(z)))
        yield from self.lines(self.head.stay(5.0))
