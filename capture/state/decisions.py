"""The decisions that the program takes by itself.

`decide` looks at a state and names the facts that the program wants recorded next: a reading taken for
a station, a pass found, a flag raised. Live, the daemon records them and steps over them; a replay finds
them in the recording and never calls `decide`. So what was decided is shown as it was;
`capture.state.replay` can also drop those events and decide again.
"""

from __future__ import annotations

from collections.abc import Iterable

from msgspec.structs import replace

from capture.events import (
    AnyFact,
    Beat,
    Dress,
    Event,
    Flag,
    Instant,
    Part,
    Pass,
    Reading,
    Table,
    Taken,
)
from capture.sheet.job import Gauge
from capture.state import flags, session, stations, wild_readings
from capture.state.grinding import display_zero, infeed_doubts, infeed_gauge, table_indicator
from capture.state.grinding.found_passes import found_passes, is_grinding, misread, refused
from capture.state.session import PROGRAM, State
from capture.state.stations import HistoryEntry, Stations
from capture.state.stream import hand_gauge, power_doubts, power_gauge, ride_doubts, ride_gauge
from capture.state.stream.riding_state import SizeStep
from capture.state.sweep import auto_accept


def decide(state: State) -> tuple[AnyFact, ...]:
    """What the program wants recorded now; empty when it has nothing to add."""
    return found_and_taken(state) or (
        *flags.due(
            state.job,
            state.health,
            state.grind,
            state.raised,
            state.at,
            state.newest_gauge,
            state.stations,
            state.warmth,
        ),
        *ride_doubts.flags(state.rides, state.job, state.raised, state.at),
        *power_doubts.flags(state.powers, state.job, state.raised, state.at, state.stations),
    )


def found_and_taken(state: State) -> tuple[AnyFact, ...]:
    """What the program wants recorded of passes, the table and readings, without anything that it says."""
    taken = auto_accept.due(state.sweeps, state.stations, state.job, state.seq)
    taken = taken or hand_gauge.due(state.placings, state.stations, state.seq)
    taken = taken or _counted_again(state) or _ridden(state) or _powered(state)
    taken = taken or _denied(state) or display_zero.zeroed(state.infeed, state.job)
    taken = taken or (_turned(state) if state.turning.rests else ()) or _take(state)
    taken = taken or (infeed_doubts.count_unsure(state.infeed) if state.candidate is None else ())
    return wild_readings.with_doubts(taken, state.stations, state.grind, state.doubts, state.job)


def _counted_again(state: State) -> tuple[AnyFact, ...]:
    """A pass found before, put right at once after a size that made the pace better known."""
    newest = state.history.last
    if newest is None or newest.event.seq != state.seq or newest.event.source != PROGRAM:
        return ()
    counts = isinstance(newest.event.fact, Pass | Taken) and not _on_machine(state)
    again = infeed_gauge.recounted(state.infeed) if counts else None
    return () if again is None or state.candidate is not None else (again,)


def _denied(state: State) -> tuple[AnyFact, ...]:
    """The number of passes that a person's answer makes of those found."""
    doubt = state.infeed.doubt
    return (doubt.instead,) if doubt is not None and doubt.denied else ()


def _ridden(state: State) -> tuple[AnyFact, ...]:
    """The pass and the size that a riding gauge has found."""
    for name, one in state.rides.items():
        own = _own_since(state, one.due_seq) if one.stream.due is not None or one.stream.owed else None
        if own is not None and not any(isinstance(fact, Taken) for fact in own):
            event = Event(one.due_seq, state.at, name, Beat())
            noted = session.reported_passes(state)
            found = ride_gauge.due(
                state.rides, own, state.grind, state.stations, state.infeed, state.job, event, noted
            )
            made = one.stream.due
            if made is None:
                return found
            earlier = one.stream.steps[-2].at if len(one.stream.steps) > 1 else None
            return _beside_power(state, found, made, earlier)
    return ()


def _on_machine(state: State) -> bool:
    """Whether a gauge on the part or on the wheel's drive finds the passes while they are made."""
    by_power = power_gauge.leader(state.powers, state.at)
    return by_power is not None or ride_gauge.leader(state.rides) is not None


def _beside_power(
    state: State, found: tuple[AnyFact, ...], made: SizeStep, earlier: float | None
) -> tuple[AnyFact, ...]:
    """What a gauge on the part has *found* of a pass at *made*, where the wheel's power tells of it as well.

    A pass that the power has shown already is the same one, unless the part showed the one before, at
    *earlier*, in the same rise: between quick strokes the power of some drives never falls. A fall of the
    size while the wheel runs free is no pass, but for one that takes too little power to be seen, or for a
    rest that was due.
    """
    name = power_gauge.leader(state.powers, state.at)
    passes = [fact for fact in found if isinstance(fact, Pass)]
    if name is None or not passes:
        return found
    one = state.powers[name]
    number = power_gauge.number_at(one, made.at)
    if number is not None and earlier is not None and power_gauge.number_at(one, earlier) == number:
        return found
    if number is None and (one.weak or (made.rest and made.due) or power_gauge.cuts_at(one, made.at)):
        return found
    number = state.stations.passes if number is None else number
    return tuple(replace(fact, pass_=number) for fact in found if isinstance(fact, Taken))


def _powered(state: State) -> tuple[AnyFact, ...]:
    """The passes that the power of the wheel's drive has shown."""
    if state.stations.paused or not is_grinding(state.stations):
        return ()
    for name, one in state.powers.items():
        if not one.due or name != power_gauge.leader(state.powers, state.at):
            continue
        own = _own_since(state, one.due_seq)
        if own is not None and not any(isinstance(fact, Pass) for fact in own):
            found = power_gauge.due(one, state.infeed, state.job, session.reported_passes(state))
            said = [fact for fact in own if isinstance(fact, Dress)]
            return tuple(fact for fact in found if not (said and isinstance(fact, Dress)))
    return ()


def _turned(state: State) -> tuple[AnyFact, ...]:
    """The table was moved since that was last written down."""
    moved = table_indicator.moved(state.turning)
    return () if moved is None else (Table(moved),)


def _take(state: State) -> tuple[AnyFact, ...]:
    event = state.candidate
    if event is None or not isinstance(event.fact, Reading):
        return ()
    own = _own_since(state, event.seq)
    if own is None:
        return ()
    gauge = state.job.gauge(event.source)
    if gauge is None:
        return ()
    if replaced := hand_gauge.due_before(state.placings, gauge.name, state.stations):
        return replaced
    if gauge.part == "bore":
        return _accept(state, event, event.fact, gauge, "bore")
    # an indicator that sends at a key's press never rests, so the table is looked at here at the latest
    turned = _turned(state)
    known = (state.grind, state.stations, state.infeed, state.job, event)
    if not own and (asked := misread(*known)):
        return asked
    # a crash may have cut short what was found: the rest of it follows
    made = _before_size(state, event)
    due = made[sum(isinstance(fact, Pass) for fact in own) :]
    own_power = power_gauge.leader(state.powers, state.at) is not None
    beyond = own_power or any(isinstance(fact, Flag) and fact.what == infeed_doubts.BEYOND for fact in own)
    after = _after(state, due)
    taken = _accept(replace(state, stations=after), event, event.fact, gauge, "shaft")
    return (*turned, *due, *(() if beyond else refused(*known)), *taken)


def _before_size(state: State, event: Event) -> tuple[Pass, ...]:
    """The passes that must have been made before the size *event* and were not recorded when they were."""
    if ride_gauge.leader(state.rides):
        return ()
    entered = session.reported_passes(state)
    name = power_gauge.leader(state.powers, state.at)
    if name is None:
        return found_passes(state.grind, state.stations, state.infeed, state.job, event, entered)
    others = found_passes(state.grind, state.stations, state.infeed, state.job, event, ())
    number = sum(len(made.infeeds) for made in entered)
    return power_gauge.unseen(state.powers[name], others, number)


def _own_since(state: State, seq: int) -> tuple[AnyFact, ...] | None:
    """What the program itself said since event *seq*: a crash may have cut it short.

    None where anybody else spoke since, whom the program's next word would not rest on.
    """
    own: list[AnyFact] = []
    for due, noted in zip(range(state.seq, seq, -1), reversed(state.history), strict=False):
        if noted.event.seq != due or noted.event.source != PROGRAM:
            return None
        own.append(noted.event.fact)
    return tuple(own)


def _after(state: State, found: Iterable[Pass]) -> Stations:
    after = state.stations
    for one in found:
        noted = HistoryEntry(Event(state.seq, state.at, PROGRAM, one), {})
        after = stations.step(after, noted, state.job)
    return after


def _accept(state: State, event: Event, reading: Reading, gauge: Gauge, part: Part) -> tuple[Taken, ...]:
    if placed := hand_gauge.taken(state.placings, gauge, reading, state.stations, state.job):
        return placed
    here = state.stations.plan_of(part).here
    value, u = stations.size_of(state.stations, gauge, reading)
    number = state.stations.passes if part == "shaft" else 0
    return (Taken(part, here.z, here.angle, number, value, u, (event.seq,), gauge.name),)


def step_and_decide(state: State, event: Event) -> tuple[State, list[Event]]:
    """Step over *event*, then over all that the program decides on it.

    The program's events get the instant of the event and the numbers after its own.
    """
    return apply_decisions(session.step(state, event), event.at)


def apply_decisions(state: State, at: Instant) -> tuple[State, list[Event]]:
    """Step over all that the program decides on *state*, as events at *at* with the next numbers."""
    added: list[Event] = []
    while facts := decide(state):
        for fact in facts:
            own = Event(state.seq + 1, at, PROGRAM, fact)
            added.append(own)
            state = session.step(state, own)
    return state, added
