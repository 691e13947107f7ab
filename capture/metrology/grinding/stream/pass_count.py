"""How many passes were made while the wheel head stood where it cuts, and with what infeed each.

A person feeds, lets the wheel pass once or more often, feeds again or draws back. The depth that counts
is the deepest so far at which the wheel was in the part: positions behind it cut nothing new. Of what
length one pass is shows itself, since most stands hold one and the others twice or three times as much.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from capture.metrology.grinding.stream.head_path import Stand
from capture.metrology.grinding.stream.head_stands import SAME
from capture.metrology.grinding.stream.pass_pace import Ending, Pace, StandWork, are_one, pace_of, passes_in

BEHIND = 3.0
"""Steps of the display, and micrometres, by which a hand may bring the head back short of where it was."""
CREEP = 3.0
"""Steps of the display, and micrometres, by which a slide may creep on after a feed (estimate)."""
LEAST_PASS = 2.0
"""Work in which a pass may be made, as before a size must be one (common practice, no source)."""
KNOWN = 3
"""Stands from which the time of a pass is known well enough to tell what is none."""
SURE = 0.7
"""How likely a number of passes must be not to be asked about."""


class PassMade(NamedTuple):
    """One pass."""

    infeed: float | None
    """mm in the gauge's habit; 0 for one without; None: not known."""
    level: float
    """Where the head stood."""


class Contact(Struct, frozen=True):
    """What is known of where the wheel cuts."""

    reached: float | None = None
    """The deepest at which it has cut, mm in the gauge's habit; None: not known."""
    touched: bool = False
    """It has cut since the gauge first sent."""
    zeroed: bool = False
    """The display may have been set to 0 where the wheel touched the part."""
    expected: bool = False
    """It will cut somewhere else than before: the wheel was dressed."""


class Cycle(Struct, frozen=True):
    """From one size to the next."""

    stands: tuple[Stand, ...]
    """Where the head stood, in order; the last one lasts until the size."""
    deepest: float
    """Furthest in that the head was, however short."""
    step: float
    """Smallest step of the gauge's display."""
    largest: float
    """An infeed beyond this is refused, mm in the gauge's habit."""
    least: float = 0.0
    """Nobody feeds less than this, mm in the gauge's habit."""
    seldom: bool = False
    """The gauge sends too seldom for a stand to show, so that each of its readings counts."""
    proven: bool = False
    """The work is that of a wheel in the part, and not time alone."""


class Counted(Struct, frozen=True):
    """What a cycle from one size to the next held."""

    passes: tuple[PassMade, ...] = ()
    reached: float | None = None
    """The deepest at which the wheel has cut."""
    lengths: tuple[StandWork, ...] = ()
    """What the stands of this cycle say of the length of a pass."""
    numbers: tuple[int, ...] = ()
    """Passes in each of these, but those in which nothing is ground."""
    unsure: bool = False
    """Whether one pass more or less is nearly as likely."""
    far: float | None = None
    """Infeed beyond the limit that was refused, mm in the gauge's habit."""


def count(cycle: Cycle, contact: Contact, lengths: Sequence[StandWork] = ()) -> Counted:
    """The passes of *cycle*; *lengths* is what stands before showed of the length of a pass."""
    contact = _approached(contact, cycle)
    cutting = _cutting(cycle, contact)
    idle = _idle(cycle, contact)
    # a pace that is known keeps a whole pass from being taken for a slide that creeps
    cutting = _crept(cutting, pace_of([*lengths, *idle]) if len(lengths) >= KNOWN else None, cycle.least)
    # a slide that creeps would make passes look shorter than they were before
    before = () if len(lengths) >= KNOWN else _works(cutting)
    if pace := pace_of([*lengths, *idle, *before]):
        cutting = _crept(cutting, pace, CREEP * max(cycle.step, 1e-3))
    new = _works(cutting)
    pace = pace_of([*lengths, *idle, *new])
    passes: list[PassMade] = []
    numbers, unsure = _numbers(new, pace)
    far: float | None = None
    level = contact.reached
    for (stand, _), number in zip(cutting, numbers, strict=True):
        if not number:
            continue
        fed = _fed(stand.level, level, contact, cycle)
        far = stand.level - level if fed is None and level is not None else far
        passes += [PassMade(fed, stand.level), *[PassMade(0.0, stand.level)] * (number - 1)]
        level = stand.level if level is None else max(level, stand.level)
    if cycle.seldom and not passes and level is not None and cycle.deepest - level > SAME * cycle.step:
        # too short to be a stand: a display that sends little, or a size taken at once
        fed = _fed(cycle.deepest, level, contact, cycle)
        far = cycle.deepest - level if fed is None else None
        passes, level = [PassMade(fed, cycle.deepest)], cycle.deepest
    return Counted(tuple(passes), level, (*idle, *new), tuple(numbers), unsure, far)


def _numbers(works: Sequence[StandWork], pace: Pace | None) -> tuple[list[int], bool]:
    """Passes in each of *works*, and whether that is not sure."""
    held = [passes_in(work, pace) if pace else (1, 1.0) for work in works]
    numbers, unsure = [number for number, _ in held], any(sure < SURE for _, sure in held)
    moved = [n for n, work in enumerate(works) if work.ending != "left" and work.work >= LEAST_PASS]
    if moved and not any(numbers):
        # who brings the head in and measures then has let the wheel pass, however short
        numbers[max(moved, key=lambda n: works[n].work)] = 1
    return numbers, unsure


def _works(cutting: Sequence[tuple[Stand, Ending]]) -> tuple[StandWork, ...]:
    return tuple(StandWork(stand.work, ending) for stand, ending in cutting)


def _crept(
    cutting: Sequence[tuple[Stand, Ending]], pace: Pace | None, most: float
) -> list[tuple[Stand, Ending]]:
    """Stands of a slide that crept on by *most* after it was fed are one, if *pace* allows it."""
    found: list[tuple[Stand, Ending]] = []
    for stand, ending in cutting:
        last = found[-1] if found else None
        if last is not None and last[1] == "fed" and stand.level - last[0].level <= most:
            first, second = _works([last, (stand, ending)])
            if pace is None or are_one(first, second, pace):
                found[-1] = (replace(stand, begun=last[0].begun, work=last[0].work + stand.work), ending)
                continue
        found.append((stand, ending))
    return found


def _idle(cycle: Cycle, contact: Contact) -> list[StandWork]:
    """How long the head stood where the wheel cuts after a size, before somebody moved it."""
    if contact.reached is None:
        return []
    least = contact.reached - BEHIND * max(cycle.step, 1e-3)
    idle = cycle.stands[0] if len(cycle.stands) > 1 and cycle.stands[0].measured else None
    if idle is None or idle.level < least or cycle.stands[1].level < idle.level:
        return []
    return [StandWork(idle.work, "idle")]


def _approached(contact: Contact, cycle: Cycle) -> Contact:
    """A head that was wound back when its gauge first sent has only come near by a long way in."""
    if contact.touched or contact.reached is None or cycle.deepest - contact.reached <= cycle.largest:
        return contact
    return Contact(None, touched=False, zeroed=True)


def _fed(level: float, before: float | None, contact: Contact, cycle: Cycle) -> float | None:
    if before is None:
        # a display is set to 0 where the wheel touches (common practice, no source)
        return max(level, 0.0) if contact.zeroed and -cycle.step <= level <= cycle.largest else None
    fed = level - before
    if fed > cycle.largest:
        return None
    return fed if fed > SAME * cycle.step else 0.0


def _cutting(cycle: Cycle, contact: Contact) -> list[tuple[Stand, Ending]]:
    """The stands in which the wheel may have cut, and how each ended."""
    slack = BEHIND * max(cycle.step, 1e-3)
    deepest = contact.reached
    least = max((stand.level for stand in cycle.stands), default=0.0) - cycle.largest
    found: list[tuple[Stand, Ending]] = []
    for place, stand in enumerate(cycle.stands):
        later = cycle.stands[place + 1 :]
        if stand.level < (least if deepest is None else deepest - slack):
            continue
        if deepest is not None and stand.level > deepest + cycle.largest:
            beyond, first = deepest + cycle.largest, deepest - slack
            if any(first <= after.level <= beyond for after in later):
                continue  # elsewhere, as where the wheel is dressed: it has come back since
        touching = deepest is None and contact.zeroed and abs(stand.level) <= cycle.step
        deepest = stand.level if deepest is None else max(deepest, stand.level)
        ending: Ending = "measured"
        if later:
            ending = "fed" if later[0].level > stand.level else "back"
        if stand.measured and not cycle.proven:
            # after a size nothing moves until the head does; who draws it back may have let the wheel pass
            if ending != "back":
                continue
            ending = "left"
        # a wheel that was touched off is fed from there
        if not (touching and ending == "fed"):
            found.append((stand, ending))
    return found
