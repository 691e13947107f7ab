"""Every place and way in which a number may stand in frames of one length."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from typing import Final

from capture.dialects.taught.values import Columns, Count, Digits, Float, Order, Packing, Value

ORDERS: tuple[Order, ...] = ("ABCD", "DCBA", "CDAB", "BADC")
MOST_DIGITS = 10
LONGEST_CODED: Final = 48
"""Bytes of a message with a number that is no text, at most; more are lines (our own choice)."""
PACKINGS: tuple[Packing, ...] = ("high first", "low first")


def values(frames: Sequence[bytes], shown: Sequence[bytes], length: int) -> Iterator[Value]:
    """Every place and way of a number in *frames* of one reading, and in one *shown* with each reading."""
    for size in range(1, min(12, length) + 1):
        for at in range(length - size + 1):
            window = [frame[at : at + size] for frame in frames]
            if all(all(byte in b" +-0123456789" for byte in w) for w in window):
                yield Columns(at, size)
            elif all(all(byte in b" +-.,0123456789" for byte in w) for w in window):
                yield Columns(at, size, ".")
                yield Columns(at, size, ",")
    if length > LONGEST_CODED:
        return
    yield from _coded(shown, length)
    yield from _binary(frames, length)


def _coded(frames: Sequence[bytes], length: int) -> Iterator[Value]:
    """Decimal digits one or two a byte, forward or backward."""
    for size, backward in product(range(2, MOST_DIGITS + 1), (False, True)):
        yield from (Digits(at, size, "bytes", backward) for at in range(length - size + 1))
        for blank, at, packing in product((False, True), range(2 * length - size + 1), PACKINGS):
            value = Digits(at, size, packing, backward, blank)
            if not blank or _blanked(value, frames):
                yield value


def _blanked(value: Digits, frames: Sequence[bytes]) -> bool:
    """Whether an F stands in the place of zeros before numbers, and is no sign: no zero stands behind it.

    But for the zeros of the shortest number, such as those of 0.020.
    """
    texts = [value.text(frame) for frame in frames]
    shown = [text.lstrip("F") for text in texts]
    zeros = {len(text) for text in shown if text.startswith("0")}
    return texts != shown and len(zeros) < 2 and (not zeros or min(map(len, shown)) == zeros.pop())


def _binary(frames: Sequence[bytes], length: int) -> Iterator[Value]:
    for size in (2, 3, 4):
        for order in ORDERS if size == 4 else ORDERS[:2]:
            for signed in ("no", "complement", "magnitude", "offset", "ones"):
                for at in range(length - size + 1):
                    yield Count(at, size, order, signed)
                for at in range(length - 2 * size + 1):
                    if all(_hexadecimal(frame[at : at + 2 * size]) for frame in frames):
                        yield Count(at, size, order, signed, hexadecimal=True)
    yield from _half_bytes(length)
    yield from _narrow(frames, length)
    for order in ORDERS:
        yield from (Float(at, 4, order) for at in range(length - 3))
        yield from (Float(at, 8, order) for at in range(length - 7))


def _half_bytes(length: int) -> Iterator[Value]:
    """Counts whose half bytes or bits are swapped, or whose first half byte tells the sign or the unit."""
    for size in (2, 3, 4):
        for order in ORDERS[:2]:
            for at in range(length - size + 1):
                if size < 4:
                    yield Count(at, size, order, halves=True)
                yield Count(at, size, order, flagged=True)
                yield Count(at, size, order, halves=True, flagged=True)
                yield Count(at, size, order, mirrored=True)
                yield Count(at, size, order, mirrored=True, flagged=True)


WIDTHS: Final = {2: (10, 12, 13, 14), 3: (18, 20, 21, 22)}
"""Bits of converters that do not fill their bytes, by the bytes (common practice, no source)."""


def _narrow(frames: Sequence[bytes], length: int) -> Iterator[Value]:
    """Signed counts of fewer bits than their bytes have, with zeros above, and of seven bits a byte."""
    for size in (2, 3, 4):
        for order in ORDERS[:2]:
            for at in range(length - size + 1):
                top = at if order == "ABCD" else at + size - 1
                for width in WIDTHS.get(size, ()):
                    if not any(frame[top] >> (width - 8 * (size - 1)) for frame in frames):
                        yield Count(at, size, order, "complement", width=width)
                        yield Count(at, size, order, "magnitude", width=width)
                if not any(byte & 0x80 for frame in frames for byte in frame[at + 1 : at + size]):
                    yield Count(at, size, order, "complement", sevens=True)
                    yield Count(at, size, order, sevens=True)


def _hexadecimal(window: bytes) -> bool:
    return all(byte in b"0123456789ABCDEFabcdef" for byte in window)
