"""The display of an infeed gauge that is set to 0 while the head stands.

It leaps from one reading to the next. So does one whose head is moved fast, and stops at 0: where it did so
before, or might, the next size tells, since the wheel cuts where it did but for what was fed.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from capture.events import Event, Flag, Reading
from capture.metrology.grinding.stream import head_path, head_stands, pass_count
from capture.metrology.grinding.stream.head_path import HeadPath
from capture.sheet.job import Job
from capture.state.grinding import head_sign, infeed_gauge
from capture.state.grinding.head_sign import HeadEnds
from capture.state.grinding.infeed_gauge import Infeed, Leap, PerhapsZero

ZEROED = "infeed-zeroed"
AT_ZERO = 1.5
"""Steps of the display within which it shows 0."""
LEAST_LEAP = 4.0
"""Steps that it must have leapt."""
NEAR = 0.25
"""mm within which a leap to 0 from where the wheel cuts is no drawing back (common practice, no source)."""
CARELESS = 0.5
"""Share of the way back by which the place may differ that a head is wound back to (common practice)."""
MOST_PERHAPS = 4


def watched(before: Infeed, after: Infeed, reading: Reading) -> Infeed:
    """*after* one more reading, with a leap of the display to 0 that it began, or that it bears out."""
    path = before.path
    if path is None or after.path is None or path.seldom:
        return after
    at_zero = abs(reading.value) <= AT_ZERO * path.step
    if before.leap is not None:
        stays = at_zero or abs(after.path.now - before.leap.to) <= AT_ZERO * path.step
        if stays:
            return replace(after, leap=replace(before.leap, borne=True))
        # a display that sends only what changes may have stood there since
        return _perhaps(replace(after, leap=None), path.at, before.leap.by)
    found = _leap(before, after.path) if at_zero else None
    if found is None or _is_zero(before, found):
        return replace(after, leap=found)
    return _perhaps(after, after.path.at, found.by)


def _perhaps(state: Infeed, at: float, by: float) -> Infeed:
    return replace(state, perhaps=(*state.perhaps, PerhapsZero(at, by))[-MOST_PERHAPS:])


def _leap(before: Infeed, after: HeadPath) -> Leap | None:
    path, reached = before.path, before.contact.reached
    if path is None or path.stand is None or reached is None:
        return None
    by = after.now - path.stand.level
    silent = after.at - path.at > head_path.READINGS * path.interval and path.streams
    left = abs(path.now - path.stand.level) > head_path.SPREAD * path.step
    if silent or left or abs(by) < LEAST_LEAP * path.step:
        return None
    return Leap(path, by, after.now)


def _is_zero(state: Infeed, leap: Leap) -> bool:
    """Whether nothing else explains *leap*: no hand goes so little way back, nor to 0 by chance."""
    reached, stand = state.contact.reached, leap.path.stand
    if reached is None or stand is None:
        return False
    slack = pass_count.BEHIND * max(leap.path.step, 1e-3)
    if -slack <= stand.level - reached <= NEAR and abs(leap.by) <= NEAR:
        return True
    if abs(leap.to - reached) <= slack or any(_may_stop(one, leap.to, slack) for one in state.ends):
        return False
    return state.parked is None or abs(leap.to - state.parked) > slack


def _may_stop(ends: HeadEnds, place: float, slack: float) -> bool:
    """Whether a head that went between *ends* may stop at *place*: at either, or wound back carelessly."""
    careless = CARELESS * (ends.inner - ends.outer)
    ways = (ends.inner, slack), (ends.outer, max(careless, slack)), (ends.measured, slack)
    return any(abs(place - end) <= near for end, near in ways)


def zeroed(state: Infeed, job: Job) -> tuple[Flag, ...]:
    """The display was set to 0 while the head stood."""
    if state.leap is None or not state.leap.borne:
        return ()
    return (_flag(state.leap.by, job),)


def zeroed_before(state: Infeed, job: Job, event: Event) -> tuple[Flag, ...]:
    """It was so since the last size, as the stands before the size *event* show: the head is too far away."""
    path, reached = state.path, state.contact.reached
    if path is None or reached is None or not state.perhaps:
        return ()
    path = head_path.lasted(path, event.at.seconds, event.at.seconds)
    largest = job.settings.passes.largest / infeed_gauge.factor(job)
    slack = pass_count.BEHIND * max(path.step, 1e-3)
    if _cuts(path, reached, largest, slack):
        return ()
    for maybe in reversed(state.perhaps):
        if _cuts(head_path.shifted(path, -maybe.by, since=maybe.at), reached, largest, slack):
            return (_flag(maybe.by, job),)
    return ()


def _cuts(path: HeadPath, reached: float, largest: float, slack: float) -> bool:
    """Whether the innermost place where the head stood is where the wheel cuts, or a feed further in."""
    levels = [one.level for one in head_stands.stands_of(path) if not one.measured]
    return bool(levels) and -slack <= max(levels) - reached <= largest


def _flag(by: float, job: Job) -> Flag:
    return Flag(ZEROED, 0, (), {"moved": by}, {"unit": job.units}, gauge=infeed_gauge.name_of(job))


def set_back(state: Infeed, by: float, at: float) -> Infeed:
    """The gauge after its display leapt *by*, mm, because it was set to 0."""
    path = state.path
    if path is None:
        return state
    maybe = _nearest(state.perhaps, by)
    if state.leap is not None:
        path = head_path.moved_to(state.leap.path, at, path.now - by, at)
    elif maybe is not None:
        path = head_path.shifted(path, -by, since=maybe.at)
    return replace(state, offset=state.offset - by, path=path, leap=None, perhaps=())


def _nearest(perhaps: Sequence[PerhapsZero], by: float) -> PerhapsZero | None:
    return next((one for one in reversed(perhaps) if abs(one.by - by) < 1e-9), None)


def set_again(state: Infeed, by: float) -> Infeed:
    """The gauge where a person has said that its display was not set to 0."""
    if state.path is None:
        return state
    ends = head_sign.shifted(state.ends, by)
    return replace(state, offset=state.offset + by, path=head_path.shifted(state.path, by), ends=ends)
