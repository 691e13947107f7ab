"""Grinds seen by a gauge that rides on the part and nobody tells anything, with known truth.

The part is measured once by hand before the first pass. What is found: the passes, which of them were rests,
the spark-out, and the size that was predicted when it was called. The grinds are those of
`capture.simulator.rider`, and those of `rides_apart` and of `rides_stiff`, whose physics are others.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable

import numpy as np
from msgspec import Struct

from capture.benchmarks.trials.riding import rides_stiff
from capture.benchmarks.trials.riding.ride_truth import GrindTruth, TruePass
from capture.benchmarks.trials.riding.rides_apart import any_apart, grind_of
from capture.events import Event, Flag, Instant, Pass, Reading
from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.simulator.rider import Ride, RideSample, any_ride, passes_of, samples_of
from capture.state import decisions, session

LIMIT = 0.0005
"""mm on diameter by the next pass: the sheet's own default."""
SEEN = 0.0003
"""mm; what takes less can hardly be seen beside the noise of the gauge, and is counted apart."""
NEAR = 0.45
"""Share of a stroke within which a pass found is the true one."""
WITHIN = 0.0011
"""mm that an infeed found may be off: a division of the dial."""
HEAD_EACH = 0.2
"""Seconds from one reading of the wheel head to the next."""
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


def sheet(resolution: float, *, head: bool = False) -> Job:
    """The sheet of the trial; *head*: with a gauge on the wheel head beside the one on the part."""
    link = {"serial": "a"}
    rider = {"name": "rider", "measures": "diameter", "link": link, "resolution": resolution, "rides": 80.0}
    mike = {
        "name": "mike",
        "measures": "diameter",
        "link": link,
        "resolution": 0.001,
        "repeatability": BY_HAND,
    }
    saddle = {"name": "head", "measures": "infeed", "link": link, "resolution": 0.001}
    return job_of(
        {
            "job": {"name": "ride"},
            "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
            "shaft": {"material": "steel 4140", "stations": [80]},
            "grinder": {"dial": "diameter"},
            "gauge": [rider, mike, *([saddle] if head else [])],
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


def ridden_stiff(seed: int, rate: float) -> Ridden:
    """One grind on a machine whose wheel only rubs below a force, drawn by *seed*."""
    one, gauge = rides_stiff.any_stiff(seed, rate)
    truth, samples = rides_stiff.grind_of(one, gauge, seed)
    return followed(truth, samples, gauge.resolution, seed)


def ridden_with_head(seed: int, rate: float) -> Ridden:
    """The same grind with a gauge on the wheel head as well."""
    one = any_apart(seed, rate)
    truth, samples = grind_of(one, seed)
    return followed(truth, samples, one.resolution, seed, head_of(truth))


def head_of(truth: GrindTruth) -> Callable[[float], float]:
    """Where a gauge on the wheel head shows it to stand at a time, mm; 1 mm behind while the wheel pauses."""
    moves: list[tuple[float, float]] = []
    depth = 12.345
    for number, one in enumerate(truth.passes):
        before = truth.passes[number - 1].at if number else truth.begins - 0.5 * truth.stroke
        gap = one.at - before
        if number and gap > 2.2 * truth.stroke:
            moves += [(before + 0.2 * gap, depth - 1.0), (before + 0.65 * gap, depth)]
        depth += one.infeed
        moves.append((before + 0.7 * gap, depth))
    times, levels = [at for at, _ in moves], [12.345, *(level for _, level in moves)]
    return lambda t: levels[bisect_right(times, t)]


def followed(
    truth: GrindTruth,
    samples: Iterable[RideSample],
    resolution: float,
    seed: int,
    head: Callable[[float], float] | None = None,
) -> Ridden:
    """What a session makes of *samples*, of one size measured by hand, and of where the *head* stands."""
    state, found = session.start(sheet(resolution, head=head is not None)), []
    called, by_hand, shown_head = None, False, 0.0
    error = BY_HAND * float(np.random.default_rng([seed, 13]).standard_normal())
    for sample in samples:
        at = Instant(int(sample.at * 1e9), int(sample.at * 1e9))
        readings = [("rider", Reading(sample.value, "mm", 4, f"{sample.value:.4f}\r\n"))]
        if not by_hand and sample.at > 0.7 * truth.begins:
            by_hand = True
            shown = round(truth.size + error, 3)
            readings.append(("mike", Reading(shown, "mm", 3, f"{shown:.3f}\r\n")))
        if head is not None and sample.at - shown_head >= HEAD_EACH:
            shown_head = sample.at
            stands = round(head(sample.at), 3)
            readings.append(("head", Reading(stands, "mm", 3, f"{stands:.3f}\r\n")))
        for source, fact in readings:
            state, own = decisions.step_and_decide(state, Event(state.seq + 1, at, source, fact))
            for event in own:
                if isinstance(event.fact, Pass):
                    last = state.rides["rider"].stream.steps[-1].at
                    found += [(last, infeed) for infeed in event.fact.infeeds]
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
    named = sum(i in mine and _is_named(mine[i], made[i].infeed) for i in clear)
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


def _is_named(found: float | None, infeed: float) -> bool:
    """Whether an infeed that was found is that of the pass, to a division of the dial, or left open."""
    return found is None or (abs(found - infeed) < WITHIN if found and infeed else found == infeed)


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
