"""A browser is opened on a private file: the standard library starts it with that address among its words."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from dashboard.web.open_browser import private_page

pytestmark = pytest.mark.skipif(os.name == "nt", reason="on Windows other users do not see a process's words")

ADDRESS = "http://127.0.0.1:8050/?token=right-to-speak&a=%22#home"


@pytest.fixture(autouse=True)
def home(monkeypatch, tmp_path) -> Path:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    (tmp_path / "home").mkdir()
    return tmp_path / "home"


def test_the_file_is_the_users_alone_and_names_the_address(home):
    file = private_page(ADDRESS)

    assert file.parent == home
    assert not file.name.startswith(".")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert 'url=http://127.0.0.1:8050/?token=right-to-speak&amp;a=%22#home"' in file.read_text()


def test_without_a_home_it_lies_in_the_runtime_folder(home):
    home.rmdir()
    runtime = Path(os.environ["XDG_RUNTIME_DIR"]) / "tenths"
    runtime.mkdir(mode=0o700)

    assert private_page(ADDRESS).parent == runtime


def test_where_nothing_private_can_be_written_no_browser_is_opened(home):
    home.rmdir()

    assert private_page(ADDRESS) is None


def test_the_words_of_the_browser_hold_no_token_and_the_file_goes_with_the_dashboard(home, tmp_path):
    """BROWSER names the program, as webbrowser(3) of the standard library has it."""
    seen = tmp_path / "seen"
    program = tmp_path / "browser"
    program.write_text(f'#!/bin/sh\nprintf "%s\\n" "$@" > {seen}.part\nmv {seen}.part {seen}\n')
    program.chmod(0o755)
    server = subprocess.Popen(
        [sys.executable, "-m", "dashboard", str(tmp_path), "--open"],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "BROWSER": f"{program} %s"},
    )
    with server:
        token = server.stdout.readline().strip().partition("token=")[2]
        patience = time.monotonic() + 20
        while not seen.exists() and time.monotonic() < patience:
            time.sleep(0.05)
        words = seen.read_text()
        page = Path(words.strip().removeprefix("file://")).read_text()
        server.terminate()

    assert len(token) > 20
    assert token not in words
    assert token in page
    assert list(home.iterdir()) == []
