"""A page that loses its dashboard, and one that is kept as a program on a tablet."""

from __future__ import annotations

import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.dashboard.browser.conftest import CHROMIUM, FLAGS, SIZES

pytestmark = pytest.mark.browser
NOTICE = "The dashboard does not answer"


@pytest.fixture
def served(recording) -> Callable[..., Any]:
    """The dashboard on a port of its own, until the block ends; the same port each time."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])

    @contextmanager
    def serving(*more: str) -> Iterator[str]:
        words = [sys.executable, "-m", "dashboard", str(recording), "--port", port, *more]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as server:
            try:
                yield next(line for line in server.stdout if line.startswith("dashboard ready")).split()[-1]
            finally:
                server.terminate()

    return serving


def test_a_page_recovers_by_itself_when_its_dashboard_was_started_again(browser, served):
    page = browser.new_page()
    with served() as address:
        page.goto(address)
        page.click('#links a[data-page="gauges"]')
        page.wait_for_selector("#gauges-cards li")
        first = page.get_attribute("#page", "data-run")
    page.wait_for_selector("#lost:not([hidden])")

    with served():
        page.wait_for_selector(f"#page:not([data-run='{first}'])")
        page.wait_for_selector("#gauges-cards li")  # still the page that was open
        assert page.is_hidden("#lost")
        page.close()


@pytest.fixture
def tablet(browser, monkeypatch, tmp_path) -> Iterator[Any]:
    """A browser on another computer: it knows this one by a name, and trusts its certificate."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    name = socket.gethostname().lower()
    flags = [*FLAGS, f"--host-resolver-rules=MAP {name} 127.0.0.1", "--ignore-certificate-errors"]
    other = browser.browser_type.launch(executable_path=CHROMIUM, args=flags)
    width, height = SIZES["tablet"]
    yield other.new_context(viewport={"width": width, "height": height}, ignore_https_errors=True)
    other.close()


def test_a_tablet_shows_the_notice_where_nothing_answers_and_the_page_when_it_is_back(tablet, served, shots):
    name = socket.gethostname().lower()
    words = ("--tls", "--token", "right-to-speak", "--viewer-token", "right-to-watch")
    page = tablet.new_page()
    with served(*words) as address:
        page.goto(address.replace("127.0.0.1", name))
        page.wait_for_selector("#job:not(:empty)")
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        tools = tablet.new_cdp_session(page)
        manifest = tools.send("Page.getAppManifest")
        faults = {
            one["errorId"] for one in tools.send("Page.getInstallabilityErrors")["installabilityErrors"]
        }

    page.reload()
    expect(page.locator("h1")).to_have_text(NOTICE)
    page.screenshot(path=shots / "offline-tablet.png")
    kept = page.evaluate(
        "caches.keys().then((all) => Promise.all(all.map((n) => caches.open(n).then((c) => c.keys()))))"
    )
    with served(*words):
        page.wait_for_selector("#job:not(:empty)")

    assert manifest["url"].endswith("/manifest.webmanifest")
    assert manifest["errors"] == []
    # the browser of this test keeps nothing, and overlooks a certificate that nobody has signed
    assert faults <= {"in-incognito", "not-from-secure-origin"}
    assert len(kept) == 1
    assert len(kept[0]) == 1


def test_on_this_machine_no_worker_is_laid(browser, served):
    page = browser.new_page()
    with served() as address:
        page.goto(address)
        page.wait_for_selector("#job:not(:empty)")
        assert page.evaluate("navigator.serviceWorker.getRegistrations().then((all) => all.length)") == 0
        page.close()


def test_who_was_not_let_in_opens_the_page_with_the_token_alone(browser, served, shots):
    page = browser.new_page(viewport={"width": 390, "height": 844})
    with served("--token", "right-to-speak") as address:
        page.goto(address.partition("?")[0])
        page.screenshot(path=shots / "refused-phone.png")
        page.keyboard.press("Tab")
        page.keyboard.type("right-to-speak")
        page.keyboard.press("Enter")
        page.wait_for_selector("#job:not(:empty)")
        page.close()
