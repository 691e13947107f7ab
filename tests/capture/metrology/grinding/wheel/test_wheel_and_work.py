"""Wheel and work: arithmetic (pi d n), and Machinery's Handbook, 31st edition, p. 1318 and 1329."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.grinding.wheel.wheel_and_work import (
    DATA,
    WheelAndWork,
    judged,
    too_fast,
    usual_settings,
)

SET = WheelAndWork(
    wheel_diameter=400.0,
    wheel_width=50.0,
    wheel_rpm=1500.0,
    marked_speed=35.0,
    work_diameter=55.0,
    work_rpm=120.0,
    traverse=720.0,
    infeed=0.004,
    dress_lead=0.05,
)


def figures(setting, material="hard chrome", cut="finish"):
    return {one.name: one for one in judged(setting, material, cut)}


def test_speeds_ratio_and_overlap_are_arithmetic():
    """Pi 400 1500 / 60e3 = 31.416 m/s; pi 55 120 / 1000 = 20.735 m/min; 720 / 120 = 6 mm; 50 / 6 = 8.333."""
    found = figures(SET)

    assert found["wheel speed"].value == pytest.approx(31.416, abs=5e-4)
    assert found["work speed"].value == pytest.approx(20.735, abs=5e-4)
    assert found["speed ratio"].value == pytest.approx(60 * 31.416 / 20.735, abs=5e-3)
    assert found["table travel in a work revolution"].value == 6.0
    assert found["overlap"].value == pytest.approx(8.3333, abs=1e-4)
    assert all(one.verdict in {"usual", ""} for one in found.values())


def test_what_is_usual_of_steel_is_the_handbooks():
    """Hardened alloy steel: 70 ft/min = 21.3 m/min, rough 0.002 in, finish to 0.0005 in, 1/4 and 1/8."""
    steel = DATA["steel, hardened"]

    assert (steel.work_speed.low + steel.work_speed.high) / 2 == pytest.approx(21.336)
    assert steel.depth["rough"].high == pytest.approx(0.0508)
    assert steel.depth["finish"].high == pytest.approx(0.0127)
    assert (steel.overlap["rough"].low, steel.overlap["finish"].low) == (4.0, 8.0)
    assert (steel.wheel_speed.low, steel.wheel_speed.high) == pytest.approx((27.94, 33.02))


def test_steel_cast_iron_and_chrome_have_limits_apart_each_with_its_source():
    depths = {name: row.depth["rough"].high for name, row in DATA.items()}

    assert depths["hard chrome"] == 0.01  # common practice, no source
    assert depths["hard chrome"] < depths["steel, hardened"]
    for row in DATA.values():
        ranges = [row.wheel_speed, row.work_speed, *row.depth.values(), *row.overlap.values()]
        assert all(one.source and one.basis for one in ranges)
    assert DATA["cast iron"].wheel.marking.startswith("C ")


@pytest.mark.parametrize(
    ("change", "name", "verdict"),
    [
        ({"infeed": 0.02}, "infeed of a pass", "over"),
        ({"work_rpm": 20.0}, "work speed", "under"),
        ({"traverse": 4000.0}, "overlap", "under"),
        ({"wheel_rpm": None}, "wheel speed", "not known"),
        ({"dress_lead": 0.4}, "dressing lead", "over"),
    ],
)
def test_what_is_out_of_the_usual_is_named(change, name, verdict):
    setting = WheelAndWork(**{**{key: getattr(SET, key) for key in SET.__struct_fields__}, **change})

    assert figures(setting)[name].verdict == verdict


@given(st.floats(50, 900), st.floats(10, 120))
def test_a_wheel_at_its_printed_speed_may_run_and_faster_may_not(diameter, marked):
    """N = v / (pi d): at the printed speed it is at its limit, one part in a thousand more is over."""
    rpm = marked * 60e3 / (3.141592653589793 * diameter)

    assert too_fast(WheelAndWork(wheel_diameter=diameter, wheel_rpm=rpm, marked_speed=marked)) is None
    over = too_fast(WheelAndWork(wheel_diameter=diameter, wheel_rpm=rpm * 1.001, marked_speed=marked))
    assert over == pytest.approx(1.001)


@given(
    st.floats(5, 400), st.floats(5, 200), st.sampled_from(list(DATA)), st.sampled_from(["rough", "finish"])
)
def test_what_is_proposed_is_usual(diameter, width, material, cut):
    found = usual_settings(WheelAndWork(work_diameter=diameter, wheel_width=width), material, cut)
    setting = WheelAndWork(
        work_diameter=diameter,
        wheel_width=width,
        work_rpm=found["work_rpm"],
        traverse=found["table_speed_most"],
    )
    shown = figures(setting, material, cut)

    assert shown["work speed"].verdict == "usual"
    assert shown["overlap"].verdict == "usual"
