"""How many passes were made while the wheel head stood where it cuts, and with what infeed each.

A person feeds, lets the wheel pass once or more often, feeds again or draws back. The depth that counts
is the deepest so far at which the wheel was in the part: positions behind it cut nothing new. Of what
length one pass is shows itself, since most stands hold one and the others twice or three times as much.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log, pi, sqrt
from typing import Literal, NamedTuple, TypeAlias

from msgspec import Struct

from capture.metrology.grinding.head_path import SAME, SPREAD, Stand

BEHIND = 3.0
"""Steps of the display, and micrometres, by which a hand may bring the head back short of where it was."""
MOST_RESTS = 12
"""Passes in one stand that are told apart."""
LIKELY = (0.62, 0.16, 0.09, 0.05, 0.03, 0.02)
"""How likely a stand holds one, two … passes (estimates, no source); more are as the last."""
UNEVEN = 0.13
"""Standard deviation of the length of one pass by hand, as a share of it (estimate, no source)."""
PAUSE = 0.12
"""Chance that a stand is none: somebody stops half way of a feed."""
LONGEST_PAUSE = 0.55
"""Passes that such a pause may last."""
OVERHEAD = 0.9
"""Passes that drawing out a micrometer may take while the head stands."""
SHORTEST = 0.5
"""Work that no pass is made in: seconds, or strokes."""
MOST_LENGTHS = 24
SURE = 0.7
"""How likely a number of passes must be not to be asked about."""

Ending: TypeAlias = Literal["fed", "back", "measured"]


class StandWork(NamedTuple):
    """Work in one stand where the wheel cuts."""

    work: float
    ending: Ending
    """What ended it: the next feed, drawing back, or a size taken while the head stood."""


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
    """It has cut since the gauge was first heard."""
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
    proven: bool = False
    """The work is that of a wheel in the part, and not time alone."""


class Counted(Struct, frozen=True):
    """What a cycle from one size to the next held."""

    passes: tuple[PassMade, ...] = ()
    reached: float | None = None
    """The deepest at which the wheel has cut."""
    lengths: tuple[StandWork, ...] = ()
    """What the stands of this cycle say of the length of a pass."""
    unsure: bool = False
    """Whether one pass more or less is nearly as likely."""
    far: float | None = None
    """Infeed beyond the limit that was refused, mm in the gauge's habit."""


def pass_length(lengths: Sequence[StandWork]) -> float | None:
    """Work of one pass by the stands seen so far; None before the first.

    >>> pass_length([StandWork(20.0, "fed"), StandWork(21.0, "fed"), StandWork(60.0, "back")])
    20.0
    """
    lengths = [length for length in lengths if length.work >= SHORTEST]
    tried = sorted({length.work for length in lengths})
    best = max(tried, key=lambda one: (round(_evidence(lengths, one), 6), one), default=None)
    if best is None:
        return None
    near = sorted(length.work / n for length in lengths if (n := passes_in(length, best)[0]))
    return near[len(near) // 2] if len(near) % 2 else 0.5 * (near[len(near) // 2 - 1] + near[len(near) // 2])


def _evidence(lengths: Sequence[StandWork], one: float) -> float:
    # dividing by `one` keeps a long pass from fitting everything
    return sum(log(max(1e-9, sum(_chances(length, one)))) - log(one) for length in lengths)


def _chances(length: StandWork, one: float) -> list[float]:
    """Likelihood that *length* holds 0, 1, 2 … passes of *one*."""
    share = length.work / one
    none = PAUSE / LONGEST_PAUSE if share < LONGEST_PAUSE else 1e-6
    found = [none]
    for n in range(1, MOST_RESTS + 1):
        prior = LIKELY[min(n, len(LIKELY)) - 1]
        spread = UNEVEN * sqrt(n) + 0.02 * n
        if length.ending != "measured":
            found.append(prior * _bell(share - n, spread))
        else:
            over = [_bell(share - n - part * OVERHEAD, spread) for part in (0.0, 0.15, 0.3, 0.45, 0.6, 0.8)]
            found.append(prior * sum(over) / len(over))
    return found


def _bell(off: float, spread: float) -> float:
    return exp(-0.5 * (off / spread) ** 2) / (spread * sqrt(2.0 * pi))


def passes_in(length: StandWork, one: float) -> tuple[int, float]:
    """Most likely number of passes of *one* in *length*, and how likely that is.

    >>> [passes_in(StandWork(work, "back"), 20.0)[0] for work in (3.0, 19.0, 41.0, 64.0)]
    [0, 1, 2, 3]
    """
    chances = _chances(length, one)
    if length.work > (MOST_RESTS + 0.5) * one:
        return round(length.work / one), 1.0
    best = max(range(len(chances)), key=chances.__getitem__)
    return best, chances[best] / max(sum(chances), 1e-12)


def count(cycle: Cycle, contact: Contact, lengths: Sequence[StandWork] = ()) -> Counted:
    """The passes of *cycle*; *lengths* is what stands before showed of the length of a pass."""
    contact = _approached(contact, cycle)
    cutting = _cutting(cycle, contact)
    new = tuple(StandWork(stand.work, ending) for stand, ending in cutting)
    one = pass_length([*lengths, *new][-MOST_LENGTHS:])
    passes: list[PassMade] = []
    unsure, far = False, None
    level = contact.reached
    for (stand, _), length in zip(cutting, new, strict=True):
        number, sure = passes_in(length, one) if one else (1, 1.0)
        unsure = unsure or sure < SURE
        if not number:
            continue
        fed = _fed(stand.level, level, contact, cycle)
        far = stand.level - level if fed is None and level is not None else far
        passes += [PassMade(fed, stand.level), *[PassMade(0.0, stand.level)] * (number - 1)]
        level = stand.level if level is None else max(level, stand.level)
    least = (SPREAD if cycle.stands else SAME) * cycle.step
    if not passes and level is not None and cycle.deepest - level > least:
        # too short to be a stand: a display that sends little, or a size taken at once
        fed = _fed(cycle.deepest, level, contact, cycle)
        far = cycle.deepest - level if fed is None else None
        passes, level = [PassMade(fed, cycle.deepest)], cycle.deepest
    return Counted(tuple(passes), level, new, unsure, far)


def _approached(contact: Contact, cycle: Cycle) -> Contact:
    """A head that was wound back when it was first heard has only come near by a long way in."""
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
        # a wheel that was touched off is fed from there; after a size nothing moves until the head does
        if not (touching and ending == "fed") and (cycle.proven or not stand.measured):
            found.append((stand, ending))
    return found
