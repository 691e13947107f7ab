"""From the wire to the disk: how long a reading takes, and how many gauges one capture can hear."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from msgspec import Struct

from capture.benchmarks.cables import Cable, cables, speak
from capture.benchmarks.rows import Row, in_turn, medians, quantile

SHEET = '[job]\nname = "benchmark"\n'
GAUGE = """
[[gauge]]
name = "gauge-{number}"
measures = "{measures}"
{part}
link = {{ serial = "{port}" }}
resolution = 0.001
"""


class Heard(Struct, frozen=True):
    """What one run gave."""

    delays: list[float]
    """Milliseconds from sending to on disk, of each reading that arrived."""
    lost: int
    cpu: float
    """Share of one core."""


def sheet(laid: list[Cable], measures: str) -> str:
    """A job sheet with a gauge on each cable."""
    part = 'part = "room"' if measures == "temperature" else ""
    return SHEET + "".join(
        GAUGE.format(number=number, measures=measures, part=part, port=cable.port)
        for number, cable in enumerate(laid)
    )


def hear(how: str, laid: list[Cable], *, measures: str, rate: float, count: int) -> Heard:
    """Has a program of `capture.benchmarks.hearing` hear gauges that send *count* readings each."""
    with tempfile.TemporaryDirectory(prefix="tenths-bench-") as name:
        folder = Path(name)
        (folder / "job.toml").write_text(sheet(laid, measures), "utf-8")
        words = [sys.executable, "-m", "capture.benchmarks.hearing", how, name, *(c.port for c in laid)]
        program = subprocess.Popen(
            words, stdout=subprocess.PIPE, text=True, env={**os.environ, "XDG_RUNTIME_DIR": name}
        )
        with program:
            if program.stdout is None or program.stdout.readline() != "ready\n":
                raise RuntimeError(f"the program that hears as {how} did not start")
            # Whoever speaks before anybody listens has said nothing that could be measured.
            time.sleep(0.3)
            begun = time.monotonic()
            sent = speak(laid, rate=rate, count=count)
            took = time.monotonic() - begun
            time.sleep(0.5)
            program.send_signal(signal.SIGTERM)
            said = json.loads(program.stdout.readline())
    on_disk = {int(number): stamp for number, stamp in said["on_disk"].items()}
    delays = [(on_disk[number] - stamp) / 1e6 for number, stamp in sent.items() if number in on_disk]
    return Heard(delays, len(sent) - len(delays), said["cpu"] / took)


def delay_rows(*, pairs: int, count: int) -> Iterator[Row]:
    """Wire to disk of one gauge at 50 Hz, which a plain loop keeps up with, and of eight at 10 Hz."""

    def timed(how: str, laid: list[Cable], rate: float, measures: str) -> list[float]:
        heard = hear(how, laid, measures=measures, rate=rate, count=count // len(laid))
        return [quantile(heard.delays, 0.5), quantile(heard.delays, 0.95)]

    for gauges, rate, other in ((1, 50.0, "plain"), (8, 10.0, "threads")):
        with cables(gauges) as laid:
            ours, plain = in_turn(
                lambda laid=laid, rate=rate: timed("capture", laid, rate, "diameter"),  # type: ignore[misc]  # mypy cannot infer a lambda's defaults
                lambda laid=laid, rate=rate, other=other: timed(other, laid, rate, "diameter"),  # type: ignore[misc]  # as above
                pairs,
            )
        against = "pyserial read + write + sync" + (", a thread a port" if other == "threads" else "")
        for name, mine, bare in zip(("p50", "p95"), medians(ours), medians(plain), strict=True):
            what = f"wire to disk, {gauges} × {rate:g} Hz, {name}"
            yield Row(what, mine, "ms", against, bare, 1.3 if gauges == 1 else None)


def capacity_rows(*, seconds: float) -> Iterator[Row]:
    """Sustained capture of 32 and 64 gauges at 100 Hz: nothing lost, and the share of a core."""
    for gauges in (32, 64):
        with cables(gauges) as laid:
            count = round(seconds * 100)
            plain = hear("threads", laid, measures="temperature", rate=100.0, count=count)
            ours = hear("capture", laid, measures="temperature", rate=100.0, count=count)
        note = f"{len(ours.delays)} readings; {plain.lost} lost by the threads"
        yield Row(f"{gauges} × 100 Hz, readings lost", ours.lost, "", most=0.0, note=note)
        against = "pyserial, a thread a port"
        yield Row(f"{gauges} × 100 Hz, share of a core", 100 * ours.cpu, "%", against, 100 * plain.cpu)
        slow = f"{gauges} × 100 Hz, wire to disk, p95"
        yield Row(slow, quantile(ours.delays, 0.95), "ms", against, quantile(plain.delays, 0.95))
