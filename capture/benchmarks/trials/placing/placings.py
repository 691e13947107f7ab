"""Hands that place a streaming diameter gauge, with known truth: what was taken, how well, and what falsely.

A job is some stations measured in turn, some of them twice by lifting and placing again, with pauses in which
the gauge is carried or laid down; the kinds of gauge and hand are `capture.simulator.hand`'s.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from msgspec import Struct

from capture.events import Event, Instant, Reading, Reject, Taken
from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.simulator.hand import HandGauge, HandPlacing, HandWire, Kind
from capture.state import decisions, session

NOMINAL = 55.0
STATIONS = (20.0, 80.0, 140.0, 200.0, 260.0)


class Placed(Struct, frozen=True):
    """What became of one job's placings."""

    errors: tuple[float, ...]
    """mm, of each size that stands and was due."""
    us: tuple[float, ...]
    """Their stated standard uncertainties, mm."""
    due: int
    """Places measured."""
    missed: int
    """Places of which nothing stands."""
    false: int
    """Sizes that stand and were of no placing, or of one that was measured again."""
    hours: float


def job(resolution: float, *, stream: bool = True) -> Job:
    """The sheet of the trial."""
    return job_of(
        {
            "job": {"name": "placings"},
            "fit": {"nominal": NOMINAL, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
            "shaft": {"material": "steel 4140", "stations": list(STATIONS)},
            "grinder": {"dial": "diameter"},
            "gauge": [
                {
                    "name": "mike",
                    "measures": "diameter",
                    "link": {"serial": "a"},
                    "resolution": resolution,
                    **({"stream": True} if stream else {}),
                }
            ],
        }
    )


def placed(kind: Kind, rate: float, seed: int, *, resolution: float = 0.001, minutes: float = 0.0) -> Placed:
    """One job with a gauge of *kind* at *rate* a second, and *minutes* in which it is put aside."""
    random = np.random.default_rng([seed, 77])
    noise = float(random.uniform(0.0001, 0.0006))
    gauge = HandGauge(kind, HandWire(rate=rate, noise=noise, resolution=resolution), seed)
    size = NOMINAL + float(random.uniform(-0.02, 0.25))
    gauge.idle(float(random.uniform(1, 4)), size)
    if kind == "micrometer" and random.random() < 0.4:
        gauge.zeroed(float(random.choice([0.0, 50.0])))
        gauge.idle(2.0, size)
    for _ in STATIONS:
        here = size + float(random.uniform(-0.01, 0.01))
        gauge.measure(here)
        if random.random() < 0.2:
            gauge.measure(here, again=True)
        gauge.idle(float(random.uniform(2.5, 6)), size, restless=bool(random.random() < 0.5))
    left = minutes * 60.0
    while left > 0.0:
        pause = min(left, float(random.choice([4.0, 15.0, 120.0])))
        gauge.idle(pause, size, restless=bool(random.random() < 0.3))
        left -= pause
    return judged(taken_of(gauge, job(resolution)), gauge.placings, gauge.seconds / 3600.0)


def taken_of(gauge: HandGauge, sheet: Job) -> list[tuple[float, Taken]]:
    """Seconds and facts of the sizes that stand at the end."""
    state, facts, aside = session.start(sheet), [], set()
    for sample in gauge.samples():
        at = Instant(int(sample.at * 1e9), int(sample.at * 1e9))
        reading = Reading(sample.value, "mm", 3, f"{sample.value:.4f}\r\n")
        state, own = decisions.step_and_decide(state, Event(state.seq + 1, at, "mike", reading))
        for event in own:
            if isinstance(event.fact, Taken):
                facts.append((event.seq, at.seconds, event.fact))
            elif isinstance(event.fact, Reject):
                aside.add(event.fact.of)
    return [(seconds, fact) for seq, seconds, fact in facts if seq not in aside]


def judged(taken: Iterable[tuple[float, Taken]], placings: list[HandPlacing], hours: float) -> Placed:
    """What of the sizes is right: one a place, of its last placing."""
    due = [one for i, one in enumerate(placings) if i + 1 == len(placings) or not placings[i + 1].again]
    errors, us, found, false = [], [], set(), 0
    for seconds, fact in taken:
        mine = next(
            (i for i, one in enumerate(due) if one.on - 0.2 <= seconds <= one.off + 2.0 and i not in found),
            None,
        )
        if mine is None:
            false += 1
            continue
        found.add(mine)
        errors.append(fact.value - due[mine].size)
        us.append(fact.u)
    return Placed(tuple(errors), tuple(us), len(due), len(due) - len(found), false, hours)
