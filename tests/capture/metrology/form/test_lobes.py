"""Form across a part, against the published three-point factors and a simulated contact."""

from __future__ import annotations

from math import cos, hypot, pi, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.form.lobes import (
    blind_to,
    effective_clearance,
    envelope_growth,
    lobed_diameter,
    matched_angle,
    out_of_round,
    ovality,
    two_point_factor,
    v_block_factor,
)

SUMMIT = {
    60: [0.0, 3.0, 0.0, 0.0, 3.0, 0.0, 0.0, 3.0, 0.0, 0.0, 3.0, 0.0, 0.0, 3.0],
    72: [0.474, 2.618, -0.376, 1.0, 2.376, -0.618, 1.526, 2.0, -0.701, 2.0, 1.526, -0.618, 2.376, 1.0],
    90: [1.0, 2.0, -0.414, 2.0, 1.0, 0.0, 2.414, 0.0, 1.0, 2.0, -0.414, 2.0, 1.0, 0.0],
    108: [1.382, 1.382, 0.0, 2.236, 0.0, 1.382, 1.382, 0.0, 2.236, 0.0, 1.382, 1.382, 0.0, 2.236],
    120: [1.577, 1.0, 0.423, 2.0, -0.155, 2.0, 0.423, 1.0, 1.577, 0.0, 2.155, 0.0, 1.577, 1.0],
}
"""FORM-VBLOCK: summit method, lobes 2 to 15; J. JSPE 43 (514), 1977, 1167; method of ISO 4292:1985."""


@pytest.mark.parametrize("angle", SUMMIT)
def test_three_point_factors_are_those_published(angle):
    assert [v_block_factor(n, angle) for n in range(2, 16)] == pytest.approx(SUMMIT[angle], abs=0.0006)


@pytest.mark.parametrize(
    ("lobes", "angle", "factor"),
    [
        (3, 60, 3.0),
        (3, 90, 2.0),
        (5, 90, 2.0),
        (5, 108, 2.236),
        (7, 90, 0.0),
        (2, 90, 1.0),
        (2, 60, 0.0),
        (4, 90, -0.414),
        (8, 90, 2.414),
    ],
)
def test_key_three_point_factors(lobes, angle, factor):
    """FORM-VBLOCK-KEY: the same source."""
    assert v_block_factor(lobes, angle) == pytest.approx(factor, abs=0.0006)


@pytest.mark.parametrize(("lobes", "angle"), [(3, 90), (5, 108), (2, 75), (4, 120), (7, 128.6)])
def test_a_part_turned_in_a_v_shows_the_factor(lobes, angle):
    """A lobed part laid by computation into a V that touches it, and the summit read in one turn.

    To first order in the amplitude a flank at angle b presses at r0 + a cos(n (b - turn)).
    """
    a, half = 1e-4, radians(angle / 2)
    summits = []
    for turn in np.linspace(0, 2 * pi, 720, endpoint=False):

        def support(direction, turn=turn):
            return 1 + a * cos(lobes * (direction - turn))

        # Flanks of a V that opens upwards with its point at 0: their outward normals, seen from the part.
        left, right = -pi / 2 - (pi / 2 - half), -pi / 2 + (pi / 2 - half)
        normals = np.array([[cos(left), sin(left)], [cos(right), sin(right)]])
        centre = np.linalg.solve(normals, [-support(left), -support(right)])
        summits.append(centre[1] + support(pi / 2))

    assert np.ptp(summits) / (2 * a) == pytest.approx(abs(v_block_factor(lobes, angle)), abs=1e-3)


def test_two_points_do_not_see_odd_lobes():
    """FORM-2PT-ODD: r = r0 + a cos n theta with a = 1 um; algebra."""
    for lobes, due in ((2, 4.0), (3, 0), (5, 0), (7, 0)):
        diameters = [lobed_diameter(25, 0.001, lobes, angle) for angle in range(0, 180, 5)]

        assert (max(diameters) - min(diameters)) * 1e3 == pytest.approx(due, abs=1e-9)
        assert two_point_factor(lobes) * 2 == pytest.approx(due, abs=1e-9)
        assert envelope_growth(0.001) * 1e3 == pytest.approx(2)


def test_ovality_from_three_angles():
    """FORM-3ANGLE: synthetic, 50 mm with 1 um of two lobes at 25 degrees."""
    found = ovality([0, 60, 120], [50.00128558, 50.00068404, 49.99803038], [0.0001] * 3)

    assert found.mean == pytest.approx(50, abs=1e-7)
    assert found.ovality == pytest.approx(0.004, abs=2e-6)
    assert found.axis == pytest.approx(25, abs=0.01)
    assert found.said == "oval"


@given(st.lists(st.floats(-0.01, 0.01), min_size=3, max_size=3))
def test_three_angles_give_the_closed_form(away):
    """(4/3) sqrt(d1^2 + d2^2 + d3^2 - d1 d2 - d2 d3 - d3 d1)."""
    a, b, c = away

    found = ovality([0, 60, 120], [55 + each for each in away], [0.001] * 3)

    closed = 4 / 3 * max(a * a + b * b + c * c - a * b - b * c - c * a, 0) ** 0.5
    assert found.ovality == pytest.approx(closed, abs=1e-9)
    assert found.mean == pytest.approx(55 + (a + b + c) / 3)
    # Each of p and q has u sqrt(2/3); ovality is twice their length.
    assert found.u_ovality == pytest.approx(2 * 0.001 * (2 / 3) ** 0.5)
    assert found.u_mean == pytest.approx(0.001 / 3**0.5)


@given(
    st.floats(0.001, 0.02),
    st.floats(0, 180),
    st.integers(3, 9),
    st.floats(-1, 1),
    st.sampled_from([1, 1 / 25.4]),
)
def test_any_number_of_angles_finds_the_ellipse(half, axis, count, shift, scale):
    angles = [180 * i / count for i in range(count)]
    d = [scale * (55 + shift + half * cos(2 * radians(each - axis))) for each in angles]

    found = ovality(angles, d, [1e-4 * scale] * count)

    assert found.mean == pytest.approx(scale * (55 + shift))
    assert found.ovality == pytest.approx(2 * half * scale, rel=1e-6)
    assert min((found.axis - axis) % 180, (axis - found.axis) % 180) < 1e-4
    assert found.s is None or found.s < 1e-9


def test_stated_uncertainty_of_ovality_is_the_spread_of_many():
    rng = np.random.default_rng(6)
    angles = [0, 45, 90, 135]
    true = np.array([55 + 0.01 * cos(2 * radians(each - 20)) for each in angles])
    found = [ovality(angles, (true + rng.normal(0, 0.0005, 4)).tolist(), [0.0005] * 4) for _ in range(2000)]

    assert np.std([each.ovality for each in found]) == pytest.approx(found[0].u_ovality, rel=0.05)


def test_two_angles_can_miss_ovality_completely():
    """At 45 degrees to the axes both diameters are the mean: nothing shows, and it is said."""
    d = [lobed_diameter(25, 0.001, 2, angle) for angle in (45, 135)]

    found = ovality([45, 135], d, [0.0001] * 2)

    assert (found.ovality, found.u_ovality, found.axis) == (None, None, None)
    assert found.at_least == pytest.approx(0, abs=1e-12)
    assert "a third angle would tell" in found.said


def test_one_angle_and_the_same_angle_turned_over_say_nothing_of_ovality():
    assert "one angle" in ovality([30], [55.0], [0.001]).said
    assert "one angle" in ovality([30, 210], [55.0, 55.001], [0.001] * 2).said
    assert "too close together" in ovality([0, 0.01, 0.02], [55.0] * 3, [0.001] * 3).said


def test_ovality_in_the_noise_is_not_called_oval():
    found = ovality([0, 60, 120], [55.0, 55.0004, 54.9998], [0.001] * 3)

    assert found.said == "no ovality clear of its uncertainty"
    assert found.axis is None
    assert ovality([0, 60, 120], [55.0] * 3, [0.001] * 3).ovality == 0


def test_what_each_gauge_is_blind_to():
    """From the published factors: 90 degrees to 7 and 9, 60 degrees to 2, 4, 5, 7, 8."""
    assert blind_to(None, range(2, 8)) == (3, 5, 7)
    assert blind_to(90, range(2, 11)) == (7, 9)
    assert blind_to(60, range(2, 9)) == (2, 4, 5, 7, 8)
    pair = set(blind_to(90)) & set(blind_to(120)) & set(blind_to(None))
    assert all(n > 10 for n in pair)


@pytest.mark.parametrize(("lobes", "angle", "factor"), [(3, 60, 3), (5, 108, 2.236), (7, 128.571, 2.110)])
def test_a_matched_v_shows_its_lobes_most_plainly(lobes, angle, factor):
    """F = 1 + csc(alpha/2); derived."""
    assert matched_angle(lobes) == pytest.approx(angle, abs=0.001)
    assert v_block_factor(lobes, matched_angle(lobes)) == pytest.approx(factor, abs=0.0006)


def test_roundness_from_an_indication_needs_a_gauge_that_sees():
    assert out_of_round(0.006, 3, 60) == pytest.approx(0.002)
    assert out_of_round(0.004, 2, None) == pytest.approx(0.002)
    assert out_of_round(0.0, 3, None) is None
    assert out_of_round(0.0, 7, 90) is None


def test_odd_lobes_and_bow_eat_clearance():
    """Derived: 5 um less twice 0.5 and 0.25 um and 0.3 um."""
    left = effective_clearance(0.005, odd_shaft=0.0005, odd_bore=0.00025, bow=0.0003)

    assert left == pytest.approx(0.0032)


def test_the_envelope_of_a_lobed_part_grows_by_twice_its_amplitude():
    """By the smallest circle about the profile's own centre, sampled: odd and even lobes alike."""
    theta = np.linspace(0, 2 * pi, 3601)
    for lobes in (2, 3, 5):
        r = 25 + 0.001 * np.cos(lobes * theta)
        x, y = r * np.cos(theta), r * np.sin(theta)

        assert 2 * max(map(hypot, x, y)) - 50 == pytest.approx(envelope_growth(0.001))


@pytest.mark.parametrize(
    ("call", "why"),
    [
        (lambda: ovality([], [], []), "0 angles, 0 diameters"),
        (lambda: ovality([0, 60], [55.0], [0.001]), "they must pair"),
        (lambda: v_block_factor(1, 90), "two lobes or more, got 1"),
        (lambda: v_block_factor(3, 180), "between 0 and 180 degrees, got 180"),
        (lambda: matched_angle(4), "an odd number of lobes"),
        (lambda: effective_clearance(0.005, bow=-1), "zero or more"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(call, why):
    with pytest.raises(ValueError, match=why):
        call()
