"""Trials of passes that nobody tells: whole jobs of hands, heads and displays, with every true pass known.

A job: a pass lasts 6 to 90 s and is uneven by 3 to 10 %; one to three feeds of 2 to 10 µm and up to two rests
before each size, then four to eight rests. The head is wound back 0.3 to 15 mm to measure. Feeds go at 2 to
30 µm/s, some too far and back, some with a stop half way; the head misses its place by up to 0.7 µm (standard
deviation) and swings. The display steps 1 µm (some 0.5), scatters by 0.3 steps, sends 1 to 20 times a second
or only what changes, with gaps and wrong readings. A size may be taken twice; somebody may think before the
next feed. `KINDS` adds what a shop adds. Ranges were written down before the first run.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple, TypeAlias

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from capture.events import AnyFact, Beat, Event, Instant, Reading
from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.simulator.grinder import SimulatedGauge, SimulatedGrinder, Wheel, Workholding
from capture.simulator.infeed_head import InfeedDisplay, InfeedHand, InfeedHead, Shown
from capture.state import session
from capture.state.session import PROGRAM, State
from capture.state.words.commands import parse_command

KINDS: dict[str, str] = {
    "plain": "as above",
    "beside": "the part is measured beside the standing head, after each rest",
    "beside-rests": "the same with up to two rests before a size",
    "wound-back": "the gauge is first heard while the head is wound back",
    "dressed": "the wheel is dressed once, and that is told",
    "air": "the head first stops 20 to 60 µm short of the part, for half a pass or more",
    "zeroed": "somebody sets the display to 0 in the middle",
    "turned": "the gauge counts the other way than the sheet says",
    "before": "every pass is told before its size",
    "after": "every pass is told after its size",
    "twice": "every pass is told twice",
    "late": "every pass is told while the next one is made",
}
START = 55.060
LIMIT = 0.0005
"""mm on diameter by the next pass, below which a wheel has sparked out."""
NEAR = 0.001
"""mm on diameter within which an infeed is right."""
MIDDLE = 140.0

Told: TypeAlias = tuple[float, str]
"""Seconds, and a person's words."""


class Habits(Struct, frozen=True):
    """How one job is done."""

    pass_seconds: float
    uneven: float
    feeds: tuple[int, int]
    """Fewest and most feeds before a size."""
    rests: tuple[int, int]
    wind_back: float
    """mm by which the head is wound back to measure; 0: it stays."""
    measuring: float
    thinking: float
    again: float
    """Share of the sizes that are taken twice."""
    radius: bool


class UntoldJob(NamedTuple):
    """One simulated job: what was done, and what was found."""

    made: tuple[tuple[float | None, ...], ...]
    """True infeeds on diameter from one size to the next."""
    found: tuple[tuple[float | None, ...], ...]
    state: State
    truth: tuple[tuple[float, float], ...]
    """At each reading that was taken: true removal by the next pass without infeed, true final size, mm."""


def habits_of(rng: np.random.Generator) -> Habits:
    """Some person's way to grind."""
    most = int(rng.integers(1, 4))
    return Habits(
        pass_seconds=float(np.exp(rng.uniform(np.log(6.0), np.log(90.0)))),
        uneven=float(rng.uniform(0.03, 0.10)),
        feeds=(int(rng.integers(1, most + 1)), most),
        rests=(0, int(rng.integers(0, 3))),
        wind_back=float(np.exp(rng.uniform(np.log(0.3), np.log(15.0)))),
        measuring=float(rng.uniform(6.0, 40.0)),
        thinking=float(rng.uniform(1.0, 30.0)),
        again=0.1,
        radius=bool(rng.integers(2)),
    )


def display_of(rng: np.random.Generator) -> InfeedDisplay:
    """Some gauge's display."""
    step = float(rng.choice([0.0005, 0.001, 0.001, 0.001]))
    return InfeedDisplay(
        step=step,
        noise=0.3 * step,
        rate=float(np.exp(rng.uniform(0.0, np.log(20.0)))),
        on_change=bool(rng.uniform() < 0.3),
        gaps=float(rng.choice([0.0, 0.0, 4.0])),
        spikes=float(rng.choice([0.0, 0.0, 0.001])),
    )


def hand_of(rng: np.random.Generator) -> InfeedHand:
    """Some person's hand."""
    return InfeedHand(
        speed=float(np.exp(rng.uniform(np.log(0.002), np.log(0.03)))),
        rapid=float(np.exp(rng.uniform(np.log(0.5), np.log(20.0)))),
        overshoot=float(rng.uniform(0.0, 0.3)),
        halting=float(rng.uniform(0.0, 0.15)),
        bounce=float(rng.choice([0.0, 0.003])),
        misses=float(rng.uniform(0.0, 0.0007)),
    )


class _Shop:
    """One job as it is done: readings and words go into a session as they come."""

    def __init__(self, seed: int, kind: str) -> None:
        self.rng = np.random.default_rng(seed)
        self.kind = kind
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
        self.state = session.start(_job(self.habits, display))
        self.depth = 0.0
        self.reached = 0.0
        """The deepest at which the wheel has been."""
        self.made: list[list[float | None]] = []
        self.cycle: list[float | None] = []
        self.truth: list[tuple[float, float]] = []
        self.words: list[str] = []
        self.beat = 0.0

    def heard(self, shown: Iterator[Shown]) -> None:
        for at, value in shown:
            self._add("saddle", at, Reading(value, "mm", 4, f"{value:.4f}\r\n"))

    def _add(self, source: str, at: float, fact: AnyFact) -> None:
        for second in range(int(self.beat), int(at)):
            self._step("daemon", second + 1.0, Beat())
        self.beat = max(self.beat, at)
        self._step(source, at, fact)

    def _step(self, source: str, at: float, fact: AnyFact) -> None:
        now = Instant(int(at * 1e9), int(at * 1e9))
        self.state = session.step(self.state, Event(self.state.seq + 1, now, source, fact))
        while due := session.found_and_taken(self.state):
            for own in due:
                self.state = session.step(self.state, Event(self.state.seq + 1, now, PROGRAM, own))

    def say(self, words: str) -> None:
        self._add("person", self.head.time, Beat())
        self._step("person", self.head.time, parse_command(words.split(), self.state))

    def size(self) -> None:
        value = self.grinder.measure(MIDDLE)
        self._add("mike", self.head.time, Reading(value, "mm", 3, f"{value:.3f}\r\n"))
        final = self.grinder.size(MIDDLE) - self.grinder.to_come(MIDDLE)
        self.truth.append((self.grinder.next_removal(MIDDLE), final))

    def passes(self, infeed: float, *, first: bool = False) -> None:
        """One pass with *infeed* on diameter, the head being where it cuts."""
        if infeed:
            self.depth += infeed / self.by
        if infeed and not first:
            self.heard(self.head.feed(self.depth - self.head.position))
        seconds = self.habits.pass_seconds * (1.0 + self.habits.uneven * float(self.rng.standard_normal()))
        self.heard(self.head.stay(max(seconds, 2.0)))
        self.grinder.pass_seconds = seconds
        # the hand misses its place a little, and what is drawn back cuts nothing new
        fed = max(self.by * (self.head.position - self.reached), 0.0)
        self.reached = max(self.reached, self.head.position)
        self.grinder.advance(fed)
        self.cycle.append(fed)
        self.words.append(f"pass {infeed / self.by:.4f}")

    def measured(self) -> None:
        """The part is measured, once or twice, with the head wound back or not."""
        if self.kind in {"before", "twice"}:
            for words in self.words:
                self.say(words)
                if self.kind == "twice":
                    self.heard(self.head.stay(1.5))
                    self.say(words)
        back = self.habits.wind_back
        if back:
            self.heard(self.head.draw_back(back * float(self.rng.uniform(0.9, 1.1))))
        seconds = self.habits.measuring * float(self.rng.uniform(0.8, 1.2))
        self.heard(self.head.stay(seconds))
        self.grinder.wait(seconds)
        self.size()
        self.made.append(self.cycle)
        self.cycle = []
        if self.rng.uniform() < self.habits.again:
            self.heard(self.head.stay(float(self.rng.uniform(2.0, 5.0))))
            self.size()
            self.made.append([])
        self.heard(self.head.stay(float(self.rng.uniform(0.3, 1.0)) * min(self.habits.thinking, 8.0)))
        if self.kind == "after":
            for words in self.words:
                self.say(words)
        if self.kind != "late":
            self.words = []
        self.heard(self.head.stay(self.habits.thinking * float(self.rng.uniform(0.0, 1.0))))

    def come_in(self, fed: float) -> None:
        """The head is brought where it cuts, fed by *fed* on diameter from there on the way."""
        goal = self.depth + fed / self.by
        if self.kind == "air" and self.habits.wind_back and self.rng.uniform() < 0.5:
            self.heard(self.head.come_in(goal - float(self.rng.uniform(0.02, 0.06))))
            self.heard(self.head.stay(self.habits.pass_seconds * float(self.rng.uniform(0.5, 1.2))))
        if abs(goal - self.head.position) > 0.05:
            self.heard(self.head.come_in(goal))


def _job(habits: Habits, display: InfeedDisplay) -> Job:
    sheet = {
        "job": {"name": "untold"},
        "shaft": {"material": "steel 4140", "stations": [MIDDLE]},
        "grinder": {"dial": "radius" if habits.radius else "diameter"},
        "gauge": [
            {"name": "mike", "measures": "diameter", "link": {"serial": "a"}, "resolution": 0.001},
            {"name": "saddle", "measures": "infeed", "link": {"serial": "b"}, "resolution": display.step},
        ],
    }
    return job_of(sheet)


def untold_job(seed: int, kind: str = "plain") -> UntoldJob:
    """Grind one part to the end.

    Raises:
        ValueError: There is no such kind.
    """
    if kind not in KINDS:
        raise ValueError(f"a kind of trial is one of {', '.join(KINDS)}; got {kind}")
    shop = _Shop(seed, kind)
    rng, habits = shop.rng, shop.habits
    if kind == "wound-back":
        shop.heard(shop.head.stay(5.0))
    else:
        shop.heard(shop.head.stay(4.0))
    shop.measured()
    shop.made.clear()
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
    """The pass before is told while this one is made."""
    if shop.kind == "late" and len(shop.words) > 1:
        for words in shop.words[:-1]:
            shop.say(words)
        shop.words = shop.words[-1:]


def _happens(shop: _Shop) -> None:
    """What happens once in the middle of the job."""
    if shop.kind == "dressed":
        shop.say("dress")
        shop.heard(shop.head.draw_back(8.0))
        shop.heard(shop.head.stay(20.0))
        shop.depth += 0.030 / shop.by
        shop.cycle = []
    if shop.kind == "zeroed":
        shop.head.zero()
        shop.heard(shop.head.stay(2.0))


def _result(shop: _Shop) -> UntoldJob:
    numbers = [reading.pass_ for reading in shop.state.stations.taken]
    rows = [row.infeed for row in shop.state.grind.passes]
    found = [tuple(rows[a:b]) for a, b in pairwise(numbers)]
    made = tuple(tuple(cycle) for cycle in shop.made)
    return UntoldJob(made, tuple(found[-len(made) :]), shop.state, tuple(shop.truth))


def wrong_passes(made: Sequence[float | None], found: Sequence[float | None], near: float) -> int:
    """Passes missed, added or with an infeed that is off by more than *near*: the least edits between both.

    >>> wrong_passes([0.005, 0.0, 0.0], [0.005, 0.0], 0.001), wrong_passes([0.005], [0.005, 0.0], 0.001)
    (1, 1)
    """
    row = list(range(len(found) + 1))
    for a, one in enumerate(made, 1):
        before, row = row, [a]
        for b, other in enumerate(found, 1):
            change = before[b - 1] + (0 if _same(one, other, near) else 1)
            row.append(min(before[b] + 1, row[b - 1] + 1, change))
    return row[-1]


def _same(one: float | None, other: float | None, near: float) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= near


class Called(NamedTuple):
    """The spark-out of one job as it was called."""

    delay: int
    """Sizes after the first at which it was so."""
    false: bool
    """More than twice the limit was still to come by the next pass."""
    error: float
    """Of the predicted size, mm."""
    held: bool
    """Whether the stated 95 % interval holds the truth."""


def called(one: UntoldJob) -> Called | None:
    """How the spark-out was called from the last infeed on; None where it was not, or never was so."""
    rows = {row.number: row for row in one.state.grind.passes}
    fed = max((number for number, row in rows.items() if row.infeed != 0.0), default=0)
    numbers = [reading.pass_ for reading in one.state.stations.taken][-len(one.truth) :]
    newest = dict(zip(numbers, one.truth, strict=True))
    resting = [(rows[n].outlook, truth) for n, truth in newest.items() if n > fed and n in rows]
    so = next((n for n, (_, truth) in enumerate(resting) if truth[0] < LIMIT), None)
    for n, (outlook, (coming, final)) in enumerate(resting):
        if outlook is not None and outlook.settled and outlook.predicted is not None and so is not None:
            error, u = outlook.predicted - final, outlook.u_predicted or 0.0
            return Called(n - so, coming > 2.0 * LIMIT, error, abs(error) < 1.96 * u)
    return None


class UntoldFigures(Struct, frozen=True):
    """What the trial found."""

    kind: str
    jobs: int
    passes: int
    right: float
    """Share of the true passes that were found, rests included, less those that were none."""
    counts: float
    """Share of the measurements with the right number of passes."""
    infeed_p95: float
    """mm on diameter, of the fed passes of measurements with the right number."""


def run(
    count: int, kind: str = "plain", *, seed: int = 0, progress: Callable[[int], None] | None = None
) -> UntoldFigures:
    """Run *count* jobs of *kind*; *progress*, if given, hears the number of each that is done.

    Raises:
        ValueError: There is no such kind, or nothing to run.
    """
    if count < 1:
        raise ValueError(f"a trial needs at least 1 job, got {count}")
    passes = wrong = cycles = right = 0
    errors: list[float] = []
    for number in range(count):
        one = untold_job(seed + number, kind)
        for made, found in zip(one.made, one.found, strict=True):
            passes += len(made)
            wrong += wrong_passes(made, found, NEAR)
            cycles += 1
            right += len(made) == len(found)
            if len(made) == len(found):
                errors += [abs(a - b) for a, b in zip(made, found, strict=True) if a and b is not None]
        if progress:
            progress(number + 1)
    p95 = float(np.percentile(errors, 95)) if errors else float("nan")
    return UntoldFigures(kind, count, passes, 1.0 - wrong / max(passes, 1), right / max(cycles, 1), p95)
