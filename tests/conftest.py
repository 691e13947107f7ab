"""What all tests share: one reproducible way of drawing examples, and the commands as users run them."""

from __future__ import annotations

import json
import os
import pty
import re
import signal
import subprocess
import sys
import time
import tty
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "tenths",
    deadline=None,
    derandomize="TENTHS_RANDOM" not in os.environ,
    max_examples=int(os.environ.get("TENTHS_EXAMPLES", "100")),
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("tenths")

PATIENCE = 90.0
"""Seconds until what must come is given up: a busy machine is slow, and only a hang is a fault."""


def pytest_xdist_auto_num_workers() -> int | None:
    """One worker more than there are cores: each waits for ports, browsers and processes much of its time."""
    if "PYTEST_XDIST_AUTO_NUM_WORKERS" in os.environ:
        return None
    return (os.cpu_count() or 1) + 1


class Port:
    """A pseudo-terminal with a name that stays, so that a gauge can be unplugged and plugged in."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.plug()

    def plug(self) -> None:
        self._master, slave = pty.openpty()
        tty.setraw(slave)
        self.path.unlink(missing_ok=True)
        self.path.symlink_to(os.ttyname(slave))
        os.close(slave)

    def unplug(self) -> None:
        os.close(self._master)
        self.path.unlink()

    def send(self, data: bytes) -> None:
        os.write(self._master, data)


def until(true: Callable[[], Any], what: str, patience: float = PATIENCE) -> Any:
    """Wait for something to become true; the wait is a bound, not a measure."""
    end = time.monotonic() + patience
    while not (value := true()):
        assert time.monotonic() < end, f"waited {patience} s for {what}"
        time.sleep(0.02)
    return value


class Tenths:
    """Runs `tenths` in a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._running: list[subprocess.Popen[str]] = []
        self.environment = {**os.environ, "XDG_RUNTIME_DIR": str(folder / "runtime"), "PYTHONUNBUFFERED": "1"}
        (folder / "runtime").mkdir()

    def __call__(self, *words: str, status: int = 0) -> str:
        done = subprocess.run(
            [sys.executable, "-m", "capture.cli", *words],
            cwd=self.folder,
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        assert "Traceback" not in done.stderr, done.stderr
        assert done.returncode == status, (done.returncode, done.stdout, done.stderr)
        return done.stdout if status == 0 else done.stdout + done.stderr

    def json(self, *words: str) -> Any:
        return json.loads(self(*words, "--json"))

    def start(self, *words: str) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [sys.executable, "-m", "capture.cli", *words],
            cwd=self.folder,
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self._running.append(process)
        return process

    def capture(self, *words: str) -> Capture:
        return Capture(self, self.start("capture", *words))

    def close(self) -> None:
        for process in self._running:
            process.terminate()  # a command that has a child of its own ends it then
            try:
                process.communicate(timeout=10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.communicate()


class Capture:
    """A running capture."""

    def __init__(self, tenths: Tenths, process: subprocess.Popen[str]) -> None:
        self.process = process
        assert process.stdout is not None
        line = process.stdout.readline()
        found = re.fullmatch(r"ready: recording (.+\.jsonl) inbox (.+)\n", line)
        if found is None:
            process.kill()
            raise AssertionError(f"no ready line, but {line!r} and {process.communicate()[1]!r}")
        self.recording, self.inbox = Path(found[1]), Path(found[2])
        self._folder = tenths.folder

    def events(self) -> list[dict[str, Any]]:
        text = (self._folder / self.recording).read_text("utf-8")
        # What follows the last line end is being written at this moment.
        return [json.loads(line) for line in text.split("\n")[1:-1]]

    def facts(self, kind: str) -> list[dict[str, Any]]:
        return [event["fact"] for event in self.events() if event["fact"]["kind"] == kind]

    def until(self, kind: str, count: int) -> list[dict[str, Any]]:
        until(lambda: len(self.facts(kind)) >= count, f"{count} {kind}")
        return self.facts(kind)

    def stop(self, number: signal.Signals = signal.SIGINT) -> str:
        self.process.send_signal(number)
        _, said = self.process.communicate(timeout=30)
        assert self.process.returncode == 0, said
        return said


@pytest.fixture
def tenths(tmp_path: Path) -> Iterator[Tenths]:
    runner = Tenths(tmp_path)
    yield runner
    runner.close()


@pytest.fixture
def port(tmp_path: Path) -> Port:
    return Port(tmp_path / "ttyGAUGE")


@pytest.fixture
def job(tmp_path: Path, port: Port) -> Path:
    """A sheet with one micrometer on a pseudo-terminal."""
    path = tmp_path / "sleeve.toml"
    path.write_text(
        f"""
        [job]
        name = "sleeve"
        [fit]
        nominal = 55.0
        clearance = {{ aim = 0.005, least = 0.003, most = 0.008 }}
        [shaft]
        material = "steel 4140"
        stations = [80]
        [grinder]
        dial = "diameter"
        [[gauge]]
        name = "mike"
        measures = "diameter"
        link = {{ serial = "{port.path}" }}
        resolution = 0.001
        """,
        "utf-8",
    )
    return path


@pytest.fixture
def wait_until() -> Callable[..., Any]:
    return until
