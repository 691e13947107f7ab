"""A disk whose syncs fail or hang, by a library loaded before the system's.

What is not on disk is not shown, and a disk that does not answer keeps nobody from being heard.
"""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(
    sys.platform != "linux" or shutil.which("cc") is None, reason="needs Linux and a C compiler"
)


@pytest.fixture
def failing(tmp_path: Path, tenths) -> Path:
    """While the file of this name is there, the capture's syncs fail; the screen's do not."""
    library = tmp_path / "failing_sync.so"
    source = Path(__file__).with_name("failing_sync.c")
    subprocess.run(["cc", "-shared", "-fPIC", "-o", library, source, "-ldl"], check=True)
    places = {"FAILING_SYNC": str(tmp_path / "fails"), "HANGING_SYNC": str(tmp_path / "hangs")}
    tenths.environment |= {"LD_PRELOAD": str(library), **places}
    return tmp_path / "fails"


def shown(address: str, what: bytes, seconds: float) -> bool:
    """Whether the live stream says *what* within so many seconds."""
    place, _, token = address.removeprefix("http://").partition("/?token=")
    host, port = place.split(":")
    head = f"GET /live HTTP/1.1\r\nHost: {place}\r\nAuthorization: Bearer {token}\r\n\r\n"
    said, end = b"", time.monotonic() + seconds
    with socket.create_connection((host, int(port)), timeout=20) as link:
        link.sendall(head.encode())
        while what not in said and (left := end - time.monotonic()) > 0:
            link.settimeout(left)
            try:
                said += link.recv(65536)
            except TimeoutError:
                break
    return what in said


def test_a_reading_whose_sync_failed_is_shown_when_it_is_on_disk_and_not_before(tenths, job, port, failing):
    capture = tenths.capture(str(job))
    del tenths.environment["LD_PRELOAD"]
    screen = tenths.start("dashboard", str(capture.recording), "--no-open")
    address = screen.stdout.readline().removeprefix("dashboard ready ").strip()
    port.send(b"55.011 mm\r\n")
    assert shown(address, b"55.011", 20)

    failing.touch()
    port.send(b"55.007 mm\r\n")
    early = shown(address, b"55.007", 3)
    written = "55.007" in (tenths.folder / capture.recording).read_text("utf-8")
    failing.unlink()
    late = shown(address, b"55.007", 20)

    said = capture.stop()
    assert not early
    assert not written, "what the disk may have dropped is cut off again"
    assert late
    assert "disk" in said
    assert tenths("check", str(capture.recording)).endswith("whole\n")


def test_a_disk_that_hangs_keeps_no_gauge_from_being_heard(tenths, job, port, failing):
    capture = tenths.capture(str(job))
    port.send(b"55.011 mm\r\n")
    capture.until("reading", 1)
    hanging = failing.with_name("hangs")
    hanging.touch()

    for number in range(20):
        port.send(b"55.%03d mm\r\n" % number)
    while "the disk does not answer" not in (said := capture.process.stderr.readline()):
        assert said
    written = len(capture.facts("reading"))
    ended = time.time_ns()
    hanging.unlink()

    capture.until("reading", 21)
    heard = [event["at"][1] for event in capture.events() if event["fact"]["kind"] == "reading"]
    capture.stop()
    assert written < 21
    assert max(heard) < ended, "each was stamped when it came, and not when the disk answered"
    assert tenths("check", str(capture.recording)).endswith("whole\n")
