"""Least squares: a model fitted to readings, or an honest word that it could not be.

Levenberg and Marquardt's method with the steps solved by orthogonal factors. A fit
counts as converged only when its residuals are orthogonal to the model (relative
offset, Bates and Watts, Nonlinear Regression Analysis, 1988, 2.2.3) or no step of any
size makes it better; otherwise there are no parameters, only the reason.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import sqrt
from typing import TypeAlias

import numpy as np
from msgspec import Struct

from capture.metrology.uncertainty.propagation import Array

Curve: TypeAlias = Callable[[Array, Array], Array]
"""Takes x and the parameters, gives y at every x; analytic, so that it also takes complex parameters."""

_OFFSET = 1e-8
"""Relative offset under which residuals count as orthogonal; statistically 1e-3 would do."""


class FittedModel(Struct, frozen=True):
    """A model and how well its parameters are known, or why there are none."""

    converged: bool
    why: str
    parameters: tuple[float, ...] | None
    u: tuple[float, ...] | None
    """Standard uncertainty of each parameter; ``None`` with as many readings as parameters."""
    covariance: tuple[tuple[float, ...], ...] | None
    residuals: tuple[float, ...]
    rss: float | None
    """Sum of squared residuals."""
    s: float | None
    """Residual standard deviation."""
    dof: int
    steps: int


def least_squares(
    curve: Curve,
    x: Sequence[float],
    y: Sequence[float],
    start: Sequence[float],
    *,
    u: float | None = None,
    most_steps: int = 200,
) -> FittedModel:
    """Fit a curve from a start.

    Args:
        curve: The model.
        x: Places or times.
        y: Readings, as many.
        start: First guess of the parameters, no more of them than readings.
        u: Standard uncertainty of every reading, where it is known; without it, uncertainties
            follow from the scatter.
        most_steps: Where to give up.

    Raises:
        ValueError: counts that differ, or fewer readings than parameters.
    """
    if len(x) != len(y) or len(y) < len(start):
        raise ValueError(
            f"{len(start)} parameters need as many readings or more, got {len(y)} at {len(x)} places"
        )
    at, seen = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    with np.errstate(all="ignore"):
        found, why, steps = _descend(curve, at, seen, np.asarray(start, dtype=float), most_steps)
        dof = len(y) - len(start)
        if found is None:
            return FittedModel(
                converged=False,
                why=why,
                parameters=None,
                u=None,
                covariance=None,
                residuals=(),
                rss=None,
                s=None,
                dof=dof,
                steps=steps,
            )
        return _stated(curve, at, seen, found, u, why, steps)


def derivatives(curve: Curve, x: Array, p: Array) -> Array:
    """Partial derivatives of a curve by its parameters: one row a place, one column a parameter.

    By a complex step, which is exact to rounding (Squire and Trapp, SIAM Review 40, 1998, 110).
    """
    columns = []
    for i in range(len(p)):
        aside = p.astype(complex)
        aside[i] += 1e-200j
        columns.append(np.imag(curve(x, aside)) / 1e-200)
    return np.column_stack(columns)


def _descend(
    curve: Curve, x: Array, y: Array, start: Array, most_steps: int
) -> tuple[Array | None, str, int]:
    """Parameters at the bottom, or ``None``; why; and the steps it took."""
    p, damping, growth = start, 1e-3, 2.0
    rest = y - curve(x, p)
    if not np.isfinite(rest).all():
        return None, "the model has no value at the start", 0
    for step in range(1, most_steps + 1):
        slope = derivatives(curve, x, p)
        scale = np.linalg.norm(slope, axis=0)
        if not (np.isfinite(slope).all() and (scale > 0).all()):
            return None, "the model has no slope where the search led", step
        if np.linalg.matrix_rank(slope / scale) < len(p):
            return None, "the readings cannot tell the parameters apart", step
        offset = _offset(slope, rest)
        if offset < _OFFSET:
            return p, "residuals are orthogonal to the model", step
        change = _step(slope, scale, rest, damping)
        trial = y - curve(x, p + change)
        gained = float(rest @ rest - trial @ trial)
        if np.isfinite(gained) and gained > 0:
            line = rest - slope @ change
            hoped = float(rest @ rest - line @ line) or gained
            p, rest = p + change, trial
            damping, growth = max(damping * max(1 / 3, 1 - (2 * gained / hoped - 1) ** 3), 1e-16), 2.0
        elif np.linalg.norm(change * scale) <= 1e-15 * np.linalg.norm(p * scale):
            if offset < 1e-3 + _rounding(y, rest):
                return p, "no step of any size makes it better", step
            return None, "stuck: no step makes it better, yet it is no minimum", step
        else:
            damping, growth = damping * growth, growth * 2
    return None, f"no end after {most_steps} steps: start nearer or fit a simpler model", most_steps


def _step(slope: Array, scale: Array, rest: Array, damping: float) -> Array:
    damped = np.vstack([slope / scale, sqrt(damping) * np.eye(len(scale))])
    wanted = np.concatenate([rest, np.zeros(len(scale))])
    return np.asarray(np.linalg.lstsq(damped, wanted, rcond=None)[0] / scale, dtype=float)


def _rounding(y: Array, rest: Array) -> float:
    """Relative offset that the rounding of the readings themselves may leave."""
    return float(8 * np.finfo(float).eps * np.abs(y).max() / np.abs(rest).max()) if rest.any() else 1.0


def _offset(slope: Array, rest: Array) -> float:
    """Length of the residuals along the model over their length across it, each by its degrees of freedom."""
    q = np.linalg.qr(slope)[0]
    along = q.T @ rest
    across = rest - q @ along
    n, k = slope.shape
    far = np.linalg.norm(across) / sqrt(max(n - k, 1))
    near = np.linalg.norm(along) / sqrt(k)
    if near == 0:
        return 0.0
    return float(near / far) if far > 0 else float("inf")


def _stated(curve: Curve, x: Array, y: Array, p: Array, u: float | None, why: str, steps: int) -> FittedModel:
    rest = y - curve(x, p)
    rss = float(rest @ rest)
    dof = len(y) - len(p)
    s = sqrt(rss / dof) if dof else None
    size = s if u is None else u
    covariance = None
    if size is not None:
        slope = derivatives(curve, x, p)
        scale = np.linalg.norm(slope, axis=0)
        triangle = np.linalg.inv(np.linalg.qr(slope / scale)[1])
        covariance = size**2 * (triangle @ triangle.T) / np.outer(scale, scale)
    return FittedModel(
        converged=True,
        why=why,
        parameters=tuple(p.tolist()),
        u=None if covariance is None else tuple(np.sqrt(np.diag(covariance)).tolist()),
        covariance=None if covariance is None else tuple(tuple(row) for row in covariance.tolist()),
        residuals=tuple(rest.tolist()),
        rss=rss,
        s=s,
        dof=dof,
        steps=steps,
    )
