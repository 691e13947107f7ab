"""What a pass takes off, against the propagation of uncertainty written out with its Jacobian."""

from __future__ import annotations

import numpy as np
import pytest

from capture.metrology.grinding.spring.removal import Removal, take_off

LEVEL, TO_COME, EXPONENT, OTHER = range(4)


def test_covariances_are_those_of_the_jacobian():
    """JCGM 102:2011, 6.2: U_y = C U_x C'."""
    random = np.random.default_rng(3)
    root = random.normal(size=(4, 4))
    before = root @ root.T
    taken, slope, noise = 0.4, 0.7, 0.05
    standing = np.array([0.012])
    removed_by = np.array([0.0, taken, slope, 0.0])
    jacobian = np.eye(4)
    jacobian[LEVEL] -= removed_by
    jacobian[TO_COME] -= removed_by
    of_noise = np.array([-1.0, -1.0, 0.0, 0.0])
    due = jacobian @ before @ jacobian.T + noise * np.outer(of_noise, of_noise)
    due_removed = jacobian @ before @ removed_by + noise * of_noise

    mean, cov = np.zeros((4, 1)), before[:, :, None].copy()
    one = Removal(np.array([taken]), standing, np.array([slope]), EXPONENT, np.array([noise]))
    removed, variance = take_off(mean, cov, one, cov[TO_COME].copy(), LEVEL, TO_COME)

    assert cov[:, :, 0] == pytest.approx(due)
    assert removed[:, 0] == pytest.approx(due_removed)
    assert variance[0] == pytest.approx(removed_by @ before @ removed_by + noise)
    assert mean[:, 0] == pytest.approx([-taken * 0.012, (1.0 - taken) * 0.012, 0.0, 0.0])
