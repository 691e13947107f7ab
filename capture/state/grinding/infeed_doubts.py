"""What an infeed gauge shows that no hand does: a display set to 0, a wrong sign, an infeed too large.

Each is said once, as a flag that the state then goes by, and a person may answer `no` to it.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from capture.events import Event, Flag, Reading
from capture.metrology.grinding.stream import head_path, head_stands, pass_count
from capture.metrology.grinding.stream.head_path import HeadPath, Stand
from capture.sheet.job import Job
from capture.state.grinding import infeed_gauge
from capture.state.grinding.infeed_gauge import Infeed, Leap

ZEROED, SIGN, BEYOND = "infeed-zeroed", "infeed-sign", "infeed-beyond"
COUNT = "passes-unsure"
ASKED = frozenset({ZEROED, SIGN, BEYOND, COUNT})
"""Flags that ask, and may be answered by yes or no."""
AT_ZERO = 1.5
"""Steps of the display within which it shows 0."""
LEAST_LEAP = 4.0
"""Steps that it must have leapt."""
NEAR = 0.25
"""mm within which a leap to 0 from where the wheel cuts is no drawing back (common practice, no source)."""


def watched(before: Infeed, after: Infeed, reading: Reading) -> Infeed:
    """*after* one more reading, with a leap of the display to 0 that it began, or that it bears out."""
    path = before.path
    if path is None or after.path is None or path.seldom:
        return after
    at_zero = abs(reading.value) <= AT_ZERO * path.step
    if before.leap is not None:
        stays = at_zero or abs(after.path.now - before.leap.to) <= AT_ZERO * path.step
        borne = replace(before.leap, borne=True) if stays else None
        return replace(after, leap=borne)
    return replace(after, leap=_leap(before, after.path) if at_zero else None)


def _leap(before: Infeed, after: HeadPath) -> Leap | None:
    path, reached = before.path, before.contact.reached
    if path is None or path.stand is None or reached is None:
        return None
    by = after.now - path.stand.level
    silent = after.at - path.at > head_path.READINGS * path.interval and path.streams
    left = abs(path.now - path.stand.level) > head_path.SPREAD * path.step
    if silent or left or abs(by) < LEAST_LEAP * path.step:
        return None
    slack = pass_count.BEHIND * max(path.step, 1e-3)
    near = abs(path.stand.level - reached) <= slack and abs(by) <= NEAR
    # nobody brings the head to the zero of its display by chance, unless that is where it cuts or is parked
    known = [reached, *([] if before.parked is None else [before.parked])]
    chance = all(abs(after.now - place) > slack for place in known)
    return Leap(path, by, after.now) if near or chance else None


def zeroed(state: Infeed, job: Job) -> tuple[Flag, ...]:
    """The display was set to 0 while the head stood."""
    if state.leap is None or not state.leap.borne:
        return ()
    return (Flag(ZEROED, 0, (), {"moved": state.leap.by}, {"unit": job.units}, gauge=name_of(job)),)


def name_of(job: Job) -> str:
    """The name of the infeed gauge."""
    return next((gauge.name for gauge in job.gauges if gauge.measures == "infeed"), "")


def turned(state: Infeed, job: Job, event: Event, *, smaller: bool) -> tuple[Flag, ...]:
    """The gauge counts the other way: the head would be measured at deep inside the part."""
    path, reached = state.path, state.contact.reached
    if path is None or reached is None or state.sign_said:
        return ()
    path = head_path.lasted(path, event.at.seconds, event.at.seconds)
    stands, largest = head_stands.stands_of(path), job.settings.passes.largest / infeed_gauge.factor(job)
    slack = pass_count.BEHIND * max(path.step, 1e-3)
    near = [one for one in stands if not one.measured and -largest <= one.level - reached <= slack]
    inside = path.now - reached > largest and any(one.work >= 1.0 for one in near)
    inside = inside or (not state.contact.touched and _measured_inmost(stands, largest))
    behind = [one for one in near if one.level < reached - slack]
    beside = smaller and bool(stands) and stands[-1] in behind and path.deepest - reached <= slack
    if not inside and not beside:
        return ()
    return (Flag(SIGN, 0, (event.seq,), gauge=name_of(job)),)


def _measured_inmost(stands: Sequence[Stand], largest: float) -> bool:
    """Whether the head was further in while the part was measured than where it stood for longer."""
    worked = [one for one in stands[:-1] if not one.measured]
    if not worked or stands[-1].measured:
        return False
    last = stands[-1]
    return max(one.level for one in worked) < last.level - largest and max(one.work for one in worked) > max(
        last.work, 1.0
    )


def beyond(far: float, pass_: int, job: Job, event: Event) -> Flag:
    """An infeed of *far*, mm in the gauge's habit, was refused; its figures are mm on diameter."""
    moved = far * infeed_gauge.factor(job)
    figures: dict[str, float | None] = {"moved": moved, "most": job.settings.passes.largest}
    return Flag(BEYOND, pass_, (event.seq,), figures, {"unit": job.units}, gauge=name_of(job))


def count_unsure(state: Infeed) -> tuple[Flag, ...]:
    """It is asked how many passes were made before the newest size."""
    doubt = state.doubt
    if doubt is None or doubt.asked:
        return ()
    figures: dict[str, float | None] = {"passes": doubt.number, "instead": doubt.other}
    return (Flag(COUNT, 0, (doubt.seq,), figures),)


def is_open(state: Infeed, flag: Flag) -> bool:
    """Whether what *flag* asked still matters."""
    if flag.what != COUNT:
        return flag.what in ASKED
    return state.doubt is not None and state.doubt.asked and (state.doubt.seq,) == flag.of


def answered(state: Infeed, flag: Flag, at: float, *, yes: bool) -> Infeed:
    """The gauge after a person has answered *flag*."""
    if flag.what == COUNT:
        return infeed_gauge.answered(state, yes=yes) if is_open(state, flag) else state
    return state if yes else taken_in(state, flag, at, undone=True)


def taken_in(state: Infeed, flag: Flag, at: float, *, undone: bool = False) -> Infeed:
    """The gauge as *flag* says that it is to be read, or as before where that was *undone*."""
    path = state.path
    if flag.what == COUNT and state.doubt is not None:
        return replace(state, doubt=replace(state.doubt, asked=True))
    if flag.what == SIGN and path is not None:
        reached = state.contact.reached
        contact = replace(state.contact, reached=None if reached is None else -reached)
        path = head_path.mirrored(path)
        return replace(state, path=path, turned=not state.turned, contact=contact, sign_said=True)
    if flag.what != ZEROED or path is None:
        return state
    by = flag.figures.get("moved") or 0.0
    if undone:
        return replace(state, offset=state.offset + by, path=head_path.shifted(path, by))
    if state.leap is not None:
        path = head_path.moved_to(state.leap.path, at, path.now - by, at)
    return replace(state, offset=state.offset - by, path=path, leap=None)
