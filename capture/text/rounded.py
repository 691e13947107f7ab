"""Figures as they are shown: to the step of the gauge, each following from those beside it.

A size is shown with the decimals that show every step of the gauge and no more. What is to go is the
difference of the sizes as shown, so that a person who subtracts them finds the same.
"""

from __future__ import annotations

from math import ceil, floor, log10
from typing import Final

from msgspec import Struct

from capture.metrology.units import MM_PER_INCH
from capture.sheet.job import Units

FINEST: Final = {"mm": 4, "in": 5}
"""Decimals of a size where the gauge's step is finer, or not known."""
WHOLE_SMALL: Final = {"mm": 3, "in": 4}
"""Decimals at which small lengths are whole: micrometres, or tenths."""


def decimals(step: float | None, units: Units) -> int:
    """Decimals of a size by a gauge of *step* mm: the fewest that show every step of it.

    >>> decimals(0.001, "mm"), decimals(0.0005, "mm"), decimals(0.00254, "in"), decimals(0.001, "in")
    (3, 4, 4, 5)
    >>> decimals(0.01, "mm"), decimals(None, "mm"), decimals(None, "in")
    (2, 4, 5)
    """
    if step is None or step <= 0.0:
        return FINEST[units]
    own = step / MM_PER_INCH if units == "in" else step
    return min(max(ceil(-log10(own) - 1e-9), 0), FINEST[units])


def quantum(step: float | None, units: Units) -> float:
    """The last decimal that is shown, mm."""
    return (MM_PER_INCH if units == "in" else 1.0) * 10.0 ** -decimals(step, units)


def rounded(value: float, step: float | None, units: Units) -> float:
    """A size as it is shown, mm."""
    one = quantum(step, units)
    return floor(value / one + 0.5) * one


def inward(low: float, high: float, step: float | None, units: Units) -> tuple[float, float] | None:
    """A band as it is shown, mm: drawn in, so that nothing outside it is ever called good.

    None where nothing is left then: the band lies between two steps of the gauge.

    >>> [round(each, 6) for each in inward(54.9954, 54.9978, 0.001, "mm") or ()]
    [54.996, 54.997]
    """
    one = quantum(step, units)
    inside = ceil(low / one - 1e-6) * one, floor(high / one + 1e-6) * one
    return inside if inside[0] <= inside[1] + 1e-9 else None


class Shown(Struct, frozen=True):
    """Sizes and differences as they are shown, mm; None is not known."""

    size: float | None
    aim: float | None
    to_go: float | None
    """`size` less `aim`."""
    predicted: float | None
    to_come: float | None
    """`size` less `predicted`, where what is to come is known."""
    low: float | None
    high: float | None
    """The band, drawn in to what can be shown; None where nothing is left of it."""
    narrow: bool
    """There is a band, and it is narrower than what can be shown."""


def shown(
    *,
    size: float | None,
    aim: float | None,
    band: tuple[float, float] | None,
    predicted: float | None,
    step: float | None,
    units: Units,
) -> Shown:
    """The figures of one headline, lengths in mm.

    >>> band = (54.9954, 54.9978)
    >>> it = shown(size=54.9974, aim=54.9971, band=band, predicted=54.9962, step=1e-3, units="mm")
    >>> [round(each, 6) for each in (it.size, it.aim, it.to_go, it.predicted, it.to_come, it.low, it.high)]
    [54.997, 54.997, 0.0, 54.996, 0.001, 54.996, 54.997]
    """

    def at(value: float | None) -> float | None:
        return None if value is None else rounded(value, step, units)

    whole, goal, end = at(size), at(aim), at(predicted)
    low, high = (None if band is None else inward(*band, step, units)) or (None, None)
    fits = low is not None and high is not None and goal is not None and low - 1e-9 <= goal <= high + 1e-9
    return Shown(
        size=whole,
        aim=goal,
        to_go=None if whole is None or goal is None else whole - goal,
        predicted=end,
        to_come=None if whole is None or end is None else max(whole - end, 0.0),
        low=low if fits else None,
        high=high if fits else None,
        narrow=band is not None and not fits,
    )
