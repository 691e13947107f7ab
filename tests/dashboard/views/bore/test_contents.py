from __future__ import annotations

import json
from collections.abc import Callable
from math import cos, radians
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from capture.analysis.sweep_guidance import MOST_MORE, live
from capture.events import Beat, Down, Lap, Pass, Pause, Stage, Taken
from capture.recording.reader import read
from capture.sheet.reader import job_of
from capture.state import replay
from capture.state import session as session_of
from dashboard.sources.scene import Scene
from dashboard.views.bore.contents import bore, next_stage
from dashboard.views.elements.figure import figures

RECORDING = Path(__file__).parents[4] / "recordings" / "bore.jsonl"
MOST = 1500
"""Events of the recording that are looked at: mastering, the first stage, and some of the second."""


@pytest.fixture(scope="module")
def states():
    """Every state of the recorded bore session, whose gauge streams at 20 Hz."""
    recording = read(RECORDING)
    found = []
    for _, state in replay.replay_as_decided(job_of(recording.header.job), recording):
        found.append(state)
        if len(found) == MOST:
            break
    return found


@pytest.fixture(scope="module")
def whole():
    """The state at the end of the recorded bore session: two stages of six places."""
    recording = read(RECORDING)
    *_, (_, state) = replay.replay_as_decided(job_of(recording.header.job), recording)
    return state


def shown(state, units="mm", kind="live"):
    return bore(Scene(kind, "bore.jsonl", state, age=0.1), units)


def said(states):
    """What the page says of each state, without what is said again."""
    heard = []
    for state in states:
        sentence = shown(state)["bore-say"]
        if not heard or heard[-1] != sentence:
            heard.append(sentence)
    return heard


SLEEVE = {
    "job": {"name": "Sleeve"},
    "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
    "bore": {"material": "grey cast iron", "stations": [10, 40, 70, 100, 130], "angles": [0, 60, 120]},
    "gauge": [
        {
            "name": "plug",
            "measures": "bore",
            "part": "bore",
            "link": {"serial": "a"},
            "resolution": 0.001,
            "repeatability": 0.0004,
        }
    ],
}


@pytest.fixture
def measured(session):
    """A bore whose every place was taken, with a shape of our own: hundredths would drown it."""

    def measure(*stages: tuple[str, Callable[[float, float], float]]) -> Any:
        one = session(SLEEVE)
        t = 0.0
        for name, size in stages:
            t += 10.0
            one.say("person", Stage(name), t)
            for z, angle in one.job.bore.places:
                t += 1.0
                one.say("desk", Taken("bore", z, angle, 0, size(z, angle), 0.0002, (0, 1, 2), "plug"), t)
        return one

    return measure


def test_the_sentence_leads_through_a_sweep(states):
    """From the air into the bore, rocking until there are enough, and on to the next place."""
    heard = said(states)
    first = heard.index("Enter: 20 mm, 0°")
    after = heard[first:]

    assert "Entering" in after
    assert "Rock: 2 more" in after
    assert (
        after.index("Rock: 2 more") < after.index("Rock: 1 more") < after.index("Taken. Move to 20 mm, 90°")
    )


def test_a_number_that_tells_nothing_is_not_said(states):
    """Turning points that disagree by far would need thousands: they want to be swung, not to be counted."""
    wanted = [(live(state, "plug"), shown(state)["bore-say"]) for state in states]
    numbers = {sweep.more for sweep, _ in wanted if sweep and sweep.say == "more"}
    differ = {sentence for sweep, sentence in wanted if sweep and sweep.say == "differ"}

    assert numbers <= set(range(1, MOST_MORE + 1))
    assert differ <= {"They differ: swing, then rock"}


def test_nothing_counts_as_taken_before_its_fact_is_there(states):
    """The reading that decides comes first, the program's word after it; the page waits for the word."""
    deciding = [state for state in states if state.sweeps and state.sweeps["plug"].due is not None]

    assert len(deciding) >= 6
    assert {shown(state)["bore-say"] for state in deciding} == {"Writing it down"}
    assert all(shown(state)["voice"] is None for state in deciding)


def test_a_lost_link_is_told_above_all(states):
    state = states[-1]
    lost = session_of.step(state, session_of.Event(state.seq + 1, state.at, "plug", Down("unplugged")))

    assert shown(lost)["bore-say"] == "plug: link lost"
    assert shown(lost)["voice"]["tone"] == "lost"
    assert shown(lost)["voice"]["text"] == "link lost: plug"


def later(at, seconds):
    return replace(at, mono=at.mono + int(seconds * 1e9), wall=at.wall + int(seconds * 1e9))


def test_a_gauge_that_rests_when_every_place_is_measured_is_no_fault(states, whole):
    """Mid-stage it is one: somebody waits for the gauge."""
    done, waiting = (
        shown(session_of.step(one, session_of.Event(one.seq + 1, later(one.at, 60.0), "daemon", Beat())))
        for one in (whole, states[-1])
    )

    assert (done["bore-say"], done["bore-banner@data-state"]) == ("Every place is measured", "none")
    assert waiting["bore-banner@data-state"] == "stalled"


def test_a_pause_is_told_and_the_button_ends_it(states):
    state = states[-1]
    paused = session_of.step(state, session_of.Event(state.seq + 1, state.at, "person", Pause(on=True)))

    assert shown(paused)["bore-say"] == "Paused"
    assert json.loads(shown(paused)["bore-pause@data-say"]) == ["go"]
    assert json.loads(shown(state)["bore-pause@data-say"]) == ["pause"]


def test_each_turning_point_is_on_the_live_curve_at_its_place(states):
    """On the same axes as the readings, and no higher than those near it."""
    state = next(s for s in states if (sweep := live(s, "plug")) and sweep.points == 3 and sweep.turned)
    drawn = shown(state)["rock"]

    assert len(drawn["kept"]) + len(drawn["aside"]) == len(live(state, "plug").turned)
    for x, y in drawn["kept"]:
        near = [v for t, v in drawn["curve"] if abs(t - x) < 0.1]
        assert y <= min(near) + 1.5
    assert drawn["x"][0] <= min(t for t, _ in drawn["curve"])


def test_figures_have_a_trace_for_each_row_of_numbers(states, whole):
    for state in (states[-1], whole):
        for name in ("bore-section", "bore-profile"):
            numbers = shown(state)[f"{name}#figure"]["traces"]
            assert [len(figures()[theme][name]["data"]) for theme in ("light", "dark")] == [len(numbers)] * 2


def test_the_map_fills_in_place_by_place(states, whole):
    filled = [
        sum(cell[0] not in {"", "·"} for row in shown(state)["bore-map[]"] for cell in row[1:])
        for state in (states[200], states[800], whole)
    ]

    assert filled[0] == 0
    assert 0 < filled[1] < 6
    assert filled[2] == 6


def test_the_map_tells_each_place_from_the_nominal(measured):
    one = measured(("as found", lambda z, angle: 55.0 + z / 1e5 + angle / 1e6))
    grid = shown(one.state)["bore-map[]"]

    assert [row[0][0] for row in grid] == ["10 mm", "40 mm", "70 mm", "100 mm", "130 mm"]
    assert [cell[0] for cell in grid[0][1:]] == ["+0.1", "+0.2", "+0.2"]
    assert [cell[0] for cell in grid[4][1:]] == ["+1.3", "+1.4", "+1.4"]
    assert shown(one.state)["bore-smallest-note"].startswith("10 mm, 0°")


def test_the_smallest_place_is_marked_on_the_map_and_no_other(measured):
    one = measured(("as found", lambda z, angle: 55.0 + (z - 100) ** 2 / 1e6 + angle / 1e6))
    marked = [
        (row[0][0], column)
        for row in shown(one.state)["bore-map[]"]
        for column, cell in enumerate(row[1:])
        if cell[1:2] == ["smallest"]
    ]

    assert marked == [("100 mm", 0)]


def test_inches_are_told_in_tenths(measured):
    """0.0254 mm is ten tenths of a thousandth of an inch (1 in = 25.4 mm, exact)."""
    one = measured(("as found", lambda _z, _angle: 55.0254))

    assert shown(one.state, "in")["bore-map[]"][0][1][0] == "+10.0"
    assert "tenths from" in shown(one.state, "in")["bore-map-title"]


def test_taper_is_told_with_its_uncertainty_and_its_end(measured):
    """0.03 µm of diameter a millimetre over 120 mm is 3.6 µm."""
    one = measured(("as found", lambda z, _angle: 55.0 + 0.00003 * z))
    taper = shown(one.state)["bore-shape[]"][0]

    assert taper[:2] == [["Taper"], ["3.6 µm"]]
    assert taper[2][0].startswith("± 0.")
    assert taper[3] == ["larger at the far end"]


def test_one_place_of_a_new_stage_is_not_called_a_straight_bore(states):
    """Found on the page: the first place after a lap was said to be straight and round."""
    first = next(state for state in states if state.stations.taken)

    assert shown(first)["bore-advice"] == (
        "No difference so far: measure 5 more places before you lap or stop."
    )
    assert shown(first)["bore-advice@data-state"] is None


def test_ovality_and_a_straight_bore_are_told(measured):
    """Diameters 55 + 1 µm · cos 2 phi: the largest less the smallest is 2 µm."""
    one = measured(("as found", lambda _z, angle: 55.0 + 0.001 * cos(2 * radians(angle))))
    rows = {row[0][0]: row for row in shown(one.state)["bore-shape[]"]}

    assert rows["Ovality"][1] == ["2.0 µm"]
    assert "do not chase" in rows["Taper"][3][0]
    assert rows["Bell mouth"][1] == ["none to see"]


def test_a_bell_mouth_is_told_with_its_end(measured):
    one = measured(("as found", lambda z, _angle: 55.0 + (0.006 if z == 10 else 0.0)))
    rows = {row[0][0]: row for row in shown(one.state)["bore-shape[]"]}

    assert rows["Bell mouth"][1] == ["at the datum end"]


def test_stages_are_laid_over_each_other_newest_last(measured):
    one = measured(("as found", lambda z, _: 55.0 + z / 1e5), ("lapped 1", lambda _z, _angle: 55.0013))
    traces = shown(one.state)["bore-profile#figure"]["traces"]

    assert [trace.get("name") for trace in traces[2:4]] == ["as found", "lapped 1"]
    assert traces[3]["y"] == [1.3] * 5
    assert len(traces[3]["error"]) == 5


def test_lapping_guidance_says_where_it_is_tight_and_what_came_off(measured):
    one = measured(("as found", lambda z, _: 55.0 + z / 1e5))
    one.say("person", Lap(60.0, 3.0), 30.0)
    one.say("person", Stage("lapped 1"), 31.0)
    one.say("desk", Taken("bore", 10.0, 0.0, 0, 55.0008, 0.0002, (0, 1, 2), "plug"), 32.0)
    told = shown(one.state)

    assert told["bore-lap[]"][0][1][0].startswith("0.7 µm ± ")
    assert told["bore-lap[]"][1][1][0] == "0.0117 µm a stroke, 0.233 µm a minute"
    assert len(told["bore-cautions[]"]) >= 2


def test_the_next_stage_is_as_found_and_then_counts_laps(measured, session):
    assert next_stage(session(SLEEVE).state) == "as found"
    one = measured(("as found", lambda _z, _angle: 55.0), ("lapped 1", lambda _z, _angle: 55.001))

    assert next_stage(one.state) == "lapped 2"


def test_a_gauge_with_a_button_is_asked_for_single_readings(session):
    one = session(SLEEVE)

    assert shown(one.state)["bore-say"] == "Measure 10 mm, 0°"
    assert shown(one.state)["bore-points-note"] == "This gauge sends one reading at a time"


def test_a_job_without_a_bore_gauge_says_so(ground):
    assert shown(ground.state)["bore-say"] == "This job has no bore gauge"


def test_readings_that_cannot_be_of_this_bore_are_told_and_nothing_is_drawn(session):
    """A gauge that shows a difference and has no zero: 0.004 mm is no bore of 55 mm."""
    one = session(SLEEVE)
    one.say("desk", Taken("bore", 10.0, 0.0, 0, 0.004, 0.0002, (0,), "plug"), 1.0)
    told = shown(one.state)

    assert "zero" in told["bore-shape-none"]
    assert told["bore-profile#figure"] is None


def test_a_pass_of_the_wheel_leaves_the_bore_alone(whole):
    after = session_of.step(whole, session_of.Event(whole.seq + 1, whole.at, "person", Pass(0.004)))

    assert shown(after)["bore-map[]"] == shown(whole)["bore-map[]"]


def test_the_lap_for_what_is_left_stands_on_the_page(measured):
    """Under 5 µm left: fine grain, a lap of 1.5 to 2.5 diameters (common practice, no source)."""
    one = measured(("as found", lambda z, _: 55.0 + z / 1e5))
    rows = {row[0][0]: row[1][0] for row in shown(one.state)["bore-lap[]"]}

    assert "grain 3.0 µm to 6.0 µm" in rows["Lap"]
    assert rows["Opened"].startswith("from 54.98")
    assert rows["Its length"] == "83 mm to 138 mm"
    assert "turn it end for end" in rows["Strokes, taper"]
    assert rows["From"] == "common practice, no source"


def test_no_lap_is_chosen_for_a_bore_that_is_done(measured):
    rows = shown(measured(("lapped 1", lambda _z, _angle: 55.0)).state)["bore-lap[]"]

    assert "Lap" not in {row[0][0] for row in rows}


def test_single_readings_of_the_bore_are_shown_no_finer_than_the_gauge(session):
    """A step of 0.001 mm, the button pressed once: whole micrometres; the sweeps' fits go to a tenth."""
    one = session(SLEEVE)
    one.say("desk", Taken("bore", 10.0, 0.0, 0, 55.0034, 0.0002, (0,), "plug"), 1.0)
    told = shown(one.state)

    assert (told["bore-last"], told["bore-smallest"]) == ("55.003", "55.003")
    assert told["bore-map[]"][0][1][0] == "+3"
