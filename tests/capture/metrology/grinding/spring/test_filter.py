"""The filter of the machine's spring against plain least squares and its own algebra."""

from __future__ import annotations

import numpy as np
import pytest

from capture.metrology.grinding.spring.filter import LEVEL, PLACES, TO_COME, follow
from capture.metrology.grinding.spring.grid import share_axis
from capture.metrology.grinding.spring.passes import Hypothesis, Move, Prior, RepeatedReadings, Task

STIFF = Prior(scatter=0.0, slip=0.0, size_effect=0.0, size_effect_u=0.0)


def task(values, infeeds, **more):
    groups = tuple(RepeatedReadings(n, 0, value, 1, 0.0, 0.0005, 0.0, 0.0) for n, value in enumerate(values))
    told = {
        "scale": 0.01,
        "drift": 0.0005,
        "known_temperature": True,
        "places": 1,
        "cases": (Hypothesis(1.0),),
    }
    return Task(tuple(Move(u, 0.0) for u in infeeds), groups, **{**told, **more})


def test_with_the_share_fixed_it_is_weighted_least_squares():
    """numpy.linalg.lstsq of the same linear model, the prior written as three more rows."""
    share, scale, infeeds = 0.45, 0.01, (0.010, 0.005, 0.005, 0.0, 0.0)
    values = [0.0, -0.0061, -0.0104, -0.0149, -0.0172, -0.0179]
    design, coming = [[1.0, 0.0, 0.0]], np.array([0.0, 1.0, 0.0])
    level = np.array([1.0, 0.0, 0.0])
    for infeed in infeeds:
        coming = coming + np.array([0.0, 0.0, infeed])
        level, coming = level - share * coming, (1.0 - share) * coming
        design.append(list(level))
    belief = follow(task(values, infeeds), np.array([share, 0.9]), STIFF)
    row = int(np.flatnonzero((belief.share == share) & (belief.scatter == 1.0))[0])
    u = np.array([0.0005] * 6 + [20.0 * scale, scale, STIFF.gain_u])
    rows = np.vstack([design, np.eye(3)]) / u[:, None]
    due = np.array([*values, 0.0, 0.75 * scale, STIFF.gain]) / u
    answer = np.linalg.lstsq(rows, due, rcond=None)[0]
    cov = np.linalg.inv(rows.T @ rows)

    assert belief.mean[row, TO_COME] == pytest.approx(coming @ answer, rel=1e-9)
    assert belief.mean[row, LEVEL] + belief.mean[row, PLACES] == pytest.approx(level @ answer, rel=1e-9)
    assert belief.cov[row, TO_COME, TO_COME] == pytest.approx(coming @ cov @ coming, rel=1e-6)


def test_weights_sum_to_one_and_find_the_share():
    share, infeeds = 0.6, (0.010,) * 4 + (0.0,) * 4
    size, spring, values = 0.0, 0.0, [0.0]
    for infeed in infeeds:
        spring += infeed
        size, spring = size - share * spring, (1.0 - share) * spring
        values.append(size)
    belief = follow(task(values, infeeds), share_axis(31), Prior())

    assert belief.weight.sum() == pytest.approx(1.0)
    assert belief.weight @ belief.share == pytest.approx(share, abs=0.05)


def test_a_wheel_drawn_back_takes_nothing_off():
    values = [0.0, -0.005, -0.0075, -0.0075]
    belief = follow(task(values, (0.010, 0.0, -0.040)), share_axis(31), Prior())

    assert belief.weight @ belief.touching < 0.05


def test_a_reading_far_from_what_was_foretold_is_a_surprise():
    values = [0.0, -0.005, -0.0075, 0.050]
    belief = follow(task(values, (0.010, 0.0, 0.0)), share_axis(31), Prior())

    (surprise,) = belief.surprise
    assert abs(surprise[3]) > 4.0
    assert max(map(abs, surprise[:3])) < 3.0


def test_drawing_the_grid_together_does_not_change_the_evidence():
    """A closer grid round the same belief is the same integral, in finer steps."""
    infeeds = (0.010,) * 4 + (0.0,) * 6
    size, spring, values = 0.0, 0.0, [0.0]
    for infeed in infeeds:
        spring += infeed
        size, spring = size - 0.5 * spring, 0.5 * spring
        values.append(size)
    wide = follow(task(values, infeeds), share_axis(61), Prior())
    close = follow(task(values, infeeds), np.linspace(0.2, 0.8, 31), Prior())

    assert close.evidence == pytest.approx(wide.evidence, abs=0.05)


def test_a_share_that_falls_with_the_depth_is_allowed_for():
    """Sizes of S = 0.5 (X / 10 µm)^0.12, worked out pass by pass; a share that keeps promises too little."""
    infeeds = (0.010,) * 6 + (0.005,) * 3 + (0.0,) * 3
    size, spring, values = 0.0, 0.0, [0.0]
    for infeed in infeeds:
        spring += STIFF.gain * infeed
        taken = 0.5 * (spring / 0.010) ** 0.12 * spring
        size, spring = size - taken, spring - taken
        values.append(size)
    groups = task(values, infeeds).groups
    fine = task(values, infeeds)._replace(groups=tuple(group._replace(u=0.0001) for group in groups))
    apart = []
    for prior in (STIFF, Prior()):
        belief = follow(fine, share_axis(121), prior)
        coming = belief.weight @ belief.mean[:, TO_COME]
        variance = belief.cov[:, TO_COME, TO_COME] + (belief.mean[:, TO_COME] - coming) ** 2
        apart.append((spring - coming) / np.sqrt(belief.weight @ variance))

    assert apart[0] > 3.0
    assert abs(apart[1]) < 2.0
