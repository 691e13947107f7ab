"""Uncertainty budgets: what is not known of a size, written down one contribution a line and combined.

The law of propagation, degrees of freedom and coverage factors are those of
JCGM 100:2008 (GUM). A budget is data: it can be printed, stored and simulated
(see ``montecarlo``).
"""

from __future__ import annotations

from math import inf, isfinite, sqrt
from typing import Literal, TypeAlias

from msgspec import Struct

from capture.metrology.uncertainty.coverage import coverage_factor, covered, effective_dof, trapezoid_factor

Distribution: TypeAlias = Literal[
    "normal", "t", "rectangular", "triangular", "arcsine", "trapezoid", "curved-trapezoid"
]
"""How a quantity may be spread about its estimate."""


class Contribution(Struct, frozen=True):
    """One line of a budget: a quantity, how well it is known and how much it matters.

    Raises:
        ValueError: a spread, a shape or degrees of freedom that cannot be.
    """

    name: str
    value: float
    """Estimate of the quantity, in `unit`."""
    spread: float
    """Standard uncertainty of a ``normal`` or ``t``; half-width of every other distribution."""
    distribution: Distribution = "normal"
    sensitivity: float = 1.0
    """Change of the result for one unit of this quantity."""
    dof: float = inf
    """Degrees of freedom of the standard uncertainty; infinite where it is taken as exact."""
    source: str = ""
    """Where the spread comes from: a certificate, readings, a table, a judgement."""
    unit: str = "mm"
    shape: float = 0.0
    """Trapezoid: its top over its base. Curved trapezoid: by how much the half-width may err."""

    def __post_init__(self) -> None:
        for what, number in (("value", self.value), ("sensitivity", self.sensitivity)):
            if not isfinite(number):
                raise ValueError(f"{self.name}: the {what} must be finite, got {number}")
        if not (isfinite(self.spread) and self.spread >= 0):
            raise ValueError(f"{self.name}: the spread must be zero or more and finite, got {self.spread}")
        if not self.dof > 0:
            raise ValueError(f"{self.name}: degrees of freedom must be more than zero, got {self.dof}")
        most = self.spread if self.distribution == "curved-trapezoid" else 1.0
        if not 0 <= self.shape <= most:
            raise ValueError(f"{self.name}: the shape must be from 0 to {most:g}, got {self.shape}")

    @property
    def u(self) -> float:
        """Standard uncertainty (GUM 4.3.7, 4.3.9; arcsine and curved trapezoid JCGM 101:2008, 6.4)."""
        a, b = self.spread, self.shape
        match self.distribution:
            case "normal" | "t":
                return a
            case "rectangular":
                return a / sqrt(3)
            case "triangular":
                return a / sqrt(6)
            case "arcsine":
                return a / sqrt(2)
            case "trapezoid":
                return a * sqrt((1 + b * b) / 6)
            case "curved-trapezoid":
                return sqrt(a * a / 3 + b * b / 9)

    @property
    def part(self) -> float:
        """What this line adds to the result's uncertainty, signed by its sensitivity."""
        return self.sensitivity * self.u


class Correlation(Struct, frozen=True):
    """How far two lines of a budget err together: +1 always alike, -1 always opposed."""

    first: str
    second: str
    r: float


class Interaction(Struct, frozen=True):
    """A second derivative that matters because a first one vanishes (GUM 5.1.2 note, H.1.7).

    Two different lines add ``(derivative u1 u2)^2`` to the variance; a line with
    itself adds half of that. Terms with third derivatives are left out.
    """

    first: str
    second: str
    derivative: float


class Budget(Struct, frozen=True):
    """All that is not known about one result.

    Raises:
        ValueError: no line, two of one name, or a correlation or interaction of one that is not there.
    """

    result: str
    """What the budget is for, such as ``shaft diameter at 20 °C``."""
    value: float
    contributions: tuple[Contribution, ...]
    correlations: tuple[Correlation, ...] = ()
    interactions: tuple[Interaction, ...] = ()
    unit: str = "mm"

    def __post_init__(self) -> None:
        names = [line.name for line in self.contributions]
        if not names:
            raise ValueError(f"budget of {self.result}: one contribution or more is due, got none")
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f"budget of {self.result}: two contributions are called {name!r}")
        paired = [(pair.first, pair.second) for pair in self.correlations]
        paired += [(pair.first, pair.second) for pair in self.interactions]
        for name in (name for pair in paired for name in pair):
            if name not in names:
                raise ValueError(f"budget of {self.result}: no contribution is called {name!r}")
        for pair in self.correlations:
            if not -1 <= pair.r <= 1:
                raise ValueError(
                    f"correlation of {pair.first} and {pair.second} must be -1 to 1, got {pair.r}"
                )


class BudgetRow(Struct, frozen=True):
    """One line of a budget as it is printed."""

    name: str
    value: float
    unit: str
    distribution: str
    u: float
    sensitivity: float
    part: float
    """Standard uncertainty that this line alone gives the result, in the result's unit."""
    share: float
    """Fraction of the sum of squares of all parts, 0 to 1."""
    dof: float | None
    """``None`` where infinite."""
    source: str


class Expanded(Struct, frozen=True):
    """A result with its uncertainty, ready to be stated."""

    value: float
    u: float
    """Combined standard uncertainty."""
    dof: float | None
    """Effective degrees of freedom; ``None`` where infinite."""
    k: float
    U: float
    coverage: float
    """Probability that the interval ``value ± U`` is stated for."""
    factor: Literal["Student t", "two rectangles", "given"]
    """Where `k` comes from."""
    second_order: float
    """What interactions alone add, as a standard uncertainty; contained in `u`."""
    unit: str = "mm"

    @property
    def low(self) -> float:
        """Lower end of the stated interval."""
        return self.value - self.U

    @property
    def high(self) -> float:
        """Upper end of the stated interval."""
        return self.value + self.U


def rows(budget: Budget) -> tuple[BudgetRow, ...]:
    """The lines of a printed budget, in their order."""
    total = sum(line.part**2 for line in budget.contributions)
    return tuple(
        BudgetRow(
            line.name,
            line.value,
            line.unit,
            line.distribution,
            line.u,
            line.sensitivity,
            abs(line.part),
            line.part**2 / total if total else 0.0,
            line.dof if isfinite(line.dof) else None,
            line.source,
        )
        for line in budget.contributions
    )


def combined(budget: Budget) -> float:
    """Combined standard uncertainty, correlations and interactions included (GUM 5.1.2, 5.2.2, H.1.7)."""
    parts = {line.name: line.part for line in budget.contributions}
    variance = sum(part**2 for part in parts.values())
    variance += sum(2 * pair.r * parts[pair.first] * parts[pair.second] for pair in budget.correlations)
    return sqrt(max(variance, 0.0) + second_order(budget) ** 2)


def second_order(budget: Budget) -> float:
    """What the interactions of a budget alone add, as a standard uncertainty (GUM H.1.7)."""
    u = {line.name: line.u for line in budget.contributions}
    return sqrt(
        sum(
            (0.5 if pair.first == pair.second else 1.0)
            * (pair.derivative * u[pair.first] * u[pair.second]) ** 2
            for pair in budget.interactions
        )
    )


def expand(
    budget: Budget, coverage: float = 0.95, *, k: float | None = None, whole_dof: bool = False
) -> Expanded:
    """Combine a budget and state its result.

    Args:
        budget: What is known; its correlations are in `u`, but the effective degrees of
            freedom are those of independent lines.
        coverage: Probability that is wanted.
        k: A coverage factor to use as it is, such as the customary 2; `coverage` is then what
            a normal distribution has for it, and the argument is not used.
        whole_dof: Cut effective degrees of freedom down to a whole number (GUM G.4.1 note 1).

    Where two rectangular lines dominate (the rest is under 0.3 of them, EA-4/02 S10.13), k
    is that of their trapezoid; otherwise it is Student's t.
    """
    u = combined(budget)
    dof = effective_dof(*zip(*((line.part, line.dof) for line in budget.contributions), strict=True))
    dof = float(int(dof)) if whole_dof and isfinite(dof) and dof >= 1 else dof
    factor: Literal["Student t", "two rectangles", "given"] = "Student t"
    pair = _dominant_rectangles(budget, u)
    if k is not None:
        factor, coverage = "given", covered(k)
    elif pair:
        factor, k = "two rectangles", trapezoid_factor(*pair, coverage)
    else:
        k = coverage_factor(coverage, dof)
    stated = dof if isfinite(dof) else None
    return Expanded(budget.value, u, stated, k, k * u, coverage, factor, second_order(budget), budget.unit)


def line_of(name: str, stated: Expanded, *, sensitivity: float = 1.0, source: str = "") -> Contribution:
    """A stated result as one line of a larger budget."""
    dof = inf if stated.dof is None else stated.dof
    return Contribution(
        name, stated.value, stated.u, sensitivity=sensitivity, dof=dof, source=source, unit=stated.unit
    )


def _dominant_rectangles(budget: Budget, u: float) -> tuple[float, float] | None:
    """Half-widths, as they act on the result, of two rectangles that leave the rest under 0.3 of them."""
    lines = [line for line in budget.contributions if line.distribution == "rectangular" and line.part]
    largest = sorted(lines, key=lambda line: abs(line.part), reverse=True)[:2]
    if not largest or budget.correlations:
        return None
    two = sum(line.part**2 for line in largest)
    if max(u**2 - two, 0.0) >= 0.3**2 * two:
        return None
    widths = [abs(line.sensitivity) * line.spread for line in largest]
    return (widths[0], widths[1] if len(widths) > 1 else 0.0)
