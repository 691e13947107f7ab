"""A capture of streaming gauges in real time for a long while: memory and handles, and what is lost.

``python -m capture.benchmarks.trials.long_stream [--minutes 480] [--gauges 8] [--rate 50]``. The capture is
the program's own, in a process of its own on pseudo-terminals.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, Final

from msgspec.structs import asdict

from capture.benchmarks.cables import Cable, cables
from capture.benchmarks.trials.process_usage import usage
from capture.benchmarks.wire import sheet
from capture.events import Garbled, Reading
from capture.recording.reader import read

EVERY: Final = 30.0
"""Seconds between two looks at the capture."""


def _say(figures: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(figures) + "\n")
    sys.stdout.flush()


def speak(laid: list[Cable], rate: float, seconds: float, pid: int) -> int:
    """Has every gauge send at *rate* for so many seconds; how many readings each sent."""
    begun = looked = time.monotonic()
    number = 0
    while time.monotonic() - begun < seconds:
        for cable in laid:
            # A slow swing of 20 µm, as of a gauge that rides on a part: no step that would be doubted.
            os.write(cable.far, b"%+09.4f\r\n" % (55.0 + 0.0001 * abs(number % 400 - 200)))
        number += 1
        time.sleep(max(0.0, begun + number / rate - time.monotonic()))
        if time.monotonic() - looked >= EVERY:
            looked = time.monotonic()
            _say({"minutes": (looked - begun) / 60.0, **asdict(usage(pid))})
    return number


def main() -> None:
    """Runs it; the last line says how many readings were sent and how many are in the recording."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=480.0)
    parser.add_argument("--gauges", type=int, default=8)
    parser.add_argument("--rate", type=float, default=50.0)
    given = parser.parse_args()
    with cables(given.gauges) as laid, tempfile.TemporaryDirectory(prefix="tenths-long-") as name:
        folder = Path(name)
        (folder / "job.toml").write_text(sheet(laid, "diameter"), "utf-8")
        capture = subprocess.Popen(
            [sys.executable, "-m", "capture.cli", "capture", "job.toml"],
            cwd=folder,
            env={**os.environ, "XDG_RUNTIME_DIR": name},
            stdout=subprocess.PIPE,
            text=True,
        )
        if capture.stdout is None or not capture.stdout.readline().startswith("ready"):
            raise SystemExit("the capture did not start")
        sent = speak(laid, given.rate, given.minutes * 60.0, capture.pid)
        time.sleep(2.0)
        last = asdict(usage(capture.pid))
        capture.send_signal(signal.SIGINT)
        status = capture.wait(60)
        (recording,) = folder.glob("*.jsonl")
        facts = [event.fact for event in read(recording)]
        _say(
            {
                "status": status,
                "sent": sent * given.gauges,
                "recorded": sum(isinstance(fact, Reading) for fact in facts),
                "garbled": sum(isinstance(fact, Garbled) for fact in facts),
                "bytes": recording.stat().st_size,
                **last,
            }
        )


if __name__ == "__main__":
    main()
