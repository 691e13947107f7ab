"""Trials of passes that nobody tells: whole jobs of hands, heads and displays, with every true pass known.

A job: a pass lasts 6 to 90 s and is uneven by 3 to 10 %; one to three feeds of 2 to 10 µm and up to two rests
before each size, then four to eight rests. The head is wound back 0.3 to 15 mm to measure. Feeds go at 2 to
30 µm/s, some too far and back, some with a stop half way; the head misses its place by up to 0.7 µm (standard
deviation) and swings. The display steps 1 µm (some 0.5), scatters by 0.3 steps, sends 1 to 20 times a second
or only what changes, with gaps and wrong readings. A size may be taken twice; somebody may think before the
next feed. `KINDS` adds what a shop adds. Ranges were written down before the first run.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from msgspec.structs import replace

from capture.benchmarks.trials.passes.untold_hands import (
    MIDDLE,
    display_of,
    habits_of,
    hand_of,
    sheet_of,
)
from capture.benchmarks.trials.passes.untold_session import TrialSession, UntoldJob
from capture.simulator.grinder import SimulatedGauge, SimulatedGrinder, Wheel, Workholding
from capture.simulator.infeed_head import InfeedHead, Shown

KINDS: dict[str, str] = {
    "plain": "as above",
    "beside": "the part is measured beside the standing head, after each rest",
    "beside-rests": "the same with up to two rests before a size",
    "wound-back": "the gauge sends for the first time while the head is wound back",
    "dressed": "the wheel is dressed once, and that is entered",
    "air": "the head first stops 20 to 60 µm short of the part, for half a pass or more",
    "zeroed": "somebody sets the display to 0 in the middle",
    "turned": "the gauge counts the other way than the sheet says",
    "before": "every pass is entered before its size",
    "after": "every pass is entered after its size",
    "twice": "every pass is entered twice",
    "late": "every pass is entered while the next one is made",
}
ENTERED = frozenset({"before", "after", "twice", "late"})
"""Kinds in which a person enters the passes."""
START = 55.060


class _Shop:
    """One job as it is done: readings and words go into a session as they come."""

    def __init__(self, seed: int, kind: str, *, answering: bool) -> None:
        self.rng = np.random.default_rng(seed)
        self.kind = kind
        self.answering = answering
        self.habits = habits_of(self.rng)
        if kind in {"beside", "beside-rests"}:
            rests = (0, 0) if kind == "beside" else self.habits.rests
            self.habits = replace(self.habits, wind_back=0.0, rests=rests)
        self.by = 2.0 if self.habits.radius else 1.0
        display, hand = display_of(self.rng), hand_of(self.rng)
        start = -max(self.habits.wind_back, 1.0) if kind == "wound-back" else 0.0
        self.head = InfeedHead(display, hand, at=start, seed=int(self.rng.integers(2**31)))
        self.head.sign = -1.0 if kind == "turned" else 1.0
        self.grinder = SimulatedGrinder(
            work=Workholding(diameter=START),
            wheel=Wheel(share=float(self.rng.uniform(0.3, 0.75)), wear=float(self.rng.uniform(0.0, 0.1))),
            gauge=SimulatedGauge(noise=float(self.rng.uniform(0.0003, 0.0008))),
            interference=float(self.rng.uniform(0.0, 0.005)),
            seed=int(self.rng.integers(2**31)),
        )
        self.session = TrialSession(sheet_of(radius=self.habits.radius, step=display.step))
        self.depth = 0.0
        self.reached = 0.0
        """The deepest at which the wheel has been."""
        self.made: list[list[float | None]] = []
        self.cycle: list[float | None] = []
        self.truth: list[tuple[float, float]] = []
        self.dialled: list[float] = []
        self.said: list[list[float]] = []
        self.words: list[str] = []

    def received(self, shown: Iterator[Shown]) -> None:
        self.session.received(shown)

    def say(self, words: str) -> None:
        self.session.say(self.head.time, words)

    def size(self) -> None:
        self.session.sized(self.head.time, self.grinder.measure(MIDDLE))
        if self.answering:
            self.session.answers(self.head.time, len(self.cycle))
        final = self.grinder.size(MIDDLE) - self.grinder.to_come(MIDDLE)
        self.truth.append((self.grinder.next_removal(MIDDLE), final))

    def passes(self, infeed: float, *, first: bool = False) -> None:
        """One pass with *infeed* on diameter, the head being where it cuts."""
        if infeed:
            self.depth += infeed / self.by
        if infeed and not first:
            self.received(self.head.feed(self.depth - self.head.position))
        seconds = self.habits.pass_seconds * (1.0 + self.habits.uneven * float(self.rng.standard_normal()))
        self.received(self.head.stay(max(seconds, 2.0)))
        self.grinder.pass_seconds = seconds
        # the hand misses its place a little, and what is drawn back cuts nothing new
        fed = max(self.by * (self.head.position - self.reached), 0.0)
        self.reached = max(self.reached, self.head.position)
        self.grinder.advance(fed)
        self.cycle.append(fed)
        self.dialled.append(infeed)
        self.words.append(f"pass {infeed / self.by:.4f}")

    def measured(self) -> None:
        """The part is measured, once or twice, with the head wound back or not."""
        if self.kind in {"before", "twice"}:
            for words in self.words:
                self.say(words)
                if self.kind == "twice":
                    self.received(self.head.stay(1.5))
                    self.say(words)
        back = self.habits.wind_back
        if back:
            self.received(self.head.draw_back(back * float(self.rng.uniform(0.9, 1.1))))
        seconds = self.habits.measuring * float(self.rng.uniform(0.8, 1.2))
        self.received(self.head.stay(seconds))
        self.grinder.wait(seconds)
        self.size()
        self.made.append(self.cycle)
        self.said.append(self.dialled)
        self.cycle, self.dialled = [], []
        if self.rng.uniform() < self.habits.again:
            self.received(self.head.stay(float(self.rng.uniform(2.0, 5.0))))
            self.size()
            self.made.append([])
            self.said.append([])
        self.received(self.head.stay(float(self.rng.uniform(0.3, 1.0)) * min(self.habits.thinking, 8.0)))
        if self.kind == "after":
            for words in self.words:
                self.say(words)
        if self.kind != "late":
            self.words = []
        self.received(self.head.stay(self.habits.thinking * float(self.rng.uniform(0.0, 1.0))))

    def come_in(self, fed: float) -> None:
        """The head is brought where it cuts, fed by *fed* on diameter from there on the way."""
        goal = self.depth + fed / self.by
        if self.kind == "air" and self.habits.wind_back and self.rng.uniform() < 0.5:
            self.received(self.head.come_in(goal - float(self.rng.uniform(0.02, 0.06))))
            self.received(self.head.stay(self.habits.pass_seconds * float(self.rng.uniform(0.5, 1.2))))
        if self.habits.wind_back:
            self.received(self.head.come_in(goal))


def untold_job(seed: int, kind: str = "plain", *, answering: bool = True) -> UntoldJob:
    """Grind one part to the end; *answering*: somebody answers what is asked.

    Raises:
        ValueError: There is no such kind.
    """
    if kind not in KINDS:
        raise ValueError(f"a kind of trial is one of {', '.join(KINDS)}; got {kind}")
    shop = _Shop(seed, kind, answering=answering)
    rng, habits = shop.rng, shop.habits
    if kind == "wound-back":
        shop.received(shop.head.stay(5.0))
    else:
        shop.received(shop.head.stay(4.0))
    shop.measured()
    shop.made.clear()
    shop.said.clear()
    shop.truth.clear()
    cycles = int(rng.integers(4, 9))
    odd = int(rng.integers(1, cycles))
    for number in range(cycles):
        if number == odd:
            _happens(shop)
        feeds = [
            _infeed(rng, shop.by) for _ in range(int(rng.integers(habits.feeds[0], habits.feeds[1] + 1)))
        ]
        shop.come_in(feeds[0])
        for place, infeed in enumerate(feeds):
            shop.passes(infeed, first=place == 0 and bool(habits.wind_back))
            _late(shop)
        for _ in range(int(rng.integers(habits.rests[0], habits.rests[1] + 1))):
            shop.passes(0.0)
            _late(shop)
        shop.measured()
    for _ in range(int(rng.integers(4, 9))):
        shop.come_in(0.0)
        shop.passes(0.0)
        _late(shop)
        shop.measured()
    return _result(shop)


def _infeed(rng: np.random.Generator, by: float) -> float:
    """2 to 10 µm on diameter, a whole number of micrometres on the dial."""
    return by * max(round(float(rng.uniform(2.0, 10.0)) / by), 1) / 1000.0


def _late(shop: _Shop) -> None:
    """The pass before is entered while this one is made."""
    if shop.kind == "late" and len(shop.words) > 1:
        for words in shop.words[:-1]:
            shop.say(words)
        shop.words = shop.words[-1:]


def _happens(shop: _Shop) -> None:
    """What happens once in the middle of the job."""
    if shop.kind == "dressed":
        shop.say("dress")
        shop.received(shop.head.draw_back(8.0))
        shop.received(shop.head.stay(20.0))
        shop.depth += 0.030 / shop.by
        shop.cycle, shop.dialled = [], []
    if shop.kind == "zeroed":
        shop.head.zero()
        shop.received(shop.head.stay(2.0))


def _result(shop: _Shop) -> UntoldJob:
    made = tuple(tuple(cycle) for cycle in shop.made)
    said = tuple(tuple(cycle) for cycle in shop.said) if shop.kind in ENTERED else ()
    return UntoldJob(
        made, shop.session.found(len(made)), shop.session.state, tuple(shop.truth), shop.session.asked, said
    )
