"""Grinds seen by a gauge that rides on the part and nobody tells anything, with known truth.

The part is measured once by hand before the first pass. What is found: the passes, which of them were rests,
the spark-out, and the size that was predicted when it was called; the grinds are `capture.simulator.rider`'s.
"""

from __future__ import annotations

from msgspec import Struct

from capture.events import Event, Flag, Instant, Pass, Reading
from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.simulator.rider import Ride, RidePass, any_ride, passes_of, samples_of
from capture.state import session

LIMIT = 0.0005
"""mm on diameter by the next pass: the sheet's own default."""
SEEN = 0.0003
"""mm; what takes less can hardly be seen beside the noise of the gauge, and is counted apart."""
NEAR = 0.45
"""Share of a stroke within which a pass found is the true one."""


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
    come: float
    """What the next pass would truly take when it was called, mm; 0 where it was not called."""
    error: float | None
    """Predicted less true cold size in the end, mm, and"""
    u: float | None
    """its stated standard uncertainty, at the call."""


def sheet(ride: Ride) -> Job:
    """The sheet of the trial."""
    link = {"serial": "a"}
    rider = {
        "name": "rider",
        "measures": "diameter",
        "link": link,
        "resolution": ride.resolution,
        "rides": 80.0,
    }
    mike = {"name": "mike", "measures": "diameter", "link": link, "resolution": 0.001}
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
    """One grind, drawn by *seed* unless it is given."""
    ride = ride or any_ride(seed, rate)
    state, found, called, by_hand = session.start(sheet(ride)), [], None, False
    for sample in samples_of(ride, seed):
        at = Instant(int(sample.at * 1e9), int(sample.at * 1e9))
        readings = [("rider", Reading(sample.value, "mm", 4, f"{sample.value:.4f}\r\n"))]
        if not by_hand and sample.at > 0.7 * ride.begins:
            by_hand = True
            readings.append(("mike", Reading(round(ride.size, 3), "mm", 3, f"{ride.size:.3f}\r\n")))
        for source, fact in readings:
            state, own = session.step_and_decide(state, Event(state.seq + 1, at, source, fact))
            for event in own:
                if isinstance(event.fact, Pass):
                    found.append((state.rides["rider"].stream.steps[-1].at, event.fact.infeed))
                elif isinstance(event.fact, Flag) and event.fact.what == "sparked-out" and called is None:
                    called = (len(found), at.seconds, event.fact)
    return _judged(ride, found, called)


def _judged(
    ride: Ride, found: list[tuple[float, float | None]], called: tuple[int, float, Flag] | None
) -> Ridden:
    truth = passes_of(ride)
    mine: dict[int, float | None] = {}
    for at, infeed in found:
        near = [i for i, one in enumerate(truth) if i not in mine and abs(one.at - at) <= NEAR * ride.stroke]
        if near:
            mine[min(near, key=lambda i: abs(truth[i].at - at))] = infeed
    clear = [i for i, one in enumerate(truth) if one.removed > SEEN]
    named = sum(i in mine and mine[i] in {None, 0.0 if not truth[i].infeed else None} for i in clear)
    delay, come, error, u = _call(ride, truth, called)
    return Ridden(
        passes=len(truth),
        right=len(mine),
        extra=len(found) - len(mine),
        clear=len(clear),
        clear_right=sum(i in mine for i in clear),
        named=named,
        delay=delay,
        come=come,
        error=error,
        u=u,
    )


def _call(
    ride: Ride, truth: tuple[RidePass, ...], called: tuple[int, float, Flag] | None
) -> tuple[int | None, float, float | None, float | None]:
    """Delay, what the next pass truly takes, error and uncertainty of the prediction."""
    if called is None:
        return None, 0.0, None, None
    _, at, flag = called
    now = max((i for i, one in enumerate(truth) if one.at <= at), default=0)
    first = now
    while first > 0 and truth[first - 1].to_come * ride.share < LIMIT and not truth[first].infeed:
        first -= 1
    predicted, u = flag.figures.get("predicted"), flag.figures.get("u_predicted")
    end = truth[now].size - truth[now].to_come
    error = None if predicted is None else predicted - end
    return now - first, truth[now].to_come * ride.share, error, u
