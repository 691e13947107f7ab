"""A real Chromium on a dashboard that was started as a user starts it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import PATIENCE

CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]
DASHBOARD = ("-m", "dashboard")
SIZES = {"shop": (1920, 1080), "tablet": (1024, 768), "phone": (390, 844)}


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """A browser; without one the tests are skipped, except where they must not be."""
    if not Path(CHROMIUM).exists():
        if os.environ.get("CI"):
            pytest.fail(f"no browser at {CHROMIUM}, and CI must have one")
        pytest.skip(f"no browser at {CHROMIUM}: install Debian's chromium to run these tests")
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=1000 * PATIENCE)
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield chromium
        chromium.close()


class Screen:
    """A page with all that it complained of and all that it asked for."""

    def __init__(self, page: Any, address: str) -> None:
        self.page, self.address = page, address.partition("#")[0]
        page.set_default_timeout(1000 * PATIENCE)
        self.complaints: list[str] = []
        self.foreign: list[str] = []
        page.on(
            "console", lambda m: self.complaints.append(m.text) if m.type in {"error", "warning"} else None
        )
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", self._note)
        page.goto(address)
        page.wait_for_selector("#job:not(:empty), #banner[data-state=none]:visible, #home-jobs:not(:empty)")

    def _note(self, request: Any) -> None:
        if not request.url.startswith((self.address.partition("?")[0], "data:", "blob:")):
            self.foreign.append(request.url)

    def text(self, name: str) -> str:
        """What the element of that id says."""
        return self.page.text_content(f"#{name}") or ""

    def until(self, name: str, pattern: str) -> str:
        """Waits until the element says something with *pattern* in it."""
        self.page.locator(f"#{name}", has_text=re.compile(pattern)).wait_for(state="attached")
        return self.text(name)

    def until_field(self, key: str, what: str, pattern: str) -> None:
        """Waits until the fault or the question at a field of the job's form says something."""
        place = self.page.locator(f"[id='job-{key}-{what}']", has_text=re.compile(pattern))
        place.wait_for(state="attached")

    def holds(self, true: str) -> None:
        """Waits until that is true on the page, which forbids Playwright's own way to wait for it."""
        patience = time.monotonic() + PATIENCE
        while not self.page.evaluate(true):
            assert time.monotonic() < patience, true
            self.page.wait_for_timeout(50)


@pytest.fixture
def show(browser: Any) -> Iterator[Callable[..., Any]]:
    """Starts the dashboard as a user would and opens it; complaints and foreign requests fail the test."""
    screens: list[Screen] = []
    servers: list[subprocess.Popen[str]] = []

    def start(
        *args: str, command: Sequence[str] = DASHBOARD, size: str = "shop", pages: int = 1, **more: Any
    ) -> Any:
        server = subprocess.Popen([sys.executable, *command, *args], stdout=subprocess.PIPE, text=True)
        servers.append(server)
        address = next(line for line in server.stdout or () if line.startswith("dashboard ready")).split()[-1]
        width, height = SIZES[size]
        opened = [
            Screen(browser.new_page(viewport={"width": width, "height": height}, **more), address)
            for _ in range(pages)
        ]
        screens.extend(opened)
        return opened[0] if pages == 1 else opened

    yield start
    for screen in screens:
        screen.page.close()
    for server in servers:
        server.terminate()
        server.wait(20)
        if server.stdout is not None:
            server.stdout.close()
    assert [complaint for screen in screens for complaint in screen.complaints] == []
    assert [url for screen in screens for url in screen.foreign] == []


@pytest.fixture
def shots(tmp_path: Path) -> Path:
    """Where pictures are kept: the folder named by TENTHS_SHOTS, or nowhere that lasts."""
    folder = Path(os.environ.get("TENTHS_SHOTS", tmp_path / "shots"))
    folder.mkdir(parents=True, exist_ok=True)
    return folder
