"""What one pass takes off, in the filter of the machine's spring: means and covariances after it."""

from __future__ import annotations

from typing import NamedTuple

from capture.metrology.grinding.spring.grid import Array


class Removal(NamedTuple):
    """What comes off in a pass, one entry a point."""

    taken: Array
    """Share of what stands between wheel and part."""
    standing: Array
    """What stands there, mm."""
    slope: Array
    """Change of what comes off with the state `of_slope`, mm."""
    of_slope: int
    noise: Array
    """Variance of what comes off, beside that of what stands and of that state."""


def take_off(
    mean: Array, cov: Array, one: Removal, with_all: Array, level: int, to_come: int
) -> tuple[Array, Array]:
    """Let a share of what stands come off the part; what the pass leaves behind is still to come.

    Args:
        mean: One row a state, one column a point; changed in place.
        cov: Their covariances, one layer a point, last axis; changed in place.
        one: What comes off: r = taken X + slope (h - E h) + noise.
        with_all: Covariances of what stands, X, with all states; with itself at *to_come*.
        level: The state that is the part's size.
        to_come: The state that is what stands.

    Returns:
        Covariances of what came off with all states after the pass, and its variance.
    """
    with_slope = cov[one.of_slope].copy()
    with_slope[to_come] = with_all[one.of_slope]
    removed = one.taken * with_all + one.slope * with_slope
    variance = one.taken * removed[to_come] + one.slope * removed[one.of_slope] + one.noise
    with_left = removed[to_come] - variance
    left = with_all - removed
    size = cov[level] - removed
    size[level] += variance - removed[level]
    left[level] -= with_left
    left[to_come] -= with_left
    size[to_come] = left[level]
    cov[to_come] = cov[:, to_come] = left
    cov[level] = cov[:, level] = size
    mean[to_come] = (1.0 - one.taken) * one.standing
    mean[level] -= one.taken * one.standing
    removed[to_come] = with_left
    removed[level] -= variance
    return removed, variance
