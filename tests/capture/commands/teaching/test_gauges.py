"""`gauges`: what is in sight, and a sheet's gauges live on the terminal."""

from __future__ import annotations

import os
import signal
import time

import pytest

from capture.links.inbox.endpoint import NAME


def test_ports_in_sight_are_listed_for_a_program(tenths):
    found = tenths.json("gauges", "--no-bluetooth")

    assert found["bluetooth"] == []
    assert all(port.keys() == {"device", "description", "identity", "location"} for port in found["ports"])


def test_an_absent_bluetooth_is_said_in_one_line_and_ports_are_still_listed(tenths, monkeypatch):
    monkeypatch.setitem(tenths.environment, "DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent")

    process = tenths.start("gauges", "--seconds", "0.1")
    said, trouble = process.communicate(timeout=60)

    assert process.returncode == 0
    assert "port" in said.lower()
    assert len(trouble.splitlines()) == 1
    assert "Bluetooth" in trouble


@pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX")
def test_a_sheets_gauges_are_watched_live_without_leaving_a_recording(tenths, job, port, wait_until):
    process = tenths.start("gauges", "--watch", str(job))
    wait_until((tenths.folder / NAME).exists, "the watch to listen")
    time.sleep(1)
    for _ in range(20):
        port.send(b"+055.012 mm\r\n")
        time.sleep(0.1)
    process.send_signal(signal.SIGINT)

    said, trouble = process.communicate(timeout=30)

    assert process.returncode == 0, trouble
    assert "55.012 mm" in said
    assert "stopped" not in trouble, "of a recording that nobody has"
    assert not list(tenths.folder.glob("*.jsonl"))


@pytest.mark.skipif(os.name == "nt", reason="SIGKILL is POSIX")
def test_what_listens_for_a_watch_that_was_killed_stops_too(tenths, job, wait_until):
    inbox = tenths.folder / NAME
    process = tenths.start("gauges", "--watch", str(job))
    wait_until(inbox.exists, "the watch to listen")

    process.send_signal(signal.SIGKILL)

    wait_until(lambda: not inbox.exists(), "what listens to stop")


def test_a_wrong_sheet_is_refused_before_anything_is_watched(tenths, job):
    job.write_text("[job]\nnme = 3\n", "utf-8")

    assert "job.nme: no such key; did you mean name?" in tenths("gauges", "--watch", str(job), status=2)


def test_why_no_bluetooth_is_seen_is_told_to_a_program(tenths, monkeypatch):
    monkeypatch.setitem(tenths.environment, "DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent")

    assert "Bluetooth" in tenths.json("gauges", "--seconds", "0.1")["trouble"]
