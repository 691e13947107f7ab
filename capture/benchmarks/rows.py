"""Rows of figures: what was measured, and against what."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from statistics import median

from msgspec import Struct


class NoFigure(Exception):
    """A figure that cannot be measured here and now, and why."""


class Row(Struct, frozen=True):
    """One figure."""

    what: str
    ours: float
    unit: str
    against: str = ""
    """The plainest thing that could do the same."""
    plain: float | None = None
    most: float | None = None
    """Greatest ratio, or greatest figure where there is nothing to compare with, that is good enough."""
    note: str = ""

    @property
    def ratio(self) -> float | None:
        """Ours to the plain one's."""
        return None if self.plain is None or self.plain <= 0 else self.ours / self.plain

    @property
    def good(self) -> bool | None:
        """Whether the goal is reached; None where there is none."""
        if self.most is None:
            return None
        return (self.ours if self.plain is None else self.ratio or 0.0) <= self.most


def quantile(values: list[float], share: float) -> float:
    """The value below which *share* of the values lie, the nearest one.

    >>> quantile([3.0, 1.0, 2.0], 0.5)
    2.0
    """
    if not values:
        raise ValueError("no values: nothing was measured")
    return sorted(values)[min(len(values) - 1, round(share * (len(values) - 1)))]


def in_turn(
    ours: Callable[[], list[float]], plain: Callable[[], list[float]], times: int
) -> tuple[list[list[float]], list[list[float]]]:
    """Runs of both in turn, so that what else the machine does meets both alike."""
    pairs = [(plain(), ours()) for _ in range(times)]
    return [mine for _, mine in pairs], [other for other, _ in pairs]


def medians(runs: list[list[float]]) -> Iterator[float]:
    """The median over the runs of each figure that a run gives."""
    return (median(figures) for figures in zip(*runs, strict=True))
