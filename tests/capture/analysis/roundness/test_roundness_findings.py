"""Roundness from a recording: lobes of known truth, and what a set-up cannot see is named always.

Truth is the simulator's (`capture.simulator.turned_part`); 0.3 µm is what is promised of a lobe that is seen.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace

from capture.analysis.roundness.roundness_findings import roundness_rows
from capture.metrology.form.contacts import RoundnessSetup
from capture.recording.reader import read
from capture.sheet.reader import job_of
from capture.state import replay
from tests.capture.conftest import SLOWLY

PART = {2: 1.0e-3 + 0.5e-3j, 3: -1.4e-3j, 5: 0.7e-3 + 0j, 9: 0.5e-3 + 0j}
BAR = 0.0003


def rows(path: Any) -> list[dict[str, Any]]:
    recording = read(path)
    job = job_of(recording.header.job)
    return roundness_rows(replay.state_at_end(job, recording), job, "mm")


def clear(row: dict[str, Any]) -> dict[int, float]:
    return {one["lobes"]: one["amplitude"] for one in row["lobes"] if one["clear"]}


def test_a_v_block_shows_lobes_and_names_those_that_it_passes_by(turned_recording, tmp_path):
    (row,) = rows(turned_recording(tmp_path / "v.jsonl", [RoundnessSetup("v", 90.0)], PART))

    assert clear(row) == pytest.approx({n: abs(PART[n]) for n in (2, 3, 5)}, abs=BAR)
    assert row["unseen"] == [7, 9, 15]
    assert row["said"][0] == "lobes not seen by this set-up: 7, 9, 15 (the contacts pass them by)"
    assert any("a V of 72° with the indicator opposite would show 7, 9, 15" in one for one in row["said"])


def test_two_vs_together_show_what_one_passes_by(turned_recording, tmp_path):
    setups = [RoundnessSetup("v", 90.0), RoundnessSetup("v", 120.0)]
    (row,) = rows(turned_recording(tmp_path / "vv.jsonl", setups, PART, runs=[[0], [1]]))

    assert clear(row) == pytest.approx({n: abs(c) for n, c in PART.items()}, abs=BAR)
    assert [run["setup"]["angle"] for run in row["runs"]] == [90.0, 120.0]


def test_two_points_never_see_odd_lobes(turned_recording, tmp_path):
    (row,) = rows(turned_recording(tmp_path / "2p.jsonl", [RoundnessSetup("two-point")], PART))

    assert row["unseen"] == [3, 5, 7, 9, 11, 13, 15]
    assert clear(row) == pytest.approx({2: abs(PART[2])}, abs=BAR)
    assert row["odd"] == 0.0


def test_a_speed_is_found_in_the_readings_where_nobody_marks_the_turns(turned_recording, tmp_path):
    how = replace(SLOWLY, u_mark=None, off=0.03, wander=0.004)
    (row,) = rows(turned_recording(tmp_path / "free.jsonl", [RoundnessSetup("v", 108.0)], PART, how=how))

    (run,) = row["runs"]
    assert run["angle_from"] == "speed"
    assert run["rpm"] == pytest.approx(20.6, rel=0.02)
    assert clear(row) == pytest.approx({n: abs(PART[n]) for n in (2, 3, 5)}, abs=BAR)
    assert all(one["phase"] is None for one in row["lobes"])


def test_eccentricity_is_apart_and_its_angle_counts_from_the_mark(turned_recording, tmp_path):
    how = replace(SLOWLY, eccentric=0.012)
    (row,) = rows(turned_recording(tmp_path / "c.jsonl", [RoundnessSetup("centres")], PART, how=how))

    assert row["run_out"]["eccentricity"] == pytest.approx(0.012, abs=BAR)
    assert row["run_out"]["angle"] is not None
    assert 1 not in clear(row)
    assert any("the run-out of the centres is in these lobes" in one for one in row["said"])


def test_three_gauges_take_the_centres_out(turned_recording, tmp_path):
    setups = [RoundnessSetup("centres", at=at) for at in (0.0, 100.0, 202.0)]
    axis = {2: 0.8e-3 + 0j, 3: 0.9e-3 + 0j, 4: 0.6e-3 + 0j}
    (row,) = rows(turned_recording(tmp_path / "3.jsonl", setups, PART, axis=axis))

    found = clear(row)
    assert {n: found[n] for n in PART} == pytest.approx({n: abs(c) for n, c in PART.items()}, abs=BAR)
    assert 4 not in found or found[4] < BAR
    moved = {one["lobes"]: one["amplitude"] for one in row["axis"]}
    assert {n: moved[n] for n in axis} == pytest.approx({n: abs(c) for n, c in axis.items()}, abs=BAR)
    assert not any("run-out of the centres" in one for one in row["said"])


def test_a_reversal_takes_the_centres_out(turned_recording, tmp_path):
    setups = [RoundnessSetup("centres"), RoundnessSetup("centres", at=180.0, turned=180.0)]
    axis = {2: 0.8e-3 + 0j, 3: 0.9e-3j}
    (row,) = rows(turned_recording(tmp_path / "r.jsonl", setups, PART, axis=axis, runs=[[0], [1]]))

    found = clear(row)
    assert {n: found[n] for n in (2, 3, 5)} == pytest.approx({n: abs(PART[n]) for n in (2, 3, 5)}, abs=BAR)
    assert any("between dead centres" in one for one in row["said"])


def test_a_keyway_is_left_out_and_named(turned_recording, tmp_path):
    how = replace(SLOWLY, keyways=((2.0, 0.2, 0.5),))
    (row,) = rows(turned_recording(tmp_path / "k.jsonl", [RoundnessSetup("centres")], PART, how=how))

    (mask,) = row["runs"][0]["masks"]
    assert mask[0] <= np.degrees(2.0) <= mask[1]
    assert clear(row) == pytest.approx({n: abs(c) for n, c in PART.items()}, abs=BAR)


def test_a_slow_gauge_says_which_lobes_are_too_fast_for_it(turned_recording, tmp_path):
    how = replace(SLOWLY, rate=5.0, rpm=40.0, turns=30.0, wander=0.01, u_mark=None, eccentric=0.02)
    (row,) = rows(turned_recording(tmp_path / "s.jsonl", [RoundnessSetup("centres")], PART, how=how))

    assert {one["lobes"] for one in row["lobes"] if one["unseen"] == "slow"} >= set(range(5, 16))


def test_too_few_turns_are_said_and_nothing_is_made_up(turned_recording, tmp_path):
    how = replace(SLOWLY, turns=1.0, u_mark=None)
    (row,) = rows(turned_recording(tmp_path / "few.jsonl", [RoundnessSetup("v", 90.0)], PART, how=how))

    assert row["roundness"] is None
    assert "three turns" in row["said"][0]
    assert len(row["unseen"]) == 14


def test_a_part_turned_by_hand_rests_at_angles_that_are_given(new_session, sheet):
    """Twenty-four angles tell lobes up to ten; those above are named, because they are in what is shown."""
    sheet["gauge"].append(
        {"name": "dial", "measures": "runout", "link": {"serial": "e"}, "resolution": 0.0001}
    )
    session = new_session(job_of(sheet))
    session.tell(("person", "round shaft 80 centres dial"))
    for angle in range(0, 360, 15):
        theta = np.radians(angle)
        shown = 0.004 * np.cos(theta - 1.0) + 0.0015 * np.cos(3 * (theta - np.radians(20)))
        session.tell(("person", f"turn {angle}"), ("dial", round(float(shown), 4)))
    state = session.tell(("person", "round done"))

    (row,) = roundness_rows(state, session.job, "mm")

    assert clear(row) == {3: pytest.approx(0.0015, abs=0.0001)}
    three = next(one for one in row["lobes"] if one["lobes"] == 3)
    assert three["phase"] == pytest.approx(20.0, abs=1.0)
    assert row["run_out"]["angle"] == pytest.approx(np.degrees(1.0), abs=1.0)
    assert row["unseen"] == [11, 12, 13, 14, 15]
    assert list(state.stations.taken) == []
