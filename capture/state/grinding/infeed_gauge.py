"""The infeed gauge on the saddle: where the wheel head has been, and what passes that shows."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from msgspec import Struct
from msgspec.structs import replace

from capture.events import Instant, Pass, Reading
from capture.metrology.grinding.stream import head_path, head_stands, pass_count, pass_pace
from capture.metrology.grinding.stream.head_path import HeadPath
from capture.metrology.grinding.stream.pass_count import Contact, Counted, Cycle
from capture.metrology.grinding.stream.pass_pace import Pace, StandWork
from capture.sheet.job import Gauge, Job
from capture.state.grinding import counted_passes, head_sign
from capture.state.grinding.counted_passes import CountedPass, PassDoubt
from capture.state.grinding.head_sign import HeadEnds
from capture.state.stations import step_of

LEAST_BACK = 0.1
"""mm behind where the wheel cuts from which on the head is wound back (common practice, no source)."""
LEAST_FED = 0.0008
"""mm on diameter: no dial is graduated finer than in 0.001 (common practice, no source)."""
MOST_IGNORED = 3
"""Questions in a row without an answer after which nothing is asked (common practice, no source)."""
MOST_CYCLES = 8
"""Cycles from size to size whose length is remembered."""


class Leap(Struct, frozen=True):
    """The display leapt to 0 between two readings."""

    path: HeadPath
    """The head before."""
    by: float
    to: float
    borne: bool = False
    """The next reading was there too."""


class PerhapsZero(Struct, frozen=True):
    """The display may have been set to 0, or the head was moved there."""

    at: float
    """Seconds."""
    by: float
    """mm that it leapt."""


class Infeed(Struct, frozen=True):
    """Where the wheel head stands, in the gauge's own habit (radius or diameter), mm; + is into the part."""

    path: HeadPath | None = None
    """The head since the last size of the shaft; None before the gauge's first word."""
    contact: Contact = Contact()
    lengths: tuple[StandWork, ...] = ()
    """Stands lately in which the wheel cut: what the length of a pass is known from."""
    cycles: tuple[float, ...] = ()
    """Seconds from one size to the next with one pass between, lately."""
    sized: float | None = None
    """When the last size was taken, seconds."""
    counts: tuple[CountedPass, ...] = ()
    """What was found lately."""
    offset: float = 0.0
    """What its display was set back by, as the program takes it."""
    turned: bool = False
    """It counts the other way than its sign on the sheet says, as the program takes it."""
    sign_said: bool = False
    """That it does has been said once; a person may have answered no."""
    leap: Leap | None = None
    perhaps: tuple[PerhapsZero, ...] = ()
    """Since the last size."""
    doubt: PassDoubt | None = None
    """What is not sure of the passes before the newest size."""
    ignored: int = 0
    """Questions in a row that nobody has answered."""
    parked: float | None = None
    """Where the head was wound back to when the newest size was taken."""
    shown: tuple[float | None, ...] = ()
    """Infeeds of the newest passes as the gauge showed them, whatever a person entered, mm on diameter."""
    ends: tuple[HeadEnds, ...] = ()
    """Between which places the head went from size to size, lately."""

    @property
    def pace(self) -> Pace | None:
        """How long a pass and its measuring take."""
        return pass_pace.pace_of(self.lengths)

    @property
    def cycle(self) -> float | None:
        """Seconds from one size to the next with one pass between."""
        return median(self.cycles) if self.cycles else None


def step(state: Infeed, gauge: Gauge, reading: Reading, at: Instant, worked: float) -> Infeed:
    """After one reading of the infeed gauge; *worked* is the work done up to now."""
    now = -reading.value if (gauge.sign == "-") is not state.turned else reading.value
    now += state.offset
    if state.path is None:
        path = head_path.begin(at.seconds, now, step_of(gauge, reading), worked)
    else:
        path = head_path.moved_to(state.path, at.seconds, now, worked)
    return replace(state, path=path)


def name_of(job: Job) -> str:
    """The name of the infeed gauge."""
    return next((gauge.name for gauge in job.gauges if gauge.measures == "infeed"), "")


def factor(job: Job) -> float:
    """Millimetres on diameter for one that the gauge shows."""
    return 2.0 if job.grinder is not None and job.grinder.dial == "radius" else 1.0


def counted(state: Infeed, job: Job, at: Instant, worked: float) -> Counted:
    """The passes since the last size of the shaft, if one were taken now; lengths in the gauge's habit."""
    if state.path is None or (state.contact.reached is None and not state.contact.expected):
        return Counted(reached=state.contact.reached)
    path = head_path.lasted(state.path, at.seconds, worked)
    return pass_count.count(cycle_of(path, job), state.contact, state.lengths)


def cycle_of(path: HeadPath, job: Job) -> Cycle:
    """What the head did since the last size."""
    largest = job.settings.passes.largest / factor(job)
    least = max(LEAST_FED / factor(job), head_stands.SAME * path.step)
    return Cycle(head_stands.stands_of(path), path.deepest, path.step, largest, least, seldom=path.seldom)


def rested(
    state: Infeed, job: Job, at: Instant, worked: float, made: int, facts: Sequence[tuple[int, Pass]]
) -> Infeed:
    """A size of the shaft was taken after *made* new passes: what is fed from here on belongs to the next.

    *facts* are the passes that were found before it, each with its ``seq``, where nobody entered any.
    """
    if state.path is None:
        return _timed(state, at, made)
    found = counted(state, job, at, worked)
    path = head_path.lasted(state.path, at.seconds, worked)
    if state.contact.reached is None and not state.contact.expected:
        # the first size: the wheel may stand in the part, or have been there before it was drawn back
        inmost = max((stand.level for stand in head_stands.stands_of(path)), default=path.now)
        drawn_back = inmost - path.now > job.settings.passes.largest / factor(job)
        contact = Contact(inmost, touched=drawn_back)
    elif found.passes:
        contact = Contact(found.reached, touched=True)
    else:
        contact = state.contact
    ends = (*state.ends, head_sign.ends_of(head_stands.stands_of(path), path.now))[-head_sign.KEPT :]
    path = head_path.measured(path, at.seconds, worked)
    lengths = (*state.lengths, *found.lengths)
    stood = None
    if state.sized is not None and stands_in(state) and made and not found.passes:
        stood = StandWork(at.seconds - state.sized, "stood")
        lengths = (*lengths, stood)
    lengths = lengths[-2 * pass_pace.MOST_LENGTHS :]
    new = tuple(counted_passes.counted_passes(found, facts, stood))
    counts = (*state.counts, *new)[-counted_passes.MOST :]
    after = replace(state, path=path, contact=contact, lengths=lengths, counts=counts)
    shown = _shown(state, found, factor(job), made)
    after = replace(after, ends=ends, perhaps=(), shown=shown)
    ignored = state.ignored + (state.doubt is not None and state.doubt.asked)
    doubt = counted_passes.doubt_of(new, made, lengths) if ignored < MOST_IGNORED else None
    after = replace(after, doubt=doubt, ignored=ignored)
    if contact.reached is not None and contact.reached - path.now > LEAST_BACK:
        after = replace(after, parked=path.now)
    return _timed(after, at, made)


def _shown(state: Infeed, found: Counted, by: float, made: int) -> tuple[float | None, ...]:
    """The newest infeeds by the gauge, after *made* passes before a size; none where it counted otherwise."""
    if made != len(found.passes):
        return ()
    new = [None if one.infeed is None else round(one.infeed * by, 6) for one in found.passes]
    return (*state.shown, *new)[-MOST_CYCLES:]


def recounted(state: Infeed) -> Pass | None:
    """A pass found before with the rests that belong to it, now that the pace is known better."""
    return counted_passes.recounted(state.counts, state.pace)


def counted_again(state: Infeed, again: Pass, *, found: bool) -> Infeed:
    """More was *found* of a pass, or said by a person: then nothing is asked of it any more."""
    counts = counted_passes.amended(state.counts, again) if found else state.counts
    if state.doubt is None or state.doubt.seq != again.of:
        return replace(state, counts=counts)
    return replace(state, counts=counts, doubt=None)


def answered(state: Infeed, *, yes: bool) -> Infeed:
    """A person has said whether as many passes were made as were found."""
    doubt = state.doubt
    if doubt is None:
        return state
    counts = counted_passes.answered(state.counts, doubt, yes=yes)
    work = next((one.works[-1] for one in counts if one.seq == doubt.seq), None)
    lengths = state.lengths
    if work is not None and (bare := StandWork(work.work, work.ending)) in lengths:
        place = len(lengths) - 1 - lengths[::-1].index(bare)
        lengths = (*lengths[:place], work, *lengths[place + 1 :])
    after = None if yes else replace(doubt, denied=True)
    return replace(state, counts=counts, lengths=lengths, doubt=after, ignored=0)


def _timed(state: Infeed, at: Instant, made: int) -> Infeed:
    """A size was taken after *made* new passes: how long one of them takes with its measuring."""
    cycles = state.cycles
    if made and state.sized is not None:
        one = state.pace.one if made > 1 and state.pace is not None else 0.0
        alone = at.seconds - state.sized - (made - 1) * one
        cycles = (*cycles, alone)[-MOST_CYCLES:] if alone > 0.0 else cycles
    return replace(state, cycles=cycles, sized=at.seconds)


def dressed(state: Infeed) -> Infeed:
    """The wheel was dressed: it cuts somewhere else from here on, as the next passes show."""
    if state.contact.reached is None or state.path is None:
        return state
    path = head_path.measured(state.path, state.path.at, state.path.worked)
    return replace(state, path=path, contact=Contact(expected=True), ends=())


def begun_anew(state: Infeed) -> Infeed:
    """Another stage of the part begins: where the wheel cuts shows with its first size."""
    return replace(state, contact=Contact(), sized=None, ends=())


def stands_in(state: Infeed) -> bool:
    """Whether the head has stood where the wheel cuts ever since the last size."""
    path, reached = state.path, state.contact.reached
    if path is None or reached is None:
        return False
    slack = pass_count.BEHIND * max(path.step, 1e-3)
    levels = [stand.level for stand in head_stands.stands_of(path)]
    return all(abs(level - reached) <= slack for level in levels)
