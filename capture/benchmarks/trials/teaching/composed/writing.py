"""How text gauges write a number: signs, padding, marks, exponents, fractions."""

from __future__ import annotations

import random
from collections.abc import Callable
from decimal import Decimal
from typing import Final

from capture.benchmarks.trials.teaching.composed.wire import DisplayUnit

Write = Callable[[int, DisplayUnit], str]
"""Steps of a display, as text."""


def any_scales(rng: random.Random, *, one: bool = False) -> tuple[DisplayUnit, ...]:
    """What a display shows: travel and resolution as gauges have them, in one unit or in two."""
    decimals = rng.choice((2, 3, 3, 3, 4, 4))
    travel = Decimal(rng.choice(("0.8", "2", "12.5", "12.7", "25", "25.4", "50", "100", "150")))
    counts = rng.choice((1, 1, 1, 5, 2))
    millimetres = DisplayUnit("mm", decimals, int(travel.scaleb(decimals)), counts)
    inches = DisplayUnit("in", decimals + 1, int((travel / Decimal("25.4")).scaleb(decimals + 1)), counts)
    kind = rng.random()
    if one or kind < 0.45:
        return (inches,) if rng.random() < 0.2 else (millimetres,)
    return (inches, millimetres) if kind > 0.9 else (millimetres, inches)


def any_writing(rng: random.Random) -> tuple[Write, str]:
    """A way to write numbers with a point, and its name."""
    way = rng.choice(
        ("plain", "plain", "plus", "blank", "zeros", "zeros", "blanks", "bare point", "apart", "behind")
    )
    mark = rng.choice("....,")
    width = rng.choice((8, 9, 10))

    def write(steps: int, scale: DisplayUnit) -> str:
        body = f"{abs(scale.shown(steps)):f}".replace(".", mark)
        minus = steps < 0
        match way:
            case "plus":
                return ("-" if minus else "+") + body
            case "blank":
                return ("-" if minus else " ") + body
            case "zeros":
                return ("-" if minus else "+") + body.rjust(width - 1, "0")
            case "blanks":
                return (("-" if minus else "") + body).rjust(width)
            case "bare point":
                return ("-" if minus else "") + (body[1:] if body.startswith("0" + mark) else body)
            case "apart":
                return ("-" if minus else "+") + body.rjust(width - 1)
            case "behind":
                return body.rjust(width - 1, "0") + ("-" if minus else "+")
            case _:
                return ("-" if minus else "") + body

    return write, way + (" comma" if mark == "," else "")


def implied(rng: random.Random) -> Write:
    """Steps without a point, padded or not."""
    width = rng.choice((0, 6, 7, 8))

    def write(steps: int, _: DisplayUnit) -> str:
        body = f"{abs(steps)}".rjust(width, "0") if width else f"{abs(steps)}"
        return ("-" if steps < 0 else "+") + body

    return write


def exponent(rng: random.Random) -> Write:
    """As programs print floating-point numbers."""
    digits, letter, metres = rng.choice((5, 6, 7)), rng.choice("eE"), rng.random() < 0.3

    def write(steps: int, scale: DisplayUnit) -> str:
        size = scale.shown(steps).scaleb(-3) if metres else scale.shown(steps)
        text = f"{float(size):+.{digits}e}"
        return text.replace("e", letter)

    return write


PART: Final = 78125
"""Steps of the last of seven decimals in the 128th of an inch."""


def fraction(rng: random.Random) -> Write:
    """Inches in fractions; the display has seven decimals and goes by 128ths."""
    joint = rng.choice(" -")

    def write(steps: int, _: DisplayUnit) -> str:
        whole, part = divmod(abs(steps) // PART, 128)
        below = 128
        while part and part % 2 == 0:
            part, below = part // 2, below // 2
        words = ([str(whole)] if whole or not part else []) + ([f"{part}/{below}"] if part else [])
        return ("-" if steps < 0 else "") + joint.join(words)

    return write


def hexadecimal(rng: random.Random, bits: int) -> Write:
    """A count in hexadecimal digits, negative ones as complement."""
    upper = rng.random() < 0.7

    def write(steps: int, _: DisplayUnit) -> str:
        text = f"{steps & ((1 << bits) - 1):0{bits // 4}x}"
        return text.upper() if upper else text

    return write
