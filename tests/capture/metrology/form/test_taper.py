"""Taper and the swivel against worked geometry and the GUM's line."""

from __future__ import annotations

from math import sqrt

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from capture.metrology.form.taper import (
    ARCSECONDS,
    SwivelGeometry,
    after_turning,
    correct,
    line,
    resolution_needed,
    surface_shift,
)
from capture.text.catalogue import sentences

TABLE = SwivelGeometry(pivot=0.0, reading_at=600.0, toward_wheel="+")
FIVE = ([0.0, 50.0, 100.0, 150.0, 200.0], [50.012, 50.0143, 50.0168, 50.019, 50.022])

diameters = st.lists(st.floats(-0.05, 0.05), min_size=3, max_size=9)


def told(found, units="mm"):
    return "; ".join(sentences(found.said, units))


def stations(count: int) -> list[float]:
    return [20.0 + 40.0 * n for n in range(count)]


def test_two_stations_give_the_turn_and_the_movement():
    """TAPER-01, derived: theta = (D2 - D1) / (2 L), x = R theta: 5.16 seconds, 15 µm."""
    found = correct([0.0, 200.0], [50.0, 50.01], TABLE)

    assert found.theta == pytest.approx(2.5e-5, abs=1e-12)
    assert found.theta * ARCSECONDS == pytest.approx(5.1566, abs=0.001)
    assert found.toward_wheel * 1000 == pytest.approx(15.0, abs=1e-6)
    assert "tailstock end toward the wheel" in told(found)


def test_the_same_in_inches_is_six_tenths_of_a_thou_per_foot():
    """Derived: 0.0004 in over 8 in, R = 24 in, asks for +0.0006 in."""
    found = correct([0.0, 8.0 * 25.4], [50.8, 50.8 + 0.0004 * 25.4], SwivelGeometry(0.0, 24.0 * 25.4, "+"))

    assert found.toward_wheel / 25.4 == pytest.approx(0.0006, abs=1e-9)


def test_the_indicator_must_show_less_than_the_taper_asks():
    """TAPER-03, derived: 0.0001 in over 8 in at 24 in needs 0.00015 in."""
    assert resolution_needed(0.0001, 8.0, 24.0) == pytest.approx(0.00015, abs=1e-12)


def test_many_stations_are_a_least_squares_line():
    """TAPER-04, derived: least squares over five stations, R = 600 mm."""
    found = correct(*FIVE, TABLE)

    assert found.line.slope * 1000 == pytest.approx(0.0494, abs=0.002)
    assert found.line.taper * 1000 == pytest.approx(9.88, abs=0.002)
    assert found.toward_wheel * 1000 == pytest.approx(14.82, abs=0.002)
    assert [each * 1000 for each in found.line.residuals] == pytest.approx(
        [0.12, -0.05, -0.02, -0.29, 0.24], abs=0.002
    )
    assert found.line.sd * 1000 == pytest.approx(0.2302, abs=0.002)
    assert found.line.bow * 1000 == pytest.approx(0.53, abs=0.002)


def test_the_line_is_that_of_the_gum():
    """GUM (JCGM 100:2008) H.3, published result; its readings from memory: thermometer corrections.

    Slope 0.00218 with u 0.00067, s 0.0035; the readings are of Table H.6.
    """
    t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    found = line(t, b)

    assert found.slope == pytest.approx(0.00218, abs=5e-6)
    assert found.u_slope == pytest.approx(0.00067, abs=5e-6)
    assert found.sd == pytest.approx(0.0035, abs=5e-5)


def test_the_line_agrees_with_scipy():
    """A reference library: scipy.stats.linregress, slope and its standard error."""
    from scipy.stats import linregress

    found, theirs = line(*FIVE), linregress(*FIVE)

    assert found.slope == pytest.approx(theirs.slope, rel=1e-9)
    assert found.u_slope == pytest.approx(theirs.stderr, rel=1e-6)


@given(diameters, st.floats(-100.0, 100.0))
def test_shifting_all_diameters_leaves_the_slope(values, shift):
    z = stations(len(values))

    assert line(z, [d + shift for d in values]).slope == pytest.approx(line(z, values).slope, abs=1e-13)


@given(diameters, st.floats(-500.0, 500.0))
def test_shifting_all_stations_leaves_the_slope(values, shift):
    z = stations(len(values))

    assert line([at + shift for at in z], values).slope == pytest.approx(line(z, values).slope, abs=1e-12)


@given(diameters)
def test_residuals_are_orthogonal_to_the_line(values):
    z = stations(len(values))
    found = line(z, values)

    assert sum(found.residuals) == pytest.approx(0.0, abs=1e-12)
    assert sum(at * each for at, each in zip(z, found.residuals, strict=True)) == pytest.approx(0.0, abs=1e-9)


@given(diameters)
def test_mirrored_diameters_turn_the_table_the_other_way(values):
    z = stations(len(values))
    one, other = (correct(z, d, TABLE, u=1e-4) for d in (values, [-d for d in values]))

    assert other.theta == pytest.approx(-one.theta, abs=1e-15)
    assert other.adjust == pytest.approx(-one.adjust, abs=1e-12)


@given(diameters)
def test_turning_by_the_whole_angle_leaves_no_slope(values):
    """Law: after the correction only what the line does not hold is left."""
    z = stations(len(values))
    found = correct(z, values, TABLE)
    left = line(z, after_turning(z, values, found.theta, TABLE.pivot))

    assert left.slope == pytest.approx(0.0, abs=1e-15)
    assert left.bow == pytest.approx(found.line.bow, abs=1e-12)


@given(diameters)
def test_inch_and_millimetre_move_the_table_alike(values):
    z = stations(len(values))
    mm = correct(z, values, TABLE, u=0.0005)
    table = SwivelGeometry(pivot=0.0, reading_at=600.0 / 25.4, toward_wheel="+")
    inch = correct([at / 25.4 for at in z], [d / 25.4 for d in values], table, u=0.0005 / 25.4)

    assert inch.toward_wheel * 25.4 == pytest.approx(mm.toward_wheel, abs=1e-10)
    assert inch.u_adjust * 25.4 == pytest.approx(mm.u_adjust, rel=1e-9)


@pytest.mark.parametrize(
    ("reading_at", "sign", "adjust"), [(600.0, "+", 6.0), (600.0, "-", -6.0), (-600.0, "+", -6.0)]
)
def test_the_indicator_has_its_own_sign_and_its_own_side(reading_at, sign, adjust):
    """Derived: 4 µm over 200 mm, 600 mm out; on the headstock side the table goes the other way."""
    found = correct([0.0, 200.0], [50.0, 50.004], SwivelGeometry(0.0, reading_at, sign), u=0.0001)

    assert found.verdict == "move"
    assert found.adjust * 1000 == pytest.approx(adjust)


def test_a_taper_below_what_the_gauge_sees_is_not_chased():
    found = correct([0.0, 200.0], [50.0, 50.001], TABLE, u=0.0005)

    assert (found.verdict, found.adjust) == ("do not chase", 0.0)
    assert "less than the stations can tell" in told(found)
    assert found.line.u_slope == pytest.approx(0.0005 * sqrt(2) / 200.0)


@given(st.floats(-0.02, 0.02), st.floats(0.0001, 0.002))
def test_the_table_is_moved_exactly_when_the_slope_shows(rise, u):
    assume(abs(abs(rise) - 2 * sqrt(2) * u) > 1e-9)
    found = correct([0.0, 200.0], [50.0, 50.0 + rise], TABLE, u=u)

    assert (found.verdict == "do not chase") is (abs(rise) < 2 * sqrt(2) * u)


def test_a_large_taper_is_corrected_in_part():
    """Common practice, no source: 80 to 90 % of a large first correction, then measure again."""
    found = correct([0.0, 200.0], [50.0, 50.04], TABLE, u=0.0005)

    assert found.verdict == "move in part"
    assert 0.8 <= found.adjust / found.toward_wheel <= 0.9
    assert "measure again" in told(found)


def test_a_part_already_under_its_target_has_no_stock():
    found = correct([0.0, 200.0], [49.999, 50.009], TABLE, u=0.0002, target=50.0)

    assert (found.verdict, found.adjust) == ("no stock", 0.0)
    assert found.stock_left == pytest.approx(-0.001)
    assert "1.0 µm under the target" in told(found)


def test_little_stock_is_said_with_the_movement():
    """Common practice, no source: keep twice the taper and 25 µm until the part is parallel."""
    found = correct([0.0, 200.0], [50.02, 50.026], TABLE, u=0.0002, target=50.0)

    assert found.verdict == "move"
    assert found.stock_left == pytest.approx(0.02)
    assert found.stock_wanted == pytest.approx(0.037)
    assert "little stock: 20 µm left, 37 µm is safe" in told(found)


@given(diameters, st.floats(1e-5, 0.01))
def test_what_bends_the_line_is_in_its_uncertainty(values, u):
    """Law: never less than by the readings' own, nor than by what is left of the line."""
    z = stations(len(values))
    found, plain = line(z, values, u), line(z, values)

    assert found.u_slope >= plain.u_slope * (1 - 1e-12)
    assert found.u_slope >= u / sqrt(sum((at - found.middle) ** 2 for at in z)) * (1 - 1e-12)


def test_a_barrel_is_said_to_be_what_the_swivel_cannot_correct():
    found = correct([0.0, 100.0, 200.0], [50.0, 50.006, 50.002], TABLE, u=0.0002)

    assert "of bow is left that the swivel cannot correct" in told(found)
    assert found.line.bow == pytest.approx(0.005, abs=1e-9)


@pytest.mark.parametrize(
    ("z", "d", "what"),
    [
        ([], [], "no station is measured"),
        ([80.0], [50.0], "only the station at 80 mm is measured"),
        ([80.0, 80.0], [50.0, 50.001], "only the station at 80 mm is measured"),
    ],
)
def test_one_station_or_none_says_what_is_missing(z, d, what):
    found = correct(z, d, TABLE)

    assert (found.verdict, found.adjust) == ("cannot tell", None)
    assert what in told(found)


def test_two_stations_without_uncertainty_say_that_they_cannot_prove_a_taper():
    found = correct([0.0, 200.0], [50.0, 50.002], TABLE)

    assert found.u_adjust is None
    assert "cannot say whether the taper is real" in told(found)


def test_two_stations_say_that_a_mouth_at_one_would_look_the_same():
    """By geometry: a mouth as wide as the rise gives the same two diameters; a third station tells them."""
    two = correct([0.0, 200.0], [50.0, 50.004], TABLE, u=0.0001)
    three = correct([0.0, 100.0, 200.0], [50.0, 50.0, 50.004], TABLE, u=0.0001)

    assert "a mouth of 4.0 µm at one of them looks the same" in told(two)
    assert "looks the same" not in told(three)
    assert "bow is left" in told(three)


def test_a_barrel_between_two_stations_leaves_the_slope_of_all_the_surface():
    """By geometry: the least-squares line of a parabola over a length is parallel to its chord."""
    z = [30.0 + n for n in range(151)]
    barrel = [50.0 + 1e-5 * at - 3e-7 * (at - 90.0) ** 2 for at in z]

    assert line([z[0], z[-1]], [barrel[0], barrel[-1]]).slope == pytest.approx(
        line(z, barrel).slope, abs=1e-12
    )


def test_the_surface_moves_by_the_angle_and_the_distance():
    assert surface_shift(2.5e-5, 740.0, 140.0) == pytest.approx(0.015)


def test_a_table_read_on_its_pivot_is_refused():
    with pytest.raises(ValueError, match="the two must differ"):
        SwivelGeometry(pivot=140.0, reading_at=140.0, toward_wheel="+")


def test_stations_and_diameters_must_pair():
    with pytest.raises(ValueError, match="2 stations and 1 diameters"):
        line([0.0, 1.0], [50.0])
