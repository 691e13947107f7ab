"""The screen in a real Chromium: what is written to a recording shows, and what is pressed is recorded."""

from __future__ import annotations

import re
import subprocess
import sys
import time
from collections.abc import Callable
from typing import Any

import pytest

from capture.events import Down, Note, Pass, Reject
from capture.recording.codec import encode_header
from dashboard.views.registry import PAGES

pytestmark = [pytest.mark.browser, pytest.mark.timeout(400)]


@pytest.fixture
def live(tmp_path, session) -> Callable[..., Any]:
    """Begins a recording that grows; its clock is the wall's, so that it is shown as live."""

    class Live:
        def __init__(self) -> None:
            self.path = tmp_path / "now.jsonl"
            self.session = session(began=time.time_ns() - 3_600_000_000_000)
            self.path.write_bytes(encode_header(self.session.header) + b"\n")
            self.written = 0

        def write(self) -> None:
            with self.path.open("ab") as file:
                file.write(self.session.lines(self.written))
            self.written = len(self.session.events)

    return Live


def at_hour(session):
    """Seconds since the recording began, such that it is now."""
    return (time.time_ns() - session.began) / 1e9


def test_a_reading_appended_to_the_recording_shows_at_once(show, live, reading):
    one = live()
    screen = show(str(one.path))
    for value, text in ((55.0123, "55.0123"), (55.0087, "55.0087")):
        one.session.say("mike", reading(value), at_hour(one.session))
        one.write()

        assert screen.until("size", text) == text
    assert screen.text("status") == "● Live"
    assert "Simulated" in screen.text("simulated")


def test_a_session_is_followed_to_spark_out(show, live, grinding_session):
    one = live()
    screen = show(str(one.path))
    one.session.began = time.time_ns() - 446_000_000_000
    grinding_session(one.session, infeeds=[0.006] * 6 + [0.0] * 7)
    for n, event in enumerate(one.session.events, 1):
        if isinstance(event.fact, Pass) or n == len(one.session.events):
            with one.path.open("ab") as file:
                file.write(
                    b"".join(
                        line + b"\n"
                        for line in one.session.lines(one.written).splitlines()[: n - one.written]
                    )
                )
            one.written = n
            if event.fact == Pass(0.006) and n > 20:
                screen.until("banner", "made: measure")

    assert screen.until("say", "On size").startswith("On size, cold size 54.99")
    assert screen.page.get_attribute("#banner", "data-state") == "at-size"
    assert screen.page.locator("#passes tr").count() == 8
    screen.page.wait_for_selector("#trend .scatterlayer .trace")


def test_two_browsers_show_the_same_each_in_its_own_units(show, recording):
    one, other = show(str(recording), pages=2)
    other.page.click("#units")
    inch = float(re.search(r"[\d.]+", other.until("size", r"^2\."))[0])

    assert inch * 25.4 == pytest.approx(float(one.until("size", r"^54\.")), abs=2e-4)
    assert "tenths" in other.until("way-band", " in$") or " in" in other.text("way-band")
    assert one.text("cold-unit") == "mm"


def test_what_is_typed_is_never_markup(show, live, reading):
    one = live()
    screen = show(str(one.path))
    nasty = "<b id=evil>wheel</b><script>document.title='evil'</script>"
    one.session.say("person", Note(nasty), at_hour(one.session))
    one.session.say("mike", Down(nasty), at_hour(one.session))
    one.write()

    assert nasty in screen.until("lately", "wheel")
    assert nasty in screen.until("down", "wheel")
    assert screen.page.locator("#evil").count() == 0
    assert screen.page.title() == "Grinding"


def test_a_lost_link_is_told(show, live, reading):
    one = live()
    screen = show(str(one.path))
    one.session.say("mike", reading(55.0), at_hour(one.session))
    one.session.say("mike", Down("unplugged: /dev/ttyUSB0 is gone"), at_hour(one.session))
    one.write()

    assert screen.until("down", "unplugged") == "✕ mike is not connected: unplugged: /dev/ttyUSB0 is gone"
    # no capture writes this recording: whether the gauge is connected now is not known
    assert screen.page.text_content("#gauges tr td:nth-child(2)") == "■ not read now"


def test_every_page_tells_of_a_lost_link(show, live, reading):
    one = live()
    screen = show(str(one.path))
    one.session.say("mike", reading(55.0), at_hour(one.session))
    one.session.say("mike", Down("unplugged"), at_hour(one.session))
    one.write()
    screen.until("down", "unplugged")
    names = screen.page.eval_on_selector_all("#links a", "all => all.map((link) => link.dataset.page)")
    for name in names:
        screen.page.click(f"#links a[data-page={name}]")
        screen.holds(f"document.documentElement.dataset.page === '{name}'")
        assert screen.page.is_visible("#down"), name

    assert names == [page.name for page in PAGES]


def test_an_old_recording_says_that_it_is_old(show, recording):
    screen = show(str(recording))

    assert "demo has ended" in screen.until("status", "ended")
    assert screen.text("quiet") == ""
    assert not screen.page.is_visible("#pass")
    assert "tenths run" in screen.text("closed")


def test_a_page_asks_for_nothing_that_the_server_warns_of_on_the_terminal(show, recording, capfd):
    screen = show(str(recording))
    screen.page.wait_for_load_state("networkidle")

    assert "WARNING" not in capfd.readouterr().err


def test_an_empty_folder_says_what_to_do_and_shows_the_recording_that_appears(show, tmp_path, ground):
    screen = show(str(tmp_path))
    assert "tenths run JOB" in screen.until("more", "tenths")

    (tmp_path / "sleeve.jsonl").write_bytes(ground.text())

    assert screen.until("say", "On size")


def test_a_dashboard_that_is_gone_is_noticed(show, recording, browser):
    server = subprocess.Popen(
        [sys.executable, "-m", "dashboard", str(recording)], stdout=subprocess.PIPE, text=True
    )
    with server:
        page = browser.new_page()
        page.goto(server.stdout.readline().split()[-1])
        page.wait_for_selector("#job:not(:empty)")
        hidden = page.is_hidden("#lost")
        server.terminate()
        page.wait_for_selector("#lost:not([hidden])")
        told = page.text_content("#lost")
        page.close()

    assert hidden
    assert "Connection lost" in told


def test_what_is_pressed_is_on_disk_before_it_is_acknowledged(show, recording, ground, capture_of):
    with capture_of(recording, ground):
        screen = show(str(recording))
        screen.page.wait_for_selector("#pass:visible")
        screen.page.click("#more-infeed")
        screen.page.click("#pass")
        screen.until("ack", "Saved: pass, infeed 0.0070 mm")
        first = recording.read_bytes().count(b'"kind":"pass"')
        screen.page.click("#undo")
        screen.until("ack", "taken back")

    assert first == 14
    facts = [event.fact for event in ground.events]
    assert Pass(0.007) in facts
    assert isinstance(facts[-1], Reject)


def test_everything_can_be_said_with_keys_alone(show, recording, ground, capture_of):
    with capture_of(recording, ground):
        screen = show(str(recording))
        screen.page.wait_for_selector("#pass:visible")
        screen.page.keyboard.press("o")
        screen.until("ack", "infeed 0.0000")
        screen.page.focus("#text")
        screen.page.keyboard.type("wheel dressed, pour on")
        screen.page.keyboard.press("Tab")
        screen.page.keyboard.press("Enter")
        screen.until("ack", "noted: wheel dressed")
        screen.page.keyboard.press("r")
        screen.until("ack", "rejected at the screen")

    kinds = [event.fact.__class__.__name__ for event in ground.events if event.source == "person"][-3:]
    assert kinds == ["Pass", "Note", "Reject"]


def test_a_gauge_that_types_like_a_keyboard_is_read_on_the_page(show, recording, ground, capture_of):
    with capture_of(recording, ground):
        screen = show(str(recording))
        screen.page.wait_for_selector("#pass:visible")
        screen.page.click("a[href='#gauges']")
        screen.page.fill("#typed-gauge", "mike")
        screen.page.focus("#typed")
        for text in ("54.9987", "54.9986"):
            screen.page.keyboard.type(text)
            screen.page.keyboard.press("Enter")
            screen.until("ack", f"read: {text}")

    typed = [event for event in ground.events if event.source == "mike"][-2:]
    assert [event.fact.raw for event in typed] == ["54.9987", "54.9986"]


def test_keys_can_be_switched_off(show, recording, ground, capture_of):
    """WCAG 2.2, 2.1.4: single-key shortcuts can be turned off."""
    before = len(ground.events)
    with capture_of(recording, ground):
        screen = show(str(recording))
        screen.page.wait_for_selector("#pass:visible")
        screen.page.click("#keys")
        screen.page.keyboard.press("p")
        screen.page.keyboard.press("u")
        screen.page.click("#spark")
        screen.until("ack", "Saved")

    assert len(ground.events) == before + 1


def test_a_refusal_of_the_capture_is_shown(show, recording, ground, capture_of):
    with capture_of(recording, ground):
        screen = show(str(recording))
        screen.page.wait_for_selector("#pass:visible")
        screen.page.fill("#infeed", "much")
        screen.page.click("#pass")

        assert "due a number" in screen.until("ack", "Not taken")


def test_a_replay_plays_pauses_is_scrubbed_and_sped_up_with_keys_alone(show, recording):
    screen = show(str(recording), "--replay", "--speed", "1")
    screen.until("status", "Replayed, 1 ×")
    screen.page.keyboard.press("k")
    screen.until("status", "paused")
    for _ in range(5):
        screen.page.keyboard.press("l")
    screen.until("say", "to go")
    screen.page.focus("#scrub")
    screen.page.keyboard.press("End")
    screen.until("say", "On size")
    whole = screen.until("where", r"^0:07:25 of 0:07:25$")
    told = screen.until("lately-told", "On size|Sparked out")
    screen.page.keyboard.press("Home")
    screen.until("say", "No size yet")
    screen.page.wait_for_selector("#lately-told:empty", state="attached")
    screen.page.keyboard.press(".")
    screen.until("speed", "5 ×")
    screen.page.keyboard.press(",")
    screen.until("speed", "1 ×")
    screen.page.keyboard.press(".")
    screen.page.keyboard.press("j")
    screen.page.keyboard.press("k")
    screen.until("say", r"^(?!No size)")
    screen.page.keyboard.press("f")
    screen.page.wait_for_selector("#redecide[aria-pressed=true]")

    assert whole
    assert told.startswith("Just before: ")
    assert screen.page.locator("#marks li").count() >= 13
    assert not screen.page.locator("#pass").count()


def test_decisions_afresh_are_toggled_beside_those_made(show, recording):
    screen = show(str(recording), "--replay", "--set", "spark_out.limit=0.002")
    screen.until("settings", "spark_out.limit = 0.002")
    screen.page.click("#redecide")
    screen.page.wait_for_selector("#redecide[aria-pressed=false]")

    assert screen.text("settings") == ""


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", ["shop", "tablet", "phone"])
def test_the_page_fits_its_screen(show, recording, ground, capture_of, size, theme, shots):
    """No sideways scrolling, every target at least 48 px, and a sentence that reads from afar."""
    with capture_of(recording, ground):
        screen = show(str(recording), size=size, color_scheme=theme)
        screen.page.wait_for_selector("#pass:visible")
        screen.until("say", "On size")
        boxes = screen.page.eval_on_selector_all(
            "button",
            "all => all.filter(b => b.checkVisibility()).map(b => [b.id, b.offsetWidth, b.offsetHeight])",
        )
        wide = screen.page.evaluate("document.documentElement.scrollWidth - innerWidth")
        letters = screen.page.evaluate(
            "parseFloat(getComputedStyle(document.getElementById('say')).fontSize)"
        )
        over = screen.page.eval_on_selector_all(
            ".figure", "all => all.filter(f => f.scrollWidth > f.clientWidth).length"
        )
        theme_shown = screen.page.get_attribute("html", "data-theme")
        screen.page.screenshot(path=str(shots / f"grinding-{size}-{theme}.png"))

    assert [box for box in boxes if min(box[1:]) < 48] == []
    assert wide <= 0
    assert over == 0
    assert letters >= {"shop": 75, "tablet": 40, "phone": 28}[size]
    assert theme_shown == theme


@pytest.mark.parametrize("args", [[], ["--replay", "--speed", "500"]])
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_page_passes_axe(show, recording, ground, capture_of, theme, args):
    """WCAG 2.2 AA as far as the axe-core rules can tell, on the page as it stands when sparked out."""
    from axe_playwright_python.sync_playwright import Axe

    with capture_of(recording, ground):
        screen = show(str(recording), *args, color_scheme=theme)
        screen.until("say", "On size")
        found = Axe().run(
            screen.page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
        )

    assert found.response["passes"]
    assert [
        (v["id"], [node["html"][:120] for node in v["nodes"]]) for v in found.response["violations"]
    ] == []
