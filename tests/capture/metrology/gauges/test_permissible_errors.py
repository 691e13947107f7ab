"""What gauges may be off by, against the tables of their standards."""

from __future__ import annotations

from math import sqrt

import pytest

from capture.metrology.gauges.permissible_errors import (
    error_wanted,
    gagemaker_tolerance,
    gauge_block_limit,
    micrometer_deflection,
    micrometer_limit,
    rectangular,
)

RINGS = {
    "XXX": [1e-05, 1.5e-05, 2e-05, 2.5e-05, 3.3e-05],
    "XX": [2e-05, 3e-05, 4e-05, 5e-05, 6.5e-05],
    "X": [4e-05, 6e-05, 8e-05, 0.0001, 0.00013],
    "Y": [7e-05, 9e-05, 0.00012, 0.00015, 0.00019],
    "Z": [0.0001, 0.00012, 0.00016, 0.0002, 0.00025],
    "ZZ": [0.0002, 0.00024, 0.00032, 0.0004, 0.0005],
}


@pytest.mark.parametrize("grade", RINGS)
@pytest.mark.parametrize("sizes", [(0.4, 1.0, 2.0, 3.0, 5.0), (0.825, 1.51, 2.51, 4.51, 6.51)])
def test_rings_and_discs_have_their_gagemaker_tolerances(grade, sizes):
    """GAGE-RING, published: ASME B89.1.5, B89.1.6, TM 9-243; inch; upper ends belong to the range."""
    found = [gagemaker_tolerance(size * 25.4, grade) / 25.4 for size in sizes]

    assert found == pytest.approx(RINGS[grade], abs=1e-9)


def test_a_class_x_ring_of_two_inches_is_good_to_a_micrometre_each_way():
    """GAGE-RING, published: masters are bilateral, half each way: 0.00004 in."""
    assert gagemaker_tolerance(50.8, "x") / 2 * 1000 == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize(
    ("size", "grade", "um"),
    [(50.0, "0", 0.20), (50.0, "1", 0.40), (30.0, "2", 0.80), (55.0, "0", 0.25), (75.0, "1", 0.50)],
)
def test_gauge_blocks_have_the_limits_of_their_grade(size, grade, um):
    """Published: DIN 861 and ISO 3650, two tables, 25-50 and 50-75 mm."""
    assert gauge_block_limit(size, grade) * 1000 == pytest.approx(um)


@pytest.mark.parametrize(
    ("size", "limit", "deflection"),
    [(25.0, 4, 2), (50.0, 4, 2), (55.0, 5, 3), (75.0, 5, 3), (75.1, 5, 3), (100.0, 5, 3)],
)
def test_micrometers_have_the_limits_of_their_range(size, limit, deflection):
    """GAGE-MIC, published: DIN 863-1, to 50 mm 4 µm, to 100 mm 5 µm; frames 2 and 3 µm per 10 N."""
    assert micrometer_limit(size) * 1000 == pytest.approx(limit)
    assert micrometer_deflection(size) * 1000 == pytest.approx(deflection)
    assert micrometer_deflection(size, 5.0) * 1000 == pytest.approx(deflection / 2)


def test_the_rule_of_ten_asks_for_a_quarter_of_a_micrometre():
    """GAGE-10to1, common practice: 2.54 µm wants 0.254 µm; four to one is what can be had."""
    assert error_wanted(2.54) == pytest.approx(0.254, abs=1e-9)
    assert error_wanted(2.54, 4.0) == pytest.approx(0.635)


def test_a_limit_is_a_rectangle():
    """GUM 4.3.7, published."""
    assert rectangular(0.004) == pytest.approx(0.004 / sqrt(3))


@pytest.mark.parametrize(
    ("ask", "why"),
    [
        (lambda: gagemaker_tolerance(50.0, "W"), "class 'W' is not one"),
        (lambda: gagemaker_tolerance(200.0, "X"), "outside the table"),
        (lambda: gagemaker_tolerance(0.1, "X"), "outside the table"),
        (lambda: gauge_block_limit(50.0, "K"), "grade 'K' is not kept"),
        (lambda: gauge_block_limit(25.0, "0"), "over 25 to 75 mm"),
        (lambda: micrometer_limit(101.0), "over 0 to 100 mm"),
    ],
)
def test_what_the_tables_do_not_have_is_refused(ask, why):
    with pytest.raises(ValueError, match=why):
        ask()
