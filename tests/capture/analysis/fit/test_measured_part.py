"""Which readings count for a part, and what must be known with them."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from capture.analysis.fit.measured_part import CannotSay, measured, part_row
from capture.state.stations import Warmth
from capture.text.catalogue import sentences


def of(session, part="shaft", **more):
    return measured(session.state, part, session.job, source="here", **more)


def test_a_part_that_was_not_read_is_not_measured(both_measured, fit_sheet):
    assert of(both_measured(fit_sheet, {0: 50.0}, {})) is None


def test_only_the_newest_stage_counts_unless_one_is_asked_for(both_measured, fit_sheet):
    session = both_measured(fit_sheet, {0: 50.0, 40: 50.001}, {})
    session.tell(("person", "stage finish"), ("person", "station bore 0"), ("plug", 50.005))

    assert of(session, "bore").profile.smallest.value == pytest.approx(50.005)
    assert any("lapped" in one for one in of(session, "bore").conditions)
    assert of(session, "bore", stage="lapped").profile.smallest.value == pytest.approx(50.0)
    with pytest.raises(CannotSay, match="no readings in stage 'honed'; there are 'lapped', 'finish'"):
        of(session, "bore", stage="honed")


def test_after_a_pass_earlier_readings_of_the_shaft_are_of_metal_that_is_gone(both_measured, fit_sheet):
    session = both_measured(fit_sheet, {}, {0: 50.010, 40: 50.011})
    session.tell(("person", "pass 0.004"), ("person", "station shaft 0"), ("mike", 50.006))
    found = of(session)

    assert [row.reading.value for row in found.rows] == [50.006]
    assert any("metal that is gone" in one for one in found.conditions)


@pytest.mark.parametrize("size", [50.0 / 25.4, 50.0 * 25.4])
def test_a_size_that_is_an_inch_factor_off_is_a_wrong_unit(both_measured, fit_sheet, size):
    with pytest.raises(CannotSay, match="set the unit of this gauge"):
        of(both_measured(fit_sheet, {}, {0: size}))


def test_a_size_far_from_nominal_is_another_part(both_measured, fit_sheet):
    with pytest.raises(CannotSay, match="gives no zero"):
        of(both_measured(fit_sheet, {}, {0: 0.012}))


def test_a_temperature_told_by_hand_stands_in_where_no_probe_spoke(both_measured, fit_sheet):
    """100 mm at 30 °C: 12.3e-6 /K (steel 4140, Callister Table B.6) makes 50 mm 6.15 µm too large."""
    session = both_measured(fit_sheet, {}, {0: 50.0}, [])
    told = {"shaft": Warmth(30.0, 0.1, session.state.at)}

    assert of(session).blocks
    found = of(session, by_hand=told)
    assert not found.blocks
    assert found.profile.smallest.value == pytest.approx(50.0 - 0.00615, abs=2e-6)


def test_drift_between_checks_is_interpolated(both_measured, fit_sheet):
    """0.2 µm on the master at first, 0.8 µm after 30 min: after 20 min 0.6 µm come off (derived, linear)."""
    session = both_measured(fit_sheet, {}, {})
    session.tell(("person", "master mike 50 0.0001"), ("mike", 50.0002))
    start = session.seconds
    session.seconds = start + 1200 - 20
    heat = [("warm shaft", 20.0), ("warm master", 20.0)]
    session.tell(*heat, ("person", "station shaft 40"), ("mike", 50.0041))
    session.seconds = start + 1800 - 10
    session.tell(("person", "master mike 50 0.0001"), ("mike", 50.0008))
    found = of(session)

    assert session.state.stations.zero_log
    assert found.rows[0].reading.at.seconds - start == 1200
    assert found.rows[0].reading.value == pytest.approx(50.0035, abs=1e-9)
    assert not found.blocks


def test_a_run_with_too_much_drift_does_not_stand(both_measured, fit_sheet):
    session = both_measured(fit_sheet, {}, {})
    heat = [("warm shaft", 20.0), ("warm master", 20.0)]
    session.tell(*heat, ("person", "master mike 50 0.0001"), ("mike", 50.0))
    session.tell(("person", "station shaft 40"), ("mike", 50.004))
    session.tell(("person", "master mike 50 0.0001"), ("mike", 50.0015))

    assert any("over the limit" in one for one in sentences(of(session).blocks, "mm"))


def test_a_reading_far_from_the_master_brings_the_gauges_own_error_in(both_measured, fit_sheet):
    session = both_measured(fit_sheet, {}, {})
    heat = [("warm shaft", 20.0), ("warm master", 20.0)]
    session.tell(*heat, ("person", "master mike 50 0.0001"), ("mike", 50.0))
    session.tell(("person", "station shaft 40"), ("mike", 50.2))
    found = of(session)

    assert any("from its master" in one for one in sentences(found.conditions, "mm"))
    assert any("certificate" in common.name for common in found.commons)


def test_taper_is_the_slope_over_the_stations(both_measured, fit_sheet):
    """Five stations: 0.0494 µm a mm, 9.88 µm over 200 mm (derived, least squares)."""
    diameters = dict(zip((0, 50, 100, 150, 200), (50.012, 50.0143, 50.0168, 50.019, 50.022), strict=True))
    taper = part_row(of(both_measured(fit_sheet, {}, diameters)))["taper"]

    assert taper["slope"] == pytest.approx(0.0494e-3, abs=1e-9)
    assert taper["taper"] == pytest.approx(0.00988, abs=1e-8)
    assert taper["residuals"] == pytest.approx([0.12e-3, -0.05e-3, -0.02e-3, -0.29e-3, 0.24e-3], abs=2e-6)


def test_readings_without_a_place_are_one_place_that_nobody_knows(both_measured, fit_sheet):
    session = both_measured(fit_sheet, {}, {})
    session.tell(("mike", 50.0))
    found = of(session)

    assert found.placed is False
    assert part_row(found)["stations"][0]["z"] is None


def test_what_was_set_aside_does_not_count(both_measured, fit_sheet):
    session = both_measured(fit_sheet, {}, {0: 50.0, 40: 50.05})
    last = session.state.stations.taken[-1]
    session.tell(("person", f"reject {last.of[0]} dirt"))

    assert [row.reading.value for row in of(session).rows] == [50.0]


def test_gauges_of_the_recording_serve_where_the_sheet_lacks_them(both_measured, fit_sheet):
    session = both_measured(fit_sheet, {}, {0: 50.0})
    bare = replace(session.job, gauges=())

    found = measured(session.state, "shaft", bare, source="here")
    assert not found.blocks
