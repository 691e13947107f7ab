"""A session from a real serial port to a recording, as a person runs it."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
import time
from itertools import pairwise

import pytest

from capture.links.inbox.endpoint import NAME

pytestmark = pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX")


def grind(tenths, capture, port, infeeds, first=0):
    """A faultless machine of share 0.5; each word and each reading waits until it is on disk."""
    size, spring, took = 55.03, 0.0, 1.0
    for number, infeed in enumerate(infeeds, first + 1):
        spring += infeed
        size, spring = size - spring / 2, spring / 2
        begun = time.monotonic()
        # a word after less than half the time of the pass before would be of that one, said again
        time.sleep(0.5 * took)
        tenths("say", "pass", str(infeed))
        took = time.monotonic() - begun
        port.send(f"+{size:08.3f} mm\r\n".encode())
        capture.until("taken", number)


def pressed(job):
    """The micrometer has a button, however fast the test presses it."""
    job.write_text(job.read_text("utf-8") + "stream = false\n", "utf-8")


def test_a_grind_from_the_port_to_the_verdict(tenths, job, port):
    pressed(job)
    capture = tenths.capture(str(job))
    capture.until("up", 1)

    tenths("say", "stage", "finish")
    grind(tenths, capture, port, [0.006] * 4 + [0.0] * 8)
    capture.stop()

    found = tenths.json("summary", str(capture.recording))
    assert found["recording"]["whole"] is True
    assert [row["infeed"] for row in found["passes"]] == [0.006] * 4 + [0.0] * 8
    assert found["passes"][-1]["verdict"] == "sparked-out"
    assert [row["what"] for row in found["flags"]] == ["sparking-out", "sparked-out"]
    assert found["passes"][-1]["predicted"] == pytest.approx(55.03 - 0.024, abs=0.001)
    assert tenths.json("summary", str(capture.recording), "--afresh")["passes"] == found["passes"]


def test_a_gauge_that_sends_each_line_twice_is_recorded_twice_and_taken_once(tenths, job, port):
    pressed(job)
    capture = tenths.capture(str(job))
    capture.until("up", 1)
    for number, line in enumerate((b"+055.010 mm\r\n", b"+055.011 mm\r\n", b"+055.012 mm\r\n"), 1):
        port.send(line * 2)
        capture.until("reading", 2 * number)
    capture.stop()

    assert [fact["value"] for fact in capture.facts("taken")] == [55.01, 55.011, 55.012]
    assert len(capture.facts("reading")) == 6


def test_a_tied_capture_stops_when_its_terminal_hangs_up(tenths, job, wait_until):
    hand, terminal = os.openpty()
    capture = subprocess.Popen(
        [sys.executable, "-m", "capture.cli", "capture", str(job), "--out", "tied.jsonl", "--tied"],
        cwd=tenths.folder,
        env=tenths.environment,
        stdin=terminal,
        start_new_session=True,
    )
    os.close(terminal)
    try:
        wait_until((tenths.folder / NAME).exists, "the capture to listen")
        os.close(hand)

        assert capture.wait(20) == 0
    finally:
        capture.kill()
        capture.wait()


def test_a_word_is_on_disk_when_it_is_acknowledged(tenths, job):
    capture = tenths.capture(str(job))

    reply = tenths.json("say", "pass", "0.004")

    assert reply["ok"] is True
    (event,) = [event for event in capture.events() if event["seq"] == reply["seq"]]
    assert event["fact"] == {"kind": "pass", "infeed": 0.004}
    assert event["source"] == "person"


def test_only_the_user_can_read_the_token_of_the_inbox(tenths, job):
    capture = tenths.capture(str(job))

    assert stat.S_IMODE((tenths.folder / capture.inbox).stat().st_mode) == 0o600


def test_a_second_capture_on_the_folder_is_refused_and_the_first_goes_on(tenths, job):
    capture = tenths.capture(str(job))

    said = tenths("capture", str(job), status=2)

    assert "a capture runs here already" in said
    assert len(list(tenths.folder.glob("*.jsonl"))) == 1, "a refused capture leaves no recording"
    assert len(said.splitlines()) == 1
    assert tenths.json("say", "note", "still here")["ok"] is True
    capture.stop()


def test_an_unplugged_gauge_is_said_and_found_again(tenths, job, port):
    capture = tenths.capture(str(job))
    capture.until("up", 1)
    port.send(b"+055.010 mm\r\n")
    capture.until("reading", 1)

    port.unplug()
    (down,) = capture.until("down", 1)
    port.plug()
    capture.until("up", 2)
    port.send(b"+055.009 mm\r\n")
    readings = capture.until("reading", 2)

    assert down["why"]
    assert [reading["value"] for reading in readings] == [55.010, 55.009]


def test_garbage_on_the_line_is_kept_and_brings_a_hint(tenths, job, port):
    capture = tenths.capture(str(job))
    capture.until("up", 1)

    for _ in range(20):
        port.send(b"\xff\xfe#?\r\n")
    garbled = capture.until("garbled", 20)
    (flag,) = capture.until("flag", 1)
    port.send(b"+055.010 mm\r\n")
    capture.until("reading", 1)

    assert garbled[0]["raw"].startswith("\xff\xfe#?")
    assert (flag["what"], flag["figures"]["came"]) == ("garbled", 20)


def test_a_gauge_in_inches_on_a_millimetre_sheet_is_said(tenths, job, port):
    """25.4 mm to the inch, exactly: 2.1654 in are 55.00116 mm."""
    capture = tenths.capture(str(job))
    capture.until("up", 1)

    port.send(b"+2.1654 in\r\n")
    (reading,) = capture.until("reading", 1)
    (flag,) = capture.until("flag", 1)

    assert reading["value"] == pytest.approx(55.00116, abs=1e-12)
    assert (reading["shown"], reading["digits"]) == ("in", 4)
    assert flag["what"] == "unit-differs"


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_stops_it_cleanly(tenths, job, port, number):
    capture = tenths.capture(str(job))
    capture.until("up", 1)
    port.send(b"+055.010 mm\r\n")
    capture.until("taken", 1)

    said = capture.stop(number)

    assert "stopped:" in said
    assert not (tenths.folder / capture.inbox).exists()
    assert tenths("check", str(capture.recording)).strip().endswith("whole")


def test_a_beat_comes_every_second(tenths, job):
    capture = tenths.capture(str(job))

    beats = capture.until("beat", 3)

    assert beats
    times = [event["at"][0] for event in capture.events() if event["fact"]["kind"] == "beat"]
    assert all(0.8e9 < later - earlier < 5e9 for earlier, later in pairwise(times))


def test_a_killed_capture_goes_on_in_the_same_recording(tenths, job, port):
    first = tenths.capture(str(job), "--out", "shift.jsonl")
    first.until("up", 1)
    grind(tenths, first, port, [0.004, 0.004])
    first.process.kill()
    first.process.wait()
    before = first.events()

    again = tenths.capture(str(job), "--out", "shift.jsonl")
    again.until("up", 2)
    grind(tenths, again, port, [0.004], first=2)
    again.stop()

    events = again.events()
    assert events[: len(before)] == before
    assert [event["seq"] for event in events] == list(range(len(events)))
    assert [row["number"] for row in tenths.json("summary", "shift.jsonl")["passes"]] == [1, 2, 3]


def test_a_wrong_sheet_is_refused_with_every_fault_before_anything_is_opened(tenths, job):
    job.write_text(job.read_text("utf-8").replace("nominal = 55.0", "nominal = -1\nmoon = 2"), "utf-8")

    said = tenths("capture", str(job), status=2)

    assert "fit.nominal: came -1, due a length above 0" in said
    assert "fit.moon: no such key" in said
    assert not list(tenths.folder.glob("*.jsonl"))


def test_a_port_that_is_missing_is_said_and_the_others_go_on(tenths, job, port, tmp_path):
    text = job.read_text("utf-8")
    second = (
        f'[[gauge]]\nname = "probe"\nmeasures = "temperature"\nlink = {{ serial = "{tmp_path}/ttyNONE" }}\n'
    )
    job.write_text(text + second, "utf-8")

    capture = tenths.capture(str(job))
    (down,) = capture.until("down", 1)
    port.send(b"+055.010 mm\r\n")
    capture.until("reading", 1)

    assert "ttyNONE" in down["why"]


def test_say_without_a_capture_is_refused_politely(tenths):
    said = tenths("say", "pass", "0.004", status=2)

    assert "no capture is running" in said
    assert len(said.splitlines()) == 1


def test_a_setting_given_to_a_capture_stands_in_its_recording(tenths, job):
    capture = tenths.capture(str(job), "--set", "spark_out.limit=0.002")
    capture.stop()

    header = (tenths.folder / capture.recording).read_text("utf-8").splitlines()[0]
    assert '"settings":{"spark_out":{"limit":0.002}}' in header


def test_run_shows_the_screen_beside_the_capture(tenths, job):
    process = tenths.start("run", str(job), "--no-open")
    assert process.stdout is not None
    assert process.stdout.readline().startswith("ready: recording ")

    line = process.stdout.readline()

    assert "http://127.0.0.1:" in line
    process.send_signal(signal.SIGTERM)
    process.wait(timeout=30)
    assert process.returncode == 0


def test_the_demo_grinds_a_part_to_size(tenths):
    """The invented part ends inside its own guarded band: the demo shows what it is meant to."""
    tenths("demo", "--speed", "40", "--no-open", "--leave", "--folder", "demo")

    (recording,) = (tenths.folder / "demo").glob("*.jsonl")
    flags = [row["what"] for row in tenths.json("summary", str(recording))["flags"]]
    assert "warm" in flags
    assert flags[-1] == "at-size"


def test_the_demo_of_a_bore_takes_stations_from_a_rocked_gauge(tenths, wait_until):
    process = tenths.start("demo", "--bore", "--no-open", "--folder", "bore")

    def taken():
        found = [
            path.read_text("utf-8").count('"kind":"taken"')
            for path in (tenths.folder / "bore").glob("*.jsonl")
        ]
        return sum(found) >= 1

    wait_until(taken, "a station of the bore", 60.0)
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=30)

    assert process.returncode == 0
