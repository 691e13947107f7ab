"""The passes of the wheel: what each took off, what is still to come, and what size it will be when cold."""

from __future__ import annotations

from functools import cached_property

from msgspec import Struct
from msgspec.structs import replace

from capture.coach.advice import Coaching, Ground, coaching_of, outlook_of
from capture.coach.table_correction import Turn
from capture.events import Coolant, Dress, Event, Instant, Pass, Stage, Table, Taken
from capture.metrology.grinding.judgement import GrindLimits, Outlook, SizeReading, Stroke
from capture.metrology.grinding.stream.ride_figures import ColdReading, RideFigures, by_ride
from capture.metrology.grinding.wheel.wheel_and_work import Material
from capture.sheet.job import Job
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.append_log import Log
from capture.state.cold_size import Cold, at_20
from capture.state.stations import HistoryEntry, StationReading, Stations
from capture.state.steps.cut_material import material_cut
from capture.state.strip_target import before_plating, plating_of
from capture.state.target import target

SETTING = 3600.0
"""Seconds without a pass within which a part that is finished after roughing stays as it was set, unless a
word says otherwise (common practice, no source)."""
AFTER_PLATING = (None, "rough", "finish")
"""Stages of one setting of the part: None is a grind whose stage nobody has entered."""
MOST_REPLICATES = 10
"""Readings of one place after one pass that the model is fitted to; more are kept, and add nothing."""


class Evidence:
    """What one pass is judged by, and the judgement, worked out when somebody asks for it.

    A judgement takes a thousand times as long as any other step. A replay asks for few of
    them; two states are equal when they rest on the same evidence.
    """

    def __init__(
        self,
        ground: Ground,
        limits: GrindLimits,
        aim: float | None,
        job: Job,
        ridden: tuple[RideFigures, ColdReading] | None = None,
    ) -> None:
        self._inputs = (ground, limits, aim, job)
        self._ridden = ridden

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Evidence):
            return False
        return self._inputs == other._inputs and self._ridden == other._ridden

    def __hash__(self) -> int:
        return hash(self._inputs[:3])

    @property
    def on_part(self) -> bool:
        """Whether the figures are those of a gauge that rides on the part."""
        return self._ridden is not None

    @cached_property
    def outlook(self) -> Outlook:
        """The outlook in whole sizes: the model works in what differs from the first one."""
        ground, limits, _, job = self._inputs
        found = outlook_of(ground, limits, job)
        if self._ridden is not None:
            band = limits.band
            whole = None if band is None else (band[0] + ground.reference, band[1] + ground.reference)
            return by_ride(found, *self._ridden, replace(limits, band=whole))
        return replace(
            found,
            size=None if found.size is None else found.size + ground.reference,
            predicted=None if found.predicted is None else found.predicted + ground.reference,
        )

    @cached_property
    def coaching(self) -> Coaching | None:
        """The advice; None where the sheet tells no size to end at."""
        ground, limits, aim, job = self._inputs
        ridden = None if self._ridden is None else _less(self.outlook, ground.reference)
        return coaching_of(ground, limits, aim, job, ridden)


def _less(found: Outlook, reference: float) -> Outlook:
    """*found* in the terms of sizes less *reference*."""
    return replace(
        found,
        size=None if found.size is None else found.size - reference,
        predicted=None if found.predicted is None else found.predicted - reference,
    )


class PassRow(Struct, frozen=True):
    """One pass, and what was known after the newest reading of it."""

    number: int
    infeed: float | None
    """mm on diameter."""
    at: Instant
    seq: int
    found: bool
    """The program found it; nobody entered it."""
    named: bool = False
    """A person has said more of it since."""
    growth: float = 0.0
    """How much larger than at 20 °C the part was, mm."""
    assumed: bool = True
    evidence: Evidence | None = None
    size_at: Instant | None = None

    @property
    def outlook(self) -> Outlook | None:
        """What is known after the newest reading of this pass; None before the first."""
        return None if self.evidence is None else self.evidence.outlook

    @property
    def coaching(self) -> Coaching | None:
        """The advice after the newest reading of this pass."""
        return None if self.evidence is None else self.evidence.coaching


class Grind(Struct, frozen=True):
    """The passes so far; the model knows those of the stage in hand, or of one setting where it goes on."""

    rows: Log[PassRow] = Log()
    """Passes before the newest."""
    row: PassRow | None = None
    """The newest pass."""
    stage: str | None = None
    first: int = 0
    """Passes before the stage in hand, or before the first of one setting of the part."""
    reference: float = 0.0
    """The first size of the stage: the model knows only what differs from it."""
    strokes: tuple[Stroke, ...] = ()
    sizes: tuple[SizeReading, ...] = ()
    places: tuple[PlannedPlace, ...] = ()
    turns: tuple[Turn, ...] = ()
    """Movements of the table since the wheel was last set or dressed."""
    dressed: bool = False
    """The wheel was dressed in this stage."""
    coolant: bool | None = None
    """Whether coolant runs; None is not known."""
    cut: float = 0.0
    """mm on diameter fed in this stage before the wheel was last dressed: the part may hold its heat."""
    material: Material | None = None
    """What is cut before plating; None: chromium, or a part that is not plated."""
    evidence: Evidence | None = None
    """What the newest advice rests on: of the newest pass, or of the part before the first."""

    @property
    def coaching(self) -> Coaching | None:
        """The newest advice."""
        return None if self.evidence is None else self.evidence.coaching

    @property
    def passes(self) -> list[PassRow]:
        """Every pass in order."""
        return [*self.rows, *([self.row] if self.row is not None else [])]


def step(state: Grind, stations: Stations, entry: HistoryEntry, job: Job) -> Grind:
    """After one event of the history; *stations* already knows it."""
    event = entry.event
    match event.fact:
        case Stage() if _same_setting(state, stations.stage, event):
            return replace(state, stage=stations.stage)
        case Stage():
            rows = state.rows.added(state.row) if state.row is not None else state.rows
            material = material_cut(job, stations.stage)[0] if _is_base(job, stations.stage) else None
            return Grind(
                rows=rows,
                stage=stations.stage,
                first=stations.passes,
                coolant=state.coolant,
                material=material,
            )
        case Pass() as made:
            return _passed(state, made, event, stations.passes)
        case Taken(part="shaft"):
            return _sized(state, stations.taken[-1], stations, job)
        case Table(moved=moved):
            turn = Turn(len(state.strokes), _toward_wheel(moved, job), found=event.source != "person")
            return replace(state, turns=_turned(state.turns, turn))
        case Dress():
            return _dressed(state, stations)
        case Coolant(on=on):
            return replace(state, coolant=on)
        case _:
            return state


def _same_setting(state: Grind, stage: str | None, event: Event) -> bool:
    """Whether a new stage leaves part, wheel and table as they were: the spring still holds what it held."""
    if state.row is None or not state.strokes or stage is None:
        return False
    soon = event.at.seconds - state.row.at.seconds < SETTING
    return soon and state.stage in AFTER_PLATING and stage in AFTER_PLATING


def _passed(state: Grind, made: Pass, event: Event, newest: int) -> Grind:
    """After all the passes of one fact, of which the last has the number *newest*."""
    first = newest - len(made.infeeds) + 1
    for number, fed in enumerate(made.infeeds, first):
        rows = state.rows.added(state.row) if state.row is not None else state.rows
        row = PassRow(
            number, fed, event.at, event.seq, found=event.source != "person", named=made.of is not None
        )
        strokes = (*state.strokes, Stroke(fed, event.at.seconds))
        state = replace(state, rows=rows, row=row, strokes=strokes)
    return state


def _is_base(job: Job, stage: str | None) -> bool:
    return plating_of(job) is not None and before_plating(stage)


def _turned(turns: tuple[Turn, ...], turn: Turn) -> tuple[Turn, ...]:
    """A word about what the indicator has just shown is the same movement, and not one more."""
    if not turn.found and turns and turns[-1].found and turns[-1].after == turn.after:
        return (*turns[:-1], turn)
    return (*turns, turn)


def _toward_wheel(moved: float | None, job: Job) -> float | None:
    swivel = job.grinder.swivel if job.grinder is not None else None
    if moved is None or swivel is None:
        return None
    return moved if swivel.toward_wheel == "+" else -moved


def _dressed(state: Grind, stations: Stations) -> Grind:
    """Where the wheel stands, and how it bites, is not known any more; the sizes of the part still are."""
    newest = len(state.strokes)
    sizes = tuple(replace(size, after=0) for size in state.sizes if size.after == newest)
    cut = state.cut + sum(abs(stroke.infeed or 0.0) for stroke in state.strokes)
    return replace(state, first=stations.passes, strokes=(), sizes=sizes, turns=(), dressed=True, cut=cut)


def _sized(state: Grind, reading: StationReading, stations: Stations, job: Job) -> Grind:
    after = reading.pass_ - state.first
    if not 0 <= after <= len(state.strokes):
        return state
    places = state.places if reading.place in state.places else (*state.places, reading.place)
    place = places.index(reading.place)
    newest = state.sizes[-MOST_REPLICATES * len(places) :]
    if sum(size.after == after and size.place == place for size in newest) >= MOST_REPLICATES:
        return state
    cold = at_20(reading, job)
    reference = state.reference if state.sizes else cold.value
    size = SizeReading(
        after=after,
        place=place,
        value=cold.value - reference,
        u=reading.scatter,
        resolution=reading.resolution,
        growth=None if cold.assumed else cold.growth,
        u_growth=cold.u_growth,
        t=reading.at.seconds,
    )
    state = replace(state, reference=reference, places=places, sizes=(*state.sizes, size))
    wanted = target(job, stations)
    aim = None if wanted is None else wanted.aim - reference
    ridden = _ridden(state, reading, cold)
    evidence = Evidence(ground_of(state), limits_of(job, stations, reference), aim, job, ridden)
    state = replace(state, evidence=evidence)
    if state.row is None or not state.strokes:
        return state
    row = replace(state.row, evidence=evidence, growth=cold.growth, assumed=cold.assumed, size_at=reading.at)
    return replace(state, row=row)


def _ridden(state: Grind, reading: StationReading, cold: Cold) -> tuple[RideFigures, ColdReading] | None:
    """What a gauge on the part says of the newest pass, where no person entered its infeed."""
    row = state.row
    if reading.ride is None or row is None or not row.found or row.named:
        return None
    return reading.ride, ColdReading(cold.value, cold.u, cold.growth, known=not cold.assumed)


def ground_of(state: Grind) -> Ground:
    """What the newest advice rests on."""
    return Ground(
        strokes=state.strokes,
        sizes=state.sizes,
        places=state.places,
        turns=state.turns,
        reference=state.reference,
        touched=state.first == 0 or state.dressed,
        dressed=state.dressed,
        coolant=state.coolant,
        number=state.first,
        cut=state.cut,
        material=state.material,
    )


def limits_of(job: Job, stations: Stations, reference: float) -> GrindLimits:
    """Where a grind counts as done, the band as deviations from *reference*."""
    settings = job.settings
    wanted = target(job, stations)
    band = None if wanted is None else wanted.band
    return GrindLimits(
        removal=settings.spark_out.limit,
        confidence=settings.spark_out.confidence,
        warm=settings.warm.limit,
        band=None if band is None else (band[0] - reference, band[1] - reference),
    )
