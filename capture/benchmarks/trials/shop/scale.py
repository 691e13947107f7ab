"""How many machines one broker, one archive and one database carry: lag from the recorded line to the commit.

``python -m capture.benchmarks.trials.shop.scale FOLDER [--machines 64] [--seconds 30]``. Each machine has 8
gauges at 10 Hz. Recordings grow in memory (/dev/shm), as on so many PCs with disks of their own; publishers
are the program's own, several in a process; broker, archive and database are real and share this machine.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, Final

import numpy as np
import psycopg

from capture.benchmarks.trials.process_usage import usage
from capture.benchmarks.trials.shop.engines import Mosquitto, Postgres
from capture.events import Beat, Event, Instant, Reading
from capture.recording.codec import Header, encode_event, encode_header, first_chain, join_chain, next_chain
from capture.shop.messages.broker import broker_of
from capture.shop.publish.publisher import Publisher

GAUGES: Final = 8
RATE: Final = 10
PER_TICK: Final = GAUGES
LONGEST: Final = 600.0
PUBLISHERS: Final = 2
"""Processes in which the publishers run."""


class GrowingRecording:
    """One recording that is written, a tick at a time."""

    def __init__(self, path: Path, number: int) -> None:
        gauges = [
            {"name": f"g{i}", "measures": "diameter", "link": {"serial": f"/dev/tty{i}"}}
            for i in range(GAUGES)
        ]
        job = {"job": {"name": f"scale {number}", "simulated": True}, "gauge": gauges}
        header = encode_header(Header.new(job, time.time_ns()))
        self._file = path.open("ab", buffering=0)
        self._file.write(header + b"\n")
        self.chain, self.seq, self._began = first_chain(header), 0, time.monotonic_ns()

    def tick(self, number: int) -> None:
        """Eight readings, and every tenth time a beat, in one write."""
        at, lines = Instant(time.monotonic_ns() - self._began, time.time_ns()), []
        for gauge in range(GAUGES + (number % RATE == 0)):
            fact: Any = Beat()
            if gauge < GAUGES:
                value = round(55.0 + (number * 7 + gauge) % 100 * 1e-4, 4)
                fact = Reading(value, "mm", 4, f"+{value:08.4f} mm\r\n")
            body = encode_event(Event(self.seq, at, f"g{gauge}" if gauge < GAUGES else "daemon", fact))
            self.chain = next_chain(self.chain, body)
            lines.append(join_chain(body, self.chain))
            self.seq += 1
        self._file.write(b"".join(lines))


def write(folder: Path, machines: int, seconds: float, out: Any, go: Any) -> None:
    """Writes all recordings; gives the wall clock of each tick, and the last chains."""
    lines = []
    for number in range(machines):
        place = folder / f"m{number}"
        place.mkdir()
        lines.append(GrowingRecording(place / "live.jsonl", number))
    out.put("ready")
    go.wait()
    walls, begin = [], time.monotonic() + 0.5
    for number in range(int(seconds * RATE)):
        time.sleep(max(0.0, begin + number / RATE - time.monotonic()))
        walls.append(time.time())
        for line in lines:
            line.tick(number)
    out.put((walls, {f"m{number}": (line.seq, line.chain) for number, line in enumerate(lines)}))


def publish(folder: Path, url: str, numbers: list[int], stop: Any) -> None:
    """Publishers of some machines, a turn of each after the other."""
    broker = broker_of(url)
    publishers = [Publisher(folder / f"m{n}", f"m{n}", broker, print) for n in numbers]
    while not stop.is_set():
        begun = time.monotonic()
        for one in publishers:
            one.turn(pause=0.0)
        time.sleep(max(0.0, 0.05 - (time.monotonic() - begun)))
    for one in publishers:
        one.close()


def watch(url: str, expected: Any) -> tuple[list[tuple[float, dict[str, int]]], Any]:
    """What is stored, twenty times a second, until all of it is; and what was expected in the end."""
    seen: list[tuple[float, dict[str, int]]] = []
    due: Any = None
    end = time.monotonic() + LONGEST
    with psycopg.connect(url, autocommit=True) as one:
        while time.monotonic() < end:
            rows = one.execute("SELECT machine, next FROM store.recordings").fetchall()
            seen.append((time.time(), dict(rows)))
            if due is None and not expected.empty():
                due = expected.get()
            if due is not None and sum(seen[-1][1].values()) == sum(seq for seq, _ in due[1].values()):
                break
            time.sleep(0.05)
    return seen, due


def stands(url: str, recordings: int) -> None:
    """Waits until an archive has made its tables and has so many recordings."""
    end = time.monotonic() + LONGEST
    while time.monotonic() < end:
        try:
            with psycopg.connect(url, autocommit=True) as one:
                found = one.execute("SELECT count(*) FROM store.recordings").fetchone()
            if found is not None and found[0] >= recordings:
                return
        except psycopg.Error:
            pass
        time.sleep(0.2)


def lags(seen: list[tuple[float, dict[str, int]]], walls: list[float]) -> np.ndarray[Any, Any]:
    """Seconds from each tick's lines being written to their being seen in the database."""
    ends = np.cumsum([PER_TICK + (number % RATE == 0) for number in range(len(walls))])
    found: list[float] = []
    stored: dict[str, int] = {}
    for at, rows in seen:
        for machine, count in rows.items():
            first = int(np.searchsorted(ends, stored.get(machine, 0), "right"))
            last = int(np.searchsorted(ends, count, "right"))
            found += [at - walls[tick] for tick in range(first, last)]
            stored[machine] = count
    return np.array(found)


def taken_by(pids: dict[str, list[int]]) -> dict[str, tuple[float, float]]:
    """Processor seconds and resident MiB of each engine."""
    found = {}
    for name, numbers in pids.items():
        cpu = memory = 0.0
        for pid in numbers:
            try:
                one = usage(pid)
            except (OSError, IndexError):  # it ended meanwhile
                continue
            cpu, memory = cpu + one.cpu, memory + one.mib
        found[name] = (cpu, memory)
    return found


def children(pid: int) -> list[int]:
    """A process and those that it began."""
    listed = subprocess.run(
        ["ps", "-o", "pid=", "--ppid", str(pid)], capture_output=True, text=True, check=False
    )
    return [pid, *map(int, listed.stdout.split())]


def trial(machines: int, seconds: float, folder: Path, server: Postgres) -> dict[str, Any]:
    """One trial: its figures."""
    name = f"scale{machines}_{int(time.time())}"
    broker, url = Mosquitto(folder / name), server.create(name)
    place = Path(tempfile.mkdtemp(dir="/dev/shm", prefix="tenths-"))
    words = ["archive", "--broker", broker.url, "--database", url, "--name", "one"]
    archive = subprocess.Popen([sys.executable, "-m", "capture.cli", *words])
    stands(url, 0)
    time.sleep(1.0)
    context = multiprocessing.get_context("spawn")
    out, stop, go = context.Queue(), context.Event(), context.Event()
    writer = context.Process(target=write, args=(place, machines, seconds, out, go))
    writer.start()
    out.get()
    shares = [list(range(machines))[k::PUBLISHERS] for k in range(PUBLISHERS)]
    work = [context.Process(target=publish, args=(place, broker.url, part, stop)) for part in shares if part]
    for one in work:
        one.start()
    stands(url, machines)
    time.sleep(2.0)
    postmaster = int((server.data / "postmaster.pid").read_text().split("\n")[0])
    pids = {
        "broker": [broker.process.pid if broker.process else 0],
        "archive": [archive.pid],
        "database": children(postmaster),
        "publishers": [one.pid or 0 for one in work],
    }
    before = taken_by(pids)
    go.set()
    seen, due = watch(url, out)
    after = taken_by(pids)
    stop.set()
    for one in (*work, writer):
        one.join(20)
    archive.terminate()
    archive.wait(20)
    broker.stop()
    shutil.rmtree(place)
    return figures(url, machines, seen, due, before, after)


def figures(
    url: str,
    machines: int,
    seen: list[tuple[float, dict[str, int]]],
    due: Any,
    before: dict[str, tuple[float, float]],
    after: dict[str, tuple[float, float]],
) -> dict[str, Any]:
    """Lag, losses by the chain, and what each engine cost."""
    walls, ends = due
    with psycopg.connect(url) as one:
        rows = one.execute("SELECT machine, next, chain FROM store.recordings").fetchall()
        counted = one.execute("SELECT count(*) FROM store.lines").fetchone()
    wrong = [row[0] for row in rows if ends[row[0]] != (row[1], row[2])]
    events = sum(seq for seq, _ in ends.values())
    late = lags(seen, walls)
    return {
        "machines": machines,
        "events_a_second": events / (walls[-1] - walls[0] + 1 / RATE),
        "events": events,
        "lost_or_doubled": events - (counted[0] if counted else 0),
        "chains_that_differ": len(wrong) + machines - len(rows),
        "lag_p50": float(np.percentile(late, 50)),
        "lag_p95": float(np.percentile(late, 95)),
        "lag_most": float(late.max()),
        "load": float(Path("/proc/loadavg").read_text("ascii").split()[0]),
        "cpu_ms_an_event": {name: (after[name][0] - before[name][0]) / events * 1e3 for name in after},
        "mib_before": {name: before[name][1] for name in before},
        "mib_after": {name: after[name][1] for name in after},
    }


def main() -> None:
    """Each number of machines, one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--machines", type=int, nargs="+", default=[1, 8, 64])
    parser.add_argument("--seconds", type=float, default=30.0)
    given = parser.parse_args()
    server = Postgres(more="", place=given.folder)
    try:
        for machines in given.machines:
            sys.stdout.write(json.dumps(trial(machines, given.seconds, given.folder, server)) + "\n")
            sys.stdout.flush()
    finally:
        server.close()


if __name__ == "__main__":
    main()
