"""The pages on request in a real Chromium: worked out, typed into, saved, printed; by keys; three sizes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from capture.events import Reading, Stage, Station
from capture.sheet.reader import read_sheet

pytestmark = [pytest.mark.browser, pytest.mark.timeout(400)]
BORE = Path(__file__).parents[3] / "recordings" / "bore.jsonl"
PROGRAM = ("fit", "plan", "job", "record", "readings", "compare", "share")
READY = {
    "fit": "#fit-body .answer",
    "plan": "#plan-body .lead",
    "job": "#job-save",
    "record": "#record-body .recording-row",
    "readings": "#readings-graph .scatterlayer .trace path.js-line",
    "compare": "#compare-decisions table",
    "share": "#share-body .box",
}
SHEET = """\
[job]
name = "Jig-borer spindle sleeve"  # the customer's name for it
units = "mm"

[fit]
nominal = 55.0
clearance = { aim = 0.005, least = 0.003, most = 0.008 }

[[gauge]]
name = "mike"
measures = "diameter"
link = { serial = "/dev/ttyUSB0", baud = 9600 }
"""


@pytest.fixture
def both(tmp_path, session, sheet):
    """A recording with both parts of the sleeve, in a folder with its sheet."""
    fit = {key: value for key, value in sheet["fit"].items() if key != "bore"}
    plug = {
        "name": "plug",
        "measures": "bore",
        "part": "bore",
        "link": {"serial": "/dev/ttyUSB2"},
        "limits": 0.0005,
    }
    whole = {
        **sheet,
        "fit": {**fit, "engagement": {"length": 100.0, "from": 0.0, "to": 60.0}},
        "bore": {"material": "grey cast iron", "stations": [0, 50, 100], "angles": [0]},
        "shaft": {
            "material": "steel 4140",
            "stations": [0, 80, 160],
            "angles": [0],
            "plating": {"least": 0.1, "most": 0.2, "stock": 0.06, "runout": 0.01},
        },
        "gauge": [{**sheet["gauge"][0], "limits": 0.0005}, plug],
    }
    one, t = session(whole), 1.0
    one.say("person", Stage("finish"), t)
    for part, gauge, sizes in (
        ("bore", "plug", (55.0022, 55.0015, 55.0025)),
        ("shaft", "mike", (54.9962, 54.9965, 54.9960)),
    ):
        for z, value in zip(whole[part]["stations"], sizes, strict=True):
            one.say("person", Station(part, z, 0.0), t + 1)
            one.say(gauge, Reading(value, "mm", 4, f"{value:.4f}"), t + 2)
            t += 5.0
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "both.jsonl").write_bytes(one.text())
    (folder / "sleeve.toml").write_text(SHEET, "utf-8")
    return folder


@pytest.fixture
def opened(show, both, ground):
    """Opens the folder on one page; a ground recording lies beside the one that is shown."""

    def one(name, *args: str, **more):
        if name in {"compare", "readings"}:
            (both / "other.jsonl").write_bytes(ground.text())
            (both / "ground.jsonl").write_bytes(ground.text())
            screen = show(str(both / "ground.jsonl"), *args, **more)
        else:
            screen = show(str(both / "both.jsonl"), *args, **more)
        screen.page.click(f'#links a[data-page="{name}"]')
        screen.page.wait_for_selector(READY[name])
        return screen

    return one


def test_the_fit_is_judged_from_the_readings_that_are_shown(opened):
    screen = opened("fit")
    text = screen.page.inner_text("#page-fit")

    assert "5.0 µm" in text
    assert "bore at 50 mm, shaft at 80 mm, the shaft standing at 30 mm" in text
    assert screen.page.locator("#fit-body .map td", has_text="◆").count() == 1
    screen.page.click("#units")
    screen.page.wait_for_selector("#fit-body :text('2.0 tenths')")


def test_what_is_tried_on_the_plan_stands_at_once_and_its_faults_beside_the_field(opened):
    screen = opened("plan")
    screen.page.fill("#plan-try-stock", "0.1")
    screen.page.wait_for_selector("#plan-body .tried")
    row = screen.page.locator("#plan-body tr", has_text="To grind off").inner_text()
    screen.page.fill("#plan-try-aim", "0.02")
    screen.until("plan-fault-aim", "it must lie between")
    screen.page.click("#plan-sheet")
    screen.page.wait_for_selector("#plan-fault-aim:empty", state="attached")

    assert "0.1000 mm" in row
    assert screen.page.input_value("#plan-try-stock") == ""


def test_a_sheet_is_edited_by_keys_refused_with_its_fault_and_then_saved(opened, both):
    screen = opened("job")
    page = screen.page
    page.focus("[id='job-fit.nominal']")
    page.keyboard.press("Control+a")
    page.keyboard.type("much")
    page.keyboard.press("Enter")
    page.wait_for_selector("[id='job-fit.nominal'][aria-invalid=true]")
    why = page.text_content("[id='job-fit.nominal-fault']")
    focused = page.evaluate("document.activeElement.id")
    refused = (both / "sleeve.toml").read_text("utf-8")
    page.keyboard.press("Control+a")
    page.keyboard.type("55.5")
    page.keyboard.press("Enter")
    screen.until("job-said", "Saved: sleeve.toml")
    saved = (both / "sleeve.toml").read_text("utf-8")

    assert why == "came 'much', due a length above 0"
    assert focused == "job-fit.nominal"
    assert refused == SHEET
    assert saved == SHEET.replace("nominal = 55.0", "nominal = 55.5")
    assert page.text_content("[id='job-fit.nominal-fault']") == ""


def test_a_new_sheet_is_made_with_a_gauge(opened, both):
    page = opened("job").page
    page.select_option("#job-open", "")
    page.wait_for_selector("#job-name:not([readonly])")
    for name, value in {
        "name": "../evil.toml",
        "job.name": "<b>Sleeve</b>",
        "fit.nominal": "55",
        "fit.clearance.aim": "0.005",
        "fit.clearance.least": "0.003",
        "fit.clearance.most": "0.008",
    }.items():
        page.fill(f"[id='job-{name}']", value)
    page.click("#job-add-gauge")
    page.fill("[id='job-gauge.new0.name']", "mike")
    page.select_option("[id='job-gauge.new0.measures']", "diameter")
    page.select_option("[id='job-gauge.new0.link']", "serial")
    page.click("#job-save")
    page.wait_for_selector("#job-name[aria-invalid=true]")
    page.fill("#job-name", "new.toml")
    page.click("#job-save")
    page.wait_for_selector("[id='job-gauge.new0.address'][aria-invalid=true]")
    page.fill("[id='job-gauge.new0.address']", "/dev/ttyUSB0")
    page.click("#job-save")
    page.wait_for_selector("#job-said:has-text('✓ Saved')")
    job, _ = read_sheet((both / "new.toml").read_text("utf-8"), "new.toml")

    assert job.name == "<b>Sleeve</b>"
    assert job.gauges[0].link == {"serial": "/dev/ttyUSB0"}
    assert sorted(path.name for path in both.parent.rglob("*.toml")) == ["new.toml", "sleeve.toml"]
    assert page.locator("#job-box b").count() == 0


def test_what_few_need_is_folded_away_and_opens_where_it_is_wrong(opened, both):
    page = opened("job").page
    ways = "[data-ways]:has([id='job-gauge.0.link.value'])"
    by_serial = page.locator(ways).get_attribute("hidden")
    folded = page.locator("[id='job-settings.warm.limit']").is_visible()
    page.select_option("[id='job-gauge.0.link']", "ble")
    page.locator("#job-gauges summary").first.focus()
    page.keyboard.press("Enter")
    page.fill("[id='job-gauge.0.link.value']", "2a6e")
    page.click("#job-add-pedal")
    for name, value in {"name": "foot", "keyboard": "pedal", "keys": "KEY_B = pass 0"}.items():
        page.fill(f"[id='job-pedal.new0.{name}']", value)
    page.locator("#job-settings > summary").focus()
    page.keyboard.press("Enter")
    page.fill("[id='job-settings.warm.limit']", "-1")
    page.locator("#job-settings > summary").click()
    page.click("#job-save")
    page.wait_for_selector("[id='job-settings.warm.limit'][aria-invalid=true]:visible")
    page.fill("[id='job-settings.warm.limit']", "0.001")
    page.click("#job-save")
    page.wait_for_selector("#job-said:has-text('✓ Saved')")
    job, plain = read_sheet((both / "sleeve.toml").read_text("utf-8"), "sleeve.toml")

    assert by_serial == ""
    assert not folded
    assert job.gauges[0].link == {"ble": "/dev/ttyUSB0", "value": "2a6e"}
    assert job.pedals[0].keys == {"KEY_B": "pass 0"}
    assert plain["settings"] == {"warm": {"limit": 0.001}}


def test_the_record_is_previewed_kept_and_printed_to_pdf(opened, shots, browser):
    screen = opened("record")
    frame = screen.page.frame_locator("#record-preview")
    frame.locator("h1", has_text="Record of fit").wait_for()
    screen.page.evaluate(
        "document.getElementById('record-preview').contentWindow.print = () => { window.printed = true; }"
    )
    screen.page.focus("#record-print")
    screen.page.keyboard.press("Enter")
    screen.holds("window.printed === true")
    with screen.page.expect_download() as kept:
        screen.page.click("#record-body summary[aria-label='Tables for other programs: both.jsonl']")
        screen.page.click("#record-body a[aria-label='Stations CSV of both.jsonl']")
    table = kept.value.path().read_text("utf-8")
    printing = browser.new_page()
    printing.goto(screen.address)  # another browser, which brings the token
    printing.goto(screen.address.partition("?")[0] + "record/report.html?recording=both.jsonl")
    pdf = printing.pdf(path=str(shots / "record.pdf"), format="A4")
    printing.close()

    assert kept.value.suggested_filename == "both-stations.csv"
    assert table.count("\n") == 7
    assert pdf.startswith(b"%PDF")
    assert pdf.count(b"/Type /Page\n") >= 1 or pdf.count(b"/Type /Page") >= 2


def test_readings_are_looked_at_more_closely_by_buttons_and_keys(opened):
    screen = opened("readings", "--replay", "--speed", "500")
    whole = screen.until("readings-said", "readings")
    screen.page.focus("#readings-closer")
    screen.page.keyboard.press("Enter")
    closer = screen.until("readings-said", r"From [1-9]")
    screen.page.click("#readings-earlier")
    screen.until("readings-said", r"From 0\.")
    screen.page.click("#readings-whole")

    assert screen.until("readings-said", re.escape(whole)) == whole
    assert closer != whole


def test_where_a_replay_stands_is_a_line_among_the_readings(opened):
    """The line goes with the scrubber, which goes with the keys."""
    screen = opened("readings", "--replay", "--speed", "1")
    there = "document.getElementById('readings-now').getBoundingClientRect().x"
    screen.page.focus("#scrub")
    screen.page.keyboard.press("End")
    screen.holds(f"{there} > 1500")
    screen.page.keyboard.press("Home")
    screen.holds(f"{there} < 300")

    assert screen.page.locator("#readings-marks li").count() == 2


def test_two_recordings_are_overlaid_and_decisions_laid_side_by_side(opened):
    screen = opened("compare", "--replay", "--speed", "500")
    page = screen.page
    page.fill("#compare-with", "nothing.jsonl")
    screen.until("compare-with-fault", "no recording of this name")
    page.fill("#compare-with", "both.jsonl")
    screen.until("compare-with-fault", "no pass with a size")
    page.fill("#compare-with", "other.jsonl")
    page.wait_for_selector("#compare-overlay .legendtext:has-text('other.jsonl')")
    page.wait_for_selector(
        "#compare-decisions table", state="attached"
    )  # as they were made, at the replay's end
    page.fill("#compare-settings", "spark_out.limt=1")
    screen.until("compare-settings-fault", "did you mean spark_out.limit")
    page.fill("#compare-settings", "spark_out.limit=0.0000001")
    page.wait_for_selector("#compare-decisions td:has-text('≠')")

    assert page.text_content("#compare-settings-fault") == ""
    assert "0 of 13" not in page.inner_text("#compare-decisions")


SLOW = """
import sys, time
from dashboard.sources import redecide
from dashboard.__main__ import main

again = redecide.replay.again
redecide.replay.again = lambda *given: (time.sleep(0.003), again(*given))[1]
sys.exit(main())
"""
"""A dashboard that takes some seconds over what would else be done before anybody could stop it."""


def test_decisions_afresh_say_how_far_they_are_and_are_stopped_with_keys(show):
    screen = show(str(BORE), "--replay", "--speed", "500", command=("-c", SLOW))
    page = screen.page
    page.click('#links a[data-page="compare"]')
    page.wait_for_selector("#compare-stop:visible")
    far = page.inner_text("#compare-decisions")
    page.focus("#compare-stop")
    page.keyboard.press("Enter")
    stopped = screen.until("compare-decisions", "Stopped")
    page.wait_for_selector("#compare-begin:visible")
    page.focus("#compare-begin")
    page.keyboard.press("Enter")
    page.wait_for_selector("#compare-decisions table", state="attached")

    assert "of the recording" in far
    assert "Stopped" in stopped
    assert not page.is_visible("#compare-stop")


def test_a_viewer_sees_and_cannot_save_or_say(opened):
    words = ("--host", "0.0.0.0", "--token", "right-to-speak", "--viewer-token", "right-to-watch")  # noqa: S104 - for the test alone
    screen = opened("share", *words)
    page = screen.page
    both = page.locator("#share-body img").count()
    page.goto(screen.address.replace("to-speak", "to-watch"))
    page.wait_for_selector("#viewer")
    page.click('#links a[data-page="share"]')
    page.wait_for_selector("#share-body img")
    viewers = page.locator("#share-body img").count()
    page.click('#links a[data-page="job"]')
    page.wait_for_selector("#job-form fieldset")
    status = page.evaluate("fetch('/say', {method: 'POST', body: '{}'}).then((answer) => answer.status)")
    screen.complaints.clear()  # Chromium complains of the refusal that this test asks for

    assert (both, viewers) == (2, 1)
    assert status == 403
    assert page.get_attribute("#page", "data-token") == ""
    assert page.locator("#job-save").count() == 0
    assert page.is_disabled("[id='job-job.name']")
    assert not page.is_visible("#ask")


@pytest.mark.parametrize("size", ["shop", "tablet", "phone"])
@pytest.mark.parametrize("name", PROGRAM)
def test_each_page_fits_its_screen_and_passes_axe(opened, name, size, shots):
    """WCAG 2.2 AA as far as the axe-core rules can tell; nothing sideways; every target at least 48 px."""
    from axe_playwright_python.sync_playwright import Axe

    theme = "dark" if size == "tablet" else "light"
    screen = opened(name, size=size, color_scheme=theme)
    page = screen.page
    page.wait_for_timeout(300)
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    small = page.eval_on_selector_all(
        f"#page-{name} :is(button, input, select, a)",
        "all => all.filter(b => b.checkVisibility())"
        ".map(b => [b.id || b.textContent, b.offsetWidth, b.offsetHeight])"
        ".filter(([, w, h]) => w < 48 || h < 48)",
    )
    page.screenshot(path=str(shots / f"{name}-{size}-{theme}.png"), full_page=True)
    rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
    found = Axe().run(page, options={"runOnly": rules})

    assert wide <= 0
    assert small == []
    assert [
        (v["id"], [node["html"][:120] for node in v["nodes"]]) for v in found.response["violations"]
    ] == []
