"""What an infeed gauge shows that no hand does: a display set to 0, a wrong sign, an infeed too large.

Each is said once, as a flag that the state then goes by, and a person may answer `no` to it.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from capture.events import Event, Flag
from capture.metrology.grinding.stream import head_path, head_stands, pass_count
from capture.metrology.grinding.stream.head_path import Stand
from capture.sheet.job import Job
from capture.state.grinding import display_zero, head_sign, infeed_gauge
from capture.state.grinding.display_zero import ZEROED
from capture.state.grinding.infeed_gauge import Infeed

SIGN, BEYOND = "infeed-sign", "infeed-beyond"
COUNT = "passes-unsure"
ASKED = frozenset({ZEROED, SIGN, BEYOND, COUNT})
"""Flags that ask, and may be answered by yes or no."""


def turned(state: Infeed, job: Job, event: Event, *, smaller: bool) -> tuple[Flag, ...]:
    """The gauge counts the other way: the head would be measured at deep inside the part."""
    path, reached = state.path, state.contact.reached
    if path is None or reached is None or state.sign_said:
        return ()
    path = head_path.lasted(path, event.at.seconds, event.at.seconds)
    stands, largest = head_stands.stands_of(path), job.settings.passes.largest / infeed_gauge.factor(job)
    before = head_sign.odds(state.ends, largest, path.step)
    if before < -head_sign.SURELY:
        return ()  # it has shown how it counts
    ends = (*state.ends, head_sign.ends_of(stands, path.now))[-head_sign.KEPT :]
    if head_sign.odds(ends, largest, path.step) <= head_sign.SURELY and not _other_way(
        state, stands, largest, smaller=smaller
    ):
        return ()
    return (Flag(SIGN, 0, (event.seq,), gauge=infeed_gauge.name_of(job)),)


def _other_way(state: Infeed, stands: Sequence[Stand], largest: float, *, smaller: bool) -> bool:
    """Whether the stands before one size alone show it."""
    path, reached = state.path, state.contact.reached
    if path is None or reached is None:
        return False
    slack = pass_count.BEHIND * max(path.step, 1e-3)
    near = [one for one in stands if not one.measured and -largest <= one.level - reached <= slack]
    inside = path.now - reached > largest and any(one.work >= 1.0 for one in near)
    inside = inside or (not state.contact.touched and _measured_inmost(stands, largest))
    behind = [one for one in near if one.level < reached - slack]
    beside = smaller and bool(stands) and stands[-1] in behind and path.deepest - reached <= slack
    return inside or beside


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
    return Flag(BEYOND, pass_, (event.seq,), figures, {"unit": job.units}, gauge=infeed_gauge.name_of(job))


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
        reached = head_sign.reached(state.ends)
        reached = state.contact.reached if reached is None else reached
        contact = replace(state.contact, reached=None if reached is None else -reached)
        path, ends = head_path.mirrored(path), head_sign.mirrored(state.ends)
        # what was counted by the wrong sign tells nothing of the pace
        anew = replace(state, lengths=(), counts=(), doubt=None, parked=None, ends=ends)
        return replace(anew, path=path, turned=not state.turned, contact=contact, sign_said=True)
    if flag.what != ZEROED or path is None:
        return state
    by = flag.figures.get("moved") or 0.0
    return display_zero.set_again(state, by) if undone else display_zero.set_back(state, by, at)
