"""Gauges that flood, come and go, and a clock that people set meanwhile."""

from __future__ import annotations

import asyncio
import random
import time
from collections.abc import AsyncIterator, Callable, Iterable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from pathlib import Path

import pytest

from capture.dialects.dialect import Dialect
from capture.events import AnyFact, Decoded, Event, Garbled, Note, Reading, Up
from capture.host.clock import Clock
from capture.ingest.daemon import capture
from capture.ingest.gauge_reader import Instrument
from capture.ingest.sequencer import DecisionEngine
from capture.links.link import Link
from capture.recording.opening import create
from capture.recording.reader import read
from capture.recording.repair import check


def hear_line(raw: str) -> Decoded:
    try:
        return Reading(float(raw), "mm", 3, raw)
    except ValueError:
        return Garbled("no number", raw)


LINES = Dialect("lines", lambda data: data.find(b"\n") + 1, hear_line, 64)
PROGRAM: DecisionEngine[int] = DecisionEngine(
    0, lambda n, _: n + 1, lambda n, _: (n, []), lambda words, _: Note(words[0]), str
)


class Said:
    """A link that says given chunks, then goes."""

    detail = "a script"

    def __init__(self, chunks: Iterable[bytes]) -> None:
        self._chunks = chunks

    async def chunks(self) -> AsyncIterator[tuple[bytes, int]]:
        for chunk in self._chunks:
            await asyncio.sleep(0)
            yield chunk, time.monotonic_ns()

    async def send(self, data: bytes) -> None:
        raise OSError(f"{data!r} cannot be sent")


def saying(chunks: Callable[[], Iterable[bytes]]) -> Callable[[], AbstractAsyncContextManager[Link]]:
    @asynccontextmanager
    async def opening() -> AsyncIterator[Link]:
        yield Said(chunks())

    return opening


def record(
    folder: Path, instruments: list[Instrument], enough: Callable[[], bool], clock: Clock | None = None
) -> list[Event]:
    """What is recorded until *enough*, which is looked at every 10 ms."""
    path = folder / "session.jsonl"
    clock = clock or Clock.start()
    troubles: list[str] = []

    async def run() -> None:
        stop = asyncio.Event()

        async def watch() -> None:
            async with asyncio.timeout(60):
                while not enough():  # noqa: ASYNC110 - what is waited for knows no event
                    await asyncio.sleep(0.01)
            stop.set()

        async with asyncio.TaskGroup() as group:
            group.create_task(watch())
            await capture(
                instruments,
                create(path, {"job": {}}, clock),
                clock,
                PROGRAM,
                folder=folder,
                on_ready=lambda *_: None,
                on_trouble=troubles.append,
                stop=stop,
                signals=False,
            )
        assert len(asyncio.all_tasks()) == 1, "a task was left running"

    asyncio.run(run())
    assert troubles == []
    assert check(path) == []
    return list(read(path))


@pytest.fixture(autouse=True)
def runtime(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))


def raws(events: list[Event], source: str) -> bytes:
    facts: list[AnyFact] = [event.fact for event in events if event.source == source]
    return b"".join(fact.raw.encode("latin-1") for fact in facts if isinstance(fact, Reading | Garbled))


def test_a_flood_of_garbage_loses_no_byte_and_silences_no_other(tmp_path: Path) -> None:
    """About what 115200 baud brings in 20 s."""
    rubbish = random.Random(1).randbytes(230_000)  # noqa: S311 - rubbish is no secret
    gone: list[str] = []

    def flood() -> Iterable[bytes]:
        if not gone:
            yield from (rubbish[n : n + 700] for n in range(0, len(rubbish), 700))
            gone.append("flood")

    def calm() -> Iterable[bytes]:
        if gone == ["flood"]:
            yield b"55.001\n"
            gone.append("calm")

    instruments = [Instrument("flood", saying(flood), LINES), Instrument("calm", saying(calm), LINES)]
    events = record(tmp_path, instruments, lambda: len(gone) == 2)

    assert raws(events, "flood") == rubbish
    assert raws(events, "calm") == b"55.001\n"


def test_many_reconnections_leave_no_file_open(tmp_path: Path) -> None:
    turns: list[int] = []
    files: list[int] = []

    def brief() -> Iterable[bytes]:
        turns.append(1)
        files.append(len(list(Path("/proc/self/fd").iterdir())))
        yield b"55.0\n"

    gauges = [Instrument(f"gauge {n}", saying(brief), LINES) for n in range(5)]
    events = record(tmp_path, gauges, lambda: len(turns) >= 50)

    assert sum(isinstance(event.fact, Up) for event in events) >= 50
    assert max(files[10:]) <= max(files[:10]) + 2


@pytest.mark.parametrize("step", [3600 * 10**9, -3600 * 10**9])
def test_a_clock_stepped_by_an_hour_harms_neither_order_nor_intervals(tmp_path: Path, step: int) -> None:
    stepped: list[int] = []
    clock = Clock.start(wall=lambda: time.time_ns() + sum(stepped))
    turns: list[int] = []

    def brief() -> Iterable[bytes]:
        turns.append(1)
        if len(turns) == 3:
            stepped.append(step)
        yield b"55.0\n"

    events = record(tmp_path, [Instrument("mike", saying(brief), LINES)], lambda: len(turns) >= 6, clock)

    monos = [event.at.mono for event in events]
    walls = [event.at.wall for event in events]
    assert monos == sorted(monos)
    assert monos[-1] < 60 * 10**9
    assert abs(walls[-1] - walls[0]) > 3000 * 10**9
