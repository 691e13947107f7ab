"""The screen may die, and browsers may come and go: the capture goes on, and nothing piles up."""

from __future__ import annotations

import os
import re
import signal
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

RETURNS = int(os.environ.get("TENTHS_RECONNECTS", "100"))
"""How often a browser closes the page and opens it again."""
LINUX = Path("/proc/self/fd").exists()


def children(pid: int) -> list[int]:
    """Processes that *pid* started."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text("ascii", "replace").rpartition(")")[2].split()
        except OSError:
            continue  # ended between the two looks
        if int(fields[1]) == pid:
            found.append(int(stat.parent.name))
    return found


@contextmanager
def browser(address: str) -> Iterator[Iterator[bytes]]:
    """The lines of the live stream, as a browser gets them, until it closes the page."""
    place, _, token = address.removeprefix("http://").partition("/?token=")
    host, port = place.split(":")
    head = f"GET /live HTTP/1.1\r\nHost: {place}\r\nAuthorization: Bearer {token}\r\n\r\n"
    with socket.create_connection((host, int(port)), timeout=20) as link, link.makefile("rb") as stream:
        link.sendall(head.encode())
        yield iter(stream)


def sees(lines: Iterator[bytes], what: bytes) -> bool:
    return any(what in line for line in lines)


def test_a_screen_that_is_killed_leaves_the_capture_going_and_it_says_so(tenths, job, port, wait_until):
    running = tenths.start("run", str(job), "--no-open")
    ready = re.fullmatch(r"ready: recording (\S+) inbox \S+\n", running.stdout.readline())
    assert ready is not None
    assert running.stdout.readline().startswith("dashboard ready")
    (screen,) = children(running.pid)

    os.kill(screen, signal.SIGKILL)
    said = running.stderr.readline()
    port.send(b"55.001 mm\r\n")
    recording = Path(ready[1])
    wait_until(lambda: "55.001" in recording.read_text("utf-8"), "the reading after the screen's death")
    running.send_signal(signal.SIGINT)
    _, rest = running.communicate(timeout=30)

    assert said == (
        "the screen has stopped (status -9) and the capture goes on: "
        f"show it again with tenths dashboard {recording}\n"
    )
    assert running.returncode == 0
    assert "stopped:" in rest
    assert tenths("check", str(recording)).endswith("whole\n")


def test_a_browser_that_comes_back_sees_what_was_measured_meanwhile(tenths, job, port):
    capture = tenths.capture(str(job))
    screen = tenths.start("dashboard", str(capture.recording), "--no-open")
    address = screen.stdout.readline().removeprefix("dashboard ready ").strip()
    with browser(address) as lines:
        port.send(b"55.011 mm\r\n")
        assert sees(lines, b"55.011")
    port.send(b"55.007 mm\r\n")
    capture.until("reading", 2)

    with browser(address) as lines:
        assert sees(lines, b"55.007")

    capture.stop()


@pytest.mark.skipif(not LINUX, reason="only Linux tells which files another process has open")
def test_browsers_that_close_and_come_back_leave_nothing_open(tenths, job, wait_until):
    capture = tenths.capture(str(job))
    screen = tenths.start("dashboard", str(capture.recording), "--no-open")
    address = screen.stdout.readline().removeprefix("dashboard ready ").strip()
    (served,) = children(screen.pid)
    files = Path(f"/proc/{served}/fd")
    with browser(address) as lines:
        assert sees(lines, b"hello")
    before = len(list(files.iterdir()))

    for _ in range(RETURNS):
        with browser(address) as lines:
            assert sees(lines, b"data: {")

    wait_until(lambda: len(list(files.iterdir())) <= before, "the streams of closed pages to be closed")
    capture.stop()
