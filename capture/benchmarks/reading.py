"""Reading a long recording: the summary against a data-frame library and a bare loop, folds, and memory."""

from __future__ import annotations

import gc
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from pathlib import Path

from capture.benchmarks import sessions
from capture.benchmarks.rows import NoFigure, Row, in_turn, medians
from capture.events import Event, Reading
from capture.state import decisions, session

WHOLE = 1_000_000
"""Events of the recording that a goal in seconds is for."""

PANDAS = "import sys, pandas; pandas.read_json(sys.argv[1], lines=True)"
BARE = """
import sys, msgspec
decode = msgspec.json.Decoder().decode
with open(sys.argv[1], "rb") as file:
    for line in file:
        decode(line)
"""
SUMMARY = "import sys; from capture.cli import main; main(['summary', sys.argv[1], '--json'])"


def seconds(program: str, *arguments: str) -> float:
    """Wall time of a whole Python process that runs *program*."""
    begun = time.perf_counter()
    subprocess.run(
        [sys.executable, "-c", program, *arguments],
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    return time.perf_counter() - begun


def summary_rows(*, events: int, pairs: int) -> Iterator[Row]:
    """Replay and summary of a long recording, each a whole command from start to end."""
    with tempfile.TemporaryDirectory(prefix="tenths-bench-") as name:
        path = Path(name) / "long.jsonl"
        sessions.record(path, events)
        size = path.stat().st_size / 1e6
        ours, plain = in_turn(
            lambda: [seconds(SUMMARY, str(path))], lambda: [seconds(PANDAS, str(path))], pairs
        )
        (mine,), (frame,) = medians(ours), medians(plain)
        bare = min(seconds(BARE, str(path)) for _ in range(pairs))
    note = f"{events / mine:,.0f} events a second, {size:.0f} MB"
    what = f"summary of {events:,} events"
    yield Row(what, mine, "s", "pandas.read_json(lines=True) alone", frame, 1.0, note)
    yield Row(what, mine, "s", "a bare msgspec loop that keeps nothing", bare)
    yield Row(what + ", in all", mine, "s", most=6.0 if events >= WHOLE else None)


def fold_rows(*, events: int) -> Iterator[Row]:
    """Folds a second: replayed, decided live, and a bare loop that keeps each source's newest value."""
    stream, sizes = list(sessions.streaming(events)), list(sessions.sized(events // 10))
    bare = _micros(_keep_newest, stream)
    against = "a loop that keeps the newest value"
    for what, how, given in (
        ("fold of a probe's reading", _replay, stream),
        ("fold and decision of a probe's reading", _decide, stream),
        ("fold and decision of a size taken", _decide, sizes),
    ):
        took = _micros(how, given)
        yield Row(what, took, "µs", against, bare, note=f"{1e6 / took:,.0f} a second")


def memory_rows(*, events: int) -> Iterator[Row]:
    """Resident memory of a live desk after 1, 2, 4 and 8 times *events*, and what each event keeps."""
    for kind, what in (("streaming", "a probe's readings"), ("sized", "sizes taken")):
        count = events if kind == "streaming" else events // 10
        words = [sys.executable, "-m", "capture.benchmarks.reading", kind, str(count)]
        said = subprocess.run(words, check=True, capture_output=True, text=True).stdout.split()
        marks = [float(word) for word in said]
        grown = (marks[-1] - marks[0]) * 1e6 / (7 * count)
        note = f"{grown:.0f} bytes for each; " + " → ".join(f"{mark:.0f}" for mark in marks) + " MB"
        most = marks[0] * 1.1 if kind == "streaming" else None
        yield Row(f"memory after {8 * count:,} of {what}", marks[-1], "MB", most=most, note=note)


def start_rows(*, pairs: int) -> Iterator[Row]:
    """Start-up: ``tenths --help`` against Python importing click."""
    ours, plain = in_turn(
        lambda: [seconds("from capture.cli import main; main(['--help'])")],
        lambda: [seconds("import click")],
        pairs,
    )
    (mine,), (bare,) = medians(ours), medians(plain)
    yield Row("tenths --help", mine, "s", "python importing click", bare)
    yield Row("tenths --help, in all", mine, "s", most=0.25)


def _micros(how: object, events: list[Event]) -> float:
    gc.collect()
    begun = time.process_time()
    how(events)  # type: ignore[operator]  # one of the three below
    return (time.process_time() - begun) / len(events) * 1e6


def _keep_newest(events: Iterable[Event]) -> None:
    newest: dict[str, float] = {}
    for event in events:
        if isinstance(event.fact, Reading):
            newest[event.source] = event.fact.value


def _replay(events: Iterable[Event]) -> None:
    state = session.start(sessions.job())
    for event in events:
        state = session.step(state, event)


def _decide(events: Iterable[Event]) -> None:
    state = session.start(sessions.job())
    for event in events:
        state, _ = decisions.step_and_decide(state, event)


def resident() -> float:
    """Resident memory of this process, MB (the most so far where the system does not tell the present)."""
    if sys.platform == "win32":
        raise NoFigure("the memory of a process is not measured on Windows")
    statm = Path("/proc/self/statm")
    if statm.exists():
        return int(statm.read_text("ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
    import resource  # noqa: PLC0415 - POSIX only

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)


def grow(kind: str, count: int) -> None:
    """Says the resident memory of a live desk after 1, 2, 4 and 8 times *count* events."""
    state = session.start(sessions.job())
    make = sessions.streaming if kind == "streaming" else sessions.sized
    for number, event in enumerate(make(8 * count), 1):
        state, _ = decisions.step_and_decide(state, event)
        if number in {count, 2 * count, 4 * count, 8 * count}:
            sys.stdout.write(f"{resident():.1f}\n")


if __name__ == "__main__":
    grow(sys.argv[1], int(sys.argv[2]))
