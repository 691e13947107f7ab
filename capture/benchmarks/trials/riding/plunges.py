"""Plunges that nobody tells a word of but one size by hand: infeed, dwell and spark-out found."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from msgspec import Struct

from capture.benchmarks.trials.riding.plunge_truth import (
    PlungeTruth,
    RiddenPlunge,
    any_plain,
    any_plunge_apart,
    plunged,
)
from capture.benchmarks.trials.riding.rides import BY_HAND, LIMIT, sheet
from capture.events import Event, Flag, Instant, Pass, Reading
from capture.simulator.rider import RideSample
from capture.state import decisions, session


class Plunged(Struct, frozen=True):
    """What became of one plunge."""

    right: int
    """Of its two passes, those found and named rightly."""
    extra: int
    """Passes found that were none."""
    due: bool
    """Less than half of the limit was to come for ten seconds and more before the wheel left."""
    delay: float | None
    """Seconds from the first moment with less than the limit to come to the call; None: not called."""
    decayed: float | None
    """The same to the first word that the decay is over, warm or not."""
    come: float
    """What was truly to come at the call, mm; 0 where it was not called."""
    error: float | None
    """Predicted less true cold size in the end, mm, and"""
    u: float | None
    """its stated standard uncertainty, at the call."""
    tau: tuple[float, float, float] | None
    """Time constant found at the call, its standard uncertainty, and the true one, s."""


def plunge_plain(seed: int, rate: float) -> Plunged:
    """One plunge of the textbook's machine, drawn by *seed*."""
    return _of(any_plain(seed, rate), seed)


def plunge_apart(seed: int, rate: float) -> Plunged:
    """One plunge of physics apart, drawn by *seed*."""
    return _of(any_plunge_apart(seed, rate), seed)


def _of(one: RiddenPlunge, seed: int) -> Plunged:
    truth, samples = plunged(one, seed)
    return followed(truth, samples, one.resolution, seed)


def followed(truth: PlungeTruth, samples: Iterable[RideSample], resolution: float, seed: int) -> Plunged:
    """What a session makes of *samples* and of one size measured by hand."""
    state = session.start(sheet(resolution))
    found: list[tuple[float, float | None]] = []
    called: tuple[float, Flag, tuple[float, float] | None] | None = None
    warm: float | None = None
    by_hand = False
    error = BY_HAND * float(np.random.default_rng([seed, 13]).standard_normal())
    for sample in samples:
        at = Instant(int(sample.at * 1e9), int(sample.at * 1e9))
        readings = [("rider", Reading(sample.value, "mm", 4, f"{sample.value:.4f}\r\n"))]
        if not by_hand and sample.at > 0.7 * truth.begins:
            by_hand = True
            shown = round(truth.size + error, 3)
            readings.append(("mike", Reading(shown, "mm", 3, f"{shown:.3f}\r\n")))
        for source, fact in readings:
            state, own = decisions.step_and_decide(state, Event(state.seq + 1, at, source, fact))
            for event in own:
                if isinstance(event.fact, Pass):
                    found += [(sample.at, infeed) for infeed in event.fact.infeeds]
                elif isinstance(event.fact, Flag) and event.fact.what == "warm" and warm is None:
                    warm = sample.at
                elif isinstance(event.fact, Flag) and event.fact.what == "sparked-out" and called is None:
                    figures = state.rides["rider"].stream.steps[-1].figures
                    called = (sample.at, event.fact, None if figures is None else figures.tau)
    return _judged(truth, found, called, warm)


def _judged(
    truth: PlungeTruth,
    found: list[tuple[float, float | None]],
    called: tuple[float, Flag, tuple[float, float] | None] | None,
    warm: float | None,
) -> Plunged:
    fed = [at for at, infeed in found if infeed is None and truth.begins < at]
    rests = [at for at, infeed in found if infeed == 0.0 and truth.stops < at]
    right = bool(fed) + bool(rests)
    done = truth.times[(truth.times >= truth.stops) & (truth.to_come < 0.5 * LIMIT)]
    due = bool(len(done)) and float(done[0]) + 10.0 < truth.leaves
    first = truth.times[(truth.times >= truth.stops) & (truth.to_come < LIMIT)]
    begins = float(first[0]) if len(first) else truth.leaves
    said = [at for at in (warm, None if called is None else called[0]) if at is not None]
    decayed = min(said) - begins if said else None
    if called is None:
        return Plunged(right, len(found) - right, due, None, decayed, 0.0, None, None, None)
    at, flag, tau = called
    now = int(np.searchsorted(truth.times, min(at, truth.leaves)))
    predicted, u = flag.figures.get("predicted"), flag.figures.get("u_predicted")
    end = float(truth.cold[now] - truth.to_come[now])
    return Plunged(
        right=right,
        extra=len(found) - right,
        due=due,
        delay=at - begins,
        decayed=decayed,
        come=float(truth.to_come[int(np.searchsorted(truth.times, min(*said, truth.leaves)))]),
        error=None if predicted is None else predicted - end,
        u=u,
        tau=None if tau is None else (*tau, truth.tau),
    )
