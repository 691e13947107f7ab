"""Programs that read gauges, each in a process of its own: ``python -m capture.benchmarks.listeners``.

`capture` is the real capture, with real ports, desk and recording, that also notes when each
event was on disk. `plain` is what anybody would write first: a loop that reads a line, writes
it, and waits until it is on disk. `threads` is the same for many ports: a thread for each, and
one that writes all that came together. Each says ``ready``, reads until SIGTERM, and ends with
one line of JSON: when each reading was on disk, and the processor time that it took.
"""

from __future__ import annotations

import asyncio
import json
import os
import signal
import sys
import threading
import time
from pathlib import Path

import serial

from capture.events import Event, Reading
from capture.host.clock import Clock
from capture.host.disk import sync
from capture.ingest.daemon import capture
from capture.ingest.instruments import instruments_of
from capture.ingest.sequencer import engine_of
from capture.recording.opening import create
from capture.recording.writer import Recorder
from capture.sheet.reader import read_sheet


class Noting(Recorder):
    """A recorder that notes when each reading was on disk."""

    on_disk: dict[int, int]
    awaited: list[Event]

    def add(self, event: Event) -> None:
        """As `Recorder.add`."""
        super().add(event)
        self.awaited.append(event)

    def flush(self) -> bool:
        """As `Recorder.flush`."""
        done = super().flush()
        now = time.monotonic_ns()
        for event in self.awaited:
            if isinstance(event.fact, Reading):
                self.on_disk[round(event.fact.value * 1000)] = now
        self.awaited.clear()
        return done


def listen_as_capture(folder: Path) -> dict[int, int]:
    """The real capture of the folder's sheet."""
    job, plain = read_sheet((folder / "job.toml").read_text("utf-8"), "job.toml")
    clock = Clock.start()
    recorder = create(folder / "session.jsonl", plain, clock)
    recorder.__class__ = Noting  # `create` makes the plain kind; a Noting one has but one more field
    noting = recorder
    if not isinstance(noting, Noting):
        raise TypeError("the recorder could not be made to note times")
    noting.on_disk, noting.awaited = {}, []
    asyncio.run(
        capture(
            instruments_of(job, folder),
            noting,
            clock,
            engine_of(job),
            folder=folder,
            on_ready=lambda *_: say_ready(),
            on_trouble=say_trouble,
        )
    )
    return noting.on_disk


def listen_plainly(folder: Path, ports: list[str]) -> dict[int, int]:
    """One port, one loop."""
    on_disk: dict[int, int] = {}
    stop = stopped()
    with serial.Serial(ports[0], timeout=0.1) as port, (folder / "plain.txt").open("ab", buffering=0) as file:
        say_ready()
        while not stop.is_set():
            line = port.readline()
            if line.endswith(b"\n"):
                file.write(line)
                sync(file.fileno())
                on_disk[round(float(line) * 1000)] = time.monotonic_ns()
    return on_disk


def listen_in_threads(folder: Path, ports: list[str]) -> dict[int, int]:
    """A thread a port; one more writes what came."""
    stop, came = stopped(), threading.Event()
    waiting: list[bytes] = []
    on_disk: dict[int, int] = {}

    def listen(name: str) -> None:
        with serial.Serial(name, timeout=0.1) as port:
            while not stop.is_set():
                line = port.readline()
                if line.endswith(b"\n"):
                    waiting.append(line)
                    came.set()

    def write() -> None:
        with (folder / "plain.txt").open("ab", buffering=0) as file:
            while not stop.is_set() or waiting:
                came.wait(0.1)
                came.clear()
                lines = waiting[:]
                del waiting[: len(lines)]
                file.write(b"".join(lines))
                sync(file.fileno())
                now = time.monotonic_ns()
                on_disk.update((round(float(line) * 1000), now) for line in lines)

    threads = [threading.Thread(target=listen, args=(name,)) for name in ports]
    threads.append(threading.Thread(target=write))
    for thread in threads:
        thread.start()
    say_ready()
    for thread in threads:
        thread.join()
    return on_disk


def stopped() -> threading.Event:
    """Set when SIGTERM comes."""
    stop = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: stop.set())
    return stop


_ready_at: list[float] = []


def say_trouble(sentence: str) -> None:
    """A benchmark on a full disk is none."""
    sys.stderr.write(sentence + os.linesep)


def say_ready() -> None:
    """From here on processor time counts."""
    _ready_at.append(time.process_time())
    sys.stdout.write("ready\n")
    sys.stdout.flush()


def main(how: str, folder: Path, ports: list[str]) -> None:
    """Hears in one of the three ways."""
    if how == "capture":
        on_disk = listen_as_capture(folder)
    elif how == "threads":
        on_disk = listen_in_threads(folder, ports)
    else:
        on_disk = listen_plainly(folder, ports)
    took = time.process_time() - _ready_at[0]
    sys.stdout.write(json.dumps({"on_disk": on_disk, "cpu": took}) + os.linesep)


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), sys.argv[3:])
