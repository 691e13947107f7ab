from __future__ import annotations

import asyncio
import signal
import socket
import subprocess
import sys
from http.client import HTTPConnection, HTTPResponse
from urllib.parse import parse_qs, urlsplit

import msgspec
import pytest

RIGHT = "right-to-speak"


def run(*args: str):
    return subprocess.run(
        [sys.executable, "-m", "dashboard", *args], capture_output=True, text=True, timeout=60, check=False
    )


@pytest.mark.parametrize(
    ("args", "sentence"),
    [
        (["nowhere/at-all.jsonl"], "no such file or folder"),
        (["--host", "192.168.0.0", "."], "a --token is due"),
        (["--set", "spark_out.limt=1", "."], "did you mean spark_out.limit?"),
        (["--set", "spark_out.limit=much", "."], "came 'much', due a length above 0"),
        (["--speed", "0", "."], "--speed"),
        (["--token", "a" * 12, "--viewer-token", "a" * 12, "."], "--viewer-token"),
        (["--token", "short", "."], "--token: 5 characters came, due at least 12"),
        (["--token-file", "nowhere", "."], "--token-file nowhere: No such file"),
    ],
)
def test_a_wrong_request_is_one_line_without_a_traceback(args, sentence):
    done = run(*args)

    assert done.returncode == 2
    assert done.stdout == ""
    assert sentence in done.stderr
    assert done.stderr.count("\n") == 1


def test_a_replay_of_an_empty_folder_is_refused(tmp_path):
    assert "no recording" in run(str(tmp_path), "--replay").stderr


def test_a_replay_of_no_recording_is_refused(tmp_path):
    letter = tmp_path / "letter.jsonl"
    letter.write_text("Dear customer,\n")

    assert "not a recording" in run(str(letter), "--replay").stderr


def test_a_port_that_is_taken_is_named(tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        done = run(str(tmp_path), "--port", str(port))

    assert done.returncode == 2
    assert f"127.0.0.1:{port}: cannot listen there" in done.stderr


def ask(address: str, path: str, host: str | None = None) -> HTTPResponse:
    """What the dashboard answers; the connection is the answer's, and closes with it."""
    connection = HTTPConnection(urlsplit(address).netloc, timeout=20)
    token = parse_qs(urlsplit(address).query).get("token", [""])[0]
    headers = {"Host": host or urlsplit(address).netloc, "Connection": "close"}
    connection.request("GET", path, headers={**headers, "Authorization": f"Bearer {token}"})
    return connection.getresponse()


ODD = ("/assets/%00", "/_dash-component-suites/dash/%00.js", "/_dash-component-suites/nope/x.js")
"""What is no file of the pages."""


@pytest.mark.parametrize("sig", [signal.SIGTERM, signal.SIGINT])
def test_it_says_where_it_is_answers_and_stops_when_told(recording, sig):
    server = subprocess.Popen(
        [sys.executable, "-m", "dashboard", str(recording)], stdout=subprocess.PIPE, text=True
    )
    with server:
        ready = server.stdout.readline()
        address = ready.split()[-1]
        odd = [ask(address, path).status for path in ODD]
        health = msgspec.json.decode(ask(address, "/health").read())
        refused = ask(address, "/", "evil.example")
        stranger = ask(address.partition("?")[0], "/")
        with ask(address, "/live") as live:
            greeting = live.readline()
            server.send_signal(sig)
            rest = live.read()

    assert ready.startswith("dashboard ready http://127.0.0.1:")
    assert stranger.status == 403
    assert health["recording"] == "sleeve.jsonl"
    assert refused.status == 403
    assert greeting == b"retry: 1000\n"
    assert rest
    assert odd == [404] * len(ODD)
    assert server.returncode == 0


def test_what_others_can_reach_is_shown_to_those_with_the_token_only(recording):
    command = [sys.executable, "-m", "dashboard", str(recording), "--host", "0.0.0.0", "--token", RIGHT]  # noqa: S104 - the test is about it
    server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    with server:
        ready = server.stdout.readline()
        local = f"http://127.0.0.1:{urlsplit(ready.split()[-1]).port}/"
        without, wrong, right = (
            ask(local, path) for path in ("/_dash-layout", "/?token=wrong", f"/?token={RIGHT}")
        )
        server.send_signal(signal.SIGTERM)

    assert ready.rstrip().endswith(f"/?token={RIGHT}")
    assert (without.status, wrong.status, right.status) == (403, 403, 303)


@pytest.mark.skipif(sys.platform == "win32", reason="there is no pty on Windows")
def test_a_terminal_is_shown_the_code_to_scan_and_a_pipe_is_not(tmp_path):
    """The code is of the address to watch; what reads a pipe reads one line."""
    import os
    import pty

    words = ["--host", "0.0.0.0", "--token", "right-to-speak", "--viewer-token", "right-to-watch"]  # noqa: S104 - for a moment
    command = [sys.executable, "-m", "dashboard", str(tmp_path), *words]
    ours, theirs = pty.openpty()
    with subprocess.Popen(command, stdout=theirs) as server:
        try:
            shown = b""
            while b"token=right-to-speak\r\n" not in shown.partition(b"To work with it")[2]:
                shown += os.read(ours, 4096)
        finally:
            server.send_signal(signal.SIGTERM)
    os.close(theirs)
    os.close(ours)
    with subprocess.Popen(command, stdout=subprocess.PIPE) as server:
        line = server.stdout.readline()
        server.send_signal(signal.SIGTERM)
        rest = server.stdout.read()

    assert "▀" in shown.decode() or "█" in shown.decode()
    assert b"To watch: http://" in shown
    assert line.startswith(b"dashboard ready http://")
    assert rest == b""


@pytest.mark.parametrize("body", [b"", b"x", b"[]", b"{}", b'{"output":1}', b"\xff\xfe", b"[" * 100_000])
def test_a_callback_that_is_none_is_a_bad_request(recording, body):
    from dashboard.app import build
    from dashboard.sources.feed import Feed
    from dashboard.sources.scene_store import SceneStore
    from dashboard.views.registry import draw
    from dashboard.web.access.guard import Guard
    from dashboard.web.access.tokens import Tokens

    app = Guard(build(Feed(recording, SceneStore(draw), {})), host="127.0.0.1", tokens=Tokens(RIGHT), port=80)
    scope = {
        "type": "http",
        "method": "POST",
        "path": "/_dash-update-component",
        "raw_path": b"/_dash-update-component",
        "query_string": b"",
        "root_path": "",
        "scheme": "http",
        "server": ("127.0.0.1", 80),
        "client": ("127.0.0.1", 1),
        "headers": [
            (b"host", b"127.0.0.1"),
            (b"authorization", b"Bearer " + RIGHT.encode()),
            (b"content-type", b"application/json"),
        ],
    }
    said = []

    async def receive():
        return {"type": "http.request", "body": body}

    async def send(message):
        said.append(message)

    asyncio.run(app(scope, receive, send))
    assert said[0]["status"] == 400
