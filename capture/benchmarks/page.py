"""From the wire to the screen: how long until a browser has a reading in its hands.

Against it stands the plainest page there could be: a loop that writes lines to a file, and a
server that looks at the file fifty times a second and sends its last line to whoever listens.
"""

from __future__ import annotations

import os
import queue
import re
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

from msgspec import Struct

from capture.benchmarks.cables import Cable, cables
from capture.benchmarks.rows import Row, in_turn, medians, quantile
from capture.benchmarks.wire import sheet

LOOK = 0.02
"""Seconds between two looks of the plain server at its file."""
PATIENCE = 10.0
GAP = 0.137
"""Seconds from one reading to the next; no multiple of anything that a server waits for."""
FIRST = 10_000
"""Number of the first reading: 10.000 mm."""


class ProbedPage(Struct, frozen=True):
    """A page, and how a reading is known on it."""

    page: str
    what: str
    measures: str
    mark: bytes
    """What stands in the stream for a reading."""
    more: str = ""
    """What the sheet has besides its gauge's own."""


GRINDING = ProbedPage("grinding", "wire to page", "diameter", b"%.3f")
BORE = ProbedPage("bore", "wire to the bore's page", "bore", b"[0.0,%.1f]]", "stream = true\n")
"""The newest reading is the end of the live curve: no time ago, in micrometres."""


def page_rows(*, pairs: int, count: int) -> Iterator[Row]:
    """Wire to the stream that a page draws from: the operator's at the grinder, and the bore's."""
    with cables(1) as laid:
        for shown in (GRINDING, BORE):
            ours, plain = in_turn(
                partial(_shown, shown, laid[0], count, plain=False),
                partial(_shown, shown, laid[0], count, plain=True),
                pairs,
            )
            for name, mine, bare in zip(("p50", "p95"), medians(ours), medians(plain), strict=True):
                yield Row(f"{shown.what}, {name}", mine, "ms", "a bare loop, file and server", bare)


def _shown(shown: ProbedPage, cable: Cable, count: int, *, plain: bool) -> list[float]:
    with tempfile.TemporaryDirectory(prefix="tenths-bench-") as name:
        folder = Path(name)
        (folder / "job.toml").write_text(sheet([cable], shown.measures) + shown.more, "utf-8")
        with _serving(folder, cable, plain=plain) as server, _listening(*server, shown.page) as lines:
            delays = list(_delays(cable, lines, count, b"%.3f" if plain else shown.mark))
    return [quantile(delays, 0.5), quantile(delays, 0.95)]


def _delays(cable: Cable, lines: queue.Queue[tuple[int, bytes]], count: int, mark: bytes) -> Iterator[float]:
    """Milliseconds from sending each reading to having it."""
    for number in range(FIRST, FIRST + count):
        sent = cable.send(number)
        wanted = mark % (number / 1000 if mark == GRINDING.mark else number)
        while True:
            arrived, line = lines.get(timeout=PATIENCE)
            if wanted in line:
                break
        yield (arrived - sent) / 1e6
        time.sleep(GAP)


@contextmanager
def _listening(port: int, token: str, page: str) -> Iterator[queue.Queue[tuple[int, bytes]]]:
    """Lines of the stream, each with when it came."""
    lines: queue.Queue[tuple[int, bytes]] = queue.Queue()
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE) as link:
        asking = f"Host: 127.0.0.1:{port}\r\nAuthorization: Bearer {token}"
        head = f"GET /live?page={page} HTTP/1.1\r\n{asking}\r\n\r\n"
        link.sendall(head.encode())
        answer = link.makefile("rb")

        def listen() -> None:
            with answer:
                while line := answer.readline():
                    lines.put((time.monotonic_ns(), line))

        thread = threading.Thread(target=listen)
        thread.start()
        try:
            yield lines
        finally:
            link.shutdown(socket.SHUT_RDWR)
            thread.join()


@contextmanager
def _serving(folder: Path, cable: Cable, *, plain: bool) -> Iterator[tuple[int, str]]:
    """A program that reads the gauge and one that serves the page; port and token of the latter."""
    file = folder / ("plain.txt" if plain else "session.jsonl")
    if plain:
        reading = ["-m", "capture.benchmarks.listeners", "plain", str(folder), cable.port]
        serving = ["-m", "capture.benchmarks.page", str(file)]
    else:
        reading = ["-m", "capture.cli", "capture", str(folder / "job.toml"), "--out", str(file)]
        serving = ["-m", "dashboard", str(file), "--no-open"]
    with _program(folder, reading), _program(folder, serving) as said:
        found = re.search(r":(\d+)/(?:\?token=(\S+))?", said)
        if found is None:
            raise RuntimeError(f"the server gave no address, but {said!r}")
        yield int(found[1]), found[2] or ""


@contextmanager
def _program(folder: Path, words: list[str]) -> Iterator[str]:
    """A program while it runs, and the first line that it says."""
    program = subprocess.Popen(
        [sys.executable, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "XDG_RUNTIME_DIR": str(folder)},
    )
    with program:
        try:
            yield program.stdout.readline() if program.stdout is not None else ""
        finally:
            program.send_signal(signal.SIGTERM)


class _Plain(BaseHTTPRequestHandler):
    """Sends the file's last line whenever it is another one."""

    file: Path

    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("content-type", "text/event-stream")
        self.end_headers()
        before = b""
        while True:
            last = self.file.read_bytes().rstrip().rpartition(b"\n")[2]
            if last != before:
                before = last
                self.wfile.write(b"data: %b\n\n" % last)
                self.wfile.flush()
            time.sleep(LOOK)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the library's name
        """Says nothing."""


def serve_plainly(file: Path) -> None:
    """The plain server, until it is stopped."""
    _Plain.file = file
    with HTTPServer(("127.0.0.1", 0), _Plain) as server:
        sys.stdout.write(f"ready http://127.0.0.1:{server.server_port}/\n")
        sys.stdout.flush()
        server.serve_forever()


if __name__ == "__main__":
    serve_plainly(Path(sys.argv[1]))
