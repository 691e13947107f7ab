"""`bench`: speed, capacity, memory and accuracy on this machine, as ratios."""

from __future__ import annotations

import json
import os
import platform
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from typing import Any

import click

from capture.benchmarks.rows import NoFigure, Row
from capture.commands.options import AS_JSON
from capture.commands.terminal import echo, echo_json


@click.command("bench")
@AS_JSON
@click.option("--quick", is_flag=True, help="A tenth of the work: a trial run, not for publishing.")
@click.option("--accuracy", is_flag=True, help="Accuracy of grinding and bores instead of speed.")
@click.option(
    "--only",
    metavar="WORD",
    help="Only figures of one kind: start, fold, wire …; with --accuracy: matched, sweeps, placings …",
)
def bench_command(as_json: bool, quick: bool, accuracy: bool, only: str | None) -> int:
    """Measure speed and accuracy on this computer, as ratios.

    Each figure stands beside the plainest thing that could do the same, run in turn with it on the
    same machine: the ratios can be compared with those of other machines, the times can't.
    Exit status 1: a goal was missed.
    """
    kinds = _accuracy(quick=quick) if accuracy else _speed(quick=quick)
    if only is not None and only not in kinds:
        raise click.UsageError(f"--only: came {only!r}, due one of {', '.join(kinds)}")
    rows: list[Row] = []
    if not as_json:
        echo(f"{_machine()}\n{_line('', 'ours', 'plain', 'ratio', 'goal')}")
    for name, measure in kinds.items():
        if only in {None, name}:
            for row in _measured(name, measure):
                rows.append(row)
                if not as_json:
                    echo(_said(row))
    if as_json:
        about = {"machine": _machine(), "date": datetime.now(UTC).isoformat(timespec="seconds")}
        echo_json(json.dumps({**about, "quick": quick, "rows": [_plain(row) for row in rows]}))
    return 1 if any(row.good is False for row in rows) else 0


def _measured(name: str, measure: Callable[[], Iterable[Row]]) -> Iterator[Row]:
    try:
        yield from measure()
    except NoFigure as error:
        echo(f"{name}: {error}", err=True)


def _speed(*, quick: bool) -> dict[str, Callable[[], Iterable[Row]]]:
    from capture.benchmarks import page, reading, shift, wire  # noqa: PLC0415 - not for a wrong request

    pairs = 1 if quick else 5
    return {
        "start": lambda: reading.start_rows(pairs=2 * pairs + 1),
        "fold": lambda: reading.fold_rows(events=20_000 if quick else 200_000),
        "memory": lambda: reading.memory_rows(events=10_000 if quick else 1_000_000),
        "summary": lambda: reading.summary_rows(events=50_000 if quick else 1_000_000, pairs=min(pairs, 3)),
        "wire": lambda: wire.delay_rows(count=48 if quick else 2000),
        "capacity": lambda: wire.capacity_rows(seconds=2.0 if quick else 30.0),
        "shift": lambda: shift.shift_rows(minutes=6.0 if quick else 60.0),
        "page": lambda: page.page_rows(pairs=pairs, count=10 if quick else 60),
    }


def _accuracy(*, quick: bool) -> dict[str, Callable[[], Iterable[Row]]]:
    from capture.benchmarks import (  # noqa: PLC0415 - not for a wrong request
        accuracy,
        intervals,
        jobs,
        placings,
        powers,
        rides,
        untold,
    )

    def progress(words: str) -> None:
        echo(words, err=True)

    return {
        **accuracy.measures(quick=quick, progress=progress),
        **intervals.measures(quick=quick, progress=progress),
        **jobs.measures(quick=quick, progress=progress),
        **placings.measures(quick=quick, progress=progress),
        **powers.measures(quick=quick, progress=progress),
        **rides.measures(quick=quick, progress=progress),
        **untold.measures(quick=quick, progress=progress),
    }


def _machine() -> str:
    return (
        f"{os.cpu_count()} cores, {platform.machine()}, {platform.system()}, "
        f"Python {platform.python_version()}"
    )


def _said(row: Row) -> str:
    ratio = "" if row.ratio is None else f"{row.ratio:.2f}×"
    goal = "" if row.most is None else f"≤ {row.most:.3g}{'×' if row.plain is not None else ''}"
    verdict = {None: "", True: " met", False: " MISSED"}[row.good]
    ours = f"{row.ours:.4g} {row.unit}".strip()
    plain = "" if row.plain is None else f"{row.plain:.4g} {row.unit}".strip()
    against = f"  against {row.against}" if row.against else ""
    note = f"  ({row.note})" if row.note else ""
    return _line(row.what, ours, plain, ratio, goal + verdict) + against + note


def _line(what: str, ours: str, plain: str, ratio: str, goal: str) -> str:
    return f"{what:44} {ours:>12} {plain:>12} {ratio:>8} {goal:>16}"


def _plain(row: Row) -> dict[str, Any]:
    return {
        "what": row.what,
        "ours": row.ours,
        "unit": row.unit,
        "against": row.against or None,
        "plain": row.plain,
        "ratio": row.ratio,
        "most": row.most,
        "good": row.good,
        "note": row.note or None,
    }
