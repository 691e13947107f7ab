"""What trials of the judge of a grind found: delays of the spark-out, false calls, error and calibration."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise, product
from math import nan, sqrt
from typing import NamedTuple

import numpy as np
from msgspec import Struct

from capture.metrology.grinding.outlook import Outlook

LIMIT = 0.0005
RESTING = 20
STATED = 0.95


class Moment(NamedTuple):
    """A judgement beside the truth; lengths mm."""

    outlook: Outlook
    resting: int
    """Passes without infeed up to now."""
    next_removal: float
    final: float
    """Cold size when nothing more comes off, as a deviation like the outlook's."""


class GrindSession(NamedTuple):
    """One simulated grind, judged after its last infeed and after every pass without."""

    moments: tuple[Moment, ...]
    values: tuple[float, ...]
    """Sizes as the naive rule sees them, corrected where there is a probe."""
    infeeds: int
    coolant: bool
    probe: bool


class IntervalsHeld(Struct, frozen=True):
    """How often the stated intervals of a group of sessions held the truth."""

    group: str
    sessions: int
    calls: int
    """Sessions with a call."""
    at_call: float
    """Share of the calls whose predicted size ± 1.96 u holds the truth; NaN for none."""
    judgements: int
    always: float
    """The same share, of all judgements from the last infeed to the call."""
    error: float
    """Root mean square error of the predicted size at the call, mm."""
    ratio: float
    """Root mean square of that error over its stated u: 1 where u is right."""

    @property
    def luck(self) -> float:
        """Standard deviation of `at_call` by chance, were 95 % right."""
        return sqrt(STATED * (1.0 - STATED) / self.calls) if self.calls else nan


class GrindFigures(Struct, frozen=True):
    """What a trial found; delays in passes, shares of all sessions."""

    kind: str
    sessions: int
    delay_median: float
    delay_p90: float
    late: float
    """Share called later than one pass after the truth."""
    wrong: float
    """Share called with more than the limit still to come by the next pass."""
    false: float
    """Share called with more than twice the limit still to come by the next pass."""
    naive_median: float
    naive_p90: float
    naive_false: float
    error_at_stop: float
    """Root mean square error of the predicted size after the last infeed, mm."""
    held_at_stop: float
    """Share of sessions whose predicted size ± 1.96 u then holds the truth."""
    error_at_call: float
    held_at_call: float
    groups: tuple[IntervalsHeld, ...]
    """With a probe and without, wet and dry."""


def naive_call(values: Sequence[float], infeeds: int) -> int:
    """Passes without infeed until two successive removals are below the limit; `RESTING` + 1 for never."""
    removals = [before - after for before, after in pairwise(values)]
    for resting in range(2, len(removals) - infeeds + 1):
        newest = removals[infeeds + resting - 2 : infeeds + resting]
        if max(newest) < LIMIT:
            return resting
    return RESTING + 1


def sessions_of(
    count: int,
    session: Callable[[int], GrindSession],
    *,
    seed: int,
    progress: Callable[[int], None] | None = None,
) -> list[GrindSession]:
    """*count* sessions by seeds from *seed* on; *progress*, if given, gets the number of each that is done.

    Raises:
        ValueError: Nothing to run.
    """
    if count < 1:
        raise ValueError(f"a trial needs at least 1 session, got {count}")
    sessions = []
    for number in range(count):
        sessions.append(session(seed + number))
        if progress:
            progress(number + 1)
    return sessions


def figures(sessions: Sequence[GrindSession], kind: str) -> GrindFigures:
    """Sum up *sessions*."""
    delays, naive, calls, naive_calls = [], [], [], []
    at_stop, at_call = [], []
    for one in sessions:
        resting = {moment.resting: moment for moment in one.moments if moment.resting}
        truth = _first(resting, [k for k, m in resting.items() if m.next_removal < LIMIT])
        call = _first(resting, [k for k, m in resting.items() if m.outlook.settled])
        simple = naive_call(one.values, one.infeeds)
        delays.append(call - truth)
        naive.append(simple - truth)
        calls.append(resting[call].next_removal if call in resting else 0.0)
        naive_calls.append(resting[simple].next_removal if simple in resting else 0.0)
        at_stop.append(one.moments[0])
        at_call += [resting[call]] if call in resting else []
    return GrindFigures(
        kind,
        len(sessions),
        float(np.median(delays)),
        float(np.percentile(delays, 90)),
        float(np.mean(np.array(delays) > 1)),
        float(np.mean(np.array(calls) >= LIMIT)),
        float(np.mean(np.array(calls) > 2.0 * LIMIT)),
        float(np.median(naive)),
        float(np.percentile(naive, 90)),
        float(np.mean(np.array(naive_calls) > 2.0 * LIMIT)),
        *_prediction(at_stop),
        *_prediction(at_call),
        tuple(_held(sessions)),
    )


def _held(sessions: Sequence[GrindSession]) -> Iterator[IntervalsHeld]:
    for coolant, probe in product((True, False), (True, False)):
        members = [one for one in sessions if (one.coolant, one.probe) == (coolant, probe)]
        if not members:
            continue
        judged = [_until_called(one) for one in members]
        calls = [some[-1] for some in judged if some and some[-1].resting and some[-1].outlook.settled]
        together = [moment for some in judged for moment in some]
        error, at_call = _prediction(calls)
        yield IntervalsHeld(
            f"{'wet' if coolant else 'dry'}, {'probe' if probe else 'no probe'}",
            len(members),
            len(calls),
            at_call,
            len(together),
            _prediction(together)[1],
            error,
            _ratio(calls),
        )


def _ratio(moments: Sequence[Moment]) -> float:
    ratios = [
        (moment.outlook.predicted - moment.final) / moment.outlook.u_predicted
        for moment in moments
        if moment.outlook.predicted is not None and moment.outlook.u_predicted
    ]
    return float(np.sqrt(np.mean(np.square(ratios)))) if ratios else nan


def _until_called(one: GrindSession) -> list[Moment]:
    first = next((m.resting for m in one.moments if m.resting and m.outlook.settled), RESTING)
    return [moment for moment in one.moments if moment.resting <= first]


def table(rows: Iterable[GrindFigures]) -> str:
    """The figures of several trials as lines of text, lengths in µm."""
    names = (
        f"{'kind':10}{'sessions':>9} | {'delay':>9}{'wrong':>7}{'false':>7} | {'naive':>9}{'false':>7}"
        f" | {'at stop':>8}{'held':>7} | {'at call':>8}{'held':>7}"
    )
    units = (
        f"{'':19} | {'med / p90':>9}{'%':>7}{'%':>7} | {'med / p90':>9}{'%':>7}"
        f" | {'rms µm':>8}{'%':>7} | {'rms µm':>8}{'%':>7}"
    )
    lines = [names, units]
    for f in rows:
        delay = f"{f.delay_median:.1f} / {f.delay_p90:.0f}"
        naive = f"{f.naive_median:.1f} / {f.naive_p90:.0f}"
        lines.append(
            f"{f.kind:10}{f.sessions:9} | {delay:>9}{100 * f.wrong:7.1f}{100 * f.false:7.1f}"
            f" | {naive:>9}{100 * f.naive_false:7.1f}"
            f" | {1000 * f.error_at_stop:8.2f}{100 * f.held_at_stop:7.1f}"
            f" | {1000 * f.error_at_call:8.2f}{100 * f.held_at_call:7.1f}"
        )
    return "\n".join(lines)


def _first(resting: dict[int, Moment], found: list[int]) -> int:
    return min(found) if found else max(resting) + 1


def _prediction(moments: Sequence[Moment]) -> tuple[float, float]:
    """Root mean square error of the predicted size, and how often ± 1.96 u holds it; NaN for none."""
    misses = [
        (moment.outlook.predicted - moment.final, moment.outlook.u_predicted)
        for moment in moments
        if moment.outlook.predicted is not None and moment.outlook.u_predicted is not None
    ]
    if not misses:
        return float("nan"), float("nan")
    miss, u = np.array(misses).T
    return float(np.sqrt(np.mean(miss**2))), float(np.mean(np.abs(miss) < 1.96 * u))
