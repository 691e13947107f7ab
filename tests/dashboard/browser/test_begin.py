"""From an empty folder to a printed record in the browser alone: no terminal, no TOML."""

from __future__ import annotations

import socketserver
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from capture.events import Reading
from capture.recording.reader import read
from capture.sheet.reader import read_sheet
from dashboard.setup import capture_child

pytestmark = [pytest.mark.browser, pytest.mark.timeout(400)]
SIZE = "55.021"
"""What the gauge shows; invented."""


class Gauge(socketserver.ThreadingTCPServer):
    """A micrometer behind a terminal server: it sends a line when its button is pressed."""

    allow_reuse_address = True
    daemon_threads = True

    def __init__(self) -> None:
        self.pressed = threading.Condition()
        self.lines: list[str] = []
        super().__init__(("127.0.0.1", 0), _Line)

    def press(self, size: str) -> None:
        with self.pressed:
            self.lines.append(size)
            self.pressed.notify_all()


class _Line(socketserver.StreamRequestHandler):
    server: Gauge

    def handle(self) -> None:
        sent = len(self.server.lines)
        while True:
            with self.server.pressed:
                while len(self.server.lines) <= sent:
                    self.server.pressed.wait()
                line, sent = self.server.lines[sent], sent + 1
            try:
                self.wfile.write(f"{line}\r\n".encode())
            except OSError:
                return


@pytest.fixture
def gauge() -> Iterator[Gauge]:
    with Gauge() as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield server
        server.shutdown()


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Path]:
    place = tmp_path / "shop"
    place.mkdir()
    yield place
    capture_child.stop(place)


def begin(screen, name: str, example: str = "ground-shaft") -> None:
    """A new job from an example; its sheet is then open in the form."""
    screen.page.check(f"input[value={example}]")
    screen.page.fill("#home-name", name)
    screen.page.click("#home-make")
    screen.page.wait_for_selector("#job-save")
    screen.holds(f"document.getElementById('job-name').value === '{name}'")


def presses(page) -> list[str]:
    """What is pressed or chosen with the pointer from here on; the words are typed."""
    seen: list[str] = []

    def pressed(text: str) -> None:  # Playwright asks more of a function than a list's own method gives
        seen.append(text)

    page.expose_function("pressed", pressed)
    page.evaluate("addEventListener('click', ({ target }) => pressed(target.textContent), true)")
    return seen


def test_a_job_is_begun_captured_and_printed_in_the_browser_alone(show, folder, gauge, shots):
    screen = show("open", str(folder), "--no-open", command=("-m", "capture.cli"))
    page = screen.page
    screen.until("home-jobs", "no job here yet")
    page.screenshot(path=shots / "home-empty.png")
    clicks = presses(page)

    begin(screen, "shaft.toml")
    page.select_option("[id='job-gauge.0.link']", "serial")
    page.fill("[id='job-gauge.0.address']", f"socket://127.0.0.1:{gauge.server_address[1]}")
    page.click("#job-save")
    screen.until("job-said", "Saved")
    page.screenshot(path=shots / "job.png", full_page=True)

    page.click("#job-start")
    page.click("text=Start the capture")
    screen.until("job", "Ground shaft")
    screen.holds("location.hash === '#grinding'")
    (recording,) = folder.glob("*.jsonl")
    while SIZE not in recording.read_text("utf-8"):
        gauge.press(SIZE)
        page.wait_for_timeout(300)

    page.click("#links a[data-page=home]")
    page.click("#home-stop")
    screen.until("home-said", "Everything is on disk")
    page.screenshot(path=shots / "home.png")

    page.click("#links a[data-page=record]")
    page.click("#record-body .recording-row >> text=Preview")
    printed = page.request.get(
        f"{screen.address.partition('?')[0]}record/report.pdf?recording={recording.name}"
    )

    assert printed.body().startswith(b"%PDF-")
    assert len(clicks) == 9, clicks
    sizes = {event.fact.value for event in read(recording) if isinstance(event.fact, Reading)}
    assert float(SIZE) in sizes
    job, _ = read_sheet((folder / "shaft.toml").read_text("utf-8"), "shaft.toml")
    assert job.gauges[0].link["serial"].startswith("socket://")


class Keys:
    """A person without a pointer: Tab to what is wanted, then words, arrows, space or Enter."""

    def __init__(self, page) -> None:
        self.page, self.pressed = page, 0

    def press(self, key: str) -> None:
        self.page.keyboard.press(key)
        self.pressed += 1

    def to(self, selector: str) -> None:
        """Goes on with Tab until the focus is there, once around the page at most."""
        self.page.wait_for_selector(f"{selector} >> visible=true")
        for _ in range(400):
            if self.page.evaluate("(wanted) => document.activeElement?.matches(wanted)", selector):
                return
            self.press("Tab")
        pytest.fail(f"no Tab leads to {selector}")

    def types(self, selector: str, words: str) -> None:
        self.to(selector)
        self.press("ControlOrMeta+a")
        self.pressed += len(words)
        self.page.keyboard.type(words)

    def enters(self, selector: str) -> None:
        self.to(selector)
        self.press("Enter")


def test_a_job_is_begun_captured_and_previewed_by_keys_alone(show, folder, gauge):
    """No pointer from the empty folder to the record: every control is reached with Tab (WCAG 2.2, 2.1.1)."""
    screen = show("open", str(folder), "--no-open", command=("-m", "capture.cli"))
    page, keys = screen.page, Keys(screen.page)
    page.evaluate("window.pointed = 0; addEventListener('pointerdown', () => window.pointed++, true)")
    screen.until("home-jobs", "no job here yet")

    keys.to("input[name=home-example]")
    while not page.is_checked("input[value=ground-shaft]"):
        keys.press("ArrowDown")
    keys.types("#home-name", "shaft.toml")
    keys.enters("#home-make")
    page.wait_for_selector("#job-save")
    screen.holds("document.getElementById('job-name').value === 'shaft.toml'")
    keys.to("[id='job-gauge.0.link']")
    while page.input_value("[id='job-gauge.0.link']") != "serial":
        keys.press("ArrowDown")
    keys.types("[id='job-gauge.0.address']", f"socket://127.0.0.1:{gauge.server_address[1]}")
    keys.enters("#job-save")
    screen.until("job-said", "Saved")
    keys.enters("#job-start")
    page.wait_for_selector("text=Start the capture")
    page.evaluate("document.querySelectorAll('button').forEach((b) => b.dataset.says = b.textContent.trim())")
    keys.enters("button[data-says^='Start the capture']")
    screen.until("job", "Ground shaft")
    (recording,) = folder.glob("*.jsonl")
    while SIZE not in recording.read_text("utf-8"):
        gauge.press(SIZE)
        page.wait_for_timeout(300)
    keys.enters("#links a[data-page=home]")
    keys.enters("#home-stop")
    screen.until("home-said", "Everything is on disk")
    keys.enters("#links a[data-page=record]")
    keys.enters("#record-body .recording-row button, #record-body .recording-row a")
    page.frame_locator("#record-preview").locator("h1", has_text="Record of fit").wait_for()

    assert page.evaluate("window.pointed") == 0
    assert keys.pressed <= 300  # with each letter
    sizes = {event.fact.value for event in read(recording) if isinstance(event.fact, Reading)}
    assert float(SIZE) in sizes


def test_a_length_in_the_wrong_unit_is_asked_about_all_faults_show_and_a_change_is_taken_back(show, folder):
    screen = show("open", str(folder), "--no-open", command=("-m", "capture.cli"))
    page = screen.page
    begin(screen, "shaft.toml")
    before = (folder / "shaft.toml").read_text("utf-8")

    page.fill("[id='job-fit.nominal']", "much")
    page.fill("[id='job-shaft.stations']", "10 10")
    page.fill("[id='job-job.name']", "")
    page.click("#job-save")
    for key in ("fit.nominal", "shaft.stations", "job.name"):
        screen.until_field(key, "fault", "due")
    for _ in range(3):
        page.click("#job-undo")
    page.fill("[id='job-fit.clearance.aim']", "5")
    page.fill("[id='job-fit.clearance.most']", "8")
    page.click("#job-save")
    screen.until_field("fit.clearance.aim", "question", "micrometres\\? 5 µm is 0.005 mm")

    assert (folder / "shaft.toml").read_text("utf-8") == before
    page.click("#job-undo")
    page.click("#job-undo")
    screen.holds("document.getElementById('job-fit.clearance.aim').value === '0.005'")
    page.click("#job-save")
    screen.until("job-said", "Saved")
    assert (folder / "shaft.toml").read_text("utf-8") == before


def test_a_standard_fit_and_a_material_are_taken_from_lists(show, folder):
    """H7/g6 at 55 mm leaves 10 to 59 µm (ISO 286-2:2010, H7: 0 to +30, g6: −10 to −29)."""
    screen = show("open", str(folder), "--no-open", command=("-m", "capture.cli"))
    page = screen.page
    begin(screen, "shaft.toml")

    page.focus("#job-fit-list")
    screen.holds("document.getElementById('job-fit-list').options.length > 3")
    page.select_option("#job-fit-list", index=6 - 1)
    offered = page.eval_on_selector_all(
        "[id='job-shaft.material-offers'] option", "all => all.map((one) => one.value)"
    )

    assert "grey cast iron" in offered
    assert page.input_value("[id='job-fit.clearance.least']") == "0.01"
    assert page.input_value("[id='job-fit.clearance.most']") == "0.059"
