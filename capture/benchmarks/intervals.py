"""How well sweeps, soaks and tapers do, over simulated ones with the truth beside what was stated."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from capture.benchmarks.rows import Row
from capture.benchmarks.trials.grinding.intervals import SOAKS, TAPERS, HeldCount, soaks, tapers, watched
from capture.benchmarks.trials.placing.sweep import HANDS, trial
from capture.benchmarks.trials.placing.unrocked import UNROCKED, an_hour

RATES = (5.0, 10.0, 20.0, 50.0)
"""Readings a second."""
FALSE = 1.0
"""Readings accepted an hour of any stream without a rock that are good enough: few are made for it."""
RIGHT = "93 to 97 is right"


def measures(*, quick: bool, progress: Callable[[str], None]) -> dict[str, Callable[[], Iterator[Row]]]:
    """What there is to measure, by name: a tenth of the work where *quick*; *progress* gets how far."""
    sessions, rounds, hours = (6, 100, 0.2) if quick else (60, 1000, 4.0)
    return {
        "sweeps": partial(sweep_rows, sessions=sessions, progress=progress),
        "unrocked": partial(unrocked_rows, hours=hours, progress=progress),
        "soaks": partial(soak_rows, rounds=rounds),
        "watched": partial(watched_rows, rounds=rounds // 5),
        "tapers": partial(taper_rows, rounds=4 * rounds),
    }


def sweep_rows(*, sessions: int, progress: Callable[[str], None]) -> Iterator[Row]:
    """By kind of hand and rate: places accepted within five rocks, error, and intervals that held."""
    for kind, what in HANDS.items():
        for rate in RATES if kind == "matched" else RATES[1:]:
            progress(f"sweeps: {kind}, {rate:g} Hz")
            found = trial(rate, sessions, kind)
            name = f"{kind}, {rate:g} Hz"
            asked = f", {found.slower} asked to rock more slowly" if found.slower else ""
            note = f"{what}; {found.stations} places{asked}, {found.extra} read twice"
            yield Row(f"{name}: accepted in 5 rocks", 100 * found.within_5, "%", note=note)
            yield Row(f"{name}: error, p95", found.p95, "µm", note=f"bias {found.bias:+.2f}")
            yield Row(f"{name}: 95 % held", 100 * found.coverage, "%", note=RIGHT)


def unrocked_rows(*, hours: float, progress: Callable[[str], None]) -> Iterator[Row]:
    """Readings accepted an hour of a gauge that nobody rocks, by kind of stream and rate."""
    for kind, what in UNROCKED.items():
        for rate in RATES:
            progress(f"unrocked: {kind}, {rate:g} Hz")
            found = an_hour(kind, rate, hours)
            yield Row(f"{kind}, {rate:g} Hz: accepted", found, "/h", most=FALSE, note=f"{what}; {hours:g} h")


def soak_rows(*, rounds: int) -> Iterator[Row]:
    """By law of cooling: intervals of the end that held it, and parts called settled too early."""
    for kind, what in SOAKS.items():
        yield from _rows(f"soak, {kind}", what, soaks(rounds, kind), "settled too early")


def watched_rows(*, rounds: int) -> Iterator[Row]:
    """By law of cooling, of soaks watched until they are called: calls too early, lateness, waits given."""
    for kind, what in SOAKS.items():
        found = watched(rounds, kind)
        name = f"watched, {kind}"
        note = f"{what}; {found.early} of {found.called} called, of {found.rounds}"
        yield Row(f"{name}: settled too early", 100 * found.early / max(1, found.called), "%", note=note)
        yield Row(f"{name}: called late by, p50", 100 * found.late, "%", note="of the time it truly takes")
        yield Row(f"{name}: wait told, p50", found.wait, "x", note=f"the true one; p90 {found.longest:.1f}")


def taper_rows(*, rounds: int) -> Iterator[Row]:
    """By form of the part: intervals of the slope that held it, and slopes called real the wrong way."""
    for kind, what in TAPERS.items():
        yield from _rows(f"taper, {kind}", what, tapers(rounds, kind), "moved the wrong way")


def _rows(name: str, what: str, found: HeldCount, wrong: str) -> Iterator[Row]:
    note = f"{what}; {found.rounds} rounds; {RIGHT}"
    yield Row(f"{name}: 95 % held", 100 * found.within, "%", note=note)
    yield Row(f"{name}: {wrong}", 100 * found.false, "%", note=f"error {found.ratio:.2f} of what is stated")
