"""A whole session as an operator has it: a gauge on a port, a browser, and keys."""

from __future__ import annotations

import os
import sys
import tty

import pytest

from capture.recording.reader import read
from capture.simulator.grinder import HeatBalance, SimulatedGauge, SimulatedGrinder, Wheel, Workholding

pytestmark = [
    pytest.mark.browser,
    pytest.mark.timeout(300),
    pytest.mark.skipif(sys.platform == "win32", reason="a pseudo-terminal stands in for the serial port"),
]

TENTHS = ("-c", "from capture.cli import main; main()")

SHEET = """
[job]
name = "Jig-borer spindle sleeve"

[fit]
nominal = 55.0
bore = 55.0021
clearance = {{ aim = 0.005, least = 0.003, most = 0.008 }}
rule = "simple"

[shaft]
material = "steel 4140"
stations = [140]
angles = [0]

[grinder]
dial = "diameter"

[[gauge]]
name = "mike"
measures = "diameter"
part = "shaft"
link = {{ serial = "{port}", baud = 9600 }}
dialect = "decimal-line"
resolution = 0.0001
repeatability = 0.0003
"""


@pytest.fixture
def gauge():
    """A micrometer on a pseudo-terminal: what is written to it, the capture reads from a serial port."""
    ours, theirs = os.openpty()
    tty.setraw(theirs)

    def send(value: float) -> None:
        os.write(ours, f"{value:+09.4f} mm\r\n".encode())

    send.port = os.ttyname(theirs)
    yield send
    os.close(ours)
    os.close(theirs)


def test_a_part_is_ground_to_size_with_keys_alone(show, gauge, tmp_path):
    """Bytes of a port in, a verdict in words out, everything between said with keys and on disk."""
    sheet = tmp_path / "sleeve.toml"
    sheet.write_text(SHEET.format(port=gauge.port))
    shop = SimulatedGrinder(
        work=Workholding(diameter=55.0325),
        wheel=Wheel(share=0.55, wear=0.0),
        warmth=HeatBalance(pushes=False),
        gauge=SimulatedGauge(noise=0.0002, resolution=0.0001),
        seed=7,
    )
    screen = show("run", str(sheet), "--no-open", command=TENTHS)
    keys = screen.page.keyboard
    screen.until("say", "No size yet")
    screen.page.wait_for_selector("#pass:visible")
    gauge(shop.measure(140.0))
    screen.until("size", r"^55\.0")
    keys.press("+")
    keys.press("+")
    for number, infeed in enumerate([0.006] * 6 + [0.0] * 7, 1):
        keys.press("p" if infeed else "o")
        screen.until("say", f"Pass {number} made: measure")
        shop.advance(infeed)
        gauge(shop.measure(140.0))
        screen.until("say", r"^(?!Pass|Ready)")
        if screen.page.get_attribute("#banner", "data-state") == "at-size":
            break

    assert screen.until("say", "On size").startswith("On size, cold size 54.99")
    assert screen.page.get_attribute("#size-note", "data-state") == "assumed"
    facts = [event.fact for event in read(next(tmp_path.glob("*.jsonl")))]
    told = [fact.infeed for fact in facts if type(fact).__name__ == "Pass"]
    assert told[:6] == pytest.approx([0.006] * 6)
    assert sum(type(fact).__name__ == "Flag" and fact.what == "sparked-out" for fact in facts) <= 1
