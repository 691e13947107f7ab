"""Reference circles against a worked example and true-geometry searches by scipy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares as reference_fit
from scipy.optimize import minimize

from capture.metrology.form.roundness import exact_circle, harmonics, roundness

ANGLES = list(range(0, 360, 30))
WORKED = [
    5.7105,
    3.0105,
    -1.2346,
    -3.4596,
    -3.9847,
    -3.8464,
    -2.2002,
    0.4054,
    1.1402,
    -0.0507,
    0.5687,
    3.9408,
]
"""FORM-LSC-MZC: derived, um on 25 mm; three methods agreed to 0.001 um."""
profiles = st.lists(st.floats(-5, 5), min_size=12, max_size=12)


def test_least_squares_circle_of_the_worked_example():
    found = roundness(ANGLES, WORKED)

    assert (found.x, found.y) == pytest.approx((3.0, -2.0), abs=0.002)
    assert found.radius == pytest.approx(0, abs=0.002)
    assert found.RONt == pytest.approx(5.374, abs=0.002)
    assert found.RONp == pytest.approx(2.71, abs=0.002)
    assert found.RONv == pytest.approx(2.663, abs=0.002)
    assert found.RONq == pytest.approx(1.581, abs=0.002)


def test_minimum_zone_circumscribed_and_inscribed_circles_of_the_worked_example():
    zone = roundness(ANGLES, WORKED, "minimum zone")

    assert (zone.x, zone.y) == pytest.approx((3.192, -1.303), abs=0.002)
    assert zone.RONt == pytest.approx(4.674, abs=0.002)
    around = roundness(ANGLES, WORKED, "minimum circumscribed")
    assert around.radius == pytest.approx(1.755, abs=0.002)
    assert around.RONp == pytest.approx(0, abs=1e-9)
    within = roundness(ANGLES, WORKED, "maximum inscribed")
    assert within.radius == pytest.approx(-1.755, abs=0.002)
    assert within.RONv == pytest.approx(0, abs=1e-9)


def test_minimum_zone_is_that_of_a_search_on_the_true_geometry():
    """Nelder and Mead of scipy on distances, 25 mm radius."""
    phi, r = np.radians(ANGLES), 25 + np.array(WORKED) * 1e-3
    x, y = r * np.cos(phi), r * np.sin(phi)

    best = minimize(
        lambda c: np.ptp(np.hypot(x - c[0] * 1e-3, y - c[1] * 1e-3)) * 1e3,
        [3, -2],
        method="Nelder-Mead",
        options={"xatol": 1e-7, "fatol": 1e-9},
    )

    assert roundness(ANGLES, WORKED, "minimum zone").RONt == pytest.approx(best.fun, abs=0.002)


def test_the_exact_circle_is_that_of_the_reference_library():
    rng = np.random.default_rng(2)
    phi = np.sort(rng.uniform(0, 2 * np.pi, 25))
    x = 3 + 25 * np.cos(phi) + rng.normal(0, 0.01, 25)
    y = -7 + 25 * np.sin(phi) + rng.normal(0, 0.01, 25)

    found = exact_circle(x.tolist(), y.tolist())

    best = reference_fit(lambda p: np.hypot(x - p[0], y - p[1]) - p[2], [0, 0, 20], xtol=1e-14, ftol=1e-14).x
    assert (found.x, found.y, found.radius) == pytest.approx(tuple(best), abs=1e-7)


def test_exact_circle_and_limacon_agree_on_a_part_near_its_axis():
    """FORM-LSC-MZC again, by true distances."""
    phi, r = np.radians(ANGLES), 25 + np.array(WORKED) * 1e-3

    found = exact_circle((r * np.cos(phi)).tolist(), (r * np.sin(phi)).tolist())

    assert (found.x * 1e3, found.y * 1e3) == pytest.approx((3, -2), abs=0.002)
    assert found.RONt * 1e3 == pytest.approx(5.374, abs=0.002)


@given(
    profiles, st.sampled_from(["least squares", "minimum zone", "minimum circumscribed", "maximum inscribed"])
)
def test_a_shift_moves_the_radius_and_nothing_else(deviations, reference):
    here = roundness(ANGLES, deviations, reference)
    there = roundness(ANGLES, [each + 7 for each in deviations], reference)

    assert there.radius == pytest.approx(here.radius + 7, abs=1e-6)
    assert there.RONt >= 0
    if reference in {"least squares", "minimum zone"}:
        assert there.RONt == pytest.approx(here.RONt, abs=1e-6)


@given(profiles, st.floats(-3, 3), st.floats(-3, 3))
def test_an_eccentric_part_is_no_less_round(deviations, x, y):
    phi = np.radians(ANGLES)
    moved = np.array(deviations) + x * np.cos(phi) + y * np.sin(phi)

    for reference in ("least squares", "minimum zone"):
        here = roundness(ANGLES, deviations, reference)
        there = roundness(ANGLES, moved.tolist(), reference)
        assert there.RONt == pytest.approx(here.RONt, abs=1e-6)


@given(profiles)
def test_no_circle_has_a_smaller_zone_than_the_minimum_zone(deviations):
    zone = roundness(ANGLES, deviations, "minimum zone")

    for reference in ("least squares", "minimum circumscribed", "maximum inscribed"):
        assert zone.RONt <= roundness(ANGLES, deviations, reference).RONt + 1e-7


@given(profiles)
def test_residuals_are_orthogonal_to_the_model(deviations):
    phi, rest = np.radians(ANGLES), np.array(roundness(ANGLES, deviations).residuals)

    assert [rest.sum(), rest @ np.cos(phi), rest @ np.sin(phi)] == pytest.approx([0, 0, 0], abs=1e-9)


def test_harmonics_find_the_lobes_that_are_there():
    angles = list(range(0, 360, 15))
    phi = np.radians(angles)
    r = 4 * np.cos(phi) + 1.5 * np.cos(3 * (phi - np.radians(20))) + 0.5 * np.cos(5 * phi)

    found = harmonics(angles, r.tolist(), 6)

    assert [each.lobes for each in found] == [2, 3, 4, 5, 6]
    assert [each.amplitude for each in found] == pytest.approx([0, 1.5, 0, 0.5, 0], abs=1e-9)
    assert found[1].phase == pytest.approx(20)


@pytest.mark.parametrize(
    ("call", "why"),
    [
        (lambda: roundness([0, 90, 180], [1, 2, 3]), "four different angles or more"),
        (lambda: roundness([0, 90, 180, 270], [1, 2]), "each reading needs its angle"),
        (lambda: roundness([0, 10, 20, 30], [1, 2, 3, 1], "maximum inscribed"), "all round"),
        (lambda: exact_circle([0, 1], [0, 1]), "three points or more"),
        (lambda: exact_circle([0, 1, 2], [0, 1, 2]), "on one line"),
        (lambda: exact_circle([0, 1, 2.5, 4], [0, 1, 2, 9], most_steps=1), "not found in 1 steps"),
        (lambda: harmonics(ANGLES, WORKED, 6), "6 lobes need 13 readings"),
        (lambda: harmonics([0.0] * 5, [1.0] * 5, 2), "cannot tell 2 lobes apart"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(call, why):
    with pytest.raises(ValueError, match=why):
        call()
