"""Odd lobes that were measured take a setting's place in the fit (derived: twice their amplitude)."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from capture.analysis.fit.findings import fit
from capture.analysis.fit.measured_part import measured
from capture.analysis.fit.odd_lobes import OddLobes, odd_lobes_of
from capture.sheet.reader import job_of


def parts(state):
    return (measured(state, part, state.job, source="a") for part in ("bore", "shaft"))


def test_measured_odd_lobes_take_twice_their_amplitude_off_the_least(both_measured, fit_sheet):
    state = both_measured(fit_sheet, {40: 50.002, 70: 50.002}, {60: 49.997, 80: 49.997, 100: 49.997}).state
    bore, shaft = parts(state)
    before = fit(state.job, bore, shaft)

    found = fit(state.job, bore, replace(shaft, odd=OddLobes(0.0005, 0.0001, 80.0)))

    assert found["clearance"]["least"] == pytest.approx(before["clearance"]["least"] - 0.001)
    assert found["clearance"]["u_least"] == pytest.approx(np.hypot(before["clearance"]["u_least"], 0.0002))
    assert found["uncertainty"]["u"] > before["uncertainty"]["u"]
    assert any(row["name"] == "shaft: its odd lobes" for row in found["budget"])
    assert found["blind"]["odd_shaft_from"] == "measured"
    assert found["blind"]["odd_bore_from"] == "setting"


def turned_by_hand(session, stage: str):
    session.tell(("person", f"stage {stage}"), ("person", "round shaft 80 centres dial"))
    for angle in range(0, 360, 15):
        shown = 0.0015 * np.cos(3 * np.radians(angle))
        session.tell(("person", f"turn {angle}"), ("dial", round(float(shown), 4)))
    return session.tell(("person", "round done"))


@pytest.fixture
def dialled(sheet, new_session):
    sheet["gauge"].append(
        {"name": "dial", "measures": "runout", "link": {"serial": "e"}, "resolution": 0.0001}
    )
    return new_session(job_of(sheet))


def test_a_part_that_turned_under_a_gauge_has_its_odd_lobes_and_those_not_seen_are_named(dialled):
    state = turned_by_hand(dialled, "finish")

    odd, said = odd_lobes_of(state, "shaft", state.job, "finish", 0)

    assert odd is not None
    assert odd.amplitude == pytest.approx(0.0015, abs=0.0001)
    assert [one.name for one in said] == ["odd.measured", "odd.unseen"]
    assert dict(said[1].figures)["lobes"] == "11, 13, 15"


def test_roundness_of_metal_that_is_gone_does_not_count(dialled):
    turned_by_hand(dialled, "finish")
    state = dialled.tell(("person", "pass 0.004"))

    odd, said = odd_lobes_of(state, "shaft", state.job, "finish", 1)

    assert odd is None
    assert [one.name for one in said] == ["odd.gone"]
