"""A gauge taught on the page, in a real Chromium: by keys alone, with the real child on a real port."""

from __future__ import annotations

import asyncio
import importlib.util
import os
import pty
import shutil
import struct
import sys
import threading
import tty
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from capture.sheet.reader import read_sheet

pytestmark = [
    pytest.mark.browser,
    pytest.mark.timeout(400),
    pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX"),
]
BLUEZ = Path(__file__).parents[2] / "capture" / "links" / "bluez.py"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
SHEET = """\
# the sleeve of the old machine
[job]
name = "Jig-borer spindle sleeve"
units = "mm"

[[gauge]]
name = "mike"
measures = "diameter"
link = { serial = "PORT" }  # the left one
resolution = 0.001
"""


class Micrometer:
    """A gauge of our own invention: at its button it sends its unit, its sign and seven figures."""

    def __init__(self) -> None:
        self._master, slave = pty.openpty()
        tty.setraw(slave)
        self.port = os.ttyname(slave)
        self._slave = slave

    def press(self, shown: str, unit: str = "mm") -> None:
        size, places = shown.lstrip("-"), {"mm": 8, "in": 8}[unit]
        sign = "-" if shown.startswith("-") else "+"
        os.write(self._master, f"#{unit.upper()}{sign}{size:0>{places}}\r\n".encode())

    def close(self) -> None:
        os.close(self._master)
        os.close(self._slave)


@pytest.fixture
def gauge() -> Iterator[Micrometer]:
    one = Micrometer()
    yield one
    one.close()


@pytest.fixture
def shop(tmp_path, session, sheet, gauge, monkeypatch):
    """A folder with a sheet and a recording that was made of it; its gauge is not understood."""
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent")  # no radio, wherever this runs
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "sleeve.toml").write_text(SHEET.replace("PORT", gauge.port), "utf-8")
    job = {**sheet, "gauge": [{**sheet["gauge"][0], "link": {"serial": gauge.port}}]}
    (folder / "sleeve.jsonl").write_bytes(session(job).text())
    return folder


class Page:
    """The gauges' page as somebody sees it who has a keyboard and no mouse."""

    def __init__(self, screen) -> None:
        self.screen, self.page = screen, screen.page

    def tab_to(self, name: str, most: int = 60) -> None:
        for _ in range(most):
            if self.page.evaluate("document.activeElement.id") == name:
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"{name} is not reached by Tab")

    def press(self, name: str, key: str = "Enter") -> None:
        self.tab_to(name)
        self.page.keyboard.press(key)

    def look(self) -> None:
        self.press("gauges-look")
        self.screen.until("gauges-looked", "in sight")


@pytest.fixture
def open_page(show, shop) -> Callable[..., Page]:
    def one(*args: str, **more) -> Page:
        screen = show(str(shop / "sleeve.jsonl"), *args, **more)
        screen.page.focus('#links a[data-page="gauges"]')
        screen.page.keyboard.press("Enter")
        screen.page.wait_for_selector("#gauges-teach:visible")
        return Page(screen)

    return one


def teach(one: Page, gauge: Micrometer, shown: str, unit: str = "mm") -> None:
    """Press the gauge's button, type what it shows, take it."""
    gauge.press(shown, unit)
    one.page.wait_for_selector("#teach-ready[data-state=done]")
    one.tab_to("teach-shown")
    one.page.keyboard.type(shown)
    if one.page.input_value("#teach-unit") != unit:
        one.tab_to("teach-unit")
        one.page.keyboard.type({"mm": "mm", "in": "inch"}[unit])
    one.press("teach-take")


def test_a_gauge_is_taught_kept_and_put_on_the_sheet_by_keys_alone(  # noqa: PLR0915 - one lesson, whole
    open_page, shop, gauge, tenths
):
    """And what was kept reads the gauge in a capture of that sheet, in both of the units of its display."""
    one = open_page()
    screen, page = one.screen, one.page
    one.look()
    assert "gauge mike of this job" in page.inner_text("#gauges-sight")
    one.press("sight-" + str(page.locator(".sight li").count() - 1))
    screen.until("teach-hears", "Silent")
    gauge.press("123.4560")
    screen.until("teach-hears", "reads as text at 9600 8N1")
    page.wait_for_selector("#teach-shown:focus")
    assert "#MM+123.4560" in page.inner_text("#teach-raw")

    page.keyboard.type("twelve")
    page.keyboard.press("Enter")
    page.wait_for_selector("#teach-shown[aria-invalid=true]")
    assert "is no number" in screen.text("teach-shown-fault")
    page.keyboard.press("Control+a")
    page.keyboard.type("123.4560")
    page.keyboard.press("Enter")
    screen.until("teach-said", "123.4560 mm taken. Next: show a negative reading")
    assert screen.text("teach-shown-fault") == ""
    assert "show a negative reading" in screen.text("teach-asks")

    teach(one, gauge, "-98.7650")
    screen.until("teach-said", "-98.7650 mm taken")
    teach(one, gauge, "0.0040")
    screen.until("teach-said", "0.0040 mm taken")
    page.wait_for_selector("#teach-check:visible")
    assert not page.is_visible("#teach-keep")
    teach(one, gauge, "4.86000", "in")
    screen.until("teach-said", "4.86000 inch taken")
    teach(one, gauge, "-1.26400", "in")
    screen.until("teach-sure", "nothing is open")

    gauge.press("55.1200")
    assert "55.1200 mm" in screen.until("teach-reads", "55.1200")
    one.press("units")
    assert screen.until("teach-reads", "inch") == "55.1200 mm (2.17008 inch)"
    one.press("teach-agree")
    page.wait_for_selector("#keep-name:focus")
    page.keyboard.press("Control+a")
    page.keyboard.type("../mike")
    page.keyboard.press("Enter")
    page.wait_for_selector("#keep-name[aria-invalid=true]")
    assert sorted(path.name for path in shop.iterdir()) == ["sleeve.jsonl", "sleeve.toml"]
    page.keyboard.press("Control+a")
    page.keyboard.type("mike")
    one.tab_to("keep-measures")
    page.keyboard.type("diam")
    one.press("keep-do")
    screen.until("teach-heading", "Saved: mike.dialect.toml")

    text = (shop / "sleeve.toml").read_text("utf-8")
    job, _ = read_sheet(text, "sleeve.toml")
    assert job.gauges[0].dialect == "mike.dialect.toml"
    assert job.gauges[0].resolution == 0.001
    assert "# the left one" in text
    assert "# the sleeve of the old machine" in text
    capture = tenths.capture(str(shop / "sleeve.toml"))
    capture.until("up", 1)
    for shown, unit in (("55.0120", "mm"), ("2.16583", "in"), ("54.9870", "mm")):
        gauge.press(shown, unit)
    readings = capture.until("reading", 3)

    assert [round(reading["value"], 6) for reading in readings] == [55.012, 55.012082, 54.987]


def test_a_viewer_can_neither_look_nor_teach(open_page):
    one = open_page("--host", "0.0.0.0", "--token", "right-to-speak", "--viewer-token", "right-to-watch")  # noqa: S104 - for the test alone
    page = one.page
    page.goto(one.screen.address.replace("to-speak", "to-watch"))
    page.click('#links a[data-page="gauges"]')
    one.screen.until("gauges-looked", "look, not change")
    status = page.evaluate(
        "fetch('/gauges/look', {method: 'POST', body: '{}'}).then((answer) => answer.status)"
    )
    one.screen.complaints.clear()  # Chromium complains of the refusal that this test asks for

    assert status == 403
    assert page.locator("#gauges-look").count() == 0


@pytest.mark.parametrize("size", ["shop", "tablet", "phone"])
def test_each_step_fits_its_screen_and_passes_axe(open_page, gauge, size, shots, wait_until):
    """WCAG 2.2 AA as far as the axe-core rules can tell; nothing sideways; every target at least 48 px.

    At the end the page is left in the middle of the lesson, and the child that holds the port ends.
    """
    from axe_playwright_python.sync_playwright import Axe

    theme = "dark" if size == "tablet" else "light"
    one = open_page(size=size, color_scheme=theme)
    screen, page = one.screen, one.page
    found = []

    def judge(step: str) -> None:
        page.screenshot(path=str(shots / f"teach-{step}-{size}-{theme}.png"), full_page=True)
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        small = page.eval_on_selector_all(
            "#page-gauges :is(button, input, select, summary, a)",
            "all => all.filter(b => b.checkVisibility()).map(b => [b.id || b.textContent, b.offsetWidth, "
            "b.offsetHeight]).filter(([, w, h]) => w < 48 || h < 48)",
        )
        said = Axe().run(page, options={"runOnly": RULES}).response["violations"]
        wrong = [(v["id"], [node["html"][:160] for node in v["nodes"]]) for v in said]
        found.append((step, max(wide, 0), small, wrong))

    one.look()
    judge("looked")
    one.press("sight-" + str(page.locator(".sight li").count() - 1))
    screen.until("teach-hears", "Silent")
    page.screenshot(path=str(shots / f"teach-silent-{size}-{theme}.png"), full_page=True)
    gauge.press("123.4560")
    page.wait_for_selector("#teach-show:visible")
    for summary in page.locator("#gauges-lesson summary").all():
        summary.evaluate("one => { one.parentElement.open = true }")
    page.click("#teach-take")
    page.wait_for_selector("#teach-shown[aria-invalid=true]")
    for shown in ("123.4560", "-98.7650", "0.0040"):
        teach(one, gauge, shown)
        screen.until("teach-said", f"{shown} mm taken")
    gauge.press("55.1200")
    screen.until("teach-reads", "55.1200")
    page.click("#teach-agree")
    page.wait_for_selector("#teach-keep:visible")
    page.click("#keep-do")
    page.wait_for_selector("#keep-measures[aria-invalid=true]")
    judge("keeping")

    page.goto("about:blank")

    assert found == [(step, 0, [], []) for step in ("looked", "keeping")]
    wait_until(lambda: not children(gauge.port), "the child to end")


@pytest.fixture
def air(monkeypatch) -> Iterator[None]:
    """A device in reach that tells its length as the Bluetooth SIG has it, on a bus of our own."""
    if shutil.which("dbus-daemon") is None:
        pytest.skip("dbus-daemon is not installed: Bluetooth is not tested here (Debian: apt install dbus)")
    spec = importlib.util.spec_from_file_location("bluez", BLUEZ)
    bluez = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "bluez", bluez)
    spec.loader.exec_module(bluez)
    length = bluez.Characteristic(bluez.sig(0x2C0A), ("read",), struct.pack("<I", 550_123))
    mike = bluez.Peripheral("C0:00:00:00:00:55", "<b>Mike</b>", {bluez.sig(0x185A): [length]})
    loop, there = asyncio.new_event_loop(), threading.Event()
    done = asyncio.Event()

    async def serve() -> None:
        service = bluez.Bluez()
        await service.start()
        service.air.append(mike)
        there.set()
        await done.wait()
        await service.stop()

    with bluez.PrivateBus():
        thread = threading.Thread(target=loop.run_until_complete, args=[serve()])
        thread.start()
        assert there.wait(20)
        yield
        loop.call_soon_threadsafe(done.set)
        thread.join()
        loop.close()


@pytest.mark.bluetooth
def test_a_gauge_in_reach_that_tells_its_unit_is_put_on_the_sheet_without_a_lesson(
    air, show, tmp_path, shots
):
    (tmp_path / "sleeve.toml").write_text('[job]\nname = "Sleeve"\n', "utf-8")
    screen = show(str(tmp_path))
    one, page = Page(screen), screen.page
    page.click('#links a[data-page="gauges"]')
    page.wait_for_selector("#gauges-teach:visible")
    one.look()
    assert "<b>Mike</b>" in page.inner_text("#gauges-sight")
    one.press("sight-" + str(page.locator(".sight li").count() - 1))
    keep = page.locator(".offers p", has_text="now 55.0123 mm").get_by_role("button", name="Keep this one")
    keep.wait_for()
    page.screenshot(path=str(shots / "teach-air.png"), full_page=True)
    keep.click()
    page.wait_for_selector("#keep-name:focus")
    page.fill("#keep-name", "air mike")
    page.select_option("#keep-measures", "diameter")
    page.click("#keep-do")
    screen.until("teach-heading", "On sleeve.toml: gauge air mike")
    job, _ = read_sheet((tmp_path / "sleeve.toml").read_text("utf-8"), "sleeve.toml")

    assert job.gauges[0].link == {"ble": "C0:00:00:00:00:55", "value": "2C0A"}
    assert job.gauges[0].dialect == "gatt"
    assert [path.name for path in tmp_path.glob("*.toml")] == ["sleeve.toml"]


def children(port: str) -> list[str]:
    """Processes that teach at *port*."""
    found = []
    for entry in os.scandir("/proc"):
        try:
            words = Path(entry.path, "cmdline").read_text("utf-8", "replace").split("\0")
        except OSError:
            continue
        if "teach" in words and port in words:
            found.append(entry.name)
    return found
