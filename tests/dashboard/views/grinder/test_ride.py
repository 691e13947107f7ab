"""The live trend of a gauge that rides on the part."""

from __future__ import annotations

from typing import Any

import pytest

from capture.benchmarks.trials.riding.plunge_truth import RiddenPlunge, plunged
from capture.events import Event, Instant, Reading
from capture.sheet.reader import job_of
from capture.simulator.rider import Ride, passes_of, samples_of
from capture.state import decisions
from capture.state import session as session_of
from capture.state.session import State
from dashboard.views.grinder.ride import SHOWN, ride

SHEET: dict[str, Any] = {
    "job": {"name": "ride"},
    "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
    "shaft": {"material": "steel 4140", "stations": [80]},
    "grinder": {"dial": "diameter"},
    "gauge": [
        {"name": "rider", "measures": "diameter", "link": {"serial": "a"}, "resolution": 1e-4, "rides": 80.0},
        {"name": "mike", "measures": "diameter", "link": {"serial": "b"}, "resolution": 0.001},
    ],
}
RIDE = Ride(offset=-55.0, resolution=0.0001, noise=0.0002)


def ridden(until: float, *, by_hand: bool = True) -> State:
    state = session_of.start(job_of(SHEET))
    for sample in samples_of(RIDE, 3):
        if sample.at > until:
            break
        at = Instant(int(sample.at * 1e9), int(sample.at * 1e9))
        said = [("rider", sample.value)]
        if by_hand and sample.at >= 7.0:
            by_hand, said = False, [*said, ("mike", round(RIDE.size, 3))]
        for source, value in said:
            fact = Reading(value, "mm", 4, f"{value:.4f}\r\n")
            state, _ = decisions.step_and_decide(state, Event(state.seq + 1, at, source, fact))
    return state


@pytest.fixture(scope="module")
def sparked_out() -> State:
    return ridden(150.0)


def test_size_stands_against_time_and_each_pass_is_marked(sparked_out):
    shown = ride(sparked_out, "mm")["ride#figure"]
    seconds, raw, passes, going = shown["traces"]

    made = [one for one in passes_of(RIDE) if one.at < 145.0]
    assert len(passes["x"]) == len(made)
    assert seconds["x"][-1] > -2.0
    assert min(seconds["x"]) >= -SHOWN
    assert len(raw["x"]) > 50, "the newest seconds at the gauge's own rate"
    assert going["y"][0] < seconds["y"][-1] + 1.0


def test_the_line_says_size_now_size_when_cold_and_the_time_constant(sparked_out):
    line = ride(sparked_out, "mm")["ride-now"]

    assert "55.02" in line
    assert "when sparked out" in line
    assert "time constant 1." in line, "half is left by each pass: 1 / ln 2 = 1.44 passes"


def test_a_gauge_that_nobody_set_asks_for_a_size_by_hand():
    assert "by hand" in ride(ridden(30.0, by_hand=False), "mm")["ride-now"]


def test_without_a_riding_gauge_the_box_is_hidden():
    state = session_of.start(job_of({**SHEET, "gauge": []}))

    assert ride(state, "mm") == {"ride-box@data-state": "none", "ride-now": "", "ride#figure": None}


def test_in_a_dwell_the_line_says_what_is_to_come_and_the_time_constant_in_seconds():
    """A first-order lag of 5 s (from memory: Malkin and Guo, "Grinding Technology")."""
    one = RiddenPlunge(feeds=((0.001, 40.0),), dwell=60.0, tau=5.0, noise=0.0001, runout=0.0, oval=0.0)
    truth, samples = plunged(one, 3)
    state = session_of.start(job_of(SHEET))
    for sample in samples:
        if sample.at > truth.stops + 25.0:
            break
        at = Instant(int(sample.at * 1e9), int(sample.at * 1e9))
        fact = Reading(sample.value, "mm", 4, f"{sample.value:.4f}\r\n")
        state, _ = decisions.step_and_decide(state, Event(state.seq + 1, at, "rider", fact))
    line = ride(state, "mm")["ride-now"]

    assert "still to come in the dwell" in line
    assert any(f"time constant {tenths / 10:.1f} s" in line for tenths in range(44, 57)), line
