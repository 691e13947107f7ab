"""Passes of the wheel from the rises of its power: strokes, rests, what is no pass, and what was missed.

All strokes of one part take about as long; a dresser, a pump and a stroke that was broken off do not. A pass
without infeed takes a share of what the one before took, so its power falls by about that share; what
was fed does not show in the power of a pass, but that it was fed does where the power did not fall.
Limits that bear no other mark are by trials (`trials.powers`).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot
from statistics import median

from msgspec import Struct
from msgspec.structs import replace

from capture.metrology.grinding.stream.power_bumps import Bump

SHORTEST = 1.5
"""Seconds; no table strokes sooner (common practice, no source)."""
ALONE = 3
"""Passes from which on their length is known."""
NEWEST = 12
"""Passes that it is known from."""
BROKEN_OFF, DOUBLE = 0.55, 1.6
"""Shares of a stroke under which a rise is none, and over which it is several."""
MOST_AT_ONCE = 6
"""Strokes in one rise, beyond which it is no stroke."""
REST, SURELY_FED = 0.7, 0.9
"""Shares of the power of the pass before under which there was no infeed, and over which there was."""
ALIKE = 0.12
"""Between them: so near must the share be to the one before, to be a rest as that was."""
AS_LONG = 0.1
"""Share within which strokes, and rises of a dresser, are as long as each other."""
CLEAR = 0.1
"""Share of the highest pass from which the length of a stroke is known."""
DRESSER = 0.4
"""Share of the highest pass lately that a dresser takes at the most (common practice, no source)."""
AS_HIGH = 0.15
"""Share within which the rises of a dresser are as high as each other, which those of rests are not."""
PUMPS = 0.15
"""Share within which a rise is as high as the pump's."""
UNDERCUT = 1.5
"""Seconds that an undercut of the part takes at the most, and"""
PART, WHOLE = 0.8, 1.35
"""shares of the stroke on the sheet under which a rise is a part of one, and up to which two are one."""
IDLE = 3.0
"""Seconds without contact after which the wheel is clear of the part (common practice, no source)."""


class PowerPass(Struct, frozen=True):
    """One pass of the wheel, as its power showed it."""

    begun: float
    ended: float
    level: float
    """Its power over that of the wheel running free."""
    u: float
    rest: bool = False
    """It had no infeed."""


class PowerPasses(Struct, frozen=True):
    """What the rises of one stream were."""

    made: tuple[PowerPass, ...] = ()
    """The newest passes."""
    count: int = 0
    odd: tuple[Bump, ...] = ()
    """Rises in a row that were no stroke, since the newest pass."""
    held: Bump | None = None
    """A stroke, unless the next rise shows that it was a dresser's."""
    due: tuple[PowerPass, ...] = ()
    """Found with the newest rise."""
    dressed: bool = False
    """What came before the newest rise was the dressing of the wheel."""
    pump: float | None = None
    """By how much the power is higher while the pump of the coolant runs, where it is on the same meter."""
    part: Bump | None = None
    """A rise shorter than a stroke, which may be a part of one over an undercut."""
    known_stroke: float | None = None
    """Seconds of a stroke by the sheet."""

    @property
    def lasts(self) -> float | None:
        """Seconds of a stroke; None while that is not known."""
        if self.known_stroke is not None:
            return self.known_stroke
        if len(self.made) < ALONE:
            return None
        high = max(one.level for one in self.made)
        return median(one.ended - one.begun for one in self.made if one.level >= CLEAR * high)


def step(state: PowerPasses, bump: Bump, *, clear: bool = False, hold: bool = True) -> PowerPasses:
    """After one rise that is over.

    Args:
        state: Those before it.
        bump: The rise.
        clear: The wheel is known to have been clear of the part.
        hold: Nothing else tells whether it was, so that a dresser may look like a stroke.
    """
    state = replace(state, due=(), dressed=False)
    if bump.holds:
        return replace(state, pump=bump.floor)
    if is_pump(bump, state.pump):
        return state
    if clear:
        return replace(state, odd=(*state.odd, bump)[-8:])
    whole = _with_part(state, bump)
    bump, state = whole or bump, replace(state, part=None)
    like = state.held or (state.odd[-1] if state.odd else None)
    if like is not None and _is_another(like, bump):
        held = () if state.held is None else (state.held,)
        return replace(state, odd=(*state.odd, *held, bump)[-8:], held=None)
    if state.held is not None:
        before = _counted(replace(state, held=None), state.held)
        after = _counted(before, bump)
        return replace(after, due=(*before.due, *after.due), dressed=before.dressed or after.dressed)
    stroke = strokes_in(bump, state.lasts, known=state.known_stroke is not None) == 1
    if hold and stroke and _may_be_dresser(state, bump):
        return replace(state, held=bump)
    return _counted(state, bump)


def released(state: PowerPasses, now: float, *, high: bool) -> PowerPasses:
    """What was held, where no other rise came in the time of a stroke: it was one.

    Args:
        state: The passes so far.
        now: Seconds.
        high: Another rise is in hand.
    """
    if state.held is None or state.lasts is None:
        return state
    return state if high or now - state.held.ended < max(state.lasts, 2.0 * IDLE) else settled(state)


def settled(state: PowerPasses) -> PowerPasses:
    """What was held counts."""
    fresh = replace(state, held=None, due=(), dressed=False)
    return state if state.held is None else _counted(fresh, state.held)


def _may_be_dresser(state: PowerPasses, bump: Bump) -> bool:
    """Whether a rise is the first after the wheel was clear, and lower than strokes before it."""
    if state.lasts is None or not state.made or bump.begun - state.made[-1].ended < IDLE:
        return False
    return bump.level < DRESSER * max(one.level for one in state.made)


def _is_another(first: Bump, bump: Bump) -> bool:
    """Whether two rises are as high and as long as each other, as those of a dresser are."""
    near = bump.begun - first.ended < 2.0 * IDLE
    as_long = abs(bump.lasts - first.lasts) < AS_LONG * first.lasts
    apart = abs(bump.level - first.level)
    return near and as_long and apart < max(AS_HIGH * first.level, 3.0 * hypot(bump.u, first.u))


def _counted(state: PowerPasses, bump: Bump) -> PowerPasses:
    """After a rise that is no pump: strokes, or none."""
    number = strokes_in(bump, state.lasts, known=state.known_stroke is not None)
    if not number:
        return replace(state, odd=(*state.odd, bump)[-8:], part=bump)
    dressed = is_dressing(state.odd, bump, state.made)
    made: list[PowerPass] = []
    each = bump.lasts / number
    for n in range(number):
        before = [*state.made, *made]
        rest = is_rest([] if dressed else before, bump.level, bump.u)
        begun = bump.begun + n * each
        made.append(PowerPass(begun, begun + each, bump.level, bump.u, rest=rest))
    return replace(
        state,
        made=(*state.made, *made)[-NEWEST:],
        count=state.count + number,
        odd=(),
        part=None,
        due=tuple(made),
        dressed=dressed,
    )


def is_pump(bump: Bump, pump: float | None) -> bool:
    """Whether a rise from the idle level is as high as that of the pump, on which all others stood before."""
    if pump is None or bump.on_rise:
        return False
    return abs(bump.level - pump) < max(PUMPS * pump, 3.0 * bump.u)


def _with_part(state: PowerPasses, bump: Bump) -> Bump | None:
    """*bump* with the rise before it, where both are one stroke by the sheet over an undercut."""
    part = state.part
    if part is None or state.known_stroke is None or bump.begun - part.ended > UNDERCUT:
        return None
    if not BROKEN_OFF < (bump.ended - part.begun) / state.known_stroke < WHOLE:
        return None
    weight = part.lasts / (part.lasts + bump.lasts)
    level = weight * part.level + (1.0 - weight) * bump.level
    return replace(bump, begun=part.begun, level=level)


def strokes_in(bump: Bump, lasts: float | None, *, known: bool = False) -> int:
    """How many strokes *bump* is: 0 for what is none.

    Args:
        bump: A rise.
        lasts: Seconds of a stroke, where they are known.
        known: They are those of the sheet.
    """
    if bump.holds or bump.lasts < SHORTEST or bump.level <= 0.0:
        return 0
    if lasts is None:
        return 1
    share = bump.lasts / lasts
    if share < (PART if known else BROKEN_OFF):
        return 0
    number = 1 if share < DOUBLE else round(share)
    return number if number <= MOST_AT_ONCE else 0


def is_rest(before: Sequence[PowerPass], level: float, u: float) -> bool:
    """Whether a pass of power *level* after those *before* had no infeed."""
    if not before or before[-1].level <= 0.0:
        return False
    last = before[-1]
    unsure = 2.0 * hypot(u, last.u)
    if last.rest:
        # a wheel that is fed again takes clearly more than one that sparks out
        return level < last.level + max(unsure, 0.25 * last.level)
    share = level / last.level
    if share <= REST:
        return level + unsure < last.level
    if share > SURELY_FED or len(before) < 2 or before[-2].level <= 0.0:
        return False
    return abs(share - last.level / before[-2].level) < ALIKE and last.level < before[-2].level


def is_dressing(odd: Sequence[Bump], after: Bump, made: Sequence[PowerPass]) -> bool:
    """Whether the rises *odd* before *after* were those of a dresser: alike, and no stroke of the table."""
    if len(odd) < 2 or not made:
        return False
    levels, lengths = [one.level for one in odd], [one.lasts for one in odd]
    alike = max(levels) <= min(levels) * (1.0 + AS_HIGH) / (1.0 - AS_HIGH)
    as_long = max(lengths) <= 1.3 * min(lengths)
    clear = odd[0].begun - made[-1].ended > IDLE and after.begun - odd[-1].ended > IDLE
    return alike and as_long and clear and min(lengths) >= SHORTEST
