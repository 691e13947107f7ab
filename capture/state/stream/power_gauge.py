"""The power of wheel spindle or work head: its passes as facts, with the infeed of a gauge on the head.

Limits that bear no other mark are by trials (`trials.powers`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import median

from msgspec import Struct
from msgspec.structs import replace

from capture.events import MOST_PASSES, AnyFact, Dress, Event, Instant, Pass, Reading, Stage, Taken
from capture.metrology.grinding.stream import power_bumps, power_passes
from capture.metrology.grinding.stream.power_bumps import Bump, Bumps
from capture.metrology.grinding.stream.power_passes import PowerPass, PowerPasses
from capture.sheet.job import Gauge, Job
from capture.state.grinding import infeed_gauge
from capture.state.grinding.infeed_gauge import LEAST_FED, Infeed

LOST = 3.0
"""Seconds without a reading after which the stream has stopped."""
MOST_GAP = 20.0
"""Seconds without a reading over which a pass in hand goes on, if the wheel cuts after them as well."""
CLEAR_OF = 0.05
"""mm behind where it has cut from which the wheel is clear of the part (common practice, no source)."""
LEVELS = 40
"""Positions of the head that are kept of a rise in hand."""
MARKS = 24
"""Passes whose times are kept."""
BESIDE = 1.5
"""Seconds by which what another gauge saw of a pass may lie beside it."""
LONGEST = 45.0
"""Seconds of a stroke whose length is not known yet (common practice, no source), and"""
LONG = 2.0
"""strokes, beyond which a rise is no pass in hand."""
WEAK = 4.0
"""Times the least rise that is seen, under which the power of the next pass may not be seen."""


class PassMark(Struct, frozen=True):
    """When a pass was made, and its number."""

    begun: float
    ended: float
    number: int


class PowerGauge(Struct, frozen=True):
    """One gauge of power."""

    bumps: Bumps = Bumps()
    passes: PowerPasses = PowerPasses()
    due: tuple[PowerPass, ...] = ()
    """Found with the newest reading."""
    dressed: bool = False
    """The dressing of the wheel was found with it."""
    due_seq: int = -1
    levels: tuple[float, ...] = ()
    """Where the head stood during the rise in hand, in the habit of its gauge, mm."""
    level: float | None = None
    """Where it stood in the newest pass."""
    reached: float | None = None
    """The deepest at which the wheel has cut since it was last dressed."""
    claimed: float = -1.0
    """When the rise began whose pass another gauge has found already."""
    seen: int = 0
    """Passes found since the newest size by hand, and"""
    noted: int = 0
    """those of them that were recorded."""
    marks: tuple[PassMark, ...] = ()
    lowest: float | None = None
    highest: float | None = None
    """What it ever showed."""

    @property
    def weak(self) -> bool:
        """Whether the next pass may take too little to be seen."""
        if not self.passes.made:
            return False
        least = max(power_bumps.threshold(self.bumps, 0.0), power_bumps.UPON * (self.passes.pump or 0.0))
        return self.passes.made[-1].level < WEAK * least

    @property
    def may_cut(self) -> bool:
        """Whether the rise in hand may be a stroke: a pump, and what stands on one, is longer."""
        if not self.bumps.high or self.bumps.last is None:
            return False
        top, lasts = self.bumps.rises[-1], self.passes.lasts or LONGEST
        return not top.holds and self.bumps.last - top.begun < LONG * lasts


Powers = Mapping[str, PowerGauge]


def step_reading(
    powers: Powers, event: Event, reading: Reading, gauge: Gauge, fed: Infeed, job: Job
) -> Powers:
    """The gauges of power after a reading of one; *fed*: where the wheel head stands."""
    stroke = None if job.grinder is None else job.grinder.stroke
    one, at = powers.get(gauge.name) or PowerGauge(), event.at.seconds
    value = -reading.value if gauge.sign == "-" else reading.value
    one = replace(
        _told_by_others(one),
        due=(),
        dressed=False,
        lowest=value if one.lowest is None else min(one.lowest, value),
        highest=value if one.highest is None else max(one.highest, value),
    )
    bumps = one.bumps
    done: tuple[Bump, ...] = ()
    if bumps.last is not None and at - bumps.last > MOST_GAP:
        bumps = power_bumps.lost(bumps)
        done = bumps.done
    bumps = power_bumps.step(bumps, at, value, resolution_of(gauge, reading))
    one = replace(one, bumps=bumps)
    one = replace(one, passes=replace(one.passes, known_stroke=stroke))
    one = _after(one, power_passes.released(one.passes, at, high=bumps.high or bool(bumps.done)), event.seq)
    for bump in (*done, *bumps.done):
        one = _risen(one, bump, event.seq, fed)
    if bumps.high and fed.path is not None:
        one = replace(one, levels=(*one.levels, fed.path.now)[-LEVELS:])
    return {**powers, gauge.name: one}


def _risen(one: PowerGauge, bump: Bump, seq: int, fed: Infeed) -> PowerGauge:
    """After a rise that is over; where the head stood tells whether the wheel was on the part."""
    level, reached = _level(one.levels), _reached(one, fed)
    clear = level is not None and reached is not None and reached - level > CLEAR_OF
    passes = power_passes.step(one.passes, bump, clear=clear, hold=level is None)
    if not bump.holds:
        marks = tuple(
            replace(mark, ended=bump.ended) if mark.ended > bump.ended else mark for mark in one.marks
        )
        one = replace(one, levels=(), marks=marks, level=one.level if clear else level)
    return _after(one, passes, seq)


def _after(one: PowerGauge, passes: PowerPasses, seq: int) -> PowerGauge:
    if not passes.due:
        return replace(one, passes=passes)
    return replace(
        one,
        passes=replace(passes, due=()),
        due=(*one.due, *passes.due),
        dressed=one.dressed or passes.dressed,
        due_seq=seq,
        seen=one.seen + len(passes.due),
    )


def _told_by_others(one: PowerGauge) -> PowerGauge:
    """What was found with the reading before and not recorded was known already: the head was there."""
    if not one.due or one.level is None:
        return one
    return replace(one, reached=one.level if one.reached is None else max(one.reached, one.level))


def resolution_of(gauge: Gauge, reading: Reading) -> float:
    """The smallest step of a gauge of power, in its unit."""
    kilo = 1000.0 if reading.shown == "kW" else 1.0
    return gauge.resolution or float(kilo * 10.0**-reading.digits)


def _level(levels: Sequence[float]) -> float | None:
    """Where the head stood in a pass: after the infeed at its beginning."""
    return median(levels[len(levels) // 3 :]) if levels else None


def step_word(powers: Powers, event: Event, *, by_program: bool, by_hand: bool, number: int) -> Powers:
    """The gauges of power after a word or a decision.

    Args:
        powers: The gauges before it.
        event: The word.
        by_program: The program itself has said it.
        by_hand: A size that it takes was measured by hand.
        number: Of the newest pass, after it.
    """
    match event.fact:
        case Pass(of=None) as made if by_program:
            return {name: _recorded(one, made, number) for name, one in powers.items()}
        case Taken(part="shaft") if by_hand:
            return {name: _measured(one) for name, one in powers.items()}
        case Stage():
            return {
                name: PowerGauge(bumps=one.bumps, lowest=one.lowest, highest=one.highest)
                for name, one in powers.items()
            }
        case Dress():
            return {name: replace(one, reached=None, dressed=False) for name, one in powers.items()}
        case _:
            return powers


def _measured(one: PowerGauge) -> PowerGauge:
    """After a size by hand: what was held was a pass."""
    return replace(one, seen=0, noted=0, passes=replace(power_passes.settled(one.passes), due=()))


def _recorded(one: PowerGauge, made: Pass, number: int) -> PowerGauge:
    """After passes were recorded: its own, or one that another gauge has found while the wheel cuts."""
    count = len(made.infeeds)
    if one.due:
        marks = tuple(
            PassMark(due.begun, due.ended, number - len(one.due) + n + 1) for n, due in enumerate(one.due)
        )
        deepest = one.level if one.reached is None else max(one.reached, one.level or one.reached)
        return replace(
            one, due=(), noted=one.noted + count, marks=(*one.marks, *marks)[-MARKS:], reached=deepest
        )
    if one.may_cut:
        begun = one.bumps.rises[-1].begun
        mark = PassMark(begun, float("inf"), number)
        return replace(one, noted=one.noted + count, claimed=begun, marks=(*one.marks, mark)[-MARKS:])
    return replace(one, noted=one.noted + count)


def leader(powers: Powers, at: Instant) -> str | None:
    """The gauge by whose power passes are found: the first that speaks and has shown the wheel to cut."""
    for name, one in powers.items():
        last = one.bumps.last
        if one.passes.count and last is not None and at.seconds - last < 2.0 * LOST:
            return name
    return None


def due(one: PowerGauge, fed: Infeed, job: Job, noted: Sequence[Pass]) -> tuple[AnyFact, ...]:
    """What the newest rise of *one* makes: a dressing, and passes not entered; *noted*: those that are."""
    dressed: tuple[AnyFact, ...] = (Dress(),) if one.dressed else ()
    entered = sum(len(made.infeeds) for made in noted)
    missing = min(len(one.due), one.seen - entered - one.noted)
    if any(made.begun - BESIDE <= one.claimed <= made.ended for made in one.due):
        missing = min(missing, len(one.due) - 1)
    if missing <= 0 or not job.settings.passes.find:
        return dressed
    infeed = None if dressed else infeed_of(one, fed, job)
    made = one.due[-missing:]
    if infeed is None:
        return (*dressed, *(Pass(0.0 if each.rest else None) for each in made))
    # what was fed, was fed before the first of them
    return (*dressed, Pass(infeed, rests=len(made) - 1) if infeed else Pass(0.0, times=len(made)))


def infeed_of(one: PowerGauge, fed: Infeed, job: Job) -> float | None:
    """What was fed for the newest pass, mm on diameter, by the gauge on the head; None where none knows."""
    reached = _reached(one, fed)
    if fed.path is None or one.level is None or reached is None:
        return None
    step = fed.path.step
    infeed = (one.level - reached) * infeed_gauge.factor(job)
    if infeed > job.settings.passes.largest:
        return None
    return round(infeed, 6) if infeed >= max(LEAST_FED, 0.6 * step * infeed_gauge.factor(job)) else 0.0


def unseen(one: PowerGauge, others: Sequence[Pass], entered: int) -> tuple[Pass, ...]:
    """Passes before a size that *others* show and the power was too weak to: those without infeed.

    Args:
        one: The gauge.
        others: Passes since the size before by the gauge on the head, or by a place measured again.
        entered: Passes that a person has entered since then.
    """
    held = power_passes.settled(one.passes).due
    if held and one.seen + len(held) > max(one.noted, entered):
        return tuple(Pass(0.0 if made.rest else None) for made in held)
    infeeds = [infeed for made in others for infeed in made.infeeds]
    more = len(infeeds) - max(one.noted, entered)
    if not one.weak or more <= 0 or any(infeeds[-more:]):
        return ()
    return (Pass(0.0, times=min(more, MOST_PASSES)),)


def _reached(one: PowerGauge, fed: Infeed) -> float | None:
    """The deepest at which the wheel has cut."""
    if one.reached is not None or not fed.contact.touched:
        return one.reached
    return fed.contact.reached


def number_at(one: PowerGauge, at: float) -> int | None:
    """The number of the pass that was made at a time; None where none was recorded of it."""
    return next((m.number for m in one.marks if m.begun - BESIDE <= at <= m.ended + BESIDE), None)


def cuts_at(one: PowerGauge, at: float) -> bool:
    """Whether the wheel was in contact at a time, as far as its power shows."""
    if one.may_cut and one.bumps.rises[-1].begun - BESIDE <= at:
        return True
    return any(made.begun - BESIDE <= at <= made.ended + BESIDE for made in one.passes.made)
