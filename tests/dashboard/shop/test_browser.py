"""The shop's page in a real Chromium, over a real broker and a real database."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from capture.sessions import opened
from capture.shop.archive.schema import migrate
from dashboard.sources.scene import Scene
from dashboard.views.grinder.verdict import verdict
from tests.capture.shop.jobs_of_years import lay_jobs
from tests.conftest import PATIENCE
from tests.dashboard.browser.conftest import SIZES

pytestmark = [pytest.mark.browser, pytest.mark.timeout(400)]

RECORDINGS = Path(__file__).parents[3] / "recordings"
TOO_SMALL = """all => all.filter(one => {
    const around = one.parentElement, style = getComputedStyle(around);
    const cut = style.overflow === "hidden" && style.display !== "contents" ? around.clientHeight : 48;
    return one.checkVisibility() && Math.min(one.offsetWidth, one.offsetHeight, cut) < 48;
}).map(one => one.id || one.textContent)"""
"""Targets of less than 48 px, as far as what is around them lets them be seen."""
MACHINES = {"g1": "good", "g2": "unplugged"}


class Shown:
    """The page, with all that it complained of and asked others for."""

    def __init__(self, browser, address: str) -> None:
        self.page = browser.new_page()
        self.page.set_default_timeout(1000 * PATIENCE)
        self.complaints: list[str] = []
        self.foreign: list[str] = []
        own = address.partition("?")[0]
        self.page.on("console", lambda m: m.type in {"error", "warning"} and self.complaints.append(m.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on(
            "request",
            lambda r: r.url.startswith((own, "data:", "blob:")) or self.foreign.append(r.url),
        )
        self.page.goto(address)

    def until(self, place: str, pattern: str) -> str:
        """What the first such element says, once *pattern* is in it."""
        end = time.monotonic() + PATIENCE
        while True:
            said: list[str] = self.page.locator(place).all_inner_texts()
            found = [text for text in said if re.search(pattern, text)]
            if found:
                return found[0]
            assert time.monotonic() < end, (place, pattern, said)
            self.page.wait_for_timeout(100)

    def search(self, **given: str) -> None:
        """Types into fields of the history, as a person does."""
        for name, text in given.items():
            self.page.fill(f"#shop-{name}", text)
        self.page.keyboard.press("Enter")


@pytest.fixture
def shown(shop, tmp_path, browser):
    """The page of a shop of two machines, with 600 older jobs in its database."""
    migrate(shop.database)
    lay_jobs(shop.database)
    for machine, recording in MACHINES.items():
        folder = tmp_path / machine
        folder.mkdir()
        shutil.copy(RECORDINGS / f"{recording}.jsonl", folder)
        shop.publish(folder, machine=machine)
    server = subprocess.Popen(
        [sys.executable, "-m", "dashboard.shop", "--broker", shop.broker],
        env={**os.environ, "TENTHS_DATABASE": shop.database},
        stdout=subprocess.PIPE,
        text=True,
    )
    address = next(line for line in server.stdout if line.startswith("dashboard ready")).split()[-1]
    made = Shown(browser, address)
    yield made
    made.page.close()
    server.terminate()
    server.wait(20)
    server.stdout.close()
    assert made.complaints == []
    assert made.foreign == []


def test_a_person_sees_every_machine_searches_and_opens_one(shown, mosquitto, shots):
    page = shown.page
    due = {name: opened(RECORDINGS / f"{recording}.jsonl").state for name, recording in MACHINES.items()}
    for name, state in due.items():
        said = shown.until("#shop-machines tbody tr", rf"^{name}\b[^|]*mm")
        assert verdict(Scene("live", state=state), "mm")["say"] in said
        assert state.job.name in said

    shown.until("#shop-found", "600 jobs in")
    shown.search(words="sleeve")
    shown.until("#shop-found", "200 jobs in")
    shown.search(words="", since="2020-01-01")
    change = shown.until("#shop-changes", "warms its parts more")
    assert change.startswith("g1 warms its parts more: by +11.9 µm")  # 0.02 µm a day, 597 days
    page.click("#shop-changes summary")
    page.wait_for_selector("#shop-changes .js-plotly-plot .scatterlayer .point")
    shown.search(since="in March")
    shown.until("#shop-found", "in March. is no date")
    shown.search(since="2020-01-01")
    page.wait_for_selector("#shop-changes summary")

    for size, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(300)
        page.screenshot(path=shots / f"shop-{size}.png", full_page=True)
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, size
        small = page.eval_on_selector_all(":is(a, button, input, summary)", TOO_SMALL)
        assert small == [], size

    with page.expect_popup() as opening:
        page.click("#shop-machines a >> text=g1")
    own = opening.value
    own.wait_for_selector("#banner:not([data-state=none])", timeout=30_000)
    assert verdict(Scene("live", state=due["g1"]), "mm")["say"] in own.text_content("body")
    own.close()

    mosquitto.stop()
    shown.until("#shop-said", "No connection to")
    mosquitto.start()
    shown.until("#shop-said", "Live from")
