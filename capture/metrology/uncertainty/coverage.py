"""Coverage: how many standard uncertainties an interval takes to hold a probability.

Student's t with effective degrees of freedom after JCGM 100:2008 (GUM) Annex G.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import erf, inf, isfinite, sqrt

from scipy.special import ndtri, stdtrit


def effective_dof(parts: Sequence[float], dofs: Sequence[float]) -> float:
    """Effective degrees of freedom by Welch and Satterthwaite (GUM G.4.1); infinite where all are."""
    if len(parts) != len(dofs):
        raise ValueError(f"{len(parts)} parts but {len(dofs)} degrees of freedom: they must pair")
    fourth = sum(part**4 / dof for part, dof in zip(parts, dofs, strict=True))
    return float(sum(part**2 for part in parts) ** 2 / fourth) if fourth else inf


def coverage_factor(coverage: float, dof: float = inf) -> float:
    """The k for which ``±k u`` covers a probability (GUM Table G.2).

    Args:
        coverage: Probability, more than 0 and less than 1.
        dof: Degrees of freedom; infinite for a normal distribution.

    >>> round(coverage_factor(0.95, 16), 2)
    2.12
    """
    if not 0 < coverage < 1:
        raise ValueError(f"coverage must lie between 0 and 1, got {coverage}")
    if not dof > 0:
        raise ValueError(f"degrees of freedom must be more than zero, got {dof}")
    upper = (1 + coverage) / 2
    return float(stdtrit(dof, upper) if isfinite(dof) else ndtri(upper))


def trapezoid_factor(first: float, second: float, coverage: float = 0.95) -> float:
    """The k of the sum of two rectangular quantities (EA-4/02 M:2022, S9 and S10).

    Args:
        first: Half-width of one, as it acts on the result.
        second: Half-width of the other.
        coverage: Probability, more than 0 and less than 1.

    >>> round(trapezoid_factor(50.0, 25.0), 2)
    1.83
    """
    if first < 0 or second < 0 or first + second == 0:
        raise ValueError(f"half-widths must be zero or more and not both zero, got {first} and {second}")
    if not 0 < coverage < 1:
        raise ValueError(f"coverage must lie between 0 and 1, got {coverage}")
    top = abs(first - second) / (first + second)
    u = sqrt((1 + top * top) / 6)
    if top >= coverage / (2 - coverage):
        return coverage * (1 + top) / 2 / u
    return (1 - sqrt((1 - coverage) * (1 - top * top))) / u


def covered(k: float) -> float:
    """Probability that a normal quantity lies within ``±k u``."""
    return erf(k / sqrt(2))
