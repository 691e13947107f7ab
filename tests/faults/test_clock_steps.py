"""A wall clock that is set back and forth under a running capture, by a library loaded before the system's.

Nothing is lost, order and intervals stay, and the sizes are those of an undisturbed clock.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(
    sys.platform != "linux" or shutil.which("cc") is None, reason="needs Linux and a C compiler"
)

DAY = 86400
STEPS = (0, DAY, -DAY, 3600, -40 * 365 * DAY, 30 * 365 * DAY, -3600, 0, 200 * 365 * DAY)
"""Seconds: a time zone, a lost battery (a clock of the nineteen-eighties), and the year 2226."""


@pytest.fixture
def off(tmp_path: Path, tenths) -> Path:
    """The file that says by how much the wall clock of what is started from here on is off."""
    library = tmp_path / "stepped_clock.so"
    source = Path(__file__).with_name("stepped_clock.c")
    subprocess.run(["cc", "-shared", "-fPIC", "-o", library, source, "-ldl"], check=True)
    file = tmp_path / "off"
    file.write_text("0", "utf-8")
    tenths.environment |= {"LD_PRELOAD": str(library), "STEPPED_CLOCK": str(file)}
    return file


def readings(capture) -> list[dict]:
    return [event for event in capture.events() if event["fact"]["kind"] == "reading"]


def undisturbed(path: Path) -> Path:
    """The same recording as a wall clock that nobody sets would have made it."""
    head, *lines = path.read_text("utf-8").splitlines()
    events = [json.loads(line) for line in lines]
    for event in events:
        event.pop("chain")
        event["at"][1] = events[0]["at"][1] + event["at"][0]
    smooth = path.with_name("smooth.jsonl")
    smooth.write_text("\n".join([head, *map(json.dumps, events), ""]), "utf-8")
    return smooth


def test_a_clock_set_back_and_forth_harms_no_order_no_interval_and_no_size(tenths, job, port, off):
    capture = tenths.capture(str(job))
    for number, step in enumerate(STEPS):
        off.write_text(str(step), "utf-8")
        assert tenths("say", "station", "shaft", "80", "0")
        port.send(b"%.3f mm\r\n" % (55.0 + number / 1000))
        capture.until("reading", number + 1)
    capture.stop()

    events = capture.events()
    heard = readings(capture)
    assert [event["fact"]["value"] for event in heard] == [
        round(55.0 + number / 1000, 3) for number in range(len(STEPS))
    ]
    times = [event["at"][0] for event in events]
    assert times == sorted(times)
    assert max(b - a for a, b in pairwise(times)) < 120e9, "an interval is of the clock that nobody sets"
    walls = [event["at"][1] / 1e9 - step for event, step in zip(heard, STEPS, strict=True)]
    assert max(walls) - min(walls) < 600, "each says what the wall clock showed as it came"
    assert tenths("check", str(capture.recording)).endswith("whole\n")
    smooth = undisturbed(tenths.folder / capture.recording)
    found = [tenths.json("summary", str(path)) for path in (capture.recording, smooth)]
    assert found[0]["stations"], "the part was measured"
    assert [one | {"recording": None} for one in found] == [found[1] | {"recording": None}] * 2
    for words in (("report", "record.html"), ("export", "readings.csv", "--what", "readings")):
        assert "55" in tenths(words[0], str(capture.recording), "-o", *words[1:]) + (
            tenths.folder / words[1]
        ).read_text("utf-8")


def test_a_capture_goes_on_with_a_clock_that_lost_its_battery(tenths, job, port, off):
    first = tenths.capture(str(job), "--out", "session.jsonl")
    port.send(b"55.001 mm\r\n")
    first.until("reading", 1)
    first.stop()

    for number, step in enumerate((-40 * 365 * DAY, 200 * 365 * DAY), start=2):
        off.write_text(str(step), "utf-8")
        again = tenths.capture(str(job), "--out", "session.jsonl")
        port.send(b"%.3f mm\r\n" % (55.0 + number / 1000))
        again.until("reading", number)
        again.stop()

    times = [event["at"][0] for event in again.events()]
    assert times == sorted(times)
    assert tenths("check", "session.jsonl").endswith("whole\n")
    assert tenths("summary", "session.jsonl")
