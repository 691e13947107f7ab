from __future__ import annotations

from msgspec.structs import replace

from capture.events import Beat, Down
from capture.state.health import STOPPED
from dashboard.sources.scene import Mark, Scene, Transport
from dashboard.views.status_bar import status, transport


def test_a_simulated_session_says_so(ground):
    assert "Simulated" in status(Scene("live", "a.jsonl", ground.state))["simulated"]


def test_a_real_one_does_not(session, sheet):
    real = {**sheet, "job": {"name": "Sleeve"}}

    assert status(Scene("live", "a.jsonl", session(real).state))["simulated"] == ""


def test_an_old_recording_is_not_shown_as_live(ground):
    shown = status(Scene("old", "a.jsonl", ground.state, age=7200.0))

    assert "2 h" in shown["status"]
    assert "Old" in shown["quiet"]
    assert shown["status@data-state"] == "old"


def test_a_recording_that_ended_says_so_at_the_top_alone(session, grinding_session):
    shown = status(
        Scene("old", "a.jsonl", grinding_session(session(), infeeds=[]).state, age=7200.0, closed="none")
    )

    assert (shown["status"], shown["quiet"], shown["down"]) == ("■ The demo has ended", "", "")


def test_a_capture_that_was_stopped_a_moment_ago_is_not_live_and_no_error(ground):
    for name in ("mike", "probe"):
        ground.say(name, Down(STOPPED), 900.0)
    real = replace(ground.state, job=replace(ground.state.job, simulated=False))
    shown = status(Scene("live", "a.jsonl", real, age=2.0, closed="no capture"))

    assert (shown["status"], shown["down"], shown["quiet"]) == ("■ Ended 2 s ago", "", "")


def test_gauges_that_are_silent_for_minutes_are_not_live(ground):
    ground.say("daemon", Beat(), ground.state.at.seconds + 300.0)
    real = replace(ground.state, job=replace(ground.state.job, simulated=False))
    shown = status(Scene("live", "a.jsonl", real, age=0.5))

    assert shown["status"] == "◐ No reading for 5 min"
    assert shown["status@data-state"] == "silent"


def test_a_demo_that_stays_on_the_screen_says_that_it_has_ended(ground):
    ground.say("daemon", Beat(), ground.state.at.seconds + 300.0)

    assert status(Scene("live", "a.jsonl", ground.state, age=0.5))["status"] == "■ The demo has ended"


def test_a_capture_that_stopped_beating_is_said_to_be_quiet(ground):
    assert status(Scene("live", "a.jsonl", ground.state, age=2.0))["quiet"] == ""
    assert "14 s" in status(Scene("live", "a.jsonl", ground.state, age=14.0))["quiet"]


def test_the_last_reading_gets_older_with_the_recording(ground):
    shown = status(Scene("live", "a.jsonl", ground.state, age=13.0))

    assert shown["last-reading"] == "last reading 14 s ago"


def test_a_gauge_that_is_down_is_named_with_the_reason(ground):
    ground.say("probe", Down("no such port"), 900.0)

    assert status(Scene("live", "a.jsonl", ground.state))["down"] == "✕ probe is not connected: no such port"


def test_a_replay_says_its_speed_and_whether_it_stands(ground):
    play = Transport(playing=True, speed=20.0, position=30.0, length=120.0, redecided=False)
    scene = Scene("replay", "a.jsonl", ground.state, transport=play)

    assert "20 ×" in status(scene)["status"]
    assert transport(ground.state, play)["where"] == "0:00:30 of 0:02:00"
    assert transport(ground.state, play)["scrub@value"] == "250"


def test_marks_stand_at_their_share_of_the_time(ground):
    marks = (Mark(0.25, "note", "Note: dressed"),)
    play = Transport(playing=True, speed=1.0, position=0.0, length=0.0, redecided=False, marks=marks)

    assert transport(ground.state, play)["marks[]"] == [[["Note: dressed", "note", "0.25000"]]]


def test_the_mark_that_a_replay_went_by_last_is_told_in_words(ground):
    marks = (Mark(0.2, "stage", "Stage: finish"), Mark(0.25, "pass", "pass"), Mark(0.6, "at-size", "On size"))
    play = Transport(playing=True, speed=1.0, position=0.0, length=100.0, redecided=False, marks=marks)
    told = [
        transport(ground.state, replace(play, position=at))["lately-told"] for at in (10.0, 30.0, 60.0, 99.0)
    ]

    assert told == ["", "Just before: Stage: finish", "Just before: On size", "Just before: On size"]


def test_decided_afresh_says_with_which_settings(ground):
    play = Transport(playing=True, speed=1.0, position=0.0, length=1.0, redecided=True)
    scene = Scene("replay", "a", ground.state, settings="spark_out.limit = 0.002", transport=play)

    assert "spark_out.limit = 0.002" in status(scene)["settings"]


def test_decisions_as_made_name_no_other_settings(ground):
    play = Transport(playing=True, speed=1.0, position=0.0, length=1.0, redecided=False)
    scene = Scene("replay", "a", ground.state, settings="spark_out.limit = 0.002", transport=play)

    assert status(scene)["settings"] == ""
