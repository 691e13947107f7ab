"""Gauges on real ports that flood, fall silent, say everything twice, and are unplugged again and again.

`TENTHS_FLOOD` sets the seconds of garbage at 115200 baud (3 unless told), `TENTHS_RECONNECTS` how
often a cable is pulled (20 unless told; 100 by hand).
"""

from __future__ import annotations

import os
import random
import time
from pathlib import Path

import pytest

FLOOD = float(os.environ.get("TENTHS_FLOOD", "3"))
PULLS = int(os.environ.get("TENTHS_RECONNECTS", "20"))
BYTES_A_SECOND = 11_520
"""At 115200 baud, 8 data bits, no parity, one stop bit."""


def raws(capture, source: str) -> bytes:
    facts = [event["fact"] for event in capture.events() if event["source"] == source]
    return b"".join(fact["raw"].encode("latin-1") for fact in facts if "raw" in fact)


@pytest.fixture
def two(job, port, tmp_path) -> tuple[Path, Path]:
    """A sheet with a second gauge, and the name of its port."""
    other = tmp_path / "ttyOTHER"
    gauge = f'[[gauge]]\nname = "other"\nmeasures = "temperature"\nlink = {{ serial = "{other}" }}\n'
    job.write_text(job.read_text("utf-8") + gauge, "utf-8")
    return job, other


def test_a_flood_of_garbage_loses_no_byte_and_silences_no_other(tenths, two, port, wait_until):
    job, other = two
    second = type(port)(other)
    capture = tenths.capture(str(job))
    rubbish = random.Random(115_200)  # noqa: S311 - rubbish is no secret
    sent, told, end = b"", 0, time.monotonic() + FLOOD
    while time.monotonic() < end:
        piece = rubbish.randbytes(BYTES_A_SECOND // 50)
        port.send(piece)
        sent += piece
        if len(sent) // BYTES_A_SECOND >= told:
            second.send(b"20.5 C\r\n")
            told += 1
        time.sleep(0.02)

    wait_until(lambda: len(raws(capture, "mike")) >= len(sent) - 200, "the flood to be on disk")
    wait_until(lambda: raws(capture, "other") == b"20.5 C\r\n" * told, "the other gauge's words")
    capture.stop()
    heard = raws(capture, "mike")
    assert heard.replace(b"\n", b"") == sent.replace(b"\n", b""), "but for an LF after a CR, all is there"
    assert [fact["settings"]["why"] for fact in capture.facts("flag") if fact["what"] == "garbled"]


def test_a_gauge_that_falls_silent_is_said_and_said_again_after_it_spoke(tenths, job, port, wait_until):
    job.write_text(job.read_text("utf-8") + "silence = 1.5\n", "utf-8")
    capture = tenths.capture(str(job))

    def silences() -> int:
        return sum(fact["what"] == "silent" for fact in capture.facts("flag"))

    port.send(b"55.001 mm\r\n")
    wait_until(lambda: silences() == 1, "the silence to be said")
    port.send(b"55.002 mm\r\n")
    wait_until(lambda: silences() == 2, "the second silence to be said")
    capture.stop()

    assert len(capture.facts("reading")) == 2


def test_a_gauge_that_says_all_twice_is_recorded_as_it_spoke_and_taken_once(tenths, job, port):
    job.write_text(job.read_text("utf-8").replace("stations = [80]", "stations = [80, 160]"), "utf-8")
    capture = tenths.capture(str(job))
    port.send(b"55.001 mm\r\n" * 2)
    capture.until("reading", 2)
    port.send(b"55.003 mm\r\n")
    capture.until("taken", 2)
    capture.stop()

    assert len(capture.facts("reading")) == 3
    found = tenths.json("summary", str(capture.recording))["stations"]
    assert [(row["z"], row["value"]) for row in found] == [(80.0, 55.001), (160.0, 55.003)]


@pytest.mark.timeout(60 + 3 * PULLS)
def test_a_cable_pulled_again_and_again_is_found_each_time_and_leaves_no_file_open(tenths, job, port):
    capture = tenths.capture(str(job))
    files = Path(f"/proc/{capture.process.pid}/fd")
    opened: list[int] = []
    for turn in range(PULLS):
        capture.until("up", turn + 1)
        port.send(b"%.3f mm\r\n" % (55 + turn / 1000))
        capture.until("reading", turn + 1)
        opened.append(len(list(files.iterdir())))
        port.unplug()
        capture.until("down", turn + 1)
        port.plug()
    capture.until("up", PULLS + 1)
    capture.stop()

    values = [fact["value"] for fact in capture.facts("reading")]
    assert values == [55 + turn / 1000 for turn in range(PULLS)]
    assert max(opened) <= opened[0] + 1
    assert tenths("check", str(capture.recording)).endswith("whole\n")
