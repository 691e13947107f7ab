"""What an invented gauge is, and choices that many of them share."""

from __future__ import annotations

import random
from collections.abc import Callable
from decimal import Decimal
from typing import Literal

from msgspec import Struct, field


class InventedGauge(Struct):
    """An invented gauge."""

    frame: Callable[[Decimal, str], bytes]
    """What it sends for what its display shows, in a unit."""
    decimals: dict[str, int]
    """Of the display, by unit; the first is that of the lesson's beginning."""
    span: float = 25.0
    """mm that it measures at most."""
    negative: bool = True
    rate: float = 0.0
    """Frames a second; 0: on a press."""
    times: int = 1
    """Frames a press."""
    before: Callable[[], bytes] = bytes
    """What stands on the line before a press."""
    step: int = 1
    noise: bool = field(default=False)
    chopped: bool = False
    """Whether a stream is received a few bytes at a time, not a frame at a time."""


def any_word(rng: random.Random, letters: str = "ABCDGHKLMPQRSTVWXYZ", most: int = 3) -> str:
    """Letters for a name."""
    return "".join(rng.choice(letters) for _ in range(rng.randint(1, most)))


def any_units(rng: random.Random) -> dict[str, int]:
    """The units of a display and its decimals in each."""
    d = rng.choice((2, 3, 3, 4))
    return {"mm": d, "in": d + 1} if rng.random() < 0.6 else {"mm": d}


def any_digits(rng: random.Random) -> Callable[[Decimal], str]:
    """How a number is written."""
    signs = rng.choice(("minus", "always", "blank"))
    width = rng.choice((0, 0, 9, 10))
    pad = rng.choice("0 ")
    mark = rng.choice("...,")

    def written(value: Decimal) -> str:
        sign = "-" if value < 0 else {"minus": "", "always": "+", "blank": " "}[signs]
        body = f"{abs(value):f}".replace(".", mark)
        if width and pad == "0":
            return sign + body.rjust(width - 1, "0")
        return (sign + body).rjust(width)

    return written


def any_order(rng: random.Random) -> Literal["little", "big"]:
    """Which end of a number comes first."""
    return "little" if rng.random() < 0.5 else "big"


def any_end(rng: random.Random) -> str:
    """How a line ends."""
    return rng.choice(("\r\n", "\r\n", "\r", "\n"))


def in_steps(value: Decimal) -> int:
    """A number in steps of its last digit."""
    return int(value.scaleb(-int(value.as_tuple().exponent)))
