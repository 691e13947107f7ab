"""Straight lines: a correction or a taper from readings, with the uncertainty of everything it predicts.

Least squares with weights (GUM H.3; Press et al., Numerical Recipes, 3rd ed., 15.2),
worked about the weighted mean so that diameters of a large constant plus microns
lose nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, sqrt

from msgspec import Struct


class Predicted(Struct, frozen=True):
    """The line at one place."""

    value: float
    u: float | None
    """Standard uncertainty of the line there; ``None`` where two readings leave nothing to judge it by."""


class RegressionLine(Struct, frozen=True):
    """``y = intercept + slope (x - origin)`` with its uncertainties."""

    origin: float
    intercept: float
    slope: float
    u_intercept: float | None
    u_slope: float | None
    r: float | None
    """Correlation of intercept and slope."""
    residuals: tuple[float, ...]
    s: float | None
    """Residual standard deviation, in units of y (of u, with weights); ``None`` at dof 0."""
    dof: int
    r_squared: float | None
    centre: float
    """Weighted mean of x, where the line is known best."""
    height: float
    """The line at `centre`."""
    u_height: float | None

    def at(self, x: float) -> Predicted:
        """The line at *x* and how well it is known there (GUM H.3.4)."""
        away = x - self.centre
        value = self.height + self.slope * away
        if self.u_height is None or self.u_slope is None:
            return Predicted(value, None)
        return Predicted(value, sqrt(self.u_height**2 + (away * self.u_slope) ** 2))


def straight_line(
    x: Sequence[float], y: Sequence[float], u: Sequence[float] | None = None, *, origin: float = 0.0
) -> RegressionLine:
    """Fit a straight line.

    Args:
        x: Places; two different ones or more.
        y: Readings, as many as places.
        u: Standard uncertainty of each reading, independent of the others, all more than zero.
            With it the line's uncertainties follow from `u`; without it, from the scatter.
        origin: The x at which the intercept is stated.

    Raises:
        ValueError: counts that differ, fewer than two different places, an uncertainty not above zero.
    """
    _checked(x, y, u)
    weights = [1.0] * len(x) if u is None else [1 / each**2 for each in u]
    total = fsum(weights)
    first_x, first_y = x[0], y[0]
    centre = fsum(w * (each - first_x) for w, each in zip(weights, x, strict=True)) / total
    height = fsum(w * (each - first_y) for w, each in zip(weights, y, strict=True)) / total
    dx = [each - first_x - centre for each in x]
    dy = [each - first_y - height for each in y]
    sxx = fsum(w * a * a for w, a in zip(weights, dx, strict=True))
    slope = fsum(w * a * b for w, a, b in zip(weights, dx, dy, strict=True)) / sxx
    residuals = tuple(b - slope * a for a, b in zip(dx, dy, strict=True))
    dof = len(x) - 2
    rss = fsum(w * e * e for w, e in zip(weights, residuals, strict=True))
    syy = fsum(w * b * b for w, b in zip(weights, dy, strict=True))
    s = sqrt(rss / dof) if dof else None
    scale = 1.0 if u is not None else s
    to_origin = origin - first_x - centre
    u_height = None if scale is None else scale / sqrt(total)
    u_slope = None if scale is None else scale / sqrt(sxx)
    u_intercept = _root_sum(u_height, None if u_slope is None else to_origin * u_slope)
    return RegressionLine(
        origin=origin,
        intercept=first_y + (height + slope * to_origin),
        slope=slope,
        u_intercept=u_intercept,
        u_slope=u_slope,
        r=to_origin / sqrt(sxx) / sqrt(1 / total + to_origin**2 / sxx),
        residuals=residuals,
        s=s,
        dof=dof,
        r_squared=1 - rss / syy if syy else None,
        centre=first_x + centre,
        height=first_y + height,
        u_height=u_height,
    )


def _root_sum(first: float | None, second: float | None) -> float | None:
    return None if first is None or second is None else sqrt(first**2 + second**2)


def _checked(x: Sequence[float], y: Sequence[float], u: Sequence[float] | None) -> None:
    if len(x) != len(y) or (u is not None and len(u) != len(x)):
        raise ValueError(
            f"{len(x)} places and {len(y)} readings: each place needs its reading and uncertainty"
        )
    if len(set(x)) < 2:
        raise ValueError(f"a line needs readings at two different places or more, got {len(set(x))}")
    if u is not None and not all(each > 0 for each in u):
        raise ValueError("every uncertainty of a weighted line must be more than zero")
