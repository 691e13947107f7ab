"""A plunge under a gauge that rides on the part: infeed that goes on, then the dwell, one pass that rests.

A fall that goes on for longer than any wheel takes to go by is a plunge. When it slows the infeed has
stopped, or goes on finer; the decay is fitted second by second, and once it has run out far enough the
infeed and the dwell are found as two passes. The dwell is taken once more when next to nothing is to
come, and when the part is cold.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import hypot, sqrt

from msgspec.structs import replace

from capture.metrology.gauges.turning_part import SecondMean
from capture.metrology.grinding.stream.plunge_decay import DwellFit, dwell_fit
from capture.metrology.grinding.stream.ride_figures import SURELY, RideFigures, is_settled
from capture.state.stream.ride_level import plateau_of
from capture.state.stream.ride_noise import noise_of
from capture.state.stream.riding_state import Dwell, RidingState, SizeStep

LONGER = 13.0
"""Seconds of falling from which it is a plunge: a wheel goes by in ten at the most."""
PARTS = 3
"""Parts of that time, in each of which the size must fall clearly, and in none by less than"""
EVEN = 0.5
"""times the mean (common practice, no source)."""
SURE = 4.0
"""Standard uncertainties by which the fall must be slower to have slowed."""
LONGEST = 13
"""Seconds at the most over which that is looked for."""
SLOWED = 0.6
"""Share of the steady rate up to which the infeed may have stopped."""
STEADY = 10
"""Seconds before the infeed stops that the decay is fitted to as well."""
EARLIER = 9.0
"""Seconds before it is seen to be slower in which the infeed may have stopped."""
MOST = 90
"""Seconds of a dwell that are kept."""
RUN_OUT = 0.12
"""Share of the steady rate under which it is a dwell and no finer infeed (an estimate, no source)."""
FINER = 0.85
"""Times the fall of the seconds before that the newest must have when a finer infeed goes on."""
FALLS = 0.001
"""mm by which the size must leave the decay for the next infeed (common practice, no source)."""
COOLS = (70.0, 30.0)
"""Seconds in which growth is gone but for 1/e, mean and standard deviation (an estimate, no source)."""
FITS = 3.0
"""Times its noise by which the size may lie about a decay that is believed (set by trials)."""
DONE = 0.95
"""Probability that less than the limit is still to come at which a dwell is done."""
CALLED = 3
"""What `Dwell.recorded` is when the dwell has been called done."""
IN_A_ROW = 2
"""Seconds in a row that must say that it is done."""


def is_plunge(state: RidingState) -> bool:
    """Whether the fall in hand goes on for longer, and more evenly, than a wheel takes to go by."""
    least = max(LONGER, 2.0 * state.lasts)
    since = [one for one in state.seconds if one.at >= state.cutting_since]
    if not since or since[-1].at - since[0].at < least or state.pushed > 0.5 * _fallen(since):
        return False
    newest = [one for one in since if one.at > since[-1].at - least]
    rates = [-_slope(part) for part in _parts(newest)]
    mean = -_slope(newest)
    unsure = noise_of(state) * sqrt(12.0 / (len(newest) / PARTS) ** 3)
    return min(rates) > max(EVEN * mean, 2.0 * unsure)


def begun(state: RidingState) -> RidingState:
    """The fall in hand is a plunge."""
    return replace(
        state, plunge=Dwell(begun=state.cutting_since, since=state.cutting_since, size=state.plateau.mean)
    )


def ended(state: RidingState) -> RidingState:
    """The gauge is lifted, or silent: what nobody has recorded yet of a plunge is found as one pass."""
    plunge = state.plunge
    if plunge is None:
        return state
    state = replace(state, plunge=None)
    if plunge.recorded > 1 or len(state.seconds) < 2:
        return state
    stood, fit = plateau_of(state.seconds[-2:]), plunge.fit
    if plunge.recorded and fit is not None:
        made = _step(state, plunge, _stood(fit), stood.mean, stood.at, (fit, "dwell"))
    else:
        made = _step(state, plunge, plunge.size, stood.mean, stood.at)
    return replace(state, plateau=stood, made=made)


def followed(state: RidingState, found: SecondMean) -> RidingState:
    """After one more second of a plunge."""
    plunge = state.plunge
    if plunge is None:
        return state
    if plunge.stopped is None:
        return _feeding(state, plunge)
    kept = (*plunge.seconds, found)
    plunge = replace(plunge, seconds=kept)
    fit = _fit(state, plunge)
    if plunge.recorded and (fit is None or _leaves(state, plunge, found)):
        return _over(state, plunge)
    if plunge.recorded < CALLED and _goes_on(state, plunge):
        return replace(state, plunge=_finer(plunge, kept[-8]))
    if fit is None:
        newest = state.seconds[-6:]
        return replace(ended(state), phase="rest", seconds=newest, pushed=0.0)
    return _judged(state, replace(plunge, fit=fit), fit)


def _feeding(state: RidingState, plunge: Dwell) -> RidingState:
    """Whether the fall slows."""
    seconds = [one for one in state.seconds if one.at >= plunge.since]
    noise = noise_of(state)
    for count in (3, 4, 6, 9, LONGEST):
        before = seconds[-count - 20 : -count]
        if len(before) < 6:
            break
        rate, newest = -_slope(before), -_slope(seconds[-count:])
        unsure = noise * sqrt(12.0 / count**3 + 12.0 / len(before) ** 3)
        stands = count == LONGEST and newest < noise * sqrt(12.0 / count**3)
        if stands or (newest < SLOWED * rate and rate - newest > SURE * unsure):
            at = seconds[-count].at
            first = max(at - EARLIER - STEADY, plunge.since)
            kept = tuple(one for one in state.seconds if one.at >= first)
            return replace(state, plunge=replace(plunge, stopped=at, seconds=kept))
    return state


def _fit(state: RidingState, plunge: Dwell) -> DwellFit | None:
    """The decay; None where it has been followed for as long as one is."""
    seconds, at = plunge.seconds, plunge.stopped
    if at is None or seconds[-1].at - at > MOST:
        return None
    stops = (at - EARLIER, min(at + 4.0, seconds[-1].at))
    values = [one.value for one in seconds]
    cut = plunge.size - min(values)
    return dwell_fit([one.at for one in seconds], values, stops, noise_of(state), state.limit, cut)


def _goes_on(state: RidingState, plunge: Dwell) -> bool:
    """Whether the size falls at a steady rate again: a finer infeed."""
    newest, before = plunge.seconds[-8:], plunge.seconds[-16:-8]
    if len(before) < 8:
        return False
    rate, earlier = -_slope(newest), -_slope(before)
    unsure = noise_of(state) * sqrt(12.0 / 8**3)
    least = max(5.0 * unsure, 0.0 if plunge.fit is None else RUN_OUT * plunge.fit.speed)
    return rate > max(least, FINER * earlier)


def _finer(plunge: Dwell, first: SecondMean) -> Dwell:
    """A finer infeed since *first*: the same one, or the next where the one before has been recorded."""
    begun, size = (first.at, first.value) if plunge.recorded else (plunge.begun, plunge.size)
    return Dwell(begun=begun, size=size, since=first.at)


def _rests(state: RidingState, plunge: Dwell, fit: DwellFit) -> bool:
    """Whether the size surely falls by less than any finer infeed would make it fall."""
    for count in (4, 6, 9, 13):
        newest = plunge.seconds[-count:]
        if newest[0].at < fit.stopped[0]:
            return False
        if -_slope(newest) + noise_of(state) * sqrt(12.0 / count**3) < RUN_OUT * fit.speed:
            return True
    return False


def _leaves(state: RidingState, plunge: Dwell, found: SecondMean) -> bool:
    """Whether the size falls away under the decay, as by the next infeed, for two seconds."""
    fit = plunge.fit
    if fit is None:
        return False
    least = fit.end - max(FALLS, 6.0 * noise_of(state)) - 3.0 * fit.to_come[1]
    return max(plunge.seconds[-2].value, found.value) < least


def _judged(state: RidingState, plunge: Dwell, fit: DwellFit) -> RidingState:
    """Records the infeed and then the dwell; that once more when it is done, and when the part is cold."""
    clear = fit.misfit < FITS
    # both: the probability over all that fits, and the one that the recorded figures give
    called = is_settled(figures_of(fit, 0.0, 0.0, rest=True), state.limit)
    done = clear and called and fit.below >= DONE and fit.twice >= SURELY
    plunge = replace(plunge, sure=plunge.sure + 1 if done else 0)
    done = plunge.sure >= IN_A_ROW
    cold = sum(_growth(fit)) < state.warm
    if not plunge.recorded and (done or (clear and _rests(state, plunge, fit))):
        made = _step(state, plunge, plunge.size, _stood(fit), fit.stopped[0], (fit, "infeed"))
        return _found(state, replace(plunge, recorded=1), made)
    if plunge.recorded == 1 and (done or not called):
        return _found(state, replace(plunge, recorded=2), _rested(state, plunge, fit, plunge.seconds[-1]))
    if (plunge.recorded == 2 and done) or (plunge.recorded == CALLED and done and cold):
        after = CALLED + 1 if cold else CALLED
        return _found(state, replace(plunge, recorded=after), _rested(state, plunge, fit, plunge.seconds[-1]))
    return replace(state, plunge=plunge)


def _found(state: RidingState, plunge: Dwell, made: SizeStep) -> RidingState:
    """A pass is found, or the newest one is taken once more."""
    steps = (*(state.steps[:-1] if made.again else state.steps), made)
    count = state.count if made.again else state.count + 1
    return replace(state, plunge=plunge, steps=steps, count=count, due=made)


def _over(state: RidingState, plunge: Dwell) -> RidingState:
    """The dwell is over: it was followed for long, or the next infeed falls away from it."""
    newest = state.seconds[-6:]
    if plunge.recorded == 1 and plunge.fit is not None:
        state = _found(state, plunge, _rested(state, plunge, plunge.fit, newest[0]))
    stood = plateau_of(newest[:4])
    return replace(state, plunge=None, phase="rest", seconds=newest, plateau=stood, pushed=0.0, made=None)


def _rested(state: RidingState, plunge: Dwell, fit: DwellFit, newest: SecondMean) -> SizeStep:
    """The dwell as a pass without infeed, up to its *newest* second."""
    size = plateau_of([one for one in plunge.seconds if one.at <= newest.at][-3:]).mean
    made = _step(state, plunge, _stood(fit), size, newest.at, (fit, "dwell"))
    return replace(made, rest=True, again=plunge.recorded > 1)


def _stood(fit: DwellFit) -> float:
    """The size when the infeed stopped, mm."""
    return fit.end + fit.stood[0]


def _step(
    state: RidingState,
    plunge: Dwell,
    before: float,
    after: float,
    at: float,
    of: tuple[DwellFit, str] | None = None,
) -> SizeStep:
    u = noise_of(state)
    figures = None if of is None else figures_of(of[0], before - after, u, rest=of[1] == "dwell")
    return SizeStep(
        at,
        before - after,
        u,
        after,
        due=False,
        before_at=plunge.begun,
        u_before=u,
        after_at=at,
        u_after=u,
        figures=figures,
    )


def figures_of(fit: DwellFit, removed: float, u: float, *, rest: bool) -> RideFigures:
    """The decay as the figures of a pass: what the dwell from here on takes, whole."""
    coming = fit.to_come if rest else fit.stood
    growth = _growth(fit)
    return RideFigures(
        removed=removed,
        u_removed=u,
        left=0.5,
        u_left=0.2,
        rest=rest,
        coming=coming,
        standing=coming,
        fall=(coming[0] + growth[0], hypot(coming[1], growth[1])),
        growth=growth,
        tau=fit.tau,
    )


def _growth(fit: DwellFit) -> tuple[float, float]:
    """How much larger than cold the part is, by how fast it shrinks, and its standard uncertainty, mm."""
    shrinks, u = max(-fit.drift[0], 0.0), fit.drift[1]
    return COOLS[0] * shrinks, hypot(COOLS[0] * u, COOLS[1] * shrinks)


def _fallen(seconds: Sequence[SecondMean]) -> float:
    return seconds[0].value - seconds[-1].value


def _parts(seconds: Sequence[SecondMean]) -> list[Sequence[SecondMean]]:
    ends = [round(n * len(seconds) / PARTS) for n in range(PARTS + 1)]
    return [seconds[begin:end] for begin, end in pairwise(ends)]


def _slope(seconds: Sequence[SecondMean]) -> float:
    """By least squares, mm a second."""
    at = sum(one.at for one in seconds) / len(seconds)
    spread = sum((one.at - at) ** 2 for one in seconds)
    return sum((one.at - at) * one.value for one in seconds) / spread if spread > 0.0 else 0.0
