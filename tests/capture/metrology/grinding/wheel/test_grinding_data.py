"""Grinding data against the handbook's table, and its arithmetic."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.grinding.wheel.grinding_data import (
    HARD_CHROME,
    from_sfpm,
    plunge,
    rpm,
    sfpm,
    surface_speed,
    table_speed,
    traverse,
)


@pytest.mark.parametrize(
    ("material", "speed", "rough", "finish", "fractions"),
    [
        ("plain carbon steel, hardened", 70, 0.002, (0.0003, 0.0005), (1 / 4, 1 / 8)),
        ("alloy steel, hardened", 70, 0.002, (0.0002, 0.0005), (1 / 4, 1 / 8)),
        ("Tool steel, hardened", 50, 0.002, (0.0001, 0.0005), (1 / 4, 1 / 8)),
        ("alloy steel, annealed", 100, 0.002, (0.0005, 0.0005), (1 / 2, 1 / 6)),
    ],
)
def test_traverse_data_are_the_handbooks(material, speed, rough, finish, fractions):
    """GRIND-01, published: Machinery's Handbook, 31st edition, p. 1318, Table 3; fpm and inch."""
    row = traverse(material)

    assert (row.work_speed, row.rough, row.finish) == (speed, rough, finish)
    assert (row.rough_fraction, row.finish_fraction) == fractions


@pytest.mark.parametrize(
    ("material", "rough", "finish"),
    [
        ("steel, soft", 0.0005, 0.0002),
        ("plain carbon steel, hardened", 0.0002, 5e-05),
        ("alloy and tool steel, hardened", 0.0001, 2.5e-05),
    ],
)
def test_plunge_data_are_the_handbooks(material, rough, finish):
    """GRIND-01, published: infeed per work revolution, inch."""
    row = plunge(material)

    assert (row.rough, row.finish) == (rough, finish)


def test_hard_chrome_is_ground_lightly_and_wet():
    """GRIND-02, common practice, no source."""
    assert (HARD_CHROME.deepest_pass, HARD_CHROME.coolant) == (0.01, "abundant")
    assert (HARD_CHROME.wheel_grades, HARD_CHROME.grit) == (("J", "M"), (80, 120))
    assert "no source" in HARD_CHROME.source


def test_wheel_and_work_speeds_are_arithmetic():
    """GRIND-03, derived: 14 in wheel at 1800, limit 6500 sfpm; 2 in work at 70 fpm, 1.5 in wheel."""
    work = rpm(2 * 25.4, from_sfpm(70.0))

    assert sfpm(surface_speed(14 * 25.4, 1800.0)) == pytest.approx(6597.3, abs=0.1)
    assert rpm(14 * 25.4, from_sfpm(6500.0)) == pytest.approx(1773.4, abs=0.1)
    assert work == pytest.approx(133.69, abs=0.1)
    assert table_speed(1.5 * 25.4, 0.125, work) / 25.4 == pytest.approx(25.07, abs=0.1)


@given(st.floats(1.0, 1000.0), st.floats(1.0, 20000.0))
def test_speed_and_revolutions_undo_each_other(diameter, turns):
    assert rpm(diameter, surface_speed(diameter, turns)) == pytest.approx(turns)
    assert from_sfpm(sfpm(turns)) == pytest.approx(turns)


def test_a_material_without_a_row_is_refused():
    with pytest.raises(ValueError, match="no traverse data for 'chrome'"):
        traverse("chrome")
    with pytest.raises(ValueError, match="no plunge data for 'chrome'"):
        plunge("chrome")
