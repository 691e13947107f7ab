"""The infeed gauge on the saddle: where the wheel head has been, and what passes that shows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate
from statistics import median

from msgspec import Struct
from msgspec.structs import replace

from capture.events import MOST_PASSES, Instant, Pass, Reading
from capture.metrology.grinding.stream import head_path, head_stands, pass_count, pass_pace
from capture.metrology.grinding.stream.head_path import HeadPath
from capture.metrology.grinding.stream.pass_count import Contact, Counted, Cycle
from capture.metrology.grinding.stream.pass_pace import Pace, StandWork
from capture.sheet.job import Gauge, Job
from capture.state.stations import step_of

LEAST_BACK = 0.1
"""mm behind where the wheel cuts from which on the head is wound back (common practice, no source)."""
LEAST_FED = 0.0008
"""mm on diameter: no dial is graduated finer than in 0.001 (common practice, no source)."""
ENOUGH_CYCLES = 3
"""Cycles after which those before are counted again."""
SURELY = 0.9
"""How likely a number of passes must be to put right one that was found before."""
MOST_COUNTED = 16
"""Passes found that may be counted again."""
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


class CountedPass(Struct, frozen=True):
    """A pass that was found, with those of the same fact, to be counted again when the pace is known."""

    seq: int
    found: Pass
    works: tuple[StandWork, ...]
    number: int
    """Passes found in these."""


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
    parked: float | None = None
    """Where the head was wound back to when the newest size was taken."""

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

    *facts* are the passes that were found before it, each with its ``seq``, where nobody told any.
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
    path = head_path.measured(path, at.seconds, worked)
    lengths = (*state.lengths, *found.lengths)
    if state.sized is not None and stands_in(state) and made and not found.passes:
        lengths = (*lengths, StandWork(at.seconds - state.sized, "stood"))
    lengths = lengths[-2 * pass_pace.MOST_LENGTHS :]
    counts = (*state.counts, *_counted_passes(found, facts))[-MOST_COUNTED:]
    after = replace(state, path=path, contact=contact, lengths=lengths, counts=counts)
    if contact.reached is not None and contact.reached - path.now > LEAST_BACK:
        after = replace(after, parked=path.now)
    return _timed(after, at, made)


def _counted_passes(found: Counted, facts: Sequence[tuple[int, Pass]]) -> Iterator[CountedPass]:
    """Each of *facts* with the stands that its passes were made in, where they are just its own."""
    works = [work for work in found.lengths if work.ending != "idle"]
    ends = list(accumulate(found.numbers))
    if not ends or ends[-1] != sum(len(fact.infeeds) for _, fact in facts):
        return
    begin = 0
    for seq, fact in facts:
        end = begin + len(fact.infeeds)
        own = [n for n, stop in enumerate(ends) if begin < stop <= end and found.numbers[n]]
        if own and sum(found.numbers[n] for n in own) == end - begin:
            yield CountedPass(seq, fact, tuple(works[n] for n in own), end - begin)
        begin = end


def recounted(state: Infeed) -> Pass | None:
    """A pass found before with the rests that belong to it, now that the pace is known better."""
    pace = state.pace
    if pace is None or len(state.counts) < ENOUGH_CYCLES:
        return None
    for one in state.counts:
        held = [pass_pace.passes_in(work, pace) for work in one.works]
        more = sum(number for number, _ in held) - one.number
        if not more or min(sure for _, sure in held) < SURELY:
            continue
        found = one.found
        times, rests = (
            (found.times + more, found.rests) if found.infeed == 0.0 else (found.times, found.rests + more)
        )
        # what is fed before another feed cannot be a rest after it
        alone = all(number == 1 for number, _ in held[:-1])
        if alone and 1 <= times <= MOST_PASSES and 0 <= rests <= MOST_PASSES:
            return Pass(found.infeed, times=times, rests=rests, of=one.seq)
    return None


def counted_again(state: Infeed, again: Pass) -> Infeed:
    """The program has put a pass right that it had found."""
    counts = tuple(
        replace(one, found=replace(again, of=None), number=one.number + _more(one, again))
        if one.seq == again.of
        else one
        for one in state.counts
    )
    return replace(state, counts=counts)


def _more(one: CountedPass, again: Pass) -> int:
    return len(again.infeeds) - len(one.found.infeeds)


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
    return replace(state, path=path, contact=Contact(expected=True))


def begun_anew(state: Infeed) -> Infeed:
    """Another stage of the part begins: where the wheel cuts shows with its first size."""
    return replace(state, contact=Contact(), sized=None)


def stands_in(state: Infeed) -> bool:
    """Whether the head has stood where the wheel cuts ever since the last size."""
    path, reached = state.path, state.contact.reached
    if path is None or reached is None:
        return False
    slack = pass_count.BEHIND * max(path.step, 1e-3)
    levels = [stand.level for stand in head_stands.stands_of(path)]
    return all(abs(level - reached) <= slack for level in levels)
