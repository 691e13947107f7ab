"""Errors that all readings of a part have in common: of master, gauge, thermometer and expansion.

Each has a key; where both parts have an error of the same key (one master, one thermometer), only
the difference of its two effects is in the clearance.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import UTC, datetime
from math import hypot, sqrt

from msgspec import Struct
from msgspec.structs import replace

from capture.analysis.calibration_certificate import overdue
from capture.analysis.fit.masterings import CorrectedReading
from capture.events import Part
from capture.metrology.fit.clearance import Shared
from capture.metrology.heat.temperature import REFERENCE
from capture.metrology.message import Sentence, message, thickness
from capture.metrology.uncertainty.budget import Contribution, Distribution
from capture.sheet.job import Gauge, Job
from capture.state.cold_size import Cold, expansion_of, gauge_expansion
from capture.state.stations import StationReading

ONE_MASTER = "the one master"
"""Key of a master that both gauges were set on."""
ONE_THERMOMETER = "the one thermometer, wherever it was held"

Counted = tuple[StationReading, CorrectedReading, Cold]


class SystematicError(Struct, frozen=True):
    """One error in common."""

    key: str
    """Two errors of one key are the same error."""
    name: str
    spread: float
    """Standard uncertainty, or half-width of a rectangle, in the unit of the cause."""
    effect: float
    """Change of the part's size at 20 °C for one unit of it, mm."""
    distribution: Distribution
    source: str
    unit: str = "mm"
    """Of the spread."""
    of_master: bool = False
    """It is the error of a master's size."""

    @property
    def u(self) -> float:
        """What it adds to the size's standard uncertainty, mm."""
        return abs(self.effect) * Contribution(self.name, 0.0, self.spread, self.distribution).u


class SharedError(Struct, frozen=True):
    """An error as it acts on the clearance, with where it is from."""

    shared: Shared
    unit: str
    source: str


class SystematicErrors(Struct, frozen=True):
    """The errors in common, and what is not known."""

    commons: tuple[SystematicError, ...]
    conditions: tuple[Sentence, ...]
    blocks: tuple[Sentence, ...]

    @property
    def u(self) -> float:
        """Standard uncertainty of a size from all of them, mm; one key counts once, with its sum."""
        by_key: dict[str, list[SystematicError]] = defaultdict(list)
        for each in self.commons:
            by_key[each.key].append(each)
        return hypot(*(abs(sum(each.effect for each in same)) * _unit_u(same[0]) for same in by_key.values()))


def _unit_u(common: SystematicError) -> float:
    return Contribution(common.name, 0.0, common.spread, common.distribution).u


def merged_gauges(job: Job, recorded: Job) -> Job:
    """*job* with those gauges of the recording that it does not have."""
    names = {gauge.name for gauge in job.gauges}
    return replace(job, gauges=(*job.gauges, *(g for g in recorded.gauges if g.name not in names)))


def joined(
    bore: Sequence[SystematicError], shaft: Sequence[SystematicError], *, one_master: bool = False
) -> tuple[SharedError, ...]:
    """The errors of both parts, those of one key joined.

    Args:
        bore: Of the bore.
        shaft: Of the shaft.
        one_master: Both gauges were set on the same master, so that its error is the same in both.
    """
    found: dict[str, SharedError] = {}
    for is_bore, each in [*((True, one) for one in bore), *((False, one) for one in shaft)]:
        key = ONE_MASTER if one_master and each.of_master else each.key
        found[key] = _with(found.get(key), each, is_bore=is_bore)
    return tuple(found.values())


def _with(before: SharedError | None, common: SystematicError, *, is_bore: bool) -> SharedError:
    on_bore, on_shaft = (common.effect, 0.0) if is_bore else (0.0, common.effect)
    if before is None:
        shared = Shared(common.name, common.spread, on_bore, on_shaft, common.distribution)
        return SharedError(shared, common.unit, common.source)
    first = before.shared
    shared = Shared(
        ONE_MASTER if common.of_master else ONE_THERMOMETER,
        max(first.spread, common.spread),
        first.on_bore + on_bore,
        first.on_shaft + on_shaft,
        common.distribution,
    )
    return SharedError(shared, before.unit, before.source)


def systematic_errors_of(part: Part, counted: Sequence[Counted], job: Job) -> SystematicErrors:
    """The errors in common of the readings of one part."""
    found = [_gauge_error(part, name, same, job) for name, same in _by_gauge(counted).items()]
    found.append(_heat(part, counted, job))
    return SystematicErrors(
        commons=tuple(each for one in found for each in one.commons),
        conditions=tuple(dict.fromkeys(each for one in found for each in one.conditions)),
        blocks=tuple(dict.fromkeys(each for one in found for each in one.blocks)),
    )


def _by_gauge(counted: Sequence[Counted]) -> dict[str, list[Counted]]:
    groups: dict[str, list[Counted]] = defaultdict(list)
    for each in counted:
        groups[each[0].gauge].append(each)
    return dict(groups)


def _gauge_error(part: Part, name: str, counted: Sequence[Counted], job: Job) -> SystematicErrors:
    masterings = [mastered for _, mastered, _ in counted]
    gauge = job.gauge(name)
    if not any(each.on_master for each in masterings):
        found = _by_certificate(part, name, gauge)
        late = _overdue(name, None if gauge is None else gauge.due, counted)
        return replace(found, blocks=(*found.blocks, *late))
    commons = _of_masterings(name, gauge, masterings)
    conditions: list[Sentence] = [f"{name}: {each.note}" for each in masterings if each.note]
    if not any(each.u_master for each in masterings):
        conditions.append(f"{name}: how well its master is known was not entered (mark: master GAUGE SIZE U)")
    conditions += _overdue(name, None if gauge is None else gauge.due, counted)
    blocks: list[Sentence] = [each.exceeded for each in masterings if each.exceeded is not None]
    blocks += _overdue(f"the master of {name}", None if gauge is None else gauge.master_due, counted)
    if any(each.far for each in masterings):
        farthest = thickness(job.settings.masters.farthest)
        remark = message("master.far", part=part, gauge=name, farthest=farthest)
        certificate = _by_certificate(part, name, gauge)
        commons += certificate.commons
        conditions.append(remark)
        blocks += certificate.blocks
    return SystematicErrors(tuple(commons), tuple(conditions), tuple(blocks))


def _of_masterings(
    name: str, gauge: Gauge | None, masterings: Sequence[CorrectedReading]
) -> list[SystematicError]:
    """What all readings of a gauge share that was set on its master: size, zero and drift."""
    return [
        SystematicError(
            f"master of {name}",
            f"{name}: size of its master",
            max(e.u_master for e in masterings),
            1.0,
            "normal",
            _master_source(gauge, masterings),
            of_master=True,
        ),
        SystematicError(
            f"zero of {name}",
            f"{name}: setting on its master",
            max(e.u_zero for e in masterings),
            1.0,
            "normal",
            "scatter of its readings on the master",
        ),
        SystematicError(
            f"drift of {name}",
            f"{name}: drift between checks",
            sqrt(3) * max(e.u_drift for e in masterings),
            1.0,
            "rectangular",
            "checks on the master",
        ),
    ]


def _by_certificate(part: Part, name: str, gauge: Gauge | None) -> SystematicErrors:
    if gauge is None or gauge.limits is None:
        block = (
            f"{part}: {name or 'the gauge'} was not on a master and the sheet has no limits for it: "
            "how wrong it is isn't known; say master, or enter limits from its certificate"
        )
        return SystematicErrors((), (), (block,))
    number = f"certificate {gauge.certificate}" if gauge.certificate else "the job sheet"
    common = SystematicError(
        f"certificate of {name}",
        f"{name}: largest error by its certificate",
        gauge.limits,
        1.0,
        "rectangular",
        number,
    )
    if not gauge.expanded:
        return SystematicErrors((common,), (), ())
    calibration = SystematicError(
        f"calibration of {name}",
        f"{name}: uncertainty of its calibration",
        gauge.expanded / gauge.coverage,
        1.0,
        "normal",
        f"{number}, U over k = {gauge.coverage:g}",
    )
    return SystematicErrors((common, calibration), (), ())


def _master_source(gauge: Gauge | None, masterings: Sequence[CorrectedReading]) -> str:
    """Where the uncertainty of the master is from: its certificate, where the sheet has the same figure."""
    if gauge is None or not gauge.master_expanded or not gauge.master_certificate:
        return "as said with the mark master"
    u = gauge.master_expanded / gauge.coverage
    if any(abs(each.u_master - u) > 1e-9 for each in masterings if each.on_master):
        return "as said with the mark master"
    return f"certificate {gauge.master_certificate}, U over k = {gauge.coverage:g}"


def _overdue(what: str, due: str | None, counted: Sequence[Counted]) -> list[Sentence]:
    """That a calibration was over on the day of the newest reading that rests on it."""
    wall = max(reading.at.wall for reading, _, _ in counted)
    if wall <= 0 or not overdue(due, datetime.fromtimestamp(wall / 1e9, UTC).date()):
        return []
    return [message("ask.overdue", what=what, due=due or "")]


def _heat(part: Part, counted: Sequence[Counted], job: Job) -> SystematicErrors:
    if any(cold.assumed for _, _, cold in counted):
        missing = f"{part}: no probe measured it when it was read: its size holds only if it was at 20 °C"
        return SystematicErrors((), (), (missing,))
    readings = [reading for reading, _, _ in counted]
    size = sum(cold.value for _, _, cold in counted) / len(counted)
    expansion = expansion_of(job, part)
    above = _mean([r.warmth.value for r in readings if r.warmth]) - REFERENCE
    u_t = max(r.warmth.u for r in readings if r.warmth)
    commons = [
        SystematicError(
            _thermometer(job, part),
            f"thermometer on the {part}",
            u_t,
            -size * expansion.alpha,
            "normal",
            "the job sheet: limits of the probe, as a rectangle",
            "K",
        ),
        SystematicError(
            f"expansion of the {part}",
            f"expansion of the {part} ({expansion.name})",
            sqrt(3) * expansion.u,
            -size * above,
            "rectangular",
            expansion.source,
            "1/K",
        ),
        SystematicError(
            f"second order {part}",
            f"{part}: expansion times temperature",
            expansion.u * u_t,
            size,
            "normal",
            "GUM H.1.7",
            "1",
        ),
    ]
    gauge = _gauge_heat(part, counted, job, size)
    return SystematicErrors((*commons, *gauge.commons), gauge.conditions, gauge.blocks)


def _gauge_heat(part: Part, counted: Sequence[Counted], job: Job, size: float) -> SystematicErrors:
    readings = [reading for reading, _, _ in counted]
    on_master = any(mastered.on_master for _, mastered, _ in counted)
    warm = [r.gauge_warmth for r in readings if r.gauge_warmth is not None]
    name = readings[-1].gauge
    if len(warm) < len(readings):
        if on_master:
            block = (
                f"{part}: {name} was set on a master whose temperature nobody entered, so that what it read "
                "is no size at 20 °C; put a probe on the master, or enter its temperature"
            )
            return SystematicErrors((), (), (block,))
        condition = f"{part}: no probe measured {name}: it is taken to be right at its own temperature"
        return SystematicErrors((), (condition,), ())
    expansion = gauge_expansion(job, name)
    above, u_t = _mean([w.value for w in warm]) - REFERENCE, max(w.u for w in warm)
    return SystematicErrors(
        (
            SystematicError(
                _thermometer(job, "gauge", "master"),
                "thermometer on the gauge or its master",
                u_t,
                size * expansion.alpha,
                "normal",
                "the job sheet: limits of the probe, as a rectangle",
                "K",
            ),
            SystematicError(
                f"expansion of {name}",
                f"expansion of {name} or its master ({expansion.name})",
                sqrt(3) * expansion.u,
                size * above,
                "rectangular",
                expansion.source,
                "1/K",
            ),
        ),
        (),
        (),
    )


def _thermometer(job: Job, *places: str) -> str:
    """Probes on one link are one instrument: its error is the same wherever it is held."""
    for place in places:
        for gauge in job.gauges:
            if gauge.measures == "temperature" and gauge.part == place:
                return f"thermometer at {sorted(gauge.link.items())}"
    return f"thermometer entered for the {places[0]}"


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)
