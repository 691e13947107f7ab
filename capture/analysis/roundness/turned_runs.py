"""What the runs of a part that turned under gauges showed: the turning, and the harmonics of each gauge."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi, sqrt
from typing import Literal, NamedTuple, TypeAlias, cast, get_args

import numpy as np
from cachetools import LRUCache
from msgspec import Struct

from capture.metrology.form.contacts import LOBES, Contacts, RoundnessSetup, touching
from capture.metrology.form.separation import RunHarmonics
from capture.metrology.form.surface import masked_sectors
from capture.metrology.form.turn_columns import TurnReadings
from capture.metrology.form.turn_search import FoundTurn, NoTurn, find_turn
from capture.metrology.form.turned_fit import TurnedFit
from capture.metrology.form.typed_angles import at_angles
from capture.metrology.gauges.single_reading import scatter_of, with_rounding
from capture.metrology.message import Message, message
from capture.metrology.uncertainty.propagation import Array
from capture.sheet.job import Job
from capture.state.round_runs import RoundRun

AngleFrom: TypeAlias = Literal["mark", "typed", "speed"]
"""How the angle was known: a once-a-turn mark, angles that a person gave, the speed found in the readings."""

HAND = 0.05
"""Seconds, standard uncertainty of a mark that a hand or a foot gives (common practice, no source)."""
RESTS = 1.0
"""Seconds after an angle was given within which readings are of it, where the gauge sends all the time."""
DRAWN = 2000
"""Readings of one run in a picture."""
COUNTS = 0.05
"""Weight of a reading up to which it counts for nothing."""
RESOLVED = 0.75
"""Share of what is not known of a lobe beforehand that the readings must take off: half of its width."""
UNEVEN = 0.004
"""Unevenness of the speed from which lobes faster than half the gauge's rate are not distinguished without
marks."""
U_TYPED = 1.0
"""Degrees, standard uncertainty of an angle to which a part is turned by hand (common practice, no
source)."""


class DrawnReading(NamedTuple):
    """One reading of a run as a picture needs it."""

    turn: float
    """Turns since the first mark, or since the first reading."""
    value: float
    """Less the middle of the run, mm."""
    counts: bool
    """Not in a keyway, on a chip, or otherwise off the surface."""


class GaugeRun(Struct, frozen=True):
    """One gauge in one run, read to its end."""

    gauge: str
    setup: RoundnessSetup
    angle_from: AngleFrom
    readings: int
    left_out: int
    """Readings that count for nothing: in a keyway, on a chip, before the part turned."""
    turns: float | None
    rpm: float | None
    u_rpm: float | None
    uneven: float | None
    """Standard deviation of the speed as a share of it."""
    per_turn: float | None
    """Readings a turn."""
    spread: float
    """Of one reading about the lobes, mm."""
    full: float
    """Full indicator movement by the lobes from 1 up, chips and keyways left out, mm."""
    masks: tuple[tuple[float, float], ...]
    harmonics: RunHarmonics
    said: tuple[Message, ...] = ()
    drawn: tuple[DrawnReading, ...] = ()
    """Readings over the turns, at most `DRAWN` of them, evenly; empty for angles that a person gave."""


class FailedRun(Struct, frozen=True):
    """A gauge in a run that showed nothing, and why."""

    gauge: str
    said: Message


_READ: LRUCache[tuple[object, ...], tuple[GaugeRun | FailedRun, ...]] = LRUCache(64)
"""A run is worked out once, however often it is asked for: it takes a second or two, and depends on nothing
else."""


def read_run(run: RoundRun, job: Job) -> tuple[GaugeRun | FailedRun, ...]:
    """What each gauge of *run* showed."""
    key = (
        run.at,
        run.seq,
        run.setup,
        len(run.readings),
        run.readings.last,
        tuple(run.turns),
        tuple(run.masks),
        job.settings.form.averages,
        tuple((g.name, g.resolution, g.repeatability) for g in job.gauges),
    )
    known = _READ.get(key)
    if known is None:
        known = _READ[key] = _read(run, job)
    return known


def _read(run: RoundRun, job: Job) -> tuple[GaugeRun | FailedRun, ...]:
    found: list[GaugeRun | FailedRun] = []
    for number, gauge in enumerate(run.setup.gauges):
        try:
            found.append(_gauge(run, number, job))
        except NoTurn as error:
            found.append(FailedRun(gauge, message("round.none", gauge=gauge, why=str(error))))
        except ValueError as error:
            found.append(FailedRun(gauge, message("round.none", gauge=gauge, why=str(error))))
    return tuple(found)


def setup_of(run: RoundRun, number: int) -> RoundnessSetup:
    """How the gauge of that number stood in a run."""
    fact = run.setup
    if fact.contacts not in get_args(Contacts):
        raise ValueError(f"the recording names a set-up {fact.contacts!r} that this version does not know")
    at = fact.at[number] if number < len(fact.at) else 0.0
    return RoundnessSetup(cast("Contacts", fact.contacts), fact.v, fact.offset, at, fact.turned)


def _gauge(run: RoundRun, number: int, job: Job) -> GaugeRun:
    name, setup = run.setup.gauges[number], setup_of(run, number)
    gauge = job.gauge(name)
    resolution = gauge.resolution if gauge is not None else 0.0
    times = np.array([one.at for one in run.readings if one.gauge == name])
    values = np.array([one.value for one in run.readings if one.gauge == name])
    typed = [one for one in run.turns if one.angle is not None]
    if len(typed) >= 3:
        repeatability = gauge.repeatability if gauge is not None else None
        u = with_rounding(scatter_of(repeatability, resolution), resolution)
        return _at_rest(run, name, setup, times, values, max(u, 1e-5))
    marks = np.array([one.at for one in run.turns if one.angle is None])
    order = np.argsort(times, kind="stable")
    given = TurnReadings(times[order], values[order], marks, HAND)
    speed = None if run.setup.rpm is None else run.setup.rpm / 60
    found = find_turn(
        given, speed=speed, resolution=resolution, masks=_masks(run, setup) if len(marks) >= 3 else ()
    )
    return _turned(run, name, setup, given, found, job.settings.form.averages)


def _masks(run: RoundRun, setup: RoundnessSetup) -> list[tuple[float, float]]:
    """From where to where a reading is spoilt, radians of the part under the gauge, at each contact."""
    shift = setup.at + setup.turned
    return [
        (pi / 180 * (start - shift - place), pi / 180 * (stop - shift - place))
        for _, start, stop in run.masks
        for place in touching(setup)
    ]


def _turned(
    run: RoundRun, name: str, setup: RoundnessSetup, given: TurnReadings, found: FoundTurn, averages: float
) -> GaugeRun:
    fit = found.fit
    rate = float(np.mean(fit.speed))
    turns = float(fit.theta[-1] - fit.theta[0]) / (2 * pi)
    per_turn = len(fit.theta) / max(turns, 1e-9)
    marked = len(given.marks) >= 3
    if not marked:
        _check_one_speed(rate, found.also)
    shown, u = _shown(fit.coefficients, fit.covariance, fit.order)
    harmonics = RunHarmonics(
        setup=setup,
        shown={n: size for n, size in shown.items() if fit.resolved[n - 1] > RESOLVED},
        u=u,
        phased=marked,
        group=run.seq,
        u_angle=2 * pi * rate * HAND / sqrt(len(given.marks)) if marked else 0.0,
        unsure=() if marked else _indistinct(fit, per_turn),
        response={n: float(np.sinc(n * rate * averages)) for n in LOBES},
    )
    return GaugeRun(
        gauge=name,
        setup=setup,
        angle_from="mark" if marked else "speed",
        readings=len(given.times),
        left_out=len(given.times) - int((fit.weights > COUNTS).sum()),
        turns=turns,
        rpm=60 * rate,
        u_rpm=60 * rate * fit.u_period,
        uneven=fit.uneven,
        per_turn=per_turn,
        spread=fit.spread,
        full=_full(shown),
        masks=masked_sectors(fit),
        harmonics=harmonics,
        said=_of_rate(per_turn, averages),
        drawn=_drawn(given.values[found.used], fit),
    )


def _indistinct(fit: TurnedFit, per_turn: float) -> tuple[int, ...]:
    """Lobes that *per_turn* readings a turn do not distinguish, without marks and at an uneven speed."""
    return tuple(n for n in LOBES if n > per_turn / 2) if fit.uneven > UNEVEN else ()


def _check_one_speed(rate: float, also: Sequence[float]) -> None:
    """Raise where other speeds, turns a second, fit as well as *rate*."""
    if also:
        others = ", ".join(f"{60 * one:.3g}" for one in also)
        raise NoTurn(
            f"{60 * rate:.3g} turns a minute fit as well as {others}: say about how fast it turns (rpm=…), "
            "or give the mark of each turn"
        )


def _drawn(values: Array, fit: TurnedFit) -> tuple[DrawnReading, ...]:
    every = -(-len(values) // DRAWN)
    turns = (fit.theta / (2 * pi))[::every]
    shown = (values - np.median(values[fit.weights > 0]))[::every]
    counts = (fit.weights > COUNTS)[::every]
    return tuple(map(DrawnReading, turns.tolist(), shown.tolist(), counts.tolist()))


def _full(shown: dict[int, complex]) -> float:
    """Full indicator movement in a turn, by the harmonics up to the last lobe count that is looked for."""
    theta = np.radians(np.arange(360.0))
    wave = sum((shown[n] * np.exp(1j * n * theta) for n in shown if n <= LOBES[-1]), np.zeros(360, complex))
    return float(np.ptp(wave.real))


def _of_rate(per_turn: float, averages: float) -> tuple[Message, ...]:
    """Lobes that a gauge which averages between readings shows too small: sinc(n / per turn) < 0.9."""
    first = int(0.25 * per_turn) + 1
    if averages > 0 or first > LOBES[-1]:
        return ()
    return (message("round.averaging", first=float(max(first, 2))),)


def _shown(coefficients: Array, covariance: Array, order: int) -> tuple[dict[int, complex], dict[int, float]]:
    spread = np.diag(covariance)
    shown = {n: complex(coefficients[2 * n - 2], -coefficients[2 * n - 1]) for n in range(1, order + 1)}
    u = {n: sqrt(max(float(spread[2 * n - 2] + spread[2 * n - 1]) / 2, 0.0)) for n in shown}
    return shown, u


def _at_rest(
    run: RoundRun, name: str, setup: RoundnessSetup, times: Array, values: Array, u: float
) -> GaugeRun:
    """A part that was turned by hand and rested at the angles that were entered."""
    marks = sorted((one for one in run.turns if one.angle is not None), key=lambda one: one.at)
    angles, means, used = [], [], 0
    for mark, after in zip(marks, [*marks[1:], None], strict=True):
        end = np.inf if after is None else after.at
        here = values[(times >= mark.at) & (times < end)]
        early = values[(times >= mark.at) & (times < min(end, mark.at + RESTS))]
        chosen = early if len(early) else here[:1]
        if len(chosen) and mark.angle is not None and not _left_out(mark.angle, run, setup):
            angles.append(mark.angle)
            means.append(float(np.median(chosen)))
            used += len(chosen)
    fit = at_angles(angles, means, u=u)
    shown, u_shown = _shown(fit.coefficients, fit.covariance, fit.order)
    return GaugeRun(
        gauge=name,
        setup=setup,
        angle_from="typed",
        readings=len(times),
        left_out=len(times) - used,
        turns=None,
        rpm=None,
        u_rpm=None,
        uneven=None,
        per_turn=float(len({round(angle % 360, 2) for angle in angles})),
        spread=fit.spread,
        full=_full(shown),
        masks=tuple((start, stop) for _, start, stop in run.masks),
        harmonics=RunHarmonics(
            setup=setup, shown=shown, u=u_shown, phased=True, group=run.seq, u_angle=pi / 180 * U_TYPED
        ),
        said=(message("round.typed", order=float(fit.order), angles=float(len(angles))),),
    )


def _left_out(angle: float, run: RoundRun, setup: RoundnessSetup) -> bool:
    return any(
        ((angle + setup.at + setup.turned + place - start) % 360) <= (stop - start) % 360
        for _, start, stop in run.masks
        for place in touching(setup)
    )
