"""Runs of a part that turns under gauges: their readings, the marks that came by, and what is masked."""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from capture.events import (
    Event,
    Instant,
    Mask,
    Master,
    Pass,
    Reading,
    Reject,
    Round,
    RoundEnd,
    Stage,
    Station,
    TurnMark,
)
from capture.sheet.gauges.gauge import Gauge
from capture.state.append_log import Log

MOST_READINGS = 100_000
"""Of one run; later ones are not kept: half an hour at 50 Hz, many more turns than roundness needs."""
ENDS = (RoundEnd, Round, Station, Stage, Pass, Master)
"""Words with which a run is over."""


class RunReading(Struct, frozen=True, gc=False, array_like=True):
    """One reading of a run."""

    seq: int
    gauge: str
    at: float
    """Seconds since the recording began."""
    value: float
    """mm, growing with the part."""


class RunTurn(Struct, frozen=True, gc=False, array_like=True):
    """A word of how the part stands."""

    seq: int
    at: float
    angle: float | None
    """Degrees; None where the once-a-turn mark came by."""


class RoundRun(Struct, frozen=True):
    """One run under way or done."""

    seq: int
    at: Instant
    setup: Round
    stage: str | None
    pass_: int
    """Number of the pass it came after; 0 is before the first."""
    readings: Log[RunReading] = Log()
    turns: Log[RunTurn] = Log()
    masks: Log[tuple[int, float, float]] = Log()
    """Number of the word, start and stop of what is left out, degrees."""
    done: int | None = None
    """The word that ended it."""


class RoundRuns(Struct, frozen=True):
    """All runs of a session, in order."""

    runs: tuple[RoundRun, ...] = ()

    def under_way(self, aside: frozenset[int]) -> RoundRun | None:
        """The run that takes readings now."""
        run = next((one for one in reversed(self.runs) if one.seq not in aside), None)
        return None if run is None or (run.done is not None and run.done not in aside) else run

    def standing(self, aside: frozenset[int]) -> tuple[RoundRun, ...]:
        """The runs without what a person set aside."""
        return tuple(_without(run, aside) for run in self.runs if run.seq not in aside)


def step_word(
    state: RoundRuns, event: Event, aside: frozenset[int], stage: str | None, passes: int
) -> RoundRuns:
    """After a word."""
    run, fact = state.under_way(aside), event.fact
    if run is not None and isinstance(fact, ENDS):
        state = _with(state, replace(run, done=event.seq))
    if isinstance(fact, Round):
        return RoundRuns((*state.runs, RoundRun(event.seq, event.at, fact, stage, passes)))
    if run is None or isinstance(fact, Reject):
        return state
    if isinstance(fact, TurnMark):
        return _with(
            state, replace(run, turns=run.turns.added(RunTurn(event.seq, event.at.seconds, fact.angle)))
        )
    if isinstance(fact, Mask):
        return _with(state, replace(run, masks=run.masks.added((event.seq, fact.start, fact.stop))))
    return state


def takes(state: RoundRuns, gauge: Gauge, aside: frozenset[int]) -> bool:
    """Whether a reading of *gauge* is of the run under way, and no size."""
    run = state.under_way(aside)
    return run is not None and gauge.name in run.setup.gauges


def read(state: RoundRuns, event: Event, reading: Reading, gauge: Gauge, aside: frozenset[int]) -> RoundRuns:
    """After a reading of a gauge of the run under way."""
    run = state.under_way(aside)
    if run is None or len(run.readings) >= MOST_READINGS or reading.unit != "mm":
        return state
    value = -reading.value if gauge.sign == "-" else reading.value
    one = RunReading(event.seq, gauge.name, event.at.seconds, value)
    return _with(state, replace(run, readings=run.readings.added(one)))


def _with(state: RoundRuns, run: RoundRun) -> RoundRuns:
    return RoundRuns(tuple(run if one.seq == run.seq else one for one in state.runs))


def _without(run: RoundRun, aside: frozenset[int]) -> RoundRun:
    if not aside:
        return run
    return replace(
        run,
        readings=Log(one for one in run.readings if one.seq not in aside),
        turns=Log(one for one in run.turns if one.seq not in aside),
        masks=Log(one for one in run.masks if one[0] not in aside),
        done=None if run.done in aside else run.done,
    )
