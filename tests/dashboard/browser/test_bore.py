"""The pages Bore and Gauges in a real Chromium, and the way between pages."""

from __future__ import annotations

import re
import time
from pathlib import Path
from typing import Any

import pytest

from capture.events import Down, Event, Instant, Taken
from capture.recording.codec import Header, encode_event, encode_header
from capture.recording.reader import read
from capture.state import session as session_of

pytestmark = [pytest.mark.browser, pytest.mark.timeout(400)]

RECORDING = Path(__file__).parents[3] / "recordings" / "bore.jsonl"
HEAR = """() => {
    window.asked = [];
    const voice = { speaking: false, cancel() {}, speak(words) { window.asked.push(words.text); } };
    Object.defineProperty(window, "speechSynthesis", { configurable: true, value: voice });
    window.notes = 0;
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (...when) { window.notes += 1; start.apply(this, when); };
}"""
"""In place of a voice that nobody hears: what it was asked to say, and how many notes were played."""
SIZES = {"shop": (1920, 1080), "tablet": (1024, 768), "phone": (390, 844)}
LETTERS = {"shop": 72, "tablet": 40, "phone": 28}
"""Pixels; a long sentence is fitted into its fixed place, in steps of a twentieth of 76.8."""


class Growing:
    """The recorded bore session, written again piece by piece as if it happened now."""

    def __init__(self, path: Path) -> None:
        recording = read(RECORDING)
        self.path, self.header, self.events = path, recording.header, list(recording)
        self.written = 0
        path.write_bytes(encode_header(Header.new(self.header.job, time.time_ns())) + b"\n")

    def until(self, number: int) -> None:
        """Writes all events before that number which are not there yet."""
        now = time.time_ns()
        with self.path.open("ab") as file:
            for event in self.events[self.written : number]:
                today = Event(event.seq, Instant(event.at.mono, now), event.source, event.fact)
                file.write(encode_event(today) + b"\n")
        self.written = max(self.written, number)

    def taken(self, number: int) -> int:
        """The number of the event after the reading taken as the *number*-th."""
        return [event.seq for event in self.events if isinstance(event.fact, Taken)][number - 1] + 1


@pytest.fixture
def growing(tmp_path: Path) -> Growing:
    """The bore session, nothing of it written yet."""
    return Growing(tmp_path / "bore.jsonl")


def go(screen: Any, name: str) -> None:
    """To a page by its link."""
    screen.page.click(f"#links a[data-page={name}]")
    screen.page.wait_for_selector(f"#page-{name}:visible")


def test_a_sweep_is_followed_and_each_reading_is_said_aloud(show, growing):
    first = growing.taken(1)
    growing.until(first - 100)
    screen = show(str(growing.path))
    go(screen, "bore")
    screen.page.evaluate(HEAR)
    screen.until("sound", "Sound is off")
    screen.page.click("#sound")
    screen.until("bore-say", ".")
    before = screen.page.evaluate("window.asked")
    for number in range(first - 90, first - 1, 8):
        growing.until(number)
        time.sleep(0.12)
    growing.until(first - 1)
    screen.until("bore-say", "Writing it down")
    waiting = screen.page.evaluate("window.asked")
    growing.until(first)
    screen.until("bore-said", r"20, 0 degrees: plus 4\.3; next 20, 90 degrees")
    screen.holds("window.asked.some(text => text.startsWith('20, 0 degrees'))")

    assert before == []
    assert any(re.fullmatch(r"\d more|they differ: swing, then rock", text) for text in waiting)
    assert not any("degrees" in text for text in waiting)
    assert screen.page.evaluate("window.asked").count("20, 0 degrees: plus 4.3; next 20, 90 degrees") == 1
    assert screen.text("bore-last") == "55.0043"
    assert screen.page.evaluate("window.notes") >= 4
    assert screen.page.locator("#bore-map td", has_text="+4.3").count() == 1


def test_a_lost_link_is_heard_and_silence_is_kept_until_the_sound_is_on(show, growing):
    growing.until(300)
    screen = show(str(growing.path))
    go(screen, "bore")
    screen.page.evaluate(HEAR)
    growing.until(growing.taken(1))
    screen.until("bore-said", "next 20, 90")
    silent = screen.page.evaluate("[window.asked.length, window.notes]")
    screen.page.click("#sound")
    screen.until("sound", "Sound is on")
    lost = Event(growing.written, Instant(10**12, time.time_ns()), "plug", Down("unplugged"))
    with growing.path.open("ab") as file:
        file.write(encode_event(lost) + b"\n")
    screen.until("bore-say", "link lost")
    screen.holds("window.asked.includes('link lost: plug')")

    assert silent == [0, 0]


def test_where_the_browser_has_no_voice_there_are_tones_alone(show, growing):
    growing.until(250)
    screen = show(str(growing.path))
    go(screen, "bore")
    screen.page.evaluate(HEAR)
    screen.page.evaluate(
        "Object.defineProperty(window, 'speechSynthesis', { configurable: true, value: undefined })"
    )
    screen.page.click("#sound")
    screen.page.wait_for_selector("#tones-alone:visible")
    played = screen.page.evaluate("window.notes")
    growing.until(growing.taken(1))
    screen.holds(f"window.notes > {played}")

    assert "next 20, 90" in screen.text("bore-said")


def test_nothing_of_a_replay_is_said_aloud(show):
    screen = show(str(RECORDING), "--replay", "--speed", "5")
    go(screen, "bore")
    screen.page.evaluate(HEAR)
    screen.page.click("#sound")
    screen.until("bore-said", "next 80")

    assert screen.page.evaluate("window.asked") == []


def test_the_pages_are_reached_with_keys_alone(show, growing):
    growing.until(400)
    screen = show(str(growing.path))
    screen.page.focus("#keys")
    screen.page.keyboard.press("Tab")
    first = screen.page.evaluate("document.activeElement.dataset.page")
    screen.page.keyboard.press("Tab")
    screen.page.keyboard.press("Enter")
    screen.page.wait_for_selector("#page-bore:visible")
    screen.until("bore-here", "20 mm")
    marked = screen.page.eval_on_selector_all(
        "#links [aria-current=page]", "all => all.map(a => a.textContent)"
    )
    title = screen.page.title()
    screen.page.keyboard.press("Tab")
    screen.page.keyboard.press("Enter")
    screen.page.wait_for_selector("#page-gauges:visible")
    screen.until("gauges-cards", "plug")
    hidden = screen.page.is_hidden("#page-bore")
    screen.page.go_back()
    screen.page.wait_for_selector("#page-bore:visible")

    assert first == "grinding"
    assert marked == ["Bore"]
    assert title == "Bore"
    assert hidden


def test_the_buttons_of_the_bore_say_words(show, growing, session, capture_of):
    """Each on disk before it is acknowledged; the keys are those of this page alone."""
    growing.until(400)
    one = session(growing.header.job)
    for event in growing.events[:400]:
        one.events.append(event)
        one.state = session_of.step(one.state, event)
    with capture_of(growing.path, one):
        screen = show(str(growing.path))
        go(screen, "bore")
        screen.page.wait_for_selector("#bore-skip:visible")
        screen.page.click("#bore-skip")
        screen.until("ack", "bore at 80 mm, 0°")
        screen.page.keyboard.press("b")
        screen.until("ack", "bore at 20 mm, 90°")
        screen.page.keyboard.press("h")
        screen.until("ack", "paused")
        screen.until("bore-say", "Paused")
        screen.page.click("#bore-pause")
        screen.until("ack", "going on")
        screen.page.click("#bore-stage")
        screen.until("ack", "stage lapped 1")


def test_the_section_is_drawn_and_writes_as_large_as_its_room_allows(show, growing):
    """Letters of 24 px and more on the shop's screen; on a phone smaller, and nothing beyond its edge."""
    growing.until(1900)
    screen = show(str(growing.path))
    go(screen, "bore")
    screen.until("bore-section-title", r"enlarged [\d ]+ times")
    screen.holds("document.querySelectorAll('#bore-section .textpoint text').length > 0")
    letters = "Math.max(...[...document.querySelectorAll('#bore-section .textpoint text')]"
    letters += ".map(one => parseFloat(getComputedStyle(one).fontSize)))"
    words = screen.page.inner_text("#bore-section")
    walls = screen.page.locator("#bore-section .scatterlayer .trace path.js-line").count()
    shop = screen.page.evaluate(letters)
    screen.page.set_viewport_size({"width": 390, "height": 844})
    screen.holds(f"{letters} < 20")
    wide = screen.page.evaluate(
        "document.querySelector('#bore-section .main-svg').getBoundingClientRect().right"
    )

    assert "smallest" in words
    assert "newest" in words
    assert walls >= 4
    assert shop >= 24
    assert wide <= 390


def test_a_direction_is_left_out_of_the_section_and_taken_in_again_with_keys(show, growing):
    growing.until(len(growing.events))
    screen = show(str(growing.path), size="phone")
    go(screen, "bore")
    drawn = "document.querySelectorAll('#bore-section .scatterlayer .trace').length"
    screen.holds("document.querySelectorAll('#bore-section .textpoint text').length > 0")
    whole = screen.page.evaluate(drawn)

    screen.page.focus("#bore-section-direction-0")
    screen.page.keyboard.press("Space")
    screen.holds(f"{drawn} === {whole - 1}")
    pressed = screen.page.get_attribute("#bore-section-direction-0", "aria-pressed")
    screen.page.keyboard.press("Enter")
    screen.holds(f"{drawn} === {whole}")

    assert pressed == "false"


def test_the_gauges_page_tells_value_rate_and_age(show, growing):
    growing.until(400)
    screen = show(str(growing.path))
    go(screen, "gauges")
    told = screen.until("gauges-cards", "readings a second")

    assert "plug" in told
    assert "none unreadable" in told
    assert "tenths gauges" in screen.text("gauges-more")


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("name", ["bore", "gauges"])
def test_a_page_fits_every_screen_and_passes_axe(show, growing, session, capture_of, name, theme, shots):
    """WCAG 2.2 AA as far as axe-core can tell, targets of 48 px, and nothing wider than its place."""
    from axe_playwright_python.sync_playwright import Axe

    growing.until(1900)
    with capture_of(growing.path, session(growing.header.job)):
        screen = show(str(growing.path), color_scheme=theme)
        go(screen, name)
        screen.page.wait_for_selector("#ask[data-state=open]", state="attached")
        screen.until("bore-say" if name == "bore" else "gauges-cards", "Taken|plug")
        for size, (width, height) in SIZES.items():
            screen.page.set_viewport_size({"width": width, "height": height})
            screen.page.wait_for_timeout(300)
            boxes = screen.page.eval_on_selector_all(
                "button, #links a",
                "all => all.filter(b => b.checkVisibility()).map(b => [b.id, b.offsetWidth, b.offsetHeight])",
            )
            assert [box for box in boxes if min(box[1:]) < 48] == []
            assert screen.page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
            over = ".figure, #bore-map td, #gauges-cards span"
            wide = "all => all.filter(f => f.clientWidth && f.scrollWidth > f.clientWidth + 1)"
            assert screen.page.eval_on_selector_all(over, f"{wide}.map(f => f.textContent)") == []
            if name == "bore":
                letters = "parseFloat(getComputedStyle(document.getElementById('bore-say')).fontSize)"
                assert screen.page.evaluate(letters) >= LETTERS[size]
            screen.page.screenshot(path=str(shots / f"{name}-{size}-{theme}.png"), full_page=True)
        # As tall as the page: a checker takes what the bar at the foot lies over for a target cut small.
        screen.page.set_viewport_size({"width": width, "height": 4000})
        screen.page.wait_for_timeout(300)
        found = Axe().run(
            screen.page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
        )

    assert found.response["passes"]
    assert [(v["id"], [n["html"][:120] for n in v["nodes"]]) for v in found.response["violations"]] == []
