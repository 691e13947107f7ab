"""Trials of untold passes on other slides and by other hands than those that the program was made with.

Slides creep and jump, their gauges drift and shake while the wheel cuts, a dial is turned twice for one
feed, wheels are plunged in slowly and dwell. Times of people are lognormal and not even, somebody drinks tea,
and the part is measured now beside the head and now behind it. The part springs by time: what is left of an
infeed falls off with a time constant. All is invented; ranges were written down before the first run.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from msgspec import Struct

from capture.benchmarks.trials.passes.untold_hands import sheet_of
from capture.benchmarks.trials.passes.untold_session import TrialSession, UntoldJob
from capture.simulator.infeed_head import Shown

SLIDES: dict[str, str] = {
    "creeping": "the slide creeps on by up to 2 µm after each feed, within a quarter of a minute",
    "drifting": "the gauge drifts by up to 6 µm an hour, up and down",
    "shaking": "while the wheel cuts, the display shakes by up to 1.5 steps",
    "double": "the dial is turned twice for a feed, with a second or three between",
    "plunging": "the wheel is fed slowly through the whole infeed and dwells",
    "backlash": "the head jumps in steps of up to 1.5 µm, and misses its place by 1 µm when it comes in",
    "tea": "once the head stands in the part for minutes without a pass",
    "standing": "every size is taken beside the standing head",
    "mixed": "the head is wound back before some of the sizes",
}
START = 30.040


class Slide(Struct, frozen=True):
    """How a slide and its gauge behave."""

    step: float
    rate: float
    creep: float = 0.0
    """mm that it goes on after a feed."""
    drift: float = 0.0
    """mm; how far the gauge drifts up and down."""
    period: float = 3600.0
    """Seconds of that."""
    shake: float = 0.0
    """Steps; standard deviation while the wheel cuts."""
    jump: float = 0.0
    """mm; it moves in steps of this."""
    misses: float = 0.0
    """mm; standard deviation of where it comes in again."""


class _OtherShop:
    """One job on such a slide."""

    def __init__(self, seed: int, kind: str, *, answering: bool) -> None:
        self.rng = rng = np.random.default_rng(seed)
        self.kind = kind
        self.answering = answering
        self.slide = _slide(rng, kind)
        self.radius = bool(rng.integers(2))
        self.by = 2.0 if self.radius else 1.0
        self.session = TrialSession(sheet_of(radius=self.radius, step=self.slide.step))
        self.one = float(rng.lognormal(np.log(18.0), 0.6))
        self.even = float(rng.choice([0.01, 0.03, 0.08]))
        self.gauging = float(rng.lognormal(np.log(14.0), 0.4))
        self.time, self.position, self.aim = 0.0, 0.0, 0.0
        self.creeping, self.since = 0.0, 0.0
        self.reached, self.next = 0.0, 0.0
        self.size, self.left = START, float(rng.uniform(0.0, 0.004))
        self.constant = float(rng.uniform(0.5, 1.5)) * self.one
        self.made: list[list[float | None]] = []
        self.cycle: list[float | None] = []
        self.truth: list[tuple[float, float]] = []

    def shown(self, until: float, where: Callable[[float], float], *, cutting: bool = False) -> None:
        self.session.received(self._sent(until, where, cutting=cutting))
        self.time = until

    def _sent(self, until: float, where: Callable[[float], float], *, cutting: bool) -> Iterator[Shown]:
        slide = self.slide
        while self.next <= until:
            at = max(self.next, self.time)
            drift = slide.drift * np.sin(2.0 * np.pi * at / slide.period)
            noise = 0.25 + (slide.shake if cutting else 0.0)
            value = where(at) + drift + noise * slide.step * float(self.rng.standard_normal())
            yield at, round(round(value / slide.step) * slide.step, 6)
            self.next = at + float(self.rng.uniform(0.9, 1.1)) / slide.rate

    def stands(self, seconds: float, *, cutting: bool = False) -> None:
        """It stands, or creeps on."""
        place, left, start = self.position, self.creeping, self.time
        constant = 5.0

        def where(at: float) -> float:
            return place + left * (1.0 - float(np.exp(-(at - start) / constant)))

        self.shown(self.time + seconds, where, cutting=cutting)
        self.position = where(self.time)
        self.creeping = left - (self.position - place)

    def moves(self, goal: float, seconds: float) -> None:
        """It moves evenly, or in jumps."""
        start, began, jump = self.position, self.time, self.slide.jump

        def where(at: float) -> float:
            part = min((at - began) / seconds, 1.0)
            way = (goal - start) * part
            return start + (float(np.trunc(way / jump)) * jump if jump and part < 1.0 else way)

        self.shown(self.time + seconds, where)
        self.position = goal

    def feeds(self, infeed: float) -> None:
        """The dial is turned by *infeed* on diameter; the wheel has not passed yet."""
        self.aim += infeed / self.by
        rng, goal = self.rng, self.aim
        if self.kind == "double":
            self.moves((self.position + goal) / 2.0, float(rng.uniform(0.3, 1.0)))
            self.stands(float(rng.uniform(0.8, 3.0)))
        slow = self.kind == "plunging"
        self.creeping = (
            float(rng.uniform(0.2, 1.0)) * self.slide.creep if abs(goal - self.position) < 0.1 else 0.0
        )
        goal -= self.creeping
        seconds = abs(goal - self.position) / 0.0007 if slow else float(rng.uniform(0.4, 1.5))
        self.moves(goal, max(seconds, 0.3))

    def passes(self) -> None:
        seconds = max(self.one * (1.0 + self.even * float(self.rng.standard_normal())), 2.0)
        self.stands(seconds, cutting=True)
        fed = max(self.by * (self.position - self.reached), 0.0)
        self.reached = max(self.reached, self.position)
        self.left += fed
        off = self.left * (1.0 - float(np.exp(-seconds / self.constant)))
        self.size, self.left = self.size - off, self.left - off
        self.cycle.append(fed)

    def measured(self) -> None:
        rng = self.rng
        back = self.kind != "standing" and (self.kind != "mixed" or rng.uniform() < 0.5)
        if back:
            self.moves(self.aim - float(rng.uniform(1.0, 6.0)), float(rng.uniform(1.0, 3.0)))
        self.stands(self.gauging * float(rng.lognormal(0.0, 0.15)))
        self.session.sized(self.time, round(self.size + 0.0004 * float(rng.standard_normal()), 3))
        removal = self.left * (1.0 - float(np.exp(-self.one / self.constant)))
        self.truth.append((removal, self.size - self.left))
        if self.answering:
            self.session.answers(self.time, len(self.cycle))
        self.made.append(self.cycle)
        self.cycle = []
        self.stands(float(rng.lognormal(np.log(6.0), 0.5)))
        if back:
            self.moves(self.aim - 0.2, float(rng.uniform(1.0, 3.0)))

    def comes_in(self, infeed: float) -> None:
        """The head is brought in to where the wheel cuts, fed on the way."""
        if abs(self.aim - self.position) < 0.1:
            if infeed:
                self.feeds(infeed)
            return
        self.aim += infeed / self.by
        goal = self.aim + self.slide.misses * float(self.rng.standard_normal())
        self.creeping = 0.0
        self.moves(goal - 0.02, 1.5)
        self.moves(goal, 1.0)


def _slide(rng: np.random.Generator, kind: str) -> Slide:
    return Slide(
        step=float(rng.choice([0.0005, 0.001])),
        rate=float(rng.choice([2.0, 4.0, 10.0])),
        creep=float(rng.uniform(0.0005, 0.002)) if kind == "creeping" else 0.0,
        drift=float(rng.uniform(0.001, 0.003)) if kind == "drifting" else 0.0,
        period=float(rng.uniform(1800.0, 3600.0)),
        shake=float(rng.uniform(0.5, 1.5)) if kind == "shaking" else 0.0,
        jump=float(rng.uniform(0.0005, 0.0015)) if kind == "backlash" else 0.0,
        misses=0.001 if kind == "backlash" else 0.0003,
    )


def other_job(seed: int, kind: str, *, answering: bool = True) -> UntoldJob:
    """Grind one part on such a slide; *answering*: somebody answers what is asked.

    Raises:
        ValueError: There is no such kind.
    """
    if kind not in SLIDES:
        raise ValueError(f"a kind of slide is one of {', '.join(SLIDES)}; got {kind}")
    shop = _OtherShop(seed, kind, answering=answering)
    rng = shop.rng
    shop.stands(5.0)
    shop.measured()
    shop.made.clear()
    shop.truth.clear()
    most = int(rng.integers(1, 4))
    rests = float(rng.choice([0.0, 0.3, 0.6]))
    cycles = int(rng.integers(4, 8))
    odd = int(rng.integers(1, cycles))
    for number in range(cycles):
        for place in range(int(rng.integers(1, most + 1))):
            infeed = shop.by * max(round(float(rng.uniform(3.0, 10.0)) / shop.by), 1) / 1000.0
            shop.feeds(infeed) if place else shop.comes_in(infeed)
            if kind == "tea" and number == odd and not place:
                shop.stands(float(rng.uniform(180.0, 900.0)))
            shop.passes()
        while rng.uniform() < rests:
            shop.passes()
        shop.measured()
    for _ in range(int(rng.integers(4, 8))):
        shop.comes_in(0.0)
        shop.passes()
        shop.measured()
    made = tuple(tuple(cycle) for cycle in shop.made)
    return UntoldJob(
        made, shop.session.found(len(made)), shop.session.state, tuple(shop.truth), shop.session.asked
    )
