"""Paths that ask for what is not theirs: the screen serves its own page and nothing else of this machine."""

from __future__ import annotations

import socket

import pytest


@pytest.fixture
def asked(tenths, job):
    """What the dashboard answers to a path, sent as it stands."""
    capture = tenths.capture(str(job))
    screen = tenths.start("dashboard", str(capture.recording), "--no-open")
    place, _, token = (
        screen.stdout.readline().removeprefix("dashboard ready http://").strip().partition("/?token=")
    )
    host, port = place.split(":")
    with_token = f"Host: {place}\r\nAuthorization: Bearer {token}\r\nConnection: close"

    def ask(path: str) -> bytes:
        with socket.create_connection((host, int(port)), timeout=20) as link:
            link.sendall(f"GET {path} HTTP/1.1\r\n{with_token}\r\n\r\n".encode())
            return b"".join(iter(lambda: link.recv(65536), b""))

    return ask


def test_no_file_beside_the_page_can_be_had(asked, job):
    secret = job.read_bytes()[:40].strip()
    up = "../" * 12
    for path in (
        f"/assets/{up}etc/passwd",
        "/assets/" + up.replace("/", "%2f") + "etc%2fpasswd",
        f"/assets/..%5c..%5c{job}",
        f"/assets/{up}{str(job).lstrip('/')}",
        f"/{up}etc/passwd",
        "/assets//etc/passwd",
        "/.tenths-inbox.json",
        "/assets/%00",
    ):
        answer = asked(path)
        assert b"root:" not in answer, path
        assert secret not in answer, path
        assert b'"token"' not in answer, path
        assert b"Traceback" not in answer, path
    assert asked("/assets/live.js").startswith(b"HTTP/1.1 200")
