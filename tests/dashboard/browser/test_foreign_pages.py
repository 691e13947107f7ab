"""Pages from elsewhere in a real browser that knows the dashboard: by another name, port and frame."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest
from playwright.sync_api import sync_playwright

from tests.dashboard.browser.conftest import CHROMIUM, FLAGS

ELSEWHERE = "rebound.test"
"""A name that the browser is told is this machine: what DNS rebinding does (RFC 6761 reserves the name)."""

UNGUARDED = ["--disable-features=LocalNetworkAccessChecks"]
"""A browser that keeps no page from asking this machine, as older ones do: our own guard is all there is."""


class _Page(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("content-type", "text/html")
        self.end_headers()
        self.wfile.write(b"<title>elsewhere</title>")

    def log_message(self, *_args: object) -> None:
        """Says nothing."""


@pytest.fixture
def foreign():
    """The port of another program's page on this machine."""
    with HTTPServer(("127.0.0.1", 0), _Page) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield server.server_port
        server.shutdown()
        thread.join()


@pytest.fixture
def dashboard(recording):
    """The address of a dashboard, with its token."""
    server = subprocess.Popen(
        [sys.executable, "-m", "dashboard", str(recording)], stdout=subprocess.PIPE, text=True
    )
    with server:
        address = server.stdout.readline().split()[-1]
        yield address
        server.terminate()


ATTACKS = """async (dashboard) => {
  const tried = {};
  const ask = async (name, road, more) => {
    try {
      const answer = await fetch(dashboard + road, { credentials: "include", ...more });
      tried[name] = answer.type === "opaque" ? "opaque" : `read ${answer.status}`;
    } catch { tried[name] = "no answer"; }
  };
  await ask("read", "home");
  await ask("blind", "home", { mode: "no-cors" });
  await ask("say", "say", { method: "POST", body: "{}" });
  await ask("say blind", "say", { method: "POST", body: "{}", mode: "no-cors" });
  await new Promise((done) => {
    const script = document.createElement("script");
    script.onload = () => { tried.script = "loaded"; done(); };
    script.onerror = () => { tried.script = "no answer"; done(); };
    script.src = dashboard + "assets/live.js";
    document.head.append(script);
  });
  return tried;
}"""


REBOUND = """async () => {
  const tried = {};
  const roads = ["", "home", "live?page=grind", "job/sheet", "assets/live.js", "_dash-layout", "record"];
  const ask = async (how, road, more) => {
    tried[how + " " + road] = await fetch("/" + road, more).then((answer) => answer.status, String);
  };
  for (const road of roads) await ask("get", road);
  for (const road of ["say", "home/start", "_dash-update-component"])
    await ask("post", road, { method: "POST", body: "{}" });
  tried.stream = await new Promise((done) => {
    const source = new EventSource("/live?page=grind");
    source.addEventListener("hello", () => done("heard"));
    source.onerror = () => done("closed");
  });
  return tried;
}"""
"""Asked by a page whose own name has come to mean this machine: to the browser all of it is of one origin."""


def of_own_origin(page, dashboard: str) -> dict[str, object]:
    """What a page gets that was loaded from elsewhere, at the same port, before its name was rebound."""
    place = dashboard.partition("?")[0].replace("127.0.0.1", ELSEWHERE)
    theirs = {"status": 200, "content_type": "text/html", "body": "<title>theirs</title>"}
    page.route(f"{place}theirs", lambda route: route.fulfill(**theirs))
    page.goto(f"{place}theirs")
    return page.evaluate(REBOUND)


def attacked(dashboard: str, foreign: int) -> dict[str, object]:
    """What a page on another port got, by the dashboard's own name and by a rebound one.

    In a process of its own, as the tests' browser was started without the rebound name.
    """
    with sync_playwright() as playwright:
        flags = [*FLAGS, f"--host-resolver-rules=MAP {ELSEWHERE} 127.0.0.1", *UNGUARDED]
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=flags)
        page = chromium.new_context().new_page()
        page.goto(dashboard)
        page.wait_for_selector("#job:not(:empty)")
        bare = dashboard.partition("?")[0]
        rebound = page.goto(dashboard.replace("127.0.0.1", ELSEWHERE))
        got: dict[str, object] = {"rebound": rebound.status}
        got["own origin"] = of_own_origin(page, dashboard)
        page.goto(f"http://127.0.0.1:{foreign}/")
        got |= page.evaluate(ATTACKS, bare)
        page.evaluate(
            "(road) => document.body.append(Object.assign(document.createElement('iframe'), {src: road}))",
            bare,
        )
        page.wait_for_timeout(1000)
        got["frame"] = next((frame.title() for frame in page.frames if frame != page.main_frame), "")
        chromium.close()
    return got


def test_a_page_from_elsewhere_reads_and_says_nothing_though_the_browser_is_known(
    dashboard, foreign, browser
):
    del browser  # is there, or the test is skipped
    words = [sys.executable, "-m", "tests.dashboard.browser.test_foreign_pages", dashboard, str(foreign)]
    done = subprocess.run(words, capture_output=True, text=True, check=True, timeout=100)
    got = json.loads(done.stdout)

    assert got["rebound"] == 403
    stream = got["own origin"].pop("stream")
    assert stream == "closed"
    assert set(got["own origin"].values()) == {403}, got["own origin"]
    assert got["read"] == got["say"] == got["script"] == "no answer"
    assert got["blind"] == "no answer"  # cross-origin-resource-policy: same-origin
    assert got["say blind"] in {"no answer", "opaque"}  # refused for its Origin, and unreadable
    assert "Grinding" not in got["frame"]


if __name__ == "__main__":
    sys.stdout.write(json.dumps(attacked(sys.argv[1], int(sys.argv[2]))))
