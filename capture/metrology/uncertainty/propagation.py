"""Propagation: the law that carries uncertainties of several quantities into several results.

Matrix form of JCGM 100:2008 (GUM) 5.2 and JCGM 102:2011.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array: TypeAlias = NDArray[np.float64]


def propagate(sensitivities: ArrayLike, covariance: ArrayLike) -> Array:
    """Covariance of m results from that of n quantities: ``C V C'`` (GUM 5.2.2, JCGM 102:2011, 6.2.1.3).

    Args:
        sensitivities: m rows of n partial derivatives.
        covariance: n by n.
    """
    c = np.atleast_2d(np.asarray(sensitivities, dtype=float))
    v = np.asarray(covariance, dtype=float)
    if v.shape != (c.shape[1], c.shape[1]):
        raise ValueError(f"covariance is {v.shape}, but {c.shape[1]} quantities need a square of that size")
    return np.asarray(c @ v @ c.T, dtype=float)


def covariance_of_means(readings: ArrayLike) -> Array:
    """Covariance of the means of quantities that were read together (GUM 5.2.3).

    Args:
        readings: One row a quantity, one column an occasion; two occasions or more.
    """
    table = np.atleast_2d(np.asarray(readings, dtype=float))
    occasions = table.shape[1]
    if occasions < 2:
        raise ValueError(f"a covariance needs two readings of each quantity or more, got {occasions}")
    away = table - table.mean(axis=1, keepdims=True)
    return np.asarray(away @ away.T / (occasions - 1) / occasions, dtype=float)


def correlations_of(covariance: ArrayLike) -> Array:
    """Correlation coefficients of a covariance matrix; 0 beside a quantity that is exact."""
    v = np.asarray(covariance, dtype=float)
    u = np.sqrt(np.diag(v))
    scale = np.outer(u, u)
    return np.asarray(np.divide(v, scale, out=np.eye(len(u)), where=scale > 0), dtype=float)


def sensitivities_of(
    model: Callable[..., float | Sequence[float]], values: Sequence[float], u: Sequence[float]
) -> Array:
    """Partial derivatives of a model at its estimates, by central differences (GUM 5.1.3 note 2).

    Args:
        model: Takes the quantities one by one; gives one result or several.
        values: Estimates of the quantities.
        u: Their standard uncertainties, which set the size of the steps.

    Returns:
        One row a result, one column a quantity.
    """
    columns = []
    for i, (value, size) in enumerate(zip(values, u, strict=True)):
        step = size * 1e-3 or max(abs(value), 1.0) * 1e-6
        up, down = list(values), list(values)
        up[i], down[i] = value + step, value - step
        rise = np.atleast_1d(np.asarray(model(*up), dtype=float)) - np.atleast_1d(
            np.asarray(model(*down), dtype=float)
        )
        columns.append(rise / (up[i] - down[i]))
    return np.column_stack(columns)
