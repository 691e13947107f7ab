"""From the wire to the disk: how long a reading takes, and how many gauges one capture can read."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from msgspec import Struct

from capture.benchmarks.cables import Cable, cables, speak
from capture.benchmarks.rows import NoFigure, Row, quantile

PACE = 0.98
"""Share of the due readings below which the sender, and not the capture, is what was measured."""
SHEET = '[job]\nname = "benchmark"\n'
GAUGE = """
[[gauge]]
name = "gauge-{number}"
measures = "{measures}"
{part}
link = {{ serial = "{port}" }}
resolution = 0.001
"""


class WireRun(Struct, frozen=True):
    """What one run gave."""

    delays: list[float]
    """Milliseconds from sending to on disk, of each reading that arrived."""
    lost: int
    cpu: float
    """Share of one core."""
    reached: float
    """Readings sent, as a share of those that were due in that time: below 1 the sender fell behind."""


def sheet(laid: list[Cable], measures: str) -> str:
    """A job sheet with a gauge on each cable."""
    part = 'part = "room"' if measures == "temperature" else ""
    return SHEET + "".join(
        GAUGE.format(number=number, measures=measures, part=part, port=cable.port)
        for number, cable in enumerate(laid)
    )


def measure_listeners(
    ways: dict[str, list[Cable]], *, measures: str, rate: float, count: int, patience: float = 0.5
) -> list[WireRun]:
    """Has programs of `capture.benchmarks.listeners` read gauges that send *count* readings each.

    Args:
        ways: The programs by name, each with as many cables. They run side by side, and the gauges of
            the one speak in the pauses of the other's, so that whatever else the machine does
            meets both alike.
        measures: What the gauges measure.
        rate: Readings a second of each gauge.
        count: Readings of each gauge.
        patience: Seconds that the programs are given for the last ones.

    Raises:
        NoFigure: Nothing was received from a gauge: then something else than speed is the matter.
    """
    woven = [cable for cables_ in zip(*ways.values(), strict=True) for cable in cables_]
    with ExitStack() as running:
        ends = [running.enter_context(_hearing(how, laid, measures)) for how, laid in ways.items()]
        # Whoever speaks before anybody listens has said nothing that could be measured.
        time.sleep(0.3)
        begun = time.monotonic()
        sent = speak(woven, rate=rate, count=count)
        took = time.monotonic() - begun
        time.sleep(patience)
        said = [end() for end in ends]
    found: list[WireRun] = []
    for place, (how, (on_disk, cpu)) in enumerate(zip(ways, said, strict=True)):
        mine = {number: stamp for number, stamp in sent.items() if number % len(ways) == place}
        delays = [(on_disk[number] - stamp) / 1e6 for number, stamp in mine.items() if number in on_disk]
        silent = {number % len(woven) for number in mine} - {number % len(woven) for number in on_disk}
        if silent:
            raise NoFigure(f"{how} never read {len(silent)} of its gauges: is another program at the ports?")
        reached = min(1.0, count / rate / took)
        found.append(WireRun(delays, len(mine) - len(delays), cpu / took, reached))
    return found


@contextmanager
def _hearing(
    how: str, laid: list[Cable], measures: str
) -> Iterator[Callable[[], tuple[dict[int, int], float]]]:
    """One program while it runs; ends it and gives when each reading was on disk, and its processor time."""
    with tempfile.TemporaryDirectory(prefix="tenths-bench-") as name:
        folder = Path(name)
        (folder / "job.toml").write_text(sheet(laid, measures), "utf-8")
        words = [sys.executable, "-m", "capture.benchmarks.listeners", how, name, *(c.port for c in laid)]
        program = subprocess.Popen(
            words, stdout=subprocess.PIPE, text=True, env={**os.environ, "XDG_RUNTIME_DIR": name}
        )

        def end() -> tuple[dict[int, int], float]:
            program.send_signal(signal.SIGTERM)
            said = json.loads(program.communicate()[0])
            return {int(number): stamp for number, stamp in said["on_disk"].items()}, said["cpu"]

        with program:
            try:
                if program.stdout is None or program.stdout.readline() != "ready\n":
                    raise NoFigure(f"the program that reads as {how} did not start")
                yield end
            finally:
                program.kill()


def delay_rows(*, count: int) -> Iterator[Row]:
    """Wire to disk of one gauge at 50 Hz, which a plain loop keeps up with, and of eight at 10 Hz."""
    for gauges, rate, other in ((1, 50.0, "plain"), (8, 10.0, "threads")):
        with cables(2 * gauges) as laid:
            ways = {"capture": laid[:gauges], other: laid[gauges:]}
            ours, plain = measure_listeners(ways, measures="diameter", rate=rate, count=count // gauges)
        against = "pyserial read + write + sync" + (", a thread a port" if other == "threads" else "")
        for name, share in (("p50", 0.5), ("p95", 0.95)):
            what = f"wire to disk, {gauges} × {rate:g} Hz, {name}"
            mine, bare = quantile(ours.delays, share), quantile(plain.delays, share)
            yield Row(what, mine, "ms", against, bare, 1.3)


def capacity_rows(*, seconds: float) -> Iterator[Row]:
    """Sustained capture of 32 and 64 gauges at 100 Hz: nothing lost, and the share of a core.

    A figure of the capture it is only where the sender kept its pace; if it did not, none is given.
    """
    for gauges in (32, 64):
        with cables(gauges) as laid:
            count = round(seconds * 100)
            (plain,) = measure_listeners({"threads": laid}, measures="temperature", rate=100.0, count=count)
            (ours,) = measure_listeners({"capture": laid}, measures="temperature", rate=100.0, count=count)
        what = f"{gauges} × 100 Hz"
        if ours.reached < PACE:
            raise NoFigure(
                f"{what}: the sending side reached only {ours.reached:.0%} of it, and {ours.lost} of "
                f"{ours.lost + len(ours.delays)} readings were lost: too busy a machine for a figure"
            )
        note = f"{len(ours.delays)} readings at {ours.reached:.1%} of the pace; {plain.lost} lost by threads"
        yield Row(f"{what}, readings lost", ours.lost, "", most=0.0, note=note)
        against = "pyserial, a thread a port"
        yield Row(f"{what}, share of a core", 100 * ours.cpu, "%", against, 100 * plain.cpu)
        slow = quantile(ours.delays, 0.95)
        yield Row(f"{what}, wire to disk, p95", slow, "ms", against, quantile(plain.delays, 0.95))
