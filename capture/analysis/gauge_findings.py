"""What a recording shows of its gauges, as plain data in millimetres: what ``study --json`` prints.

People are named by stages: ``stage study A 1`` opens the first trial of A, ``stage study B 1`` that of B.
The places that they read (station and angle of one part) are the parts of the study; every
person reads every place equally often, twice or more.

Keys, for each gauge: ``repeatability`` (``sd``, ``dof``, ``places``), ``masters`` (each size: ``n``,
``bias``, ``u``, ``p``; null where the gauge shows differences), ``linearity`` (``slope``, ``u_slope``,
``p_slope``, ``at_nominal``), ``drift`` (each run between two checks), ``people`` (``variance`` and ``range``
methods, with ``of_tolerance`` in per cent of the fit's clearance), ``proof`` (whether it can prove the fit,
and what could) and ``said``: what cannot be said, and why.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from msgspec import to_builtins

from capture.analysis.fit.masterings import check, checks_of
from capture.analysis.fit.measured_part import FAR_FROM_NOMINAL
from capture.events import Master, Mastered, Pass, Reading, Stage, Station
from capture.metrology.fit.decision import SpecificationLimits
from capture.metrology.fit.proof import proof
from capture.metrology.gauges.gauge_study import Study, Trial, bias, by_ranges, by_variance, linearity
from capture.metrology.gauges.mastering import runs
from capture.metrology.gauges.permissible_errors import rectangular
from capture.metrology.gauges.repeatability import pooled_sd, sample
from capture.metrology.gauges.single_reading import with_rounding
from capture.sheet.job import Gauge, Job
from capture.sheet.stages import STUDY
from capture.state.session import State
from capture.state.stations import StationReading
from capture.text.catalogue import sentence


def study(state: State, job: Job) -> dict[str, Any]:
    """A study of every gauge of lengths that was read."""
    gauges = [gauge for gauge in job.gauges if gauge.measures in {"diameter", "bore"}]
    rows = [_gauge(state, job, gauge) for gauge in gauges]
    return {
        "job": job.name,
        "gauges": rows,
        "said": [] if rows else ["the sheet has no gauge that measures a diameter or a bore"],
    }


def _gauge(state: State, job: Job, gauge: Gauge) -> dict[str, Any]:
    taken = [reading for reading in state.stations.taken if reading.gauge == gauge.name]
    on_masters = masters_of(state, gauge)
    said: list[str] = []
    repeatability = _repeatability(taken, on_masters, said)
    people = _people(taken, job, said)
    row = {
        "gauge": gauge.name,
        "readings": len(taken),
        "resolution": gauge.resolution or None,
        "limits": gauge.limits,
        "repeatability": repeatability,
        "masters": _masters(on_masters, said),
        "linearity": _linearity(on_masters, job, said),
        "drift": _drift(state, job, gauge),
        "people": people,
    }
    proven = _proof(job, gauge, row, state, said)
    return {**row, "proof": proven, "said": said}


def masters_of(state: State, gauge: Gauge) -> dict[float, list[float]]:
    """What the gauge showed on its masters, mastering not taken off, by the master's size.

    A sweep in a setting ring is one of them.
    """
    spells: list[tuple[float, list[float]]] = []
    on = False
    for entry in state.history:
        event = entry.event
        if event.seq in state.aside:
            continue
        match event.fact:
            case Master(gauge=name, size=stated):
                on = name == gauge.name
                spells += [(stated, [])] if on else []
            case Station() | Pass() | Stage():
                on = False
            case Reading(value=value) if on and event.source == gauge.name:
                spells[-1][1].append((-value if gauge.sign == "-" else value) + gauge.zero)
            case Mastered(gauge=name, value=value) if on and name == gauge.name:
                # It stands in place of single readings before it, and takes the gauge off the master.
                spells[-1][1][:] = [value + gauge.zero]
                on = False
            case _:
                continue
    found: dict[float, list[float]] = defaultdict(list)
    for size, shown in spells:
        found[size] += shown
    return {size: shown for size, shown in found.items() if shown}


def _repeatability(
    taken: Sequence[StationReading], on_masters: Mapping[float, Sequence[float]], said: list[str]
) -> dict[str, Any] | None:
    groups: dict[object, list[float]] = defaultdict(list)
    for reading in taken:
        # Nothing is ground in a study: what the program took for a pass was another trial.
        number = None if _person(reading.stage) else reading.pass_
        groups[reading.place, _person(reading.stage) or reading.stage, number].append(reading.value)
    repeated = [group for group in groups.values() if len(group) > 1]
    repeated += [list(group) for group in on_masters.values() if len(group) > 1]
    if not repeated:
        said.append("repeatability: no place and no master was read twice in one stage")
        return None
    samples = [sample(group) for group in repeated]
    sd = pooled_sd([each.sd or 0.0 for each in samples], [each.n for each in samples])
    dof = sum(each.n - 1 for each in samples)
    if dof < 9:
        said.append(
            f"repeatability well: it rests on {dof + len(samples)} readings; ten at one place tell it better"
        )
    return {"sd": sd, "dof": dof, "places": len(samples)}


def _person(stage: str | None) -> str | None:
    """The person of a study's stage, without the trial."""
    words = (stage or "").split()
    if len(words) < 2 or words[0].lower() != STUDY:
        return None
    named = words[1:-1] if len(words) > 2 and words[-1].isdecimal() else words[1:]
    return " ".join(named)


def _masters(on_masters: Mapping[float, Sequence[float]], said: list[str]) -> list[dict[str, Any]]:
    if not on_masters:
        said.append("bias: no reading was taken on a master (mark: master GAUGE SIZE U)")
    if _shows_differences(on_masters):
        said.append("bias: the gauge shows a difference from a size, and the sheet gives no zero for it")
        return [
            {"size": size, "n": len(readings), "bias": None, "u": None, "p": None}
            for size, readings in sorted(on_masters.items())
        ]
    found = [bias(size, readings) for size, readings in sorted(on_masters.items())]
    return [
        {"size": one.reference, "n": one.readings.n, "bias": one.bias, "u": one.u, "p": one.p}
        for one in found
    ]


def _shows_differences(on_masters: Mapping[float, Sequence[float]]) -> bool:
    """Whether what it showed cannot be sizes of its masters."""
    return any(
        abs(shown / size - 1) > FAR_FROM_NOMINAL for size, each in on_masters.items() for shown in each
    )


def _linearity(
    on_masters: Mapping[float, Sequence[float]], job: Job, said: list[str]
) -> dict[str, Any] | None:
    if len(on_masters) < 2 or sum(len(group) for group in on_masters.values()) < 3:
        said.append("linearity: masters of two sizes or more, and three readings, are due")
        return None
    found = linearity(on_masters)
    nominal = None if job.fit is None or _shows_differences(on_masters) else job.fit.nominal
    at = None if nominal is None else to_builtins(found.line.at(nominal))
    return {
        "slope": found.line.slope,
        "u_slope": found.line.u_slope,
        "p_slope": found.p_slope,
        "at_nominal": at,
    }


def _drift(state: State, job: Job, gauge: Gauge) -> list[dict[str, Any]]:
    checks = [check(zero, gauge.resolution) for zero in checks_of(state).get(gauge.name, [])]
    found = runs(checks, most_drift=job.settings.masters.drift)
    return [{**to_builtins(run), "name": sentence(run.said, "mm")} for run in found]


def _people(taken: Sequence[StationReading], job: Job, said: list[str]) -> dict[str, Any] | None:
    trials = [
        Trial(f"{reading.part} {reading.place.z} {reading.place.angle}", person, reading.value)
        for reading in taken
        if (person := _person(reading.stage)) is not None
    ]
    if len({each.person for each in trials}) < 2:
        said.append("reproducibility: a stage for each person's trial is due (stage study A 1)")
        return None
    try:
        both = by_variance(trials), by_ranges(trials)
    except ValueError as error:
        said.append(f"reproducibility: {error}")
        return None
    return {each.method: _study_row(each, job) for each in both}


def _study_row(found: Study, job: Job) -> dict[str, Any]:
    wanted = None if job.fit is None else job.fit.clearance
    of_tolerance = None if wanted is None else found.of_tolerance(wanted.most - wanted.least)
    return {**to_builtins(found), "of_tolerance": of_tolerance}


def _proof(
    job: Job, gauge: Gauge, row: Mapping[str, Any], state: State, said: list[str]
) -> dict[str, Any] | None:
    if job.fit is None or row["repeatability"] is None:
        said.append("can it prove the fit? The sheet needs the fit, and its repeatability")
        return None
    masterings = checks_of(state).get(gauge.name, [])
    if masterings:
        systematic, by = max(zero.u for zero in masterings), "set on its master"
    elif gauge.limits is not None:
        systematic, by = rectangular(gauge.limits), "by its certificate"
    else:
        said.append("whether it can prove the fit: no master, and no limits in the sheet")
        return None
    repeat = row["people"]["variance"]["GRR"] if row["people"] else row["repeatability"]["sd"]
    clearance = job.fit.clearance
    found = proof(
        job.fit.rule,
        SpecificationLimits(clearance.least, clearance.most),
        systematic=systematic,
        repeat=with_rounding(repeat, gauge.resolution),
        readings=1,
        band=job.settings.proof.band,
    )
    left = found.acceptance
    return {
        "by": by,
        "systematic": systematic,
        "repeat": repeat,
        "u": left.u,
        "band": [left.least, left.most] if left.left else None,
        "enough": found.enough,
        "u_due": found.u_due,
        "readings_due": found.readings_due,
        "said": f"{found.said} (the other part taken as known exactly)",
    }
