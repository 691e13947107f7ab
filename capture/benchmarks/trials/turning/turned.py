"""Trials of roundness: parts of known lobes that turn under gauges, and how well their lobes are found.

Parts: `drawn_part`. A V of 60, 72, 90, 108 or 120 degrees, an indicator within a riding V, centres, two
points, two Vs one after the other, three gauges round the part between centres whose axis moves; 10, 20 or
50 readings a second, 5 to 60 turns a minute, 8 to 40 turns, a speed that wanders by up to 2 % and is entered
up to 4 % wrong, with a pedal at each turn or without, noise of 0.1 to 0.8 µm, steps of 0.1 to 1 µm, up to two
keyways, chips. All is drawn from one seed a part.
"""

from __future__ import annotations

from collections.abc import Callable
from math import pi
from typing import Any

import numpy as np
from msgspec import Struct

from capture.analysis.roundness.turned_runs import FailedRun, GaugeRun, read_run
from capture.events import Instant, Round
from capture.metrology.form.contacts import LOBES, RoundnessSetup, unseen_by
from capture.metrology.form.separation import Lobe, lobes_of
from capture.metrology.uncertainty.propagation import Array
from capture.sheet.gauges.gauge import Gauge
from capture.sheet.job import Job
from capture.simulator.turned_part import ShownTurns, Spinning, turned
from capture.state.append_log import Log
from capture.state.round_runs import RoundRun, RunReading, RunTurn

TOP = 40
"""Lobes of a part go up to here, so that some are past those that are looked for."""
BAR = 0.0003
"""mm."""
KINDS: dict[str, str] = {
    "v": "one V, or an indicator within a riding V",
    "centres": "between centres",
    "two-point": "two points",
    "two Vs": "two Vs one after the other",
    "three gauges": "three gauges between centres whose axis moves",
}


class TurnedTrial(Struct, frozen=True):
    """One part beside its truth."""

    kind: str
    failed: tuple[str, ...]
    """Why a run showed nothing."""
    errors: tuple[float, ...]
    """Found less true amplitude of each lobe that counts as seen, mm."""
    us: tuple[float, ...]
    """Their standard uncertainties."""
    unnamed: int
    """Lobes that no contact shows and that were not named as unseen."""
    hidden: int
    """Lobes that the contacts show and that were named as unseen."""


class TurnedFigures(Struct, frozen=True):
    """What many parts came to; lengths in µm."""

    parts: int
    none: int
    """Parts of which nothing was shown, and it was said why."""
    lobes: int
    p50: float
    p95: float
    worst: float
    within: float
    """Share of seen lobes within `BAR`."""
    parts_within: float
    """Share of shown parts all of whose seen lobes are within `BAR`."""
    coverage: float
    """Share of errors within two standard uncertainties."""
    unnamed: int
    hidden: float
    """Share of lobes that the contacts show but that were named as not seen."""


def drawn_part(random: np.random.Generator) -> Array:
    """Lobes of a ground part, complex, by their count: even, falling, or with one that stands out; mm."""
    found = np.zeros(TOP, complex)
    style = int(random.integers(4))
    for n in range(2, TOP):
        size = 10 ** random.uniform(-2.0, 0.3) / (1.0 if style < 2 else n / 3)
        found[n] = size * (0.1 if n > 15 else 1.0) * np.exp(1j * random.uniform(0, 2 * pi))
    if style in {0, 2}:
        found[int(random.integers(2, 12))] = random.uniform(0.5, 6.0) * np.exp(1j * random.uniform(0, 2 * pi))
    return found * 1e-3


def trial(kind: str, seed: int) -> TurnedTrial:
    """One part of *kind*.

    Raises:
        ValueError: There is no such kind.
    """
    if kind not in KINDS:
        raise ValueError(f"a kind is one of {', '.join(KINDS)}; got {kind}")
    random = np.random.default_rng([seed, list(KINDS).index(kind)])
    part = drawn_part(random)
    runs = []
    axis = (drawn_part(random) / 3, drawn_part(random) / 3) if kind == "three gauges" else None
    for number, setups in enumerate(_setups(kind, random)):
        how, rpm = _how(random, marked=bool(random.integers(2)) or kind == "three gauges")
        runs.append(_run(number, setups, rpm, how.resolution, turned(random, part, how, setups, axis)))
    read = [one for run, job in runs for one in read_run(run, job)]
    shown = [one for one in read if isinstance(one, GaugeRun)]
    lobes = lobes_of([one.harmonics for one in shown])
    blind = unseen_by([one.setup for one in shown]) if shown else LOBES
    return TurnedTrial(
        kind=kind,
        failed=tuple(str(dict(one.said.figures)["why"]) for one in read if isinstance(one, FailedRun)),
        errors=tuple((one.amplitude or 0.0) - abs(part[one.lobes]) for one in lobes if one.unseen is None),
        us=tuple(one.u or 0.0 for one in lobes if one.unseen is None),
        unnamed=sum(one.unseen is None for one in lobes if one.lobes in blind),
        hidden=sum(_hidden(one, blind) for one in lobes) if shown else 0,
    )


def _hidden(lobe: Lobe, blind: tuple[int, ...]) -> bool:
    return lobe.unseen is not None and lobe.lobes not in blind


def _setups(kind: str, random: np.random.Generator) -> list[list[RoundnessSetup]]:
    """The set-ups of each run."""
    angles = random.permutation([60.0, 72.0, 90.0, 108.0, 120.0])
    match kind:
        case "v":
            contacts: Any = "saddle" if random.random() < 0.25 else "v"
            return [[RoundnessSetup(contacts, float(angles[0]))]]
        case "two Vs":
            return [[RoundnessSetup("v", float(one))] for one in angles[:2]]
        case "three gauges":
            at = (0.0, random.uniform(85, 105), random.uniform(190, 230))
            return [[RoundnessSetup("centres", at=float(one)) for one in at]]
        case "centres":
            return [[RoundnessSetup("centres")]]
        case _:
            return [[RoundnessSetup("two-point")]]


def _how(random: np.random.Generator, *, marked: bool) -> tuple[Spinning, float]:
    rpm = float(10 ** random.uniform(np.log10(5.0), np.log10(60.0)))
    keyways = tuple(
        (random.uniform(0, 2 * pi), random.uniform(0.05, 0.3), 10 ** random.uniform(-1.0, 0.3))
        for _ in range(int(random.choice([0, 0, 1, 2])))
    )
    how = Spinning(
        rpm=rpm,
        turns=float(random.uniform(8, 40)),
        rate=float(random.choice([10.0, 20.0, 50.0])),
        wander=float(random.choice([0.0, 0.003, 0.01, 0.02])),
        off=float(random.uniform(-0.04, 0.04)),
        noise=float(random.uniform(0.0001, 0.0008)),
        resolution=float(random.choice([0.0001, 0.0005, 0.001])),
        drift=float(random.uniform(0.0, 0.004)),
        eccentric=float(10 ** random.uniform(-3.0, -1.5)),
        late=float(random.uniform(0.0, 0.006)),
        keyways=keyways,
        chips=float(random.choice([0.0, 0.01])),
        u_mark=float(random.uniform(0.01, 0.1)) if marked else None,
    )
    return how, rpm


def _run(
    number: int, setups: list[RoundnessSetup], rpm: float, resolution: float, shown: list[ShownTurns]
) -> tuple[RoundRun, Job]:
    """A run as a recording would hold it."""
    names = tuple(f"dial{k}" for k in range(len(setups)))
    one = setups[0]
    setup = Round(
        part="shaft",
        z=40.0,
        contacts=one.contacts,
        gauges=names,
        at=tuple(each.at for each in setups),
        v=one.angle,
        rpm=rpm,
    )
    readings = [
        RunReading(0, name, at, value)
        for name, each in zip(names, shown, strict=True)
        for at, value in zip(each.times.tolist(), each.values.tolist(), strict=True)
    ]
    turns = Log(RunTurn(0, at, None) for at in shown[0].marks.tolist())
    gauges = tuple(Gauge(name=name, measures="runout", link={}, resolution=resolution) for name in names)
    run = RoundRun(number, Instant(0, 0), setup, None, 0, Log(readings), turns)
    return run, Job(name="ring", gauges=gauges)


def figures(
    kind: str, parts: int, *, seed: int = 0, progress: Callable[[int], None] | None = None
) -> TurnedFigures:
    """*parts* parts of *kind*; *progress* gets the number of each that is done."""
    each = []
    for number in range(parts):
        each.append(trial(kind, seed + number))
        if progress:
            progress(number + 1)
    shown = [one for one in each if one.errors]
    errors = np.abs([error for one in shown for error in one.errors])
    us = np.array([u for one in shown for u in one.us])
    return TurnedFigures(
        parts=parts,
        none=sum(not one.errors for one in each),
        lobes=len(errors),
        p50=1000 * float(np.median(errors)),
        p95=1000 * float(np.quantile(errors, 0.95)),
        worst=1000 * float(errors.max()),
        within=float(np.mean(errors <= BAR)),
        parts_within=float(np.mean([max(np.abs(one.errors)) <= BAR for one in shown])),
        coverage=float(np.mean(errors <= 2 * us)),
        unnamed=sum(one.unnamed for one in each),
        hidden=sum(one.hidden for one in shown) / max(len(shown) * len(LOBES), 1),
    )
