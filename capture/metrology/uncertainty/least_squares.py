"""Least squares: a model fitted to readings, or an honest word that it could not be.

The search is SciPy's: Levenberg and Marquardt's (MINPACK), and where that does not end at a
minimum a trust region with reflection. Where it ended is looked at here: a fit counts as
converged only when its residuals are orthogonal to the model (relative offset, Bates and
Watts, Nonlinear Regression Analysis, 1988, 2.2.3) as far as the rounding of the readings
lets them be; otherwise there are no parameters, only the reason.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import sqrt
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct

from capture.metrology.uncertainty.propagation import Array

Curve: TypeAlias = Callable[[Array, Array], Array]
"""Takes x and the parameters, gives y at every x; analytic, so that it also takes complex parameters."""

_OFFSET = 1e-6
"""Relative offset under which residuals count as orthogonal; statistically 1e-3 would do."""

_CLOSE = 1e-15
"""Relative changes at which the library ends a search; what it found is judged by the offset alone."""

_SEARCHES: tuple[Literal["lm", "trf"], ...] = ("lm", "trf")
"""Tried in turn: the first is quick, the second comes home from farther starts."""


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
    """How often the model was worked out in the search."""


def least_squares(
    curve: Curve,
    x: Sequence[float],
    y: Sequence[float],
    start: Sequence[float],
    *,
    u: float | None = None,
    most_steps: int = 2000,
) -> FittedModel:
    """Fit a curve from a start.

    Args:
        curve: The model.
        x: Places or times.
        y: Readings, as many.
        start: First guess of the parameters, no more of them than readings.
        u: Standard uncertainty of every reading, where it is known; without it, uncertainties
            follow from the scatter.
        most_steps: How often each search may work out the model before it gives up.

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
    from scipy import optimize  # noqa: PLC0415 - slow to load, and few sessions need it

    if not np.isfinite(curve(x, start)).all():
        return None, "the model has no value at the start", 0

    def off(p: Array) -> Array:
        return curve(x, p) - y

    def slope(p: Array) -> Array:
        return derivatives(curve, x, p)

    why, steps = "", 0
    for method in _SEARCHES:
        try:
            ended = optimize.least_squares(
                off,
                start,
                jac=slope,
                method=method,
                x_scale="jac",
                max_nfev=most_steps,
                xtol=_CLOSE,
                ftol=_CLOSE,
                gtol=_CLOSE,
            )
        except (ValueError, np.linalg.LinAlgError):
            # A model that loses its value on the way leaves the library nothing to factor.
            why = why or "the model has no value where the search led"
            continue
        steps += int(ended.nfev)
        doubt = _doubt(curve, x, y, ended.x)
        if doubt is None:
            return ended.x, "residuals are orthogonal to the model", steps
        if ended.status == 0:
            doubt = f"no end after {steps} steps: start nearer or fit a simpler model"
        why = why or doubt
    return None, why, steps


def _doubt(curve: Curve, x: Array, y: Array, p: Array) -> str | None:
    """Why the place where a search ended is no minimum; ``None`` where it is one."""
    rest, slope = y - curve(x, p), derivatives(curve, x, p)
    scale = np.linalg.norm(slope, axis=0)
    if not (np.isfinite(rest).all() and np.isfinite(slope).all() and (scale > 0).all()):
        return "the model has no slope where the search led"
    if np.linalg.matrix_rank(slope / scale) < len(p):
        return "the readings cannot tell the parameters apart"
    if _offset(slope, rest) >= _OFFSET + _rounding(y, rest):
        return "stuck: no step makes it better, yet it is no minimum"
    return None


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
