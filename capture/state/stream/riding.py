"""Follows a gauge that rides on the part: at rest, cutting, lifted, and each pass as the size shows it.

The stream is taken together second by second. Between passes the size stands; a pass makes it fall, or
pushes the part and lets it come back. Departures are looked for over several lengths of time, so that a small
one is found later and not never, and the pass is found when the size stands again. When passes have come in a
rhythm, one that took almost nothing is looked for where it is due.
"""

from __future__ import annotations

from math import hypot, sqrt

from msgspec.structs import replace

from capture.metrology.gauges.turning_part import SPAN_TONES, SecondMean, second_mean, without_tones
from capture.state.stream import ride_plunge, ride_rhythm
from capture.state.stream.ride_level import ended, fall_time, line_of, plateau_of
from capture.state.stream.ride_noise import is_spoilt, learnt, noise_of, pooled, roughened
from capture.state.stream.riding_state import DRAWN, KEPT, MOST_STEPS, Plateau, RidingState, SizeStep
from capture.state.sweep.sweep import LOST
from capture.state.sweep.sweep_state import StreamSample

BLOCK = 1.0
"""Seconds that are taken together."""
BACK = 6.0
"""Seconds of readings that are kept, and"""
MOST = 400
"""readings at the most."""
AWAY = 0.15
"""mm from one second to the next at which the gauge has left the part: no pass takes so much."""
STANDS = 0.01
"""mm within which four seconds' means lie when it has come to stand on a part."""
SPANS = (1, 2, 3, 5, 8, 12)
"""Seconds over which a departure is looked for."""
SURE = 5.0
"""Standard uncertainties of a departure, and"""
LEAST = 0.00025
"""mm that it must be at the least (common practice, no source)."""
LONGEST_FALL = 10.0
"""Seconds in which a wheel goes by at the most, as the newest"""
NEWEST_FALLS = 7
"""clear passes show, of which the middle one stands."""
LONGEST = 90.0
"""Seconds that one pass lasts at the most before it is said to be one."""
REST = 0.62
"""Share of what the pass before took up to which a pass surely had no infeed, and"""
FADES = 0.85
"""up to which it had none where the one before took as large a share, within"""
ALIKE = 0.12
"""so much (common practice, no source)."""
OVER = 4
"""Seconds that the size stands after a pass before it is over, and"""
LATER = 2.5
"""seconds after the wheel has gone by a fall is the same pass's, or"""
APART = 6.0
"""seconds after the middle of a pass while nobody knows how long the wheel takes."""


def step(state: RidingState, sample: StreamSample, resolution: float) -> RidingState:
    """After one reading."""
    if state.due is not None or state.owed:
        state = replace(state, away=state.away and state.due is None, due=None, owed=False)
    if state.times and sample.at - state.times[-1] > LOST:
        state = _over(ride_plunge.ended(state))
        state = replace(state, times=(), values=(), seconds=(), plateau=Plateau(), since=None)
        state = replace(state, phase="silent", away=True)
    since = sample.at if state.since is None else state.since
    if sample.at - since >= BLOCK:
        state = _second(replace(state, since=since), resolution)
        since = sample.at
    old = 1 if len(state.times) >= MOST or (state.times and sample.at - state.times[0] > BACK) else 0
    first = sample.seq if state.first_seq < 0 else state.first_seq
    return replace(
        state,
        times=(*state.times[old:], sample.at),
        values=(*state.values[old:], sample.value),
        since=since,
        first_seq=first,
        last_seq=sample.seq,
    )


def _second(state: RidingState, resolution: float) -> RidingState:
    newest = sum(at >= (state.since or 0.0) for at in state.times)
    values, gate = without_tones(state.times, state.values, newest, resolution)
    found = second_mean(state.times[-newest:], values, gate) if newest else None
    if state.phase == "silent" and not state.count and state.times[-1] - state.times[0] < SPAN_TONES:
        return state  # what goes round with the part is not known yet
    if found is None:
        lost = state.lost + 1
        return replace(state, lost=lost) if lost < 3 else _off(_over(ride_plunge.ended(state)))
    if is_spoilt(state, found, resolution):
        return replace(state, lost=0, spoilt=state.spoilt + 1)
    state = replace(state, lost=0, spoilt=0, drawn=(*state.drawn, (found.at, found.value))[-DRAWN:])
    before = state.seconds[-1] if state.seconds else None
    if before is not None and abs(found.value - before.value) > AWAY:
        # a jump: off the part, or on it again
        return replace(_off(_over(ride_plunge.ended(state))), seconds=(found,))
    if state.phase in {"silent", "lifted"}:
        return _settling(state, found)
    state = replace(state, seconds=(*state.seconds, found)[-KEPT:])
    if state.plunge is not None:
        return ride_plunge.followed(state, found)
    return _cutting(state, found) if state.phase == "cutting" else _resting(learnt(state))


def _off(state: RidingState) -> RidingState:
    on_part = state.phase in {"rest", "cutting"} and state.plateau.n
    ground = on_part and bool(state.steps) and abs(state.plateau.mean - state.steps[-1].size) <= AWAY
    home = state.plateau.mean if ground else state.home
    fresh = replace(state, home=home, phase="lifted", plateau=Plateau(), seconds=(), first_seq=-1, away=True)
    return ride_rhythm.lost(fresh)


def next_part(state: RidingState) -> RidingState:
    """After a word that another part may follow: where it stands off the part is no size of one."""
    on_part = state.phase in {"rest", "cutting"}
    seconds = state.seconds if on_part else ()
    return replace(state, home=None, seconds=seconds, steps=(), count=0, made=None)


def _settling(state: RidingState, found: SecondMean) -> RidingState:
    """After silence or lifting: it is on a part when it stands still for some seconds."""
    state = replace(state, seconds=(*state.seconds, found)[-KEPT:])
    newest = [one.value for one in state.seconds[-4:]]
    if len(newest) < 4 or max(newest) - min(newest) > STANDS:
        return state
    if state.home is not None and state.count and abs(newest[-1] - state.home) > AWAY:
        return state  # it stands still beside the part
    fresh = plateau_of(state.seconds[-4:], found.scatter)
    state = replace(learnt(state), phase="rest", plateau=fresh, seconds=state.seconds[-4:])
    return replace(state, owed=not state.count)


def _resting(state: RidingState) -> RidingState:
    """Whether the size leaves where it stood, by a fall or a push."""
    noise = noise_of(state)
    values = [one.value for one in state.seconds]
    for span in SPANS:
        count = len(values) - span
        if count < 3:
            break
        before = line_of(state.seconds[max(0, count - 24) : count], noise)
        at = state.seconds[-span].at
        middle = 0.5 * (at + state.seconds[-1].at)
        off = sum(values[-span:]) / span - before.value(middle)
        unsure = hypot(noise / sqrt(span), before.u(middle))
        if abs(off) > max(SURE * unsure, LEAST if off < 0.0 else 2.0 * LEAST):
            plateau = Plateau(min(count, 24), before.value(at), pooled(state.seconds[:count]), before.at)
            return _departed(state, at, plateau, max(0.0, off))
    state = replace(state, plateau=plateau_of(state.seconds, pooled(state.seconds)))
    if state.made is not None and len(values) >= OVER:
        return _over(state)
    return state if state.made is not None else _by_rhythm(state)


def _by_rhythm(state: RidingState) -> RidingState:
    """A pass that took almost nothing where one was due by the rhythm, where it may have been made."""
    state, made, after = ride_rhythm.weak_pass(state, noise_of(state))
    return state if made is None else _passed(state, made, after)


def _departed(state: RidingState, at: float, plateau: Plateau, pushed: float) -> RidingState:
    """The size leaves where it stood: the next pass begins, or the one in hand goes on."""
    made = state.made
    if made is not None and at - made.at < apart(state):
        # as it stood before that
        plateau = replace(plateau, mean=made.size + made.removed, at=made.before_at)
        return replace(
            state, phase="cutting", cutting_since=made.at, plateau=plateau, pushed=pushed, made=None
        )
    state = state if made is None else _over(replace(state, plateau=plateau))
    return replace(state, phase="cutting", cutting_since=at, plateau=plateau, pushed=pushed)


def is_rest(steps: tuple[SizeStep, ...], removed: float, u: float) -> bool:
    """Whether a pass that took *removed* after those of *steps* had no infeed.

    Without infeed a pass takes the share 1 - K of what the one before it took (see `decay` in metrology),
    0.25 to 0.7 for the grinders that there are; with less infeed than before it takes a larger share.
    """
    if not steps:
        return False
    before = steps[-1]
    unsure = 3.0 * hypot(u, before.u)
    if before.rest:
        return removed < max(before.removed, 0.0) + unsure
    if before.removed <= unsure:
        return False
    share = removed / before.removed
    if share <= REST:
        return True
    if share > FADES or len(steps) < 2 or steps[-2].removed <= unsure:
        return False
    return abs(share - before.removed / steps[-2].removed) < ALIKE


def apart(state: RidingState) -> float:
    """Seconds from the middle of a pass within which a fall belongs to it: the wheel is still by."""
    return 0.5 * state.lasts + LATER if state.lasts else APART


def _over(state: RidingState) -> RidingState:
    """The pass in hand is over: it counts, with the size that has stood since."""
    made = state.made
    if made is None:
        return state
    stood = state.plateau
    removed = made.removed + made.size - stood.mean
    state = replace(state, made=None)
    if state.steps and removed + 1.5 * made.u < ride_rhythm.TAKES * state.steps[-1].removed:
        return state
    made = replace(
        made,
        removed=removed,
        size=stood.mean,
        rest=is_rest(state.steps, removed, made.u),
        odd=ride_rhythm.is_doubtful(state, made.at, removed),
        after_at=stood.at,
        u_after=noise_of(state) / sqrt(max(1, stood.n)),
    )
    if ride_rhythm.springs_back(state, made.at, removed):
        return _sprung(state, made)
    return replace(
        state,
        steps=(*state.steps, made)[-MOST_STEPS:],
        count=state.count + 1,
        pauses=0 if made.seen else state.pauses + 1,
        due=made,
    )


def _sprung(state: RidingState, made: SizeStep) -> RidingState:
    """A part of the newest pass: the wheel pushed the part until it had left it."""
    last = state.steps[-1]
    whole = replace(
        last,
        removed=last.removed + made.removed,
        size=made.size,
        after_at=made.after_at,
        u_after=made.u_after,
    )
    return replace(state, steps=(*state.steps[:-1], whole))


def _cutting(state: RidingState, found: SecondMean) -> RidingState:
    """Whether the size stands again."""
    noise = noise_of(state)
    state = replace(state, pushed=max(state.pushed, found.value - state.plateau.mean))
    since = [one for one in state.seconds if one.at >= state.cutting_since]
    drop = state.plateau.mean - found.value
    if len(since) < 3:
        return state
    if ride_plunge.is_plunge(state):
        return ride_plunge.begun(state)
    still = ended(since, max(abs(drop), state.pushed), state.lasts, noise)
    if not still and found.at - state.cutting_since < LONGEST:
        return state
    return _found(state, since, noise)


def _found(state: RidingState, since: list[SecondMean], noise: float) -> RidingState:
    after = 0.5 * (since[-1].value + since[-2].value)
    removed = state.plateau.mean - after
    u = noise * sqrt(0.5 + 1.0 / max(1, state.plateau.n))
    was_pushed = state.pushed > max(SURE * noise, 2.0 * LEAST)
    fresh = tuple(since[-2:])
    last = state.steps[-1].removed if state.steps else 0.0
    if removed + 1.5 * u < ride_rhythm.TAKES * last:
        # a wheel that was by would have taken more: the part cools
        return replace(state, phase="rest", seconds=fresh, plateau=plateau_of(fresh), pushed=0.0)
    half = state.plateau.mean - 0.5 * removed
    at = next((one.at for one in since if one.value <= half), since[0].at) if removed > 0 else since[0].at
    due = 1.5 * u if ride_rhythm.is_due(state, at) else max(3.0 * u, LEAST)
    if removed < due and not (was_pushed and removed > -3.0 * u):
        # it came back to where it was, or it grew: no wheel does that
        return replace(state, phase="rest", seconds=fresh, plateau=plateau_of(fresh), pushed=0.0)
    if removed > 10.0 * u:
        took = fall_time(since, state.plateau.mean, after)
        state = replace(state, falls=(*state.falls, min(took, LONGEST_FALL))[-NEWEST_FALLS:])
    return _passed(roughened(state, since), SizeStep(at, removed, u, after), fresh)


def _passed(state: RidingState, made: SizeStep, fresh: tuple[SecondMean, ...]) -> RidingState:
    before, noise = state.plateau, noise_of(state)
    plateau = replace(plateau_of(fresh, before.scatter), mean=made.size)
    made = replace(
        made,
        due=ride_rhythm.may_be(state, made.at),
        before_at=before.at,
        u_before=noise / sqrt(max(1, before.n)),
        after_at=plateau.at,
        u_after=noise / sqrt(max(1, plateau.n)),
    )
    return replace(state, phase="rest", seconds=fresh, plateau=plateau, pushed=0.0, made=made)
