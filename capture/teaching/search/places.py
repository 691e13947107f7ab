"""Finds values, signs and units at fixed places in frames of one length."""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from decimal import Decimal
from functools import reduce
from operator import or_
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from capture.dialects.decimal import Shown as ShownUnit
from capture.dialects.taught.checks import FrameCheck
from capture.dialects.taught.records import Record, Sign
from capture.dialects.taught.values import Columns, Count, Digits, Display, Float, Order, Unread, Value
from capture.teaching.search.flags import Bits, flags, running
from capture.teaching.search.matching import Leeway, Match, Taught
from capture.teaching.search.scales import may_fit, scales

ORDERS: tuple[Order, ...] = ("ABCD", "DCBA", "CDAB", "BADC")
MOST_DIGITS = 10
OPEN = 3
"""Bits of a byte that change for no reason that was found, from which the byte is one of another field: once
both signs and all units were shown, nothing that counts can stand in its other bits (our own choice)."""
LONGEST_RECORD = 80
"""Bytes of a message with its value at a fixed place, at most; more are several messages (our own choice)."""


class PlaceMatch(Struct, frozen=True):
    """A record that explains what was taught, and how well."""

    record: Record
    odd: int
    """Bits that changed from frame to frame without a reason that was found."""
    frames: tuple[bytes, ...]
    """The frames that show what the displays showed."""


def records(taught: Sequence[Taught], check: FrameCheck | None, leeway: Leeway) -> list[PlaceMatch]:
    """The best record, and others whose value stands elsewhere: rivals until a reading tells them apart."""
    lengths = {len(frame) for each in taught for frame in each.frames}
    found: list[PlaceMatch] = []
    for length in lengths:
        same = [
            replace(
                each,
                frames=tuple(f for f in each.frames if len(f) == length and (not check or check.holds(f))),
            )
            for each in taught
        ]
        if 2 <= length <= LONGEST_RECORD and all(each.frames for each in same):
            found += _of_length(same, length, check, leeway)
    found.sort(key=lambda find: (find.odd, find.record.value.size))
    best: list[PlaceMatch] = []
    for find in found:
        held = find.record.value.bits()
        if all(
            not held.get(at, 0) & mask for other in best for at, mask in other.record.value.bits().items()
        ):
            best.append(find)
    return best


def _of_length(
    taught: Sequence[Taught], length: int, check: FrameCheck | None, leeway: Leeway
) -> Iterator[PlaceMatch]:
    summed = set(range(length + check.at, length + check.at + check.size)) if check else set()
    for value in _values(taught[0].frames, length):
        if summed & value.bits().keys():
            continue  # of a message cut in the wrong place a byte of the number can look like the check
        if isinstance(value, Columns | Digits) and _part_of_longer(value, taught, summed):
            continue
        found = _fit(taught, value, length, check, leeway)
        if found:
            yield found


def _part_of_longer(value: Columns | Digits, taught: Sequence[Taught], summed: Container[int]) -> bool:
    """Whether a digit that changes in one unit and sign stands next to a number in text."""
    if isinstance(value, Digits) and value.packing != "bytes":
        return False
    for at in (value.at - 1, value.at + value.size):
        if not 0 <= at < len(taught[0].frames[0]) or at in summed:
            continue
        beside = {(each.unit, each.value < 0, frame[at]) for each in taught for frame in each.frames}
        digits = all(chr(digit) in "0123456789" for _, _, digit in beside)
        if digits and len(beside) > len({label[:2] for label in beside}):
            return True
    return False


def _values(frames: Sequence[bytes], length: int) -> Iterator[Value]:
    """Every place and way in which a number might stand."""
    for size in range(1, min(12, length) + 1):
        for at in range(length - size + 1):
            window = [frame[at : at + size] for frame in frames]
            if all(all(byte in b" +-0123456789" for byte in w) for w in window):
                yield Columns(at, size)
            elif all(all(byte in b" +-.,0123456789" for byte in w) for w in window):
                yield Columns(at, size, ".")
                yield Columns(at, size, ",")
    for size in range(2, MOST_DIGITS + 1):
        for backward in (False, True):
            for blank in (False, True):
                yield from (
                    Digits(at, size, "bytes", backward, blank) for at in range(length - size + 1) if not blank
                )
                for at in range(2 * length - size + 1):
                    yield Digits(at, size, "high first", backward, blank)
                    yield Digits(at, size, "low first", backward, blank)
    yield from _binary(frames, length)


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


def _raw(value: Value, frame: bytes) -> Decimal | None:
    try:
        return value.raw(frame)
    except Unread:
        return None


def _fit(
    taught: Sequence[Taught], value: Value, length: int, check: FrameCheck | None, leeway: Leeway
) -> PlaceMatch | None:
    noise = isinstance(value, Float)
    if leeway.free:
        if not isinstance(value, Count):
            return None
        first = sorted(taught, key=lambda each: -abs(each.value))[:2]
    else:
        first = [max(taught, key=lambda each: abs(each.value))]
    if not may_fit(
        first, [[_raw(value, frame) for frame in each.frames] for each in first], leeway, noise=noise
    ):
        return None
    raws = [[_raw(value, frame) for frame in each.frames] for each in taught]
    own = scales(taught, raws, leeway, noise=noise)
    negative = {each.value < 0 for each in taught if each.value}
    if own is not None:
        if isinstance(value, Count) and (value.signed == "no") == (True in negative):
            return None
        sign: Sign = "written" if len(negative) == 2 else "-" if True in negative else "+"
        return _find(taught, value, length, check, own, sign)
    unsigned = isinstance(value, Digits | Columns) or (isinstance(value, Count) and value.signed == "no")
    if not unsigned or True not in negative or any(r is not None and r < 0 for each in raws for r in each):
        return None
    sizes = [replace(each, value=abs(each.value)) for each in taught]
    bare = scales(sizes, raws, leeway, noise=noise)
    return _find(taught, value, length, check, bare, None) if bare else None


def _find(
    taught: Sequence[Taught],
    value: Value,
    length: int,
    check: FrameCheck | None,
    found: Match,
    sign: Sign | None,
) -> PlaceMatch | None:
    """The record round a value that fits: its flags, its constants, and what remains odd."""
    frames = [
        each.frames[place] for each, places in zip(taught, found.chosen, strict=True) for place in places
    ]
    whose = [each for each, places in zip(taught, found.chosen, strict=True) for _ in places]
    free = _held(value, length, check)
    counting = running([each.frames for each in taught], free)
    bits = Bits(frames, [mask & ~counts for mask, counts in zip(free, counting, strict=True)])
    units = [each.unit for each in whose]
    signs = ["-" if each.value < 0 else "+" for each in whose] if sign is None else []
    telling = flags(bits, {"sign": signs, "unit": units})
    if telling is None or (sign is None and "sign" not in telling):
        return None
    settled = sign in (None, "written") and (len(set(units)) > 1 or all(each.only for each in taught))
    constants, odd = {}, 0
    for at in range(length):
        used = reduce(or_, (int(f.mask, 16) for each in telling.values() for f in each if f.at == at), 0)
        rest = bits.free[at] & ~used
        unexplained = (rest & bits.varying[at]).bit_count()
        steady = 0 if settled and unexplained >= OPEN else rest & ~bits.varying[at]
        odd += unexplained
        if steady:
            constants[str(at)] = f"{frames[0][at] & steady:02x}" + (
                "" if steady == 0xFF else f"/{steady:02x}"
            )
    displays = _within_seen(value, found.displays, frames, positive=sign == "+")
    record = Record(
        length, value, telling.get("unit", units[0]), sign or telling["sign"], displays, constants
    )
    return PlaceMatch(record, odd, tuple(frames))


def _within_seen(
    value: Value, displays: dict[ShownUnit, Display], frames: Sequence[bytes], *, positive: bool
) -> dict[ShownUnit, Display]:
    """*displays* limited to the digits that were seen in use.

    A digit above them was always zero: it may be a code of its own, or, at the top of a count of which
    only positive ones were shown, mean a negative one.
    """
    if isinstance(value, Float) or (isinstance(value, Count) and value.signed not in ("no", "magnitude")):
        return displays
    largest = int(max(abs(value.raw(frame)) for frame in frames))
    beyond = 10 ** len(str(largest))
    if isinstance(value, Columns):
        padded = all(frame[value.at : value.at + 1] == b"0" for frame in frames)
        if not padded:
            return displays  # behind a sign all zeros are the number's own
    if isinstance(value, Count):
        beyond = 16 ** len(f"{largest:x}")
        top = 1 << (8 * value.size - 1)
        if positive and largest < top:
            beyond = min(beyond, top)
    return {
        unit: replace(shown, limit=f"{min(Decimal(shown.limit), beyond * Decimal(shown.scale)):f}")
        for unit, shown in displays.items()
    }


def _held(value: Value, length: int, check: FrameCheck | None) -> list[int]:
    """For each byte, the bits that neither the value nor the check has."""
    free = [0xFF] * length
    for at, mask in value.bits().items():
        free[at] &= ~mask
    if check:
        begin = length + check.at
        free[begin : begin + check.size] = [0] * check.size
    return free
