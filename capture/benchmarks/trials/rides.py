"""Grinds seen by a gauge that rides on the part and nobody tells anything, with known truth.

The part is measured once by hand before the first pass. What is found: the passes, which of them were rests,
the spark-out, and the size that was predicted when it was called. The grinds are those of
`capture.simulator.rider`, and those of `rides_apart`, whose physics are others.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from msgspec import Struct

from capture.benchmarks.trials.ride_truth import GrindTruth, TruePass
from capture.benchmarks.trials.rides_apart import any_apart, grind_of
from capture.events import Event, Flag, Instant, Pass, Reading
from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.simulator.rider import Ride, RideSample, any_ride, passes_of, samples_of
from capture.state import session

LIMIT = 0.0005
"""mm on diameter by the next pass: the sheet's own default."""
SEEN = 0.0003
"""mm; what takes less can hardly be seen beside the noise of the gauge, and is counted apart."""
NEAR = 0.45
"""Share of a stroke within which a pass found is the true one."""
BY_HAND = 0.0004
"""mm; standard deviation of the size measured by hand, as the sheet has it."""


class Ridden(Struct, frozen=True):
    """What became of one grind."""

    passes: int
    right: int
    """Passes found where they were."""
    extra: int
    """Passes found where there was none."""
    clear: int
    """Passes that took more than `SEEN`, and"""
    clear_right: int
    """those of them that were found."""
    named: int
    """Clear passes found whose infeed, or that they had none, was named rightly or left open."""
    delay: int | None
    """Passes from the first after which the next takes less than the limit to the call; None: not called."""
    missed: bool
    """Not called though three passes and more were made after that."""
    come: float
    """What the next pass would truly take when it was called, mm; 0 where it was not called."""
    error: float | None
    """Predicted less true cold size in the end, mm, and"""
    u: float | None
    """its stated standard uncertainty, at the call."""


def sheet(resolution: float) -> Job:
    """The sheet of the trial."""
    link = {"serial": "a"}
    rider = {"name": "rider", "measures": "diameter", "link": link, "resolution": resolution, "rides": 80.0}
    mike = {
        "name": "mike",
        "measures": "diameter",
        "link": link,
        "resolution": 0.001,
        "repeatability": BY_HAND,
    }
    return job_of(
        {
            "job": {"name": "ride"},
            "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
            "shaft": {"material": "steel 4140", "stations": [80]},
            "grinder": {"dial": "diameter"},
            "gauge": [rider, mike],
        }
    )


def ridden(seed: int, rate: float, ride: Ride | None = None) -> Ridden:
    """One grind by the simulator's physics, drawn by *seed* unless it is given."""
    ride = ride or any_ride(seed, rate)
    made = tuple(
        TruePass(one.at, one.infeed, one.removed, one.size, one.to_come, one.to_come * ride.share)
        for one in passes_of(ride)
    )
    truth = GrindTruth(ride.size, made, stroke=ride.stroke, begins=ride.begins)
    return followed(truth, samples_of(ride, seed), ride.resolution, seed)


def ridden_apart(seed: int, rate: float) -> Ridden:
    """One grind by physics apart, drawn by *seed*."""
    one = any_apart(seed, rate)
    truth, samples = grind_of(one, seed)
    return followed(truth, samples, one.resolution, seed)


def followed(truth: GrindTruth, samples: Iterable[RideSample], resolution: float, seed: int) -> Ridden:
    """What a session makes of *samples* and one size measured by hand."""
    state, found, called, by_hand = session.start(sheet(resolution)), [], None, False
    error = BY_HAND * float(np.random.default_rng([seed, 13]).standard_normal())
    for sample in samples:
        at = Instant(int(sample.at * 1e9), int(sample.at * 1e9))
        readings = [("rider", Reading(sample.value, "mm", 4, f"{sample.value:.4f}\r\n"))]
        if not by_hand and sample.at > 0.7 * truth.begins:
            by_hand = True
            shown = round(truth.size + error, 3)
            readings.append(("mike", Reading(shown, "mm", 3, f"{shown:.3f}\r\n")))
        for source, fact in readings:
            state, own = session.step_and_decide(state, Event(state.seq + 1, at, source, fact))
            for event in own:
                if isinstance(event.fact, Pass):
                    found.append((state.rides["rider"].stream.steps[-1].at, event.fact.infeed))
                elif isinstance(event.fact, Flag) and event.fact.what == "sparked-out" and called is None:
                    called = (at.seconds, event.fact)
    return _judged(truth, found, called)


def _judged(
    truth: GrindTruth, found: list[tuple[float, float | None]], called: tuple[float, Flag] | None
) -> Ridden:
    made = truth.passes
    mine: dict[int, float | None] = {}
    for at, infeed in found:
        near = [i for i, one in enumerate(made) if i not in mine and abs(one.at - at) <= NEAR * truth.stroke]
        if near:
            mine[min(near, key=lambda i: abs(made[i].at - at))] = infeed
    clear = [i for i, one in enumerate(made) if one.removed > SEEN]
    named = sum(i in mine and mine[i] in {None, 0.0 if not made[i].infeed else None} for i in clear)
    delay, come, error, u = _call(made, called)
    return Ridden(
        passes=len(made),
        right=len(mine),
        extra=len(found) - len(mine),
        clear=len(clear),
        clear_right=sum(i in mine for i in clear),
        named=named,
        delay=delay,
        missed=called is None and any(_done(made[i : i + 4]) for i in range(len(made) - 3)),
        come=come,
        error=error,
        u=u,
    )


def _done(passes: tuple[TruePass, ...]) -> bool:
    """Whether the first of *passes* left next to nothing, and no infeed was given after it."""
    return passes[0].next_removal < LIMIT and not any(one.infeed for one in passes[1:])


def _call(
    made: tuple[TruePass, ...], called: tuple[float, Flag] | None
) -> tuple[int | None, float, float | None, float | None]:
    """Delay, what the next pass truly takes, error and uncertainty of the prediction."""
    if called is None:
        return None, 0.0, None, None
    at, flag = called
    now = max((i for i, one in enumerate(made) if one.at <= at), default=0)
    first = now
    while first > 0 and made[first - 1].next_removal < LIMIT and not made[first].infeed:
        first -= 1
    predicted, u = flag.figures.get("predicted"), flag.figures.get("u_predicted")
    end = made[now].size - made[now].to_come
    error = None if predicted is None else predicted - end
    return now - first, made[now].next_removal, error, u
