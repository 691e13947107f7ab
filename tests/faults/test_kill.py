"""A capture killed at random moments loses nothing that it acknowledged or showed, and goes on.

`TENTHS_KILLS` sets how often (25 unless told; 200 by hand).
"""

from __future__ import annotations

import os
import pty
import random
import signal
import subprocess
import sys
import threading
import time
import tty
from pathlib import Path

import pytest

from capture.events import Event, Note, Reading
from capture.links.inbox.client import say
from capture.links.inbox.endpoint import NAME, NoCapture
from capture.recording.reader import follow, read
from capture.recording.repair import check

KILLS = int(os.environ.get("TENTHS_KILLS", "25"))
VICTIM = Path(__file__).with_name("victim.py")
ROOT = Path(__file__).parents[2]


class Bench:
    """A gauge that counts on a pseudo-terminal, a person who counts too, and a screen that follows."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.path = folder / "session.jsonl"
        self.acknowledged: dict[int, str] = {}
        self.shown: list[Event] = []
        self.said = self.read = 0
        self._gauge, self._terminal = pty.openpty()
        tty.setraw(self._terminal)
        self._over = threading.Event()

    def start(self) -> subprocess.Popen[bytes]:
        port = os.ttyname(self._terminal)
        return subprocess.Popen(
            [sys.executable, str(VICTIM), str(self.folder), port],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT), "XDG_RUNTIME_DIR": str(self.folder)},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )

    def work(self) -> list[threading.Thread]:
        self._over.clear()
        threads = [threading.Thread(target=each) for each in (self._talk, self._gauge_reads, self._look)]
        for thread in threads:
            thread.start()
        return threads

    def rest(self, threads: list[threading.Thread]) -> None:
        self._over.set()
        for thread in threads:
            thread.join()

    def _talk(self) -> None:
        while not self._over.is_set():
            try:
                reply = say(["word", str(self.said)], inbox=self.folder / NAME)
            except NoCapture:
                time.sleep(0.02)
                continue
            if reply.ok and reply.seq is not None:
                self.acknowledged[reply.seq] = f"word {self.said}"
            self.said += 1

    def _gauge_reads(self) -> None:
        while not self._over.wait(0.003):
            os.write(self._gauge, f"{self.read}\n".encode())
            self.read += 1

    def _look(self) -> None:
        follower, turn = follow(self.path), -1
        while not self._over.wait(0.005):
            events = follower.poll()
            if turn != follower.turn:
                turn = follower.turn
                self.shown.clear()
            self.shown += events
        follower.close()

    def close(self) -> None:
        os.close(self._gauge)
        os.close(self._terminal)


@pytest.fixture
def bench(tmp_path: Path):
    bench = Bench(tmp_path)
    yield bench
    bench.close()


@pytest.mark.timeout(60 + 5 * KILLS)
def test_killed_at_any_moment_nothing_acknowledged_or_shown_is_lost(bench: Bench) -> None:
    moments = random.Random(55)  # noqa: S311 - the same moments in every run
    for _ in range(KILLS):
        victim = bench.start()
        threads = bench.work()
        if moments.random() < 0.7:
            victim.stdout.readline()
            time.sleep(moments.uniform(0.0, 0.3))
        else:
            time.sleep(moments.uniform(0.0, 1.5))
        victim.kill()
        _, errors = victim.communicate()
        shown = list(bench.shown)
        bench.rest(threads)
        assert errors == b""
        if bench.path.exists() and b"\n" in bench.path.read_bytes():
            events = list(read(bench.path))
            assert events[: len(shown)] == shown
            assert {seq: events[seq].fact for seq in bench.acknowledged} == {
                seq: Note(word) for seq, word in bench.acknowledged.items()
            }
            assert [e.seq for e in events] == list(range(len(events)))

    victim = bench.start()
    threads = bench.work()
    assert victim.stdout.readline() == b"ready\n"
    time.sleep(0.3)
    victim.send_signal(signal.SIGTERM)
    out, errors = victim.communicate(timeout=30)
    bench.rest(threads)

    assert (victim.returncode, out, errors) == (0, b"", b"")
    assert check(bench.path) == []
    recording = read(bench.path)
    events = list(recording)
    assert recording.whole
    assert len(bench.acknowledged) >= KILLS
    assert all(events[seq].fact == Note(word) for seq, word in bench.acknowledged.items())
    values = [e.fact.value for e in events if isinstance(e.fact, Reading)]
    assert values == sorted(values)
    for event in events:
        if isinstance(event.fact, Reading):
            assert events[event.seq + 1].fact == Note(f"saw {event.fact.value:.0f}")
    monos = [e.at.mono for e in events]
    assert monos == sorted(monos)
