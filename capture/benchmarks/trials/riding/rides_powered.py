"""Grinds seen by a gauge on the part, by the power of the wheel's drive, and by both; nobody says a word.

The grinds are those of `capture.simulator.rider`. The power stands over that of the wheel running free,
while it strokes, by what it takes off (energy for a volume: Malkin and Guo, "Grinding Technology") and by
rubbing; the table slows at both ends. W and seconds.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct

from capture.events import Event, Instant, Pass, Reading
from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.simulator.rider import Ride, any_ride, passes_of, samples_of
from capture.state import decisions, session

Seen: TypeAlias = Literal["part", "power", "both"]
"""By which gauges a grind is seen."""
EACH = 0.2
"""Seconds from one value of the meter to the next."""
TURNS_BACK = 0.4
"""Seconds in which the table comes to a stand (an estimate, no source)."""


class Powered(Struct, frozen=True):
    """What became of one grind."""

    passes: int
    right: int
    extra: int


def sheet(resolution: float, seen: Seen) -> Job:
    """The sheet, with the gauges by which the grind is seen."""
    link = {"serial": "a"}
    rider = {"name": "rider", "measures": "diameter", "link": link, "resolution": resolution, "rides": 80.0}
    meter = {"name": "meter", "measures": "power", "link": link, "resolution": 1.0}
    mike = {"name": "mike", "measures": "diameter", "link": link, "resolution": 0.001}
    gauges = {"part": [rider, mike], "power": [meter, mike], "both": [rider, meter, mike]}[seen]
    return job_of(
        {
            "job": {"name": "ride"},
            "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
            "shaft": {"material": "steel 4140", "stations": [80]},
            "grinder": {"dial": "diameter"},
            "gauge": gauges,
        }
    )


def power_of(ride: Ride, seed: int) -> Callable[[float], float]:
    """What the meter shows at a time, W."""
    random = np.random.default_rng([seed, 41])
    watts = float(random.uniform(15.0, 60.0))  # for each µm that a stroke takes off
    rubs, idle = float(random.uniform(6.0, 20.0)), float(random.uniform(600.0, 1500.0))
    noise = float(random.uniform(2.0, 5.0))
    strokes = []
    for number, one in enumerate(passes_of(ride)):
        along = ride.place if number % 2 == 0 else 1.0 - ride.place
        strokes.append((one.at - along * ride.stroke, rubs + watts * 1000.0 * one.removed))
    begins = [begin for begin, _ in strokes]

    def shown(t: float) -> float:
        found, level = bisect_right(begins, t) - 1, idle
        if found >= 0 and t - begins[found] < ride.stroke:
            since = t - begins[found]
            level += strokes[found][1] * min(1.0, min(since, ride.stroke - since) / TURNS_BACK)
        return round(level + noise * float(random.standard_normal()))

    return shown


def powered(seed: int, seen: Seen) -> Powered:
    """One grind drawn by *seed*, the same whatever it is seen by."""
    ride = any_ride(seed, 10.0)
    state = session.start(sheet(ride.resolution, seen))
    found: list[float] = []
    for at, source, fact in _readings(ride, seed, seen):
        now = Instant(int(at * 1e9), int(at * 1e9))
        state, own = decisions.step_and_decide(state, Event(state.seq + 1, now, source, fact))
        found += [at for event in own if isinstance(event.fact, Pass) for _ in event.fact.infeeds]
    return _judged(ride, found)


def _readings(ride: Ride, seed: int, seen: Seen) -> Iterator[tuple[float, str, Reading]]:
    power, shown, by_hand = power_of(ride, seed), 0.0, False
    for sample in samples_of(ride, seed):
        if not by_hand and sample.at > 0.7 * ride.begins:
            by_hand = True
            yield sample.at, "mike", Reading(round(ride.size, 3), "mm", 3, f"{ride.size:.3f}\r\n")
        if seen != "power":
            yield sample.at, "rider", Reading(sample.value, "mm", 4, f"{sample.value:.4f}\r\n")
        if seen != "part" and sample.at >= shown:
            shown += EACH
            watts = power(sample.at)
            yield sample.at, "meter", Reading(watts, "W", 0, f"{watts:.0f}\r\n")


def _judged(ride: Ride, found: list[float]) -> Powered:
    """A pass is right that is found, once, before the next stroke but one is over."""
    made = passes_of(ride)
    left, right = list(found), 0
    for one in made:
        mine = next((at for at in left if one.at - 0.5 * ride.stroke < at < one.at + 1.8 * ride.stroke), None)
        if mine is not None:
            left.remove(mine)
            right += 1
    return Powered(len(made), right, len(left))
