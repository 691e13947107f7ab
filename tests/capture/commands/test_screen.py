"""The screen that a command starts: it gets every word that it needs, and ends when the command does."""

from __future__ import annotations

import os
import re
import signal
import subprocess
from http.client import HTTPConnection
from pathlib import Path

import pytest

from capture.commands.screen import Serving

pytestmark = pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals and SIGKILL are POSIX")

GOOD = Path(__file__).parents[3] / "recordings" / "good.jsonl"
EVERYWHERE = ("--host", "0.0.0.0", "--token", "right-to-speak", "--viewer-token", "right-to-watch")  # noqa: S104 - for a moment


@pytest.fixture(params=["dashboard", "replay", "run"])
def command(request, job) -> tuple[str, str]:
    return request.param, str(job if request.param == "run" else GOOD)


def port_of(process) -> int:
    """Where the screen is, when it says so."""
    for line in process.stdout:
        if found := re.match(r"dashboard ready http://[^/]+:(\d+)/", line):
            return int(found[1])
    raise AssertionError(process.stderr.read())


def ask(port: int, token: str) -> tuple[int, str]:
    link = HTTPConnection("127.0.0.1", port, timeout=20)
    link.request("GET", f"/health{token}", headers={"Connection": "close"})
    with link.getresponse() as answer:
        return answer.status, answer.headers.get("Set-Cookie", "").partition(";")[0]


def refused(port: int) -> bool:
    link = HTTPConnection("127.0.0.1", port, timeout=20)
    try:
        link.connect()
    except ConnectionRefusedError:
        return True
    link.close()
    return False


def test_the_screen_knows_who_may_look_and_ends_when_its_command_is_killed(tenths, command, wait_until):
    process = tenths.start(*command, "--no-open", *EVERYWHERE)
    port = port_of(process)

    assert ask(port, "")[0] == ask(port, "?token=other")[0] == 403
    let_in = [ask(port, f"?token={token}") for token in ("right-to-speak", "right-to-watch")]
    assert [status for status, _ in let_in] == [303, 303]
    assert all(cookie for _, cookie in let_in)

    process.send_signal(signal.SIGKILL)

    wait_until(lambda: refused(port), "the screen to have gone")


def test_no_token_stands_in_the_list_of_processes():
    """Every user of a machine sees the words of a process (proc(5), cmdline)."""
    screen = Serving("127.0.0.1", 0, "speak-in-here", "watch-in-here", browser=False)
    with screen.start(GOOD, stdout=subprocess.PIPE) as process:
        ready = process.stdout.readline()
        process.terminate()

    assert ready.rstrip().endswith(b"/?token=speak-in-here")
    assert not any("in-here" in word for word in process.args)
