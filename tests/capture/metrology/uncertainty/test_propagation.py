"""The law of propagation against the GUM's correlated example and a reference library."""

from __future__ import annotations

from math import cos, sin

import GTC
import numpy as np
import pytest

from capture.metrology.uncertainty.propagation import (
    correlations_of,
    covariance_of_means,
    propagate,
    sensitivities_of,
)

READINGS = (
    [5.007, 4.994, 5.005, 4.99, 4.999],
    [0.019663, 0.019639, 0.01964, 0.019685, 0.019678],
    [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
)


def impedance(v, i, phi):
    return v / i * cos(phi), v / i * sin(phi), v / i


def test_gum_h2_resistance_and_reactance():
    """GUM-H2: JCGM 100:2008 H.2, Tables H.2 to H.4; published, the raw readings from memory."""
    means = [float(np.mean(row)) for row in READINGS]
    covariance = covariance_of_means(READINGS)

    by = sensitivities_of(impedance, means, np.sqrt(np.diag(covariance)))
    found = propagate(by, covariance)
    r = correlations_of(found)

    assert impedance(*means) == pytest.approx([127.732, 219.847, 254.26], abs=0.0005)
    assert np.sqrt(np.diag(found)) == pytest.approx([0.071, 0.295, 0.236], abs=0.0006)
    assert [r[0, 1], r[0, 2], r[1, 2]] == pytest.approx([-0.588, -0.485, 0.993], abs=0.0006)


def test_the_reference_library_propagates_alike():
    """GTC with the same readings, taken together."""
    v, i, phi = GTC.type_a.multi_estimate_real(READINGS)
    r, x = v / i * GTC.cos(phi), v / i * GTC.sin(phi)

    means = [float(np.mean(row)) for row in READINGS]
    covariance = covariance_of_means(READINGS)
    found = propagate(sensitivities_of(impedance, means, [1e-3] * 3), covariance)

    assert found[0, 0] ** 0.5 == pytest.approx(GTC.uncertainty(r), rel=1e-6)
    assert correlations_of(found)[0, 1] == pytest.approx(GTC.get_correlation(r, x), rel=1e-5)


def test_covariance_of_means_is_that_of_the_reference_library():
    assert covariance_of_means(READINGS) == pytest.approx(np.cov(READINGS) / 5)


def test_derivatives_follow_the_model():
    by = sensitivities_of(lambda a, b: a * b * b, [3.0, 2.0], [0.1, 0.0])

    assert by == pytest.approx(np.array([[4.0, 12.0]]), rel=1e-6)


def test_an_exact_quantity_correlates_with_nothing():
    assert correlations_of([[4.0, 0.0], [0.0, 0.0]]).tolist() == [[1.0, 0.0], [0.0, 1.0]]


def test_a_covariance_of_the_wrong_size_is_refused():
    with pytest.raises(ValueError, match="2 quantities need a square of that size"):
        propagate([[1.0, 2.0]], [[1.0]])


def test_one_occasion_has_no_covariance():
    with pytest.raises(ValueError, match="two readings of each quantity or more, got 1"):
        covariance_of_means([[1.0], [2.0]])
